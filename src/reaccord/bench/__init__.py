"""The balance: smallest weighable mass, the grid of pourable amounts, rounding."""
