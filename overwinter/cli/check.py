"""``overwinter check``: read everything, say what is wrong, assumed or odd."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from overwinter.cli.arguments import Folder, Json
from overwinter.cli.exit_codes import ExitCode

if TYPE_CHECKING:
    from overwinter.model.season import Season
    from overwinter.problems import InputProblems


def command(
    folder: Folder,
    write: Annotated[
        bool, typer.Option("--write", help="Put every guess about a tree into the tree list.")
    ] = False,
    as_json: Json = False,
) -> None:
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
    written = _written(folder, season) if write else "Nothing was written."
    if as_json:
        print_json(season_json(season))
    else:
        print("\n".join([*season_lines(season), written]))


def _written(folder: Path, season: "Season") -> str:
    """Write the guesses into the tree list; what was done, in a sentence."""
    from overwinter.files.season import read_tree_list
    from overwinter.files.tree_guesses import write_guesses

    listing = read_tree_list(folder)
    if not listing.guesses:
        return "There was no guess about a tree to write."
    kept = write_guesses(folder, listing, season.site.display)
    return (
        f"Wrote {len(listing.guesses)} guesses into {listing.file}, each named in its row's column"
        f" 'note: guessed'. Your list as it was is kept as {kept}."
    )


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
        "weather": season.winters.origin,
        "winters": season.winters.count,
        "coldest_c": float(season.winters.air_c.min()),
        "weak_heaters": [asdict(one) for one in weak_heaters(season)],
        "assumptions": [
            {"tree": one.tree, "written": one.written, "assumed": one.assumed_key, "why": one.why}
            for one in season.assumptions
        ],
        "assumed": list(season.assumed),
        "warnings": list(season.warnings),
    }


@dataclass(frozen=True, slots=True)
class WeakHeater:
    """A hold temperature that a shelter's heaters cannot keep in the design night."""

    shelter_id: str
    hold_c: float
    need_w: float
    has_w: float


def weak_heaters(season: "Season") -> list[WeakHeater]:
    """Each hold of each shelter for which even its strongest setting is too weak."""
    from overwinter.shelters.conditions import design_need_w
    from overwinter.shelters.heater import settings_for

    found = []
    for shelter in season.shelters:
        strongest: dict[float, WeakHeater] = {}
        for setting in settings_for(shelter, season.site):
            if setting.hold_c is None:
                continue
            need = design_need_w(shelter, season.site, setting)
            one = WeakHeater(shelter.id, setting.hold_c, need, setting.fixed_w + setting.power_w)
            if setting.hold_c not in strongest or strongest[setting.hold_c].has_w < one.has_w:
                strongest[setting.hold_c] = one
        found += [one for one in strongest.values() if one.has_w < one.need_w]
    return found


def weak_lines(season: "Season") -> list[str]:
    """What each shelter's heaters lack for the lowest hold they cannot keep, in a sentence."""
    display = season.site.display
    night = display.temperature(season.site.design_min_c, 0)
    lowest: dict[str, WeakHeater] = {}
    for one in sorted(weak_heaters(season), key=lambda weak: weak.hold_c):
        lowest.setdefault(one.shelter_id, one)
    return [
        f"Heater: {season.shelter_by_id[shelter_id].name} needs {one.need_w / 1000:.1f} kW to hold "
        f"{display.thermostat(one.hold_c)} in the design night ({night}) and has "
        f"{one.has_w / 1000:.1f} kW: the air then falls below its hold; the plan reckons with the "
        "air it really gets."
        for shelter_id, one in lowest.items()
    ]


def season_lines(season: "Season") -> list[str]:
    """What was read, for a grower: what is wrong (nothing, else there is no season), what was taken
    for granted, what is unusual."""
    from overwinter.render.words import count, long_date

    site = season.site
    trees, places = count(len(season.trees), "tree"), count(len(season.places), "place")
    kinds = len({tree.species_key for tree in season.trees})
    coldest = site.display.temperature(float(season.winters.air_c.min()))
    return [
        f"{site.name}, {long_date(site.starts)} to {long_date(site.ends)}",
        f"{trees} of {count(kinds, 'kind')}, {places} in {count(len(season.shelters), 'shelter')}",
        f"Weather: {season.winters.origin}",
        f"Coldest hour of {count(season.winters.count, 'winter')}: {coldest}.",
        "",
        "No problems found.",
        *_section("Taken for granted; correct what you know better", assumed_lines(season)),
        *_section("Unusual; look at it once more", [*weak_lines(season), *season.warnings]),
        "",
    ]


def assumed_lines(season: "Season") -> list[str]:
    """Every guess, the kinds of tree first, trees of one kind together."""
    from overwinter.render.alike import tree_names

    kinds: dict[tuple[str, str], list[str]] = {}
    for one in season.assumptions:
        kinds.setdefault((one.assumed_key, one.why), []).append(f"{one.tree} ({one.written})")
    lines = [f"{tree_names(trees)} as {key}. {why}" for (key, why), trees in kinds.items()]
    return [*lines, *season.assumed]


def _section(title: str, lines: list[str]) -> list[str]:
    return ["", f"{title} ({len(lines)}):", *[f"- {line}" for line in lines]] if lines else []
