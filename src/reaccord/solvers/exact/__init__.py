"""Least squares with weighable minima, solved to proof: best-first search over relaxations.

Each idea has its file. `scaled`, `products`, `presolve` and `dominance` prepare; `model`, `qp`, `node_qp` and
`cones`, `hull_layout`, `row_hull` relax, `relaxations` chooses among them; `refine` sees to the last digits;
`bound` with `separable` and `filled` recomputes what a relaxation proves, `narrowing` what that leaves of amounts;
`propagate` and `branching` split; `heuristic` and `neighbours` find formulas; `search` puts them together; `answer` is
the way in.
"""

from reaccord.solvers.exact.answer import first_formula, solve

__all__ = ["first_formula", "solve"]
