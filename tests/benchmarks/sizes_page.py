"""The Markdown of a run of ``sizes.py``."""

from collections.abc import Sequence
from typing import Any

Values = dict[str, Any]


def number(value: float | None, digits: int = 0, unit: str = "") -> str:
    """A number for a table; a dash where there is none."""
    return "-" if value is None else f"{value:,.{digits}f}{unit}"


def seconds_text(value: float | None) -> str:
    """Seconds with three figures or so."""
    return number(value, 2 if value is not None and value < 10 else 1 if (value or 0) < 100 else 0)


def percent(value: float | None) -> str:
    """A share as per cent."""
    if value is not None and value > 1:
        return "> 100 %"
    return number(None if value is None else 100 * value, 2, " %")


def ratio_text(ours: Values, textbook: Values) -> str:
    """How many times as long the textbook model took for the same gap."""
    if "seconds" not in textbook or "failed" in ours:
        return "not tried" if textbook.get("not_tried") else "-"
    times = textbook["seconds"] / ours["seconds"]
    return f"{'' if textbook.get('reached') else '> '}{times:.1f}"


def end_text(textbook: Values) -> str:
    """How the textbook model ended."""
    if textbook.get("not_tried"):
        return f"not tried: {textbook['cells']:,} binaries, reckoned too many for the memory"
    if "failed" in textbook:
        return f"failed ({textbook['failed']})"
    if not textbook:
        return "-"
    without = textbook.get("left_out")
    left = f", {without:,} left out" if without else ""
    if textbook["objective"] is None:
        return f"{textbook['termination']}, no plan"
    return textbook["termination"] + left


def our_row(found: Values) -> str:
    """A row of the first table."""
    ours, textbook = found["ours"], found["textbook"]
    cells = [f"{found['trees']:,}", f"{found['places']}", number(textbook.get("groups"))]
    if "failed" in ours:
        rest = [seconds_text(ours["seconds"]), number(ours["peak_mb"]), ours["failed"], *["-"] * 5]
    else:
        rest = [
            seconds_text(ours["seconds"]),
            number(ours["peak_mb"]),
            f"{ours['money']:,.2f} {ours['currency']}",
            percent(ours["gap"]),
            f"{ours['placed']:,} of {found['trees']:,}",
            "passed" if ours["audit_passed"] else "FAILED",
            f"{100 * ours['build_s'] / ours['seconds']:.1f} %",
            ratio_text(ours, textbook),
        ]
    return "| " + " | ".join([*cells, *rest]) + " |"


def textbook_row(found: Values) -> str:
    """A row of the second table."""
    one = found["textbook"]
    cells = [
        f"{found['trees']:,}",
        number(one.get("binaries", one.get("cells"))),
        number(one.get("rows")),
        seconds_text(one.get("build_s")),
        seconds_text(one.get("solve_s")),
        number(one.get("peak_mb")),
        number(one.get("objective"), 2),
        percent(one.get("asked_gap")),
        percent(one.get("gap")),
        end_text(one),
    ]
    return "| " + " | ".join(cells) + " |"


def table(headings: str, rows: Sequence[str]) -> str:
    """A Markdown table."""
    count = headings.count("|") - 1
    return "\n".join([headings, "|" + "---|" * count, *rows])


OURS = (
    "| trees | places | kinds of trees | time, s | memory, MB | cost | proven within | trees safe "
    "| audit | building in PuLP | textbook / ours |"
)
TEXTBOOK = (
    "| trees | binaries | rows | build, s | solve, s | memory, MB | cost | gap asked | gap proven "
    "| end |"
)


def page(results: Values) -> str:
    """The Markdown of a run."""
    host, start, sizes = results["machine"], results["start_up"], results["sizes"]
    machine_words = (
        f"{host['processor']}, {host['cores']} cores, {host['memory_gb']:.0f} GB, "
        f"{host['system']}, Python {host['python']}, HiGHS {host['highs']}, PuLP {host['pulp']}"
    )
    times = start["help_s"] / start["python_s"]
    return f"""\
Measured on {machine_words}; load average {host["load"]:.1f} when it began.
Seed {results["seed"]}, gap asked {percent(results["gap"])}.

The whole command `overwinter plan`, from start to written files:

{table(OURS, [our_row(found) for found in sizes])}

Costs are the plan's, with the hardening each tree truly has; the textbook model knows hardening
only from above, and its costs with it. Trees left out are not counted. The last column is the
building and solving of the textbook model over our whole command; "> x": it was stopped before it
had proven our gap.

The textbook model of the same winter ({results["textbook_limit"]:g} s of solving at most). Reading,
physics, layouts and audit are not in its times:

{table(TEXTBOOK, [textbook_row(found) for found in sizes])}

Start: `python -m overwinter --help` takes {start["help_s"]:.2f} s, {times:.1f} times
`python -c pass` ({start["python_s"]:.3f} s); medians of {start["runs"]}.
"""
