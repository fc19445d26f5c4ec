"""A series with a minor constituent at given multiples."""
