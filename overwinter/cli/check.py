"""``overwinter check``: read everything, say what is wrong or assumed, write nothing."""

from typing import TYPE_CHECKING

import typer

from overwinter.cli.arguments import Folder, Json
from overwinter.cli.exit_codes import ExitCode

if TYPE_CHECKING:
    from overwinter.model.season import Season
    from overwinter.problems import InputProblems


def command(folder: Folder, as_json: Json = False) -> None:
    """Read the inputs of a winter and report every problem, assumption and warning."""
    from overwinter.cli.guard import print_json
    from overwinter.files.season import read_season
    from overwinter.problems import InputProblems

    try:
        season = read_season(folder)
    except InputProblems as error:
        if not as_json:
            raise
        print_json(problems_json(error))
        raise typer.Exit(ExitCode.BAD_INPUT) from error
    if as_json:
        print_json(season_json(season))
    else:
        print("\n".join(season_lines(season)))


def problems_json(error: "InputProblems") -> dict[str, object]:
    """All problems of an input, for a script."""
    return {
        "ok": False,
        "problems": [
            {
                "file": problem.file,
                "row": problem.row,
                "column": problem.column,
                "found": problem.found,
                "expected": problem.expected,
                "fix": problem.fix,
            }
            for problem in error.problems
        ],
    }


def season_json(season: "Season") -> dict[str, object]:
    """What was read, for a script."""
    return {
        "ok": True,
        "site": season.site.name,
        "starts": season.site.starts.isoformat(),
        "ends": season.site.ends.isoformat(),
        "trees": len(season.trees),
        "species": len({tree.species_key for tree in season.trees}),
        "shelters": len(season.shelters),
        "places": len(season.places),
        "weather": season.weather.origin,
        "coldest_c": float(season.weather.air_c.min()),
        "assumptions": [
            {"tree": one.tree, "written": one.written, "assumed": one.assumed_key, "why": one.why}
            for one in season.assumptions
        ],
        "warnings": list(season.warnings),
    }


def season_lines(season: "Season") -> list[str]:
    """What was read, for a grower."""
    from overwinter.render.words import count, long_date

    site = season.site
    trees, places = count(len(season.trees), "tree"), count(len(season.places), "place")
    kinds = len({tree.species_key for tree in season.trees})
    coldest = site.display.temperature(float(season.weather.air_c.min()))
    return [
        f"{site.name}, {long_date(site.starts)} to {long_date(site.ends)}",
        f"{trees} of {count(kinds, 'kind')}, {places} in {count(len(season.shelters), 'shelter')}",
        f"Weather: {season.weather.origin} Coldest hour {coldest}.",
        *[
            f"Assumed: {a.tree} ({a.written}) as {a.assumed_key}. {a.why}"
            for a in season.assumptions
        ],
        *[f"Note: {warning}" for warning in season.warnings],
        "No problems found. Nothing was written.",
    ]
