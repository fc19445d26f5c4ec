"""Many studies at once, on any executor."""
