"""``overwinter check``: read everything, say what is wrong, assumed or odd."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial
from math import ceil
from pathlib import Path
from typing import Annotated

import typer

from overwinter.cli.guard import ExitCode, Folder, Json, print_json, tell
from overwinter.files.guesses import write_guesses, write_keys
from overwinter.files.outputs import check_writable
from overwinter.files.season import WinterFolder, read_folder
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting
from overwinter.packaged import packaged_toml
from overwinter.problems import InputProblems
from overwinter.render.words import count, long_date, tree_names
from overwinter.shelters.conditions import coldest_of_20_winters, design_need_w, unsure_k
from overwinter.shelters.heater import OFF, heater_settings, setting_label

NOT_WRITTEN = (
    "Nothing was written; `check --write` puts the guesses into your files, to be corrected."
)
Nights = Mapping[str, Mapping[HeaterSetting, float]]  # degC, the coldest of 20 winters
OTHERWISE = (
    "A tree that stands more or less: name its kind, or give its own limits in columns such as"
    " root_kill_{0} and top_kill_{0} (docs/files.md)."
)


def command(
    folder: Folder,
    write: Annotated[
        bool,
        typer.Option(
            "--write", help="Put every guess into the tree list, site.toml and shelters.toml."
        ),
    ] = False,
    as_json: Json = False,
) -> None:
    """Read the inputs of a winter and report every problem, assumption and warning."""
    try:
        found = read_folder(folder)
    except InputProblems as error:
        if not as_json:
            raise
        print_json({"ok": False, "problems": error.problems})
        raise typer.Exit(ExitCode.BAD_INPUT) from error
    guesses = bool(found.guesses or found.listing.guesses)
    written = _written(folder, found) if write else NOT_WRITTEN * guesses
    text = partial("\n".join, [*season_lines(found.season), written])
    tell(as_json, lambda: season_json(found.season), text)


def _written(folder: Path, found: WinterFolder) -> str:
    """Write the guesses into the files; what was done, in a sentence each."""
    listing, lines = found.listing, []
    for file in {listing.file, *(guess.file for guess in found.guesses)}:
        check_writable(folder / file, overwrite=True)
    if listing.guesses:
        kept = write_guesses(folder, listing, found.season.site.display)
        lines.append(
            f"Wrote {len(listing.guesses)} guesses into {listing.file}, each named in its row's"
            f" column 'note: guessed'. Your list as it was is kept as {kept}."
        )
    if found.guesses:
        files = dict.fromkeys(guess.file for guess in found.guesses)
        copies = write_keys(folder, found.guesses)
        lines.append(
            f"Wrote {len(found.guesses)} guesses into {' and '.join(files)}, each marked 'guessed"
            f" by check'. What they were is kept as {' and '.join(copies)}."
        )
    return "\n".join(lines) or "There was no guess to write."


def season_json(season: Season) -> dict[str, object]:
    """What was read, for a script."""
    return {
        "ok": True,
        "site": season.site.name,
        "starts": season.site.starts,
        "ends": season.site.ends,
        "trees": len(season.trees),
        "species": len({tree.species_key for tree in season.trees}),
        "shelters": len(season.shelters),
        "places": len(season.places),
        "weather": season.winters.origin,
        "winters": season.winters.count,
        "coldest_c": float(season.winters.air_c.min()),
        "coldest_night_of_20_winters": coldest_nights(season),
        "weak_heaters": weak_heaters(season),
        "assumptions": [
            {"tree": one.tree, "written": one.written, "assumed": one.assumed_key, "why": one.why}
            for one in season.assumptions
        ],
        "assumed": season.assumed,
        "warnings": season.warnings,
    }


@dataclass(frozen=True, slots=True)
class WeakHeater:
    """A hold temperature that a shelter's heaters cannot keep in the design night."""

    shelter_id: str
    hold_c: float
    need_w: float
    has_w: float


def weak_heaters(season: Season) -> list[WeakHeater]:
    """Each hold of each shelter, the lowest first, for which its strongest setting is too weak."""
    strongest: dict[tuple[float, str], WeakHeater] = {}
    for shelter in season.shelters:
        for setting in heater_settings(shelter, season.site.money_per_kwh):
            if setting.hold_c is not None:
                need_w = design_need_w(shelter, season.site, setting)
                has_w = setting.fixed_w + setting.power_w
                one = WeakHeater(shelter.id, setting.hold_c, need_w, has_w)
                key = setting.hold_c, shelter.id
                strongest[key] = max(one, strongest.get(key, one), key=lambda weak: weak.has_w)
    return [one for _, one in sorted(strongest.items()) if one.has_w < one.need_w]


