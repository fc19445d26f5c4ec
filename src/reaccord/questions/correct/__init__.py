"""What to add now, from what was really poured."""
