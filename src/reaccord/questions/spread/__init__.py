"""How the result moves with natural variation."""
