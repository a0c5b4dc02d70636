"""Solvers: a PuLP problem in, a ``SolverReport`` out. Knows nothing of trees."""
