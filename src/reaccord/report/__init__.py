"""A result as text, plain data, CSV, frames and files."""
