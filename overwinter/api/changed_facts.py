"""From what is said of shelters, heaters and trees to changed facts."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from overwinter.api.names import Names
from overwinter.problems import InputProblems, Problem, UserError

if TYPE_CHECKING:
    from overwinter.model.changes import Changes
    from overwinter.model.season import Season
    from overwinter.replan.replan import Request


Fact = tuple[str, date | str | None]
"""A name as a person writes it, and a day; None: not said."""


@dataclass(frozen=True)
class Said:
    """What is told of a winter on one day."""

    today: date
    late: Sequence[Fact] = ()
    """A shelter opens on that day instead."""
    closes: Sequence[Fact] = ()
    """From that day a shelter cannot be used."""
    broken: Sequence[Fact] = ()
    """"SHELTER" or "SHELTER/HEATER" does not heat, from today unless a day is said."""
    mended: Sequence[str] = ()
    gone: Sequence[Fact] = ()
    """A tree, or all trees of a row, sold or dead, from today unless a day is said."""


def facts(written: Sequence[str]) -> tuple[Fact, ...]:
    """Facts written as ``NAME=DAY`` or ``NAME``."""
    parts = [one.rpartition("=") for one in written]
    return tuple((name, day) if equals else (day, None) for name, equals, day in parts)


def _text(fact: Fact) -> str:
    name, day = fact
    return name if day is None else f"{name}={day}"


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


def _split(
    names: Names, option: str, facts: Sequence[Fact]
) -> Iterator[tuple[str, date | None, str]]:
    """Name and day of each fact and how it was written; a problem where the day is none."""
    for fact in facts:
        name, written = fact
        day = names.day(option, written) if isinstance(written, str) else written
        if day is not None or written is None:
            yield name, day, _text(fact)


def _shelter_days(
    names: Names, option: str, written: Sequence[Fact], old: Mapping[str, date]
) -> dict[str, date]:
    found = dict(old)
    site = names.season.site
    for name, day, text in _split(names, option, written):
        shelter_id = names.shelter(option, name)
        if day is None:
            names.problem(option, text, "SHELTER=DATE", f"Say {option} '{name}=2026-11-30'.")
        elif not site.starts <= day <= site.ends:
            names.problem(option, text, f"a day of this winter, {site.starts} to {site.ends}", "")
        elif shelter_id is not None:
            if shelter_id == names.season.places[site.summer_place].shelter_id:
                names.problem(option, text, "a shelter other than the trees' summer stand", "")
            found[shelter_id] = day
    return found


def _broken(
    names: Names, said: Said, old: Mapping[tuple[str, str], date]
) -> dict[tuple[str, str], date]:
    found = dict(old)
    for name in said.mended:
        for key in names.heaters("--mended", name):
            if found.pop(key, None) is None:
                names.problem("--mended", name, "a heater that is broken", "It is not.")
    for name, day, text in _split(names, "--broken", said.broken):
        for key in names.heaters("--broken", name):
            found[key] = _until_today(names, "--broken", text, day, said.today)
    return found


def _gone(names: Names, said: Said, old: Mapping[str, date]) -> dict[str, date]:
    found = dict(old)
    for name, day, text in _split(names, "--gone", said.gone):
        for tree_id in names.trees("--gone", name):
            found[tree_id] = _until_today(names, "--gone", text, day, said.today)
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


def day_said(written: "date | str") -> date:
    """A day written as 2026-11-30; raises ``InputProblems`` if it is none."""
    if isinstance(written, date):
        return written
    try:
        return date.fromisoformat(written.strip())
    except ValueError:
        problem = Problem("--today", None, None, f"'{written}'", "a day written as 2026-11-30")
        raise InputProblems([problem]) from None


def request_of(
    season: "Season", said: Said, old: "Changes", known_trees: Sequence[str], unmarked: str | None
) -> "Request":
    """What a re-plan is asked for; raises ``InputProblems`` and ``UserError`` for what is wrong."""
    from overwinter.model.changes import Unmarked
    from overwinter.replan.replan import Request

    changes = changes_said(season, old, said, known_trees)
    if unmarked is not None and unmarked not in tuple(Unmarked):
        raise UserError(f"--unmarked is done or not-done, not '{unmarked}'.")
    return Request(said.today, changes, None if unmarked is None else Unmarked(unmarked))
