"""Which solver is there, and how to solve with it."""

import importlib.metadata
from functools import cache
from types import SimpleNamespace

import pulp

from overwinter.model.plan import Termination
from overwinter.problems import UserError
from overwinter.solvers.report import Adapter, SolverReport, SolverSettings

#: In the order they are tried.
NAMES = ("highs", "cbc")
_INSTALL = {"highs": "pip install highspy", "cbc": "pip install 'pulp>=3.3.2,<4'  (it brings CBC)"}


def make_adapter(name: str, settings: SolverSettings) -> Adapter:
    """An adapter for ``"highs"`` or ``"cbc"``, without asking whether it works."""
    if name == "highs":
        from overwinter.solvers.highs import HighsAdapter

        return HighsAdapter(settings)
    from overwinter.solvers.cbc import CbcAdapter

    return CbcAdapter(settings)


def run_adapter(problem: pulp.LpProblem, adapter: Adapter) -> SolverReport:
    """Solve a problem to be minimised; its variables hold the answer, or None.

    Raises ``SolverFailed``: The solver broke down, or the problem holds a number that is not
    finite.
    """
    assert problem.sense == pulp.LpMinimize
    report: SolverReport = problem.solve(SimpleNamespace(actualSolve=adapter.solve))
    return report


@cache
def why_unusable(name: str) -> str | None:
    """``None`` if the solver answers a tiny problem rightly, else what went wrong.

    Solving is the only honest probe: an executable for another processor is "available" too.
    """
    problem = pulp.LpProblem("probe", pulp.LpMinimize)
    x, y = (problem.add_variable(n, 0, 3, cat=pulp.LpInteger) for n in ("x0", "x1"))
    problem.setObjective(5 - 2 * x - y)
    problem.addConstraint(2 * x + 2 * y <= 7)  # best: x = 3, y = 0
    try:
        report = run_adapter(problem, make_adapter(name, SolverSettings(gap=0.0, threads=1)))
    except ImportError as error:
        return f"not installed ({error})"
    except (UserError, OSError) as error:
        return str(error)
    if report.termination is not Termination.OPTIMAL or report.objective != -1.0:
        return f"answers a tiny problem wrongly ({report.termination}, {report.objective})"
    return None


def choose_solver(name: str = "auto") -> str:
    """``name`` itself if it works, or for ``"auto"`` the first that does."""
    asked = name.lower()
    if asked == "auto":
        for candidate in NAMES:
            if why_unusable(candidate) is None:
                return candidate
        reasons = "; ".join(f"{n}: {why_unusable(n)}" for n in NAMES)
        raise UserError(f"No solver works here ({reasons}). Install one: {_INSTALL['highs']}.")
    if asked not in NAMES:
        raise UserError(f"There is no solver '{name}'; choose auto, {' or '.join(NAMES)}.")
    reason = why_unusable(asked)
    if reason is not None:
        raise UserError(f"Solver '{asked}' does not work here: {reason}. {_INSTALL[asked]}")
    return asked


def solver_versions() -> dict[str, str]:
    """PuLP's version and each solver's, or why it cannot be used."""
    versions = {"PuLP": importlib.metadata.version("pulp")}
    for name, title in (("highs", "HiGHS"), ("cbc", "CBC")):
        reason = why_unusable(name)
        versions[title] = _version_of(name) if reason is None else f"not usable: {reason}"
    return versions


def _version_of(name: str) -> str:
    problem = pulp.LpProblem("version")
    problem.setObjective(problem.add_variable("x0", 0, 1) + 0)
    return run_adapter(problem, make_adapter(name, SolverSettings())).version
