"""Which solver is there, and one call that solves with it."""

import importlib.metadata
from collections.abc import Mapping
from functools import cache
from typing import Protocol, cast

import pulp

from overwinter.problems import UserError
from overwinter.solvers.report import Progress, SolverReport, SolverSettings, Termination

#: In the order they are tried.
NAMES = ("highs", "cbc")
_INSTALL = {
    "highs": "pip install highspy",
    "cbc": "pip install 'pulp>=3.3.2,<4' (it brings CBC), or put a cbc on the PATH",
}


class Adapter(Protocol):
    """One solver behind PuLP; ``problem.solve(adapter)`` leaves the ``report``."""

    settings: SolverSettings
    start: Mapping[str, float] | None
    on_progress: Progress | None
    report: SolverReport | None


def make_adapter(name: str, settings: SolverSettings) -> Adapter:
    """An adapter for ``"highs"`` or ``"cbc"``, without asking whether it works."""
    if name == "highs":
        from overwinter.solvers.highs import HighsAdapter

        return cast("Adapter", HighsAdapter(settings))
    from overwinter.solvers.cbc import CbcAdapter

    return cast("Adapter", CbcAdapter(settings))


def run_adapter(problem: pulp.LpProblem, adapter: Adapter) -> SolverReport:
    """Solve through PuLP and return the adapter's report."""
    adapter.report = None
    problem.solve(adapter)
    assert adapter.report is not None
    return adapter.report


@cache
def why_unusable(name: str) -> str | None:
    """``None`` if the solver answers a tiny problem rightly, else what went wrong.

    Solving is the only honest probe: an executable for another processor is "available" too.
    """
    problem = pulp.LpProblem("probe", pulp.LpMaximize)
    x, y = (problem.add_variable(n, 0, 3, cat=pulp.LpInteger) for n in ("x0", "x1"))
    problem.setObjective(2 * x + y + 5)
    problem.addConstraint(2 * x + 2 * y <= 7)  # best: x = 3, y = 0
    try:
        report = run_adapter(problem, make_adapter(name, SolverSettings(gap=0.0, threads=1)))
    except ImportError as error:
        return f"not installed ({error})"
    except (UserError, OSError) as error:
        return str(error)
    if report.termination is not Termination.OPTIMAL or report.objective != 11.0:
        return f"answers a tiny problem wrongly ({report.termination}, {report.objective})"
    return None


def usable_solvers() -> tuple[str, ...]:
    """The solvers that work here, best first."""
    return tuple(name for name in NAMES if why_unusable(name) is None)


def choose_solver(name: str = "auto") -> str:
    """``name`` itself if it works, or for ``"auto"`` the first that does.

    Raises
    ------
    UserError
        An unknown name, or a solver that does not work here; the text says what to install.
    """
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


def solve(
    problem: pulp.LpProblem,
    *,
    solver: str = "auto",
    gap: float = 1e-4,
    time_limit_s: float | None = None,
    node_limit: int | None = None,
    threads: int = 2,
    relax: bool = False,
    cutoff: float | None = None,
    options: Mapping[str, bool | int | float | str] | None = None,
    start: Mapping[str, float] | None = None,
    on_progress: Progress | None = None,
) -> SolverReport:
    """Solve a problem; the answer is in its variables, what is proven in the report.

    Parameters
    ----------
    solver
        ``"auto"`` (HiGHS, else CBC), ``"highs"`` or ``"cbc"``.
    gap
        Stop when the answer is proven within this share of the best (constant included).
    time_limit_s, node_limit
        Stops; a node limit gives the same answer every time, a time limit does not.
    threads
        For HiGHS; the same number gives the same answer. CBC always uses one: its parallel
        search does not.
    relax
        Drop the whole-number demands; rows then carry their duals in ``pi``.
    cutoff
        Answers worse than this are none, and nothing beyond it is proven; such a search is far
        shorter than one with a row for it. Not for relaxations.
    options
        Further options of the solver by its own names; unknown ones are refused.
    start
        Values by variable name; unknown names are ignored, missing ones are left to the solver.
        A complete start that keeps every row is never lost.
    on_progress
        Called in this thread with seconds, best objective and bound so far (``None``: none yet).

    Returns
    -------
    SolverReport
        Ctrl-C ends the solve with ``Termination.INTERRUPTED`` and the best answer so far.
        Without an answer every variable's ``varValue`` is ``None``.

    Raises
    ------
    UserError
        The solver is not there, or an option is out of range or unknown.
    SolverFailed
        The solver broke down, or its answer does not hold.
    BadModel
        The problem is malformed.
    """
    settings = SolverSettings(
        gap=gap,
        time_limit_s=time_limit_s,
        node_limit=node_limit,
        threads=threads,
        relax=relax,
        cutoff=cutoff,
        options=dict(options or {}),
    )
    adapter = make_adapter(choose_solver(solver), settings)
    adapter.start = start
    adapter.on_progress = on_progress
    return run_adapter(problem, adapter)


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


def relax(problem: pulp.LpProblem, *, solver: str = "auto") -> SolverReport:
    """Solve the linear relaxation: values in the variables, duals in the rows' ``pi``."""
    return solve(problem, solver=solver, relax=True)
