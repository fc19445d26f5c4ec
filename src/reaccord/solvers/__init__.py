"""Solvers: a stated programme in, an answer out. Three doors with one contract (`reaccord.contract`)."""
