"""One problem solved again and again with more rows: cuts that are found only by looking."""

from collections.abc import Iterable, Mapping

import pulp

from overwinter.solvers.choose import choose_solver, make_adapter, run_adapter
from overwinter.solvers.report import Progress, SolverReport, SolverSettings


class IncrementalModel:
    """A problem that grows rows between solves; the same with every solver.

    HiGHS keeps its model and takes only the new rows; CBC is given the whole problem again.
    Objective and variable bounds may change between solves and variables may be added. Rows
    already solved with must not be changed or taken away.

    Parameters
    ----------
    problem
        Rows are added to it, so it is always the whole truth.
    solver
        As for ``choose.solve``.
    """

    def __init__(self, problem: pulp.LpProblem, *, solver: str = "auto") -> None:
        self.problem = problem
        self.solver = choose_solver(solver)
        self._adapter = make_adapter(self.solver, SolverSettings())
        self._last: dict[str, float] = {}

    def add_constraints(self, constraints: Iterable[pulp.LpConstraint]) -> None:
        """Add rows; they count from the next ``solve`` on.

        Where a row breaks the last answer, its variables are left open in the next start: the
        solver then mends that part and keeps the rest.
        """
        for constraint in constraints:
            self.problem.addConstraint(constraint)
            if not self._holds(constraint):
                for variable, _ in constraint.items():
                    self._last.pop(variable.name, None)

    def _holds(self, constraint: pulp.LpConstraint) -> bool:
        terms = [(self._last.get(v.name), a) for v, a in constraint.items()]
        total = sum(a * x for x, a in terms if x is not None) + constraint.constant
        wrong = {
            pulp.LpConstraintLE: total,
            pulp.LpConstraintGE: -total,
            pulp.LpConstraintEQ: abs(total),
        }[constraint.sense]
        return bool(wrong <= 1e-6)

    def solve(
        self,
        *,
        gap: float = 1e-4,
        time_limit_s: float | None = None,
        node_limit: int | None = None,
        threads: int = 2,
        relax: bool = False,
        options: Mapping[str, bool | int | float | str] | None = None,
        start: Mapping[str, float] | None = None,
        on_progress: Progress | None = None,
    ) -> SolverReport:
        """Solve with all rows so far, from the last answer unless another start is given.

        Parameters, result and errors as for ``choose.solve``.
        """
        self._adapter.settings = SolverSettings(
            gap=gap,
            time_limit_s=time_limit_s,
            node_limit=node_limit,
            threads=threads,
            relax=relax,
            options=dict(options or {}),
        )
        self._adapter.start = start if start is not None else self._last or None
        self._adapter.on_progress = on_progress
        report = run_adapter(self.problem, self._adapter)
        if report.has_solution and not relax:
            self._last = {v.name: v.varValue for v in self.problem.variables()}
        return report
