"""CBC, by PuLP's own command; its log is read for what PuLP leaves out: the bound and the end."""

import re
import tempfile
from pathlib import Path

import pulp

from overwinter.model.plan import Termination
from overwinter.solvers.report import SolverFailed, SolverReport, SolverSettings, settled

_WITHIN = 1e-5
"""Rows and whole numbers may be off by this much; stopped inside its first relaxation, CBC hands
back numbers that are no answer at all."""
_ROUNDING = 5e-4
"""CBC prints its bound with three decimals."""


class CbcAdapter:
    """PuLP's CBC, with an honest end."""

    def __init__(self, settings: SolverSettings) -> None:
        self.settings = settings

    def solve(self, lp: pulp.LpProblem) -> SolverReport:
        """Solve; called by PuLP."""
        settings, columns = self.settings, lp.variables()
        with tempfile.TemporaryDirectory(prefix="overwinter-", ignore_cleanup_errors=True) as name:
            file = Path(name) / "log.txt"
            cbc = pulp.PULP_CBC_CMD(
                mip=not settings.relax,
                msg=False,
                timeLimit=settings.time_limit_s,
                gapRel=settings.gap,
                logPath=str(file),
                _skip_v4_deprecation=True,
            )
            cbc.tmpDir = name
            try:
                cbc.actualSolve(lp)
            except (pulp.PulpSolverError, OSError) as error:
                raise SolverFailed(f"CBC failed: {error}") from error
            log = file.read_text(errors="replace")
        optimal = lp.sol_status == pulp.LpSolutionOptimal
        if settings.relax:
            answered = optimal
        else:
            answered = lp.sol_status > 0 and lp.valid(_WITHIN)
            lp.roundSolution()
        if not answered:
            for variable in columns:
                variable.varValue = None
        bound = _bound(lp, log, settled_by_answer=answered and optimal, relax=settings.relax)
        version = re.search(r"^Version:\s*(\S+)", log, re.MULTILINE)
        said = version[1] if version else "unknown"
        return settled(lp, answered, self._ended(lp), bound, said)

    def _ended(self, lp: pulp.LpProblem) -> Termination:
        if lp.sol_status == pulp.LpSolutionOptimal:
            return Termination.OPTIMAL
        if lp.status == pulp.LpStatusInfeasible:
            return Termination.INFEASIBLE
        return Termination.FAILED if self.settings.time_limit_s is None else Termination.TIME_LIMIT


def _bound(lp: pulp.LpProblem, log: str, settled_by_answer: bool, relax: bool) -> float | None:
    """The bound in a log, a little below what is printed.

    CBC prints none when it has searched everything: the answer is then its own bound.
    """
    found = re.findall(r"^Lower bound:\s+(\S+)", log, re.MULTILINE)
    if not found and settled_by_answer:
        return float(pulp.value(lp.objective))
    found = found or re.findall(r"best possible (-?[\d.]+(?:e[+-]?\d+)?)", log)
    if relax or not found or abs(float(found[-1])) > 1e30:
        return None
    return float(found[-1]) + float(lp.objective.constant) - _ROUNDING
