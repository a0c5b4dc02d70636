"""From the options of ``overwinter replan`` to changed facts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from overwinter.cli.names import Names

if TYPE_CHECKING:
    from overwinter.model.changes import Changes
    from overwinter.model.season import Season


@dataclass(frozen=True)
class Said:
    """What stood on the command line, as written."""

    today: date
    late: Sequence[str] = ()
    closes: Sequence[str] = ()
    broken: Sequence[str] = ()
    mended: Sequence[str] = ()
    gone: Sequence[str] = ()


def changes_said(
    season: "Season", old: "Changes", said: Said, known_trees: Sequence[str] = ()
) -> "Changes":
    """The facts in force with what was said laid over them.

    Raises
    ------
    InputProblems
        With every name, day and number that is wrong.
    """
    ids = {tree.id for tree in season.trees}
    names = Names(season, tuple(tree for tree in known_trees if tree not in ids))
    changes = replace(
        old,
        opens=_shelter_days(names, "--late", said.late, old.opens),
        closes=_shelter_days(names, "--closes", said.closes, old.closes),
        broken=_broken(names, said, old.broken),
        gone=_gone(names, said, old.gone),
        most_chance=None,
    )
    _check_open_spans(names, changes)
    names.raise_if_any()
    return changes


def _split(names: Names, option: str, written: str) -> tuple[str, date | None] | None:
    """Name and day of ``NAME=DAY``; the day is None where it is not said."""
    name, equals, day = written.rpartition("=")
    if not equals:
        return written, None
    found = names.day(option, day)
    return None if found is None else (name, found)


def _shelter_days(
    names: Names, option: str, written: Sequence[str], old: Mapping[str, date]
) -> dict[str, date]:
    found = dict(old)
    site = names.season.site
    for one in written:
        parts = _split(names, option, one)
        if parts is None:
            continue
        name, day = parts
        shelter_id = names.shelter(option, name)
        if day is None:
            names.problem(option, one, "SHELTER=DATE", f"Say {option} '{one}=2026-11-30'.")
        elif not site.starts <= day <= site.ends:
            names.problem(option, one, f"a day of this winter, {site.starts} to {site.ends}", "")
        elif shelter_id is not None:
            if shelter_id == names.season.places[site.summer_place].shelter_id:
                names.problem(option, one, "a shelter other than the trees' summer stand", "")
            found[shelter_id] = day
    return found


def _broken(
    names: Names, said: Said, old: Mapping[tuple[str, str], date]
) -> dict[tuple[str, str], date]:
    found = dict(old)
    for one in said.mended:
        for key in names.heaters("--mended", one):
            if found.pop(key, None) is None:
                names.problem("--mended", one, "a heater that is broken", "It is not.")
    for one in said.broken:
        parts = _split(names, "--broken", one)
        if parts is None:
            continue
        name, day = parts
        for key in names.heaters("--broken", name):
            found[key] = _until_today(names, "--broken", one, day, said.today)
    return found


def _gone(names: Names, said: Said, old: Mapping[str, date]) -> dict[str, date]:
    found = dict(old)
    for one in said.gone:
        parts = _split(names, "--gone", one)
        if parts is None:
            continue
        name, day = parts
        for tree_id in names.trees("--gone", name):
            found[tree_id] = _until_today(names, "--gone", one, day, said.today)
    return found


def _until_today(names: Names, option: str, written: str, day: date | None, today: date) -> date:
    """The day said, or today; what is still to come is said on its day."""
    if day is None:
        return today
    if not names.season.site.starts <= day <= today:
        expected = f"a day of this winter up to today, {today}"
        names.problem(option, written, expected, "Say what is still to come when it has come.")
    return day


def _check_open_spans(names: Names, changes: "Changes") -> None:
    for shelter in names.season.shelters:
        opens = changes.opens.get(shelter.id, shelter.opens)
        closes = changes.closes.get(shelter.id, shelter.closes)
        said = shelter.id in changes.opens or shelter.id in changes.closes
        if said and opens is not None and closes is not None and opens >= closes:
            option = "--late" if shelter.id in changes.opens else "--closes"
            names.problem(
                option,
                f"{shelter.id}: opens {opens}, closes {closes}",
                "an opening before the closing",
                "",
            )
