"""``overwinter show``: the plan of a folder again, audited anew, as a summary or as tables."""

from dataclasses import replace
from functools import partial
from shutil import get_terminal_size
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import audited, drips, in_unseen, open_winter
from overwinter.audit.audit import second_sample
from overwinter.cli.guard import ExitCode, Folder, Json, chosen, say, tell
from overwinter.cli.plan import show_outcome
from overwinter.render.table import Table, alike_joined, render
from overwinter.render.tables import TABLES, damp_table, found_table, on_table, stage_on, why_table
from overwinter.search.explain import explain
from overwinter.search.plan_winter import Outcome

OF_A_TREE = ("stays", "risks", "left-out")  # what `--tree` shows unless tables are named


def command(
    folder: Folder,
    table: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help=f"Show a table instead: {', '.join(TABLES)} or all."),
    ] = None,
    tree: Annotated[
        list[str] | None,
        typer.Option(metavar="WORD", help="Only trees whose name or kind holds the word."),
    ] = None,
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Where the trees usually are on that day.")
    ] = None,
    heaters: Annotated[bool, typer.Option(help="What to set each heater to, and when.")] = False,
    damp: Annotated[
        bool, typer.Option(help="Where roof, walls and glass drip, how long, and what would help.")
    ] = False,
    why: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WORD",
            help="Why not elsewhere: what every other place lacks for these trees, or would cost; "
            "in deep winter, or on the day of --on.",
        ),
    ] = None,
    audit_winters: Annotated[
        int | None,
        typer.Option(
            min=1,
            metavar="N",
            help="Audit on N winters the plan was not made from: chances stated and found.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Of the winters of --audit-winters.")] = 2,
    as_json: Json = False,
) -> None:
    """Show the plan in a folder, audited anew against the inputs as they are now."""
    names = chosen("--table", [*(table or []), *(["heat"] if heaters else [])], TABLES)
    outcome = in_unseen(audited(open_winter(folder), say=say))
    asked = _Asked(outcome, tree or [], why or [], on)
    names = asked.tables(names)
    parts = (outcome.season, asked.plan, outcome.report)
    tables = [TABLES[name](*parts) for name in names]
    if damp:
        tables.append(damp_table(outcome.season, outcome.plan, drips(outcome)))
    if audit_winters is not None:
        found = second_sample(outcome.season, outcome.plan, audit_winters, seed)
        tables.append(found_table(outcome.season, outcome.report, found))
    if asked.trees:
        tables = [one.only_trees(asked.trees) for one in tables]
        tables = [one for one in tables if one.rows or one.name in (table or [])]
    if asked.why:
        tables.append(asked.why_table())
    elif asked.day is not None:
        tables.append(on_table(outcome.season, outcome.plan, asked.day, asked.trees))
    if tables:
        width = get_terminal_size((80, 24)).columns  # 80 in a pipe
        text = partial("\n".join, (render(alike_joined(one), width) for one in tables))
        tell(as_json, lambda: {one.name: one.records() for one in tables}, text)
    else:
        show_outcome(outcome, as_json)
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


class _Asked:
    """Trees and day that were asked for, and the plan with no other trees left out."""

    def __init__(self, outcome: Outcome, tree: list[str], why: list[str], on: str | None) -> None:
        self.outcome = outcome
        season, names = outcome.season, Names(outcome.season)
        ids = [found for one in tree for found in names.trees_like("--tree", one)]
        self.trees = frozenset(season.tree_by_id[one].name for one in ids)
        found = [one for word in why for one in names.trees_like("--why", word)]
        self.why = [one for one in dict.fromkeys(found) if one in outcome.plan.stays]
        self.why_out = set(found) - set(self.why)
        some = {*ids, *found}
        left = (one for one in outcome.plan.left_out if not some or one.tree_id in some)
        self.plan = replace(outcome.plan, left_out=tuple(left))
        self.day = names.day_of_winter("--on", on)
        names.raise_if_any()

    def tables(self, named: list[str]) -> list[str]:
        """Names of the tables that were named, or else of those that tell of the trees."""
        if self.trees and not named and self.day is None:
            return list(OF_A_TREE)
        return [*named, *({"left-out"} - {*named} if self.why_out else ())]

    def why_table(self) -> Table:
        """What every other place lacks, or what it would cost to stand there."""
        outcome, plan = self.outcome, self.outcome.plan
        stage = None if self.day is None else stage_on(plan, self.day).index
        return why_table(outcome.season, plan, outcome.report, explain(outcome, self.why, stage))
