"""Restricted substances, highest dosage, declaration: calculated, never certified."""
