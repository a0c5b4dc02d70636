"""``overwinter replan``: plan the rest of the winter anew from where every tree really is."""

import sys
from contextlib import closing
from dataclasses import replace
from functools import partial
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names, day_said, request_of
from overwinter.api.folder import (
    OUTPUTS,
    Winter,
    older_words,
    open_winter,
    record_replan,
    write_plan,
)
from overwinter.cli import guard
from overwinter.cli.guard import ExitCode, Folder, Force, Json, tell
from overwinter.cli.plan import options_of
from overwinter.files.outputs import check_free
from overwinter.render.replan_report import (
    ReplanAnswer,
    change_words,
    lateness_json,
    lateness_report,
    replan_json,
    replan_report,
)
from overwinter.replan.lateness import lateness
from overwinter.replan.replan import Request, Today, replan
from overwinter.search.options import USUAL_GAP, PlanOptions


def command(
    folder: Folder,
    today: Annotated[str, typer.Option(metavar="DATE", help="Today: what is before has happened.")],
    late: Annotated[
        list[str] | None,
        typer.Option(
            metavar="SHELTER[=DATE]",
            help="It opens on that day instead; without a day: what each week of waiting costs.",
        ),
    ] = None,
    closes: Annotated[
        list[str] | None,
        typer.Option(metavar="SHELTER=DATE", help="From that day it cannot be used."),
    ] = None,
    broken: Annotated[
        list[str] | None,
        typer.Option(metavar="SHELTER[/HEATER][=DATE]", help="It does not heat, from today."),
    ] = None,
    mended: Annotated[
        list[str] | None, typer.Option(metavar="SHELTER[/HEATER]", help="It heats again.")
    ] = None,
    gone: Annotated[
        list[str] | None,
        typer.Option(metavar="TREE[=DATE]", help="Sold, given away or dead, from today."),
    ] = None,
    unmarked: Annotated[
        str | None,
        typer.Option(metavar="done|not-done", help="What to make of due carries nobody marked."),
    ] = None,
    gap: guard.Gap = USUAL_GAP,
    time_limit: guard.TimeLimit = None,
    threads: guard.Threads = 2,
    layouts: guard.Layouts = True,
    what_if: Annotated[bool, typer.Option(help="Show the answer; write nothing.")] = False,
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Plan the rest of the winter anew; shows what changes for which tree, and what it costs.

    Everything given adds to what was said in earlier re-plans. The inputs are not edited.
    """
    options = options_of(gap, time_limit, threads, layouts)
    winter = open_winter(folder)
    by_week = [one for one in late or () if "=" not in one]
    later = [one for one in late or () if "=" in one]
    said = {"late": later, "closes": closes, "broken": broken, "mended": mended, "gone": gone}
    facts = {name: some or () for name, some in said.items()}
    entry = winter.entry()
    old = replace(entry.changes, leaves_down=winter.history.leaves_down)
    known = tuple(entry.document.get("trees", {}))
    request = request_of(winter.season, old, known, day_said(today), unmarked, **facts)
    if by_week:
        _tell_by_week(winter, request, by_week, options, as_json)
        return
    if not what_if:
        check_free(folder, OUTPUTS, force)
    with closing(guard.ProgressLine(sys.stderr, winter.season.site.currency)) as line:
        found = replan(winter.season, winter.in_force, request, options, line)
    found.outcome.report.refuse_unless_passed()
    in_force, number = winter.in_force, None
    because = change_words(winter.season, found.changes, entry.changes, in_force.plan)
    if not what_if:
        number = record_replan(folder, found, entry.number, because)
        write_plan(found.outcome, folder, force)
    answer = ReplanAnswer(
        season=found.outcome.season,
        names=(f"plan {entry.number}", "what if" if number is None else f"plan {number}"),
        plans=(in_force.plan, found.outcome.plan),
        comparison=found.comparison,
        because=because,
        gone_on=found.gone_on.costs,
        broken=found.gone_on.broken,
        kept=found.kept,
        gap=gap,
    )
    older = "" if what_if else older_words(folder)
    text = "\n".join(filter(None, [replan_report(answer), older]))
    tell(as_json, lambda: replan_json(answer), lambda: text)
    if found.outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def _tell_by_week(
    winter: Winter, request: Request, late: list[str], options: PlanOptions, as_json: bool
) -> None:
    """What each week costs that a shelter is late; nothing is written."""
    names = Names(winter.season)
    shelters = [found for one in late if (found := names.shelter("--late", one)) is not None]
    names.raise_if_any()
    today = Today(winter.season, winter.in_force, request)
    with closing(guard.ProgressLine(sys.stderr, winter.season.site.currency)) as line:
        weeks = [lateness(today, request, one, options, line) for one in shelters]
    text = partial("\n".join, map(lateness_report, weeks))
    tell(as_json, lambda: [lateness_json(one) for one in weeks], text)
