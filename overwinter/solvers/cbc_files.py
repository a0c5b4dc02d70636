"""The files CBC reads and writes: model, start, solution, log."""

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overwinter.solvers.arrays import FloatArray, ProblemArrays
from overwinter.solvers.report import Termination

#: CBC prints its bound with three decimals; half a unit is given up to stay on the safe side.
_BOUND_ROUNDING = 5e-4


def write_mps(arrays: ProblemArrays, path: Path) -> None:
    """Write the problem as free MPS with exact numbers; column ``j`` is ``Cj``, row ``i`` ``Ri``.

    PuLP's own writer keeps 12 digits and leaves the objective's constant out, so that CBC's gap
    would refer to something else than ours.
    """
    rows = arrays.rows
    kinds = np.where(np.isinf(rows.lower), "L", np.where(np.isinf(rows.upper), "G", "E"))
    lines = ["NAME PLAN FREE", "ROWS", " N OBJ"]
    lines += [f" {kind} R{i}" for i, kind in enumerate(kinds.tolist())]
    lines.append("COLUMNS")
    lines += _column_lines(arrays)
    lines.append("RHS")
    if arrays.constant:
        lines.append(f" RHS OBJ {-arrays.constant!r}")
    sides = np.where(np.isinf(rows.lower), rows.upper, rows.lower)
    lines += [f" RHS R{i} {side!r}" for i, side in enumerate(sides.tolist()) if side]
    lines.append("BOUNDS")
    for j, (low, up) in enumerate(zip(arrays.lower.tolist(), arrays.upper.tolist(), strict=True)):
        lines += _bound_lines(j, low, up)
    lines.append("ENDATA\n")
    path.write_text("\n".join(lines), encoding="ascii")


def _column_lines(arrays: ProblemArrays) -> list[str]:
    rows = arrays.rows
    row_of = rows.row_of_entry()
    order = np.argsort(rows.columns, kind="stable")
    row_list, value_list = row_of[order].tolist(), rows.values[order].tolist()
    ends = np.cumsum(np.bincount(rows.columns, minlength=len(arrays.costs))).tolist()
    lines = []
    begin, inside = 0, False
    for j, (cost, whole, end) in enumerate(
        zip(arrays.costs.tolist(), arrays.whole.tolist(), ends, strict=True)
    ):
        if whole != inside:
            lines.append(f" M{j} 'MARKER' '{'INTORG' if whole else 'INTEND'}'")
            inside = whole
        lines.append(f" C{j} OBJ {cost!r}")
        lines += [f" C{j} R{row_list[k]} {value_list[k]!r}" for k in range(begin, end)]
        begin = end
    if inside:
        lines.append(" MEND 'MARKER' 'INTEND'")
    return lines


def _bound_lines(j: int, low: float, up: float) -> list[str]:
    if low == up:
        return [f" FX B C{j} {low!r}"]
    if low == -np.inf:
        return [f" MI B C{j}", f" UP B C{j} {up!r}"] if up < np.inf else [f" FR B C{j}"]
    lines = [f" LO B C{j} {low!r}"] if low else []
    # said also where it is the default: some readers cap whole numbers at 1
    return [*lines, f" UP B C{j} {up!r}" if up < np.inf else f" PL B C{j}"]


def write_start(start: FloatArray, path: Path) -> None:
    """Write the values the start gives, in the form of a CBC solution; the rest is left open."""
    lines = ["Stopped on time - objective value 0"]
    lines += [f"{j} C{j} {x!r} 0" for j, x in enumerate(start.tolist()) if x == x]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")


@dataclass(frozen=True, slots=True)
class CbcSolution:
    """A CBC solution file: its heading, and primal and dual values (zeros where not named)."""

    heading: str
    columns: FloatArray
    column_duals: FloatArray
    row_duals: FloatArray

    @property
    def is_answer(self) -> bool:
        """Whether the heading claims a feasible point; CBC prints numbers in any case."""
        stopped = self.heading.startswith("Stopped") and "no integer solution" not in self.heading
        return stopped or self.heading.startswith("Optimal")


def read_solution(path: Path, arrays: ProblemArrays) -> CbcSolution:
    """Read a solution file.

    Raises
    ------
    OSError, ValueError
        There is none, or it is not one.
    """
    n, m = len(arrays.costs), len(arrays.rows)
    columns, column_duals, row_duals = np.zeros(n), np.zeros(n), np.zeros(m)
    with path.open(encoding="ascii", errors="replace") as file:
        heading, dash, _ = file.readline().partition(" - objective value")
        if not dash:
            raise ValueError("the solution file has no heading")
        for line in file:
            words = line.removeprefix("**").split()
            if len(words) < 4:
                continue
            name, place = words[1][0], int(words[1][1:])
            if name == "C":
                columns[place], column_duals[place] = float(words[2]), float(words[3])
            else:
                row_duals[place] = float(words[3])
    return CbcSolution(heading.strip(), columns, column_duals, row_duals)


def why_stopped(heading: str, log: str) -> Termination:
    """Why CBC ended, from the heading of its solution and the last words of its log.

    "Infeasible" from its preprocessing means "infeasible or unbounded" unless the relaxation had
    an optimum before; the heading "Stopped on iterations" covers every stop but time.
    """
    if heading.startswith("Optimal"):
        return Termination.OPTIMAL
    if "nfeasible" in heading:
        unclear = "says infeasible or unbounded" in log and "Continuous objective value" not in log
        return Termination.INFEASIBLE_OR_UNBOUNDED if unclear else Termination.INFEASIBLE
    if heading.startswith("Unbounded"):
        return Termination.UNBOUNDED
    if "ctrl-c" in log:
        return Termination.INTERRUPTED
    if "time" in heading or "Stopped on time" in log:
        return Termination.TIME_LIMIT
    if "node limit" in log or "maximum nodes" in log:
        return Termination.NODE_LIMIT
    return Termination.FAILED


def bound_in(log: str) -> float | None:
    """The proven bound in a log, a little below what is printed; ``None`` if none is printed.

    CBC prints none when it has searched everything: the answer is then its own bound.
    """
    final = re.findall(r"^Lower bound:\s+(\S+)", log, re.MULTILINE)
    if final:
        return _usable(float(final[-1]), _BOUND_ROUNDING)
    passing = re.findall(r"best possible (-?[\d.]+(?:e[+-]?\d+)?)", log)
    if passing:
        value = float(passing[-1])
        return _usable(value, 1e-6 * abs(value))
    return None


def _usable(value: float, margin: float) -> float | None:
    return value - margin if abs(value) < 1e30 else None


def progress_in(log: str) -> tuple[float | None, float | None]:
    """Best objective and bound so far, from a log that is still growing."""
    marks = r"(?:Integer solution of|best objective|Cbc0010I After .* on tree,)"
    found = re.findall(marks + r" (-?[\d.]+(?:e[+-]?\d+)?)", log)
    best = float(found[-1]) if found else None
    return (best if best is not None and abs(best) < 1e30 else None), bound_in(log)