def weak_lines(season: Season, nights: Nights) -> list[str]:
    """What each shelter's heaters lack for the lowest hold they cannot keep, or for no frost."""
    display, lines = season.site.display, dict[str, str]()
    night_c = display.temperature(season.site.design_min_c, 0)
    for one in weak_heaters(season):
        lines.setdefault(
            one.shelter_id,
            f"needs {ceil(one.need_w / 10) / 100:.2f} kW to hold {display.thermostat(one.hold_c)} "
            f"while {night_c} lasts and has {one.has_w / 1000:.2f} kW: its air then falls below "
            "that. In the coldest night above, hour by hour, walls and soil still give warmth; the "
            "plan uses the air it really gets.",
        )
    for shelter_id, found in nights.items():
        holds = any(setting.hold_c is not None for setting in found)
        warmest_c, most_w = max(found.values()), max(setting.fixed_w for setting in found)
        if len(found) > 1 and not holds and warmest_c < 0:
            falls = f"falls to {display.temperature(warmest_c, 0)} in the coldest night above"
            lines[shelter_id] = f"{falls} with all of its {most_w / 1000:.1f} kW on."
    names = {shelter.id: shelter.name for shelter in season.shelters}
    return [f"Heater: {names[shelter_id]} {line}" for shelter_id, line in lines.items()]


def coldest_nights(season: Season) -> list[dict[str, object]]:
    """Air of every shelter and setting in the coldest night of 20 winters, for a script."""
    return [
        {"shelter_id": one, "setting": setting_label(setting, season.site.display), "air_c": air_c}
        for one, found in coldest_of_20_winters(season).items()
        for setting, air_c in found.items()
    ]


def night_lines(season: Season, nights: Nights) -> list[str]:
    """The air of every shelter in that night, without heat and with all of it, and its corners."""
    display, lines = season.site.display, []
    for shelter_id, found in nights.items():
        shelter = season.shelter_by_id[shelter_id]
        best = max(found, key=lambda setting: found[setting])
        parts, off_k = [display.temperature(found[OFF], 0)], unsure_k(shelter, season.site)
        if off_k:
            parts[0] += f" give or take {display.kelvin(off_k, 1)}, by its thermometer"
        if best != OFF:
            with_it = f"{display.temperature(found[best], 0)} with {setting_label(best, display)}"
            parts = [f"{parts[0]} without heat", with_it]
        parts += [
            f"{place.name} {display.kelvin(abs(place.warmer_k))}"
            f" {'warmer' if place.warmer_k > 0 else 'colder'}"
            for place in shelter.places
            if place.warmer_k
        ]
        lines.append(f"{shelter.name}: {', '.join(parts)}.")
    return lines


def season_lines(season: Season) -> list[str]:
    """What was read, for a grower: no problem, what was taken for granted, what is odd."""
    site = season.site
    trees, places = count(len(season.trees), "tree"), count(len(season.places), "place")
    kinds = len({tree.species_key for tree in season.trees})
    coldest = site.display.temperature(float(season.winters.air_c.min()))
    over = [f"The plan ends on {long_date(site.ends)}, which has passed. Is the year right?"]
    night, nights = site.display.temperature(site.design_min_c, 0), coldest_of_20_winters(season)
    cold = f"In the coldest night of 20 winters ({night} outdoors)"
    odd = over * (site.ends < date.today()) + weak_lines(season, nights)
    return [
        f"{site.name}, {long_date(site.starts)} to {long_date(site.ends)}",
        f"{trees} of {count(kinds, 'kind')}, {places} in {count(len(season.shelters), 'shelter')}",
        f"Weather: {season.winters.origin}",
        f"Coldest hour of {count(season.winters.count, 'winter')}: {coldest}.",
        "",
        "No problems found.",
        *_section("Taken for granted; correct what you know better", assumed_lines(season)),
        *_section(cold, night_lines(season, nights)),
        *_section("Unusual; look at it once more", [*odd, *season.warnings]),
        "",
    ]


def assumed_lines(season: Season) -> list[str]:
    """Every guess, the kinds of tree first, trees of one kind together."""
    kinds: dict[tuple[str, str], list[str]] = {}
    for one in season.assumptions:
        kinds.setdefault((one.assumed_key, one.why), []).append(f"{one.tree} ({one.written})")
    lines = [
        f"{tree_names(trees)} as {key}: {why}. {stands_words(season, key)}."
        for (key, why), trees in kinds.items()
    ]
    if lines:
        lines.append(OTHERWISE.format("f" if season.site.display.us else "c"))
    return [*lines, *season.assumed]


def stands_words(season: Season, key: str) -> str:
    """What a kind is taken to stand, of a group beside its hardiest, for growers to disagree."""
    kind, shown = season.species[key], season.site.display.temperature
    others = [one for one in season.species.values() if kind.is_group and one.group == key]
    parts = []
    for name, part in packaged_toml("sentences.toml")["kills"].items():
        taken = getattr(kind.limits, name)
        hardiest = min((getattr(one.limits, name) for one in others), default=taken)
        beside = f" ({shown(hardiest)})" if hardiest < taken else ""
        parts.append(f"{part} {shown(taken)}{beside}")
    beside = " (in brackets its hardiest kind)" if kind.is_group else ""
    words = f"Half are lost, once hardened, at{beside}: {', '.join(parts)}"
    floor_c, rest_c = kind.limits.air_floor_c, kind.limits.rest_ceiling_c
    words += "" if floor_c is None else f"; leaves are hurt below {shown(floor_c)}"
    return words if rest_c is None else f"{words}; it rests up to {shown(rest_c)}"


def _section(title: str, lines: list[str]) -> list[str]:
    return ["", f"{title} ({len(lines)}):", *[f"- {line}" for line in lines]] if lines else []
