"""``overwinter show``: the plan of a folder again, audited anew, as a summary or as tables."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from overwinter.cli.arguments import Folder, Json
from overwinter.cli.exit_codes import ExitCode

if TYPE_CHECKING:
    from overwinter.planning.plan_winter import Outcome

TABLE_NAMES = "places, trees, carries, heat, margins, left-out, not-home, costs"


def command(
    folder: Folder,
    table: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help=f"Show a table instead: {TABLE_NAMES} or all."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Show the plan in a folder, audited anew against the inputs as they are now."""
    from overwinter.cli.guard import print_json
    from overwinter.render.alike import alike_joined
    from overwinter.render.tables import TABLES, render

    names = chosen_tables(table or [])
    outcome = read_back(folder)
    parts = (outcome.season, outcome.plan, outcome.report)
    tables = [TABLES[name](*parts) for name in names]
    if tables and as_json:
        print_json({one.name: one.records() for one in tables})
    elif tables:
        print("\n".join(render(alike_joined(one)) for one in tables), end="")
    else:
        from overwinter.cli.plan import show_outcome

        show_outcome(outcome, as_json)
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def chosen_tables(asked: list[str]) -> list[str]:
    """Names of the tables asked for, each once; ``all`` is every one.

    Raises
    ------
    UserError
        For a name that is none.
    """
    from difflib import get_close_matches

    from overwinter.problems import UserError
    from overwinter.render.tables import TABLES

    if "all" in asked:
        return list(TABLES)
    for name in asked:
        if name not in TABLES:
            near = get_close_matches(name, TABLES, n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise UserError(f"There is no table '{name}'; choose {', '.join(TABLES)} or all.{hint}")
    return list(dict.fromkeys(asked))


def read_back(folder: Path) -> "Outcome":
    """The plan of a folder with its season, audited; refuses a plan that no longer holds."""
    from overwinter.audit.audit import audit
    from overwinter.cli.guard import say
    from overwinter.cli.plan import PLAN, refuse_unless_passed
    from overwinter.cli.winter import season_of_plan_file
    from overwinter.files.plan_file import inputs_changed, read_plan_document
    from overwinter.files.season import read_season
    from overwinter.planning.plan_winter import Outcome
    from overwinter.problems import UserError
    from overwinter.shelters.conditions import compute_conditions

    season = read_season(folder)
    if not (folder / PLAN).is_file():
        raise UserError(
            f"There is no {PLAN} in {folder}; make one with `overwinter plan {folder}`."
        )
    document = read_plan_document(folder / PLAN)
    season = season_of_plan_file(folder, season, document.plan)
    conditions = compute_conditions(season)
    if inputs_changed(document, season):
        say(f"The inputs have changed since {PLAN} was made; it is checked against them as now.")
    report = audit(season, conditions, document.plan)
    refuse_unless_passed(report)
    return Outcome(season, conditions, document.plan, report)
