"""Solvers: a PuLP problem in, a ``SolverReport`` out. Knows nothing of trees.

Use ``overwinter.solvers.choose.solve`` for one solve. Nobody outside this package reads
``problem.status``: it says "Optimal" for
a plan that was merely found in time.
"""
