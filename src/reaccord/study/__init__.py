"""Typed rows to a `Study`: names settled, blends opened, shelf, target rows and rules resolved."""
