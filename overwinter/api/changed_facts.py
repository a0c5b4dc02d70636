"""Shelters, heaters and trees as people write them, and the changed facts said of them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from overwinter.files.findings import did_you_mean, listed
from overwinter.model.changes import Changes, Unmarked
from overwinter.model.season import Season
from overwinter.model.tree import numbered_name
from overwinter.problems import InputProblems, Problem, UserError
from overwinter.replan.replan import Request


@dataclass
class Names:
    """Looks names up in a season; ``problems`` holds what was not found."""

    season: Season
    more_trees: tuple[str, ...] = ()
    """Trees that plans or marks know and the list does not have any more."""
    problems: list[Problem] = field(default_factory=list)

    def trees(self, option: str, written: str) -> list[str]:
        """Ids of a tree, or of all trees of a row with a quantity; empty and a problem if none."""
        ids = [*(tree.id for tree in self.season.trees), *self.more_trees]
        by_name = {name.casefold(): name for name in ids}
        word = written.strip().casefold()
        if word in by_name:
            return [by_name[word]]
        row = [name for name in ids if "/" in name and _row_name(name).casefold() == word]
        if not row:
            self.unknown(option, written, [*ids, *map(_row_name, ids)], "a tree of the list")
        return row

    def trees_like(self, option: str, written: str) -> list[str]:
        """Ids of all trees whose name, or whose kind as anyone calls it, holds the word."""
        word = written.strip().casefold()
        found = []
        for tree in self.season.trees:
            species = self.season.species.get(tree.species_key)
            called = [tree.id, tree.name, tree.written]
            called += [] if species is None else [species.common, species.latin]
            if any(word in name.casefold() for name in called):
                found.append(tree.id)
        exact = [tree_id for tree_id in found if word in (tree_id.casefold(), _row_name(tree_id))]
        return exact or found or self.trees(option, written)

    def shelter(self, option: str, written: str) -> str | None:
        """Id of a shelter by id or name."""
        known = {shelter.name: shelter.id for shelter in self.season.shelters}
        known |= {shelter.id: shelter.id for shelter in self.season.shelters}
        return self._one(option, written, known, "a shelter")

    def place(self, option: str, written: str) -> str | None:
        """Id of a place by id or by "Shelter, place"."""
        return self._one(option, written, self.season.place_ids, "a place")

    def heaters(self, option: str, written: str) -> list[tuple[str, str]]:
        """(shelter, heater) of "SHELTER" (all its heaters) or "SHELTER/HEATER"."""
        name, slash, heater = written.partition("/")
        shelter_id = self.shelter(option, name)
        if shelter_id is None:
            return []
        there = [one.name for one in self.season.shelter_by_id[shelter_id].heaters]
        if not there:
            self.problem(option, written, "a shelter with a heater", "It has none.")
            return []
        if not slash:
            return [(shelter_id, one) for one in there]
        found = self._one(option, heater, {one: one for one in there}, "a heater of it")
        return [] if found is None else [(shelter_id, found)]

    def day(self, option: str, written: str) -> date | None:
        """A day written as 2026-11-30."""
        try:
            return date.fromisoformat(written.strip())
        except ValueError:
            self.problem(option, written, "a day written as 2026-11-30", "")
            return None

    def _one(self, option: str, written: str, known: Mapping[str, str], what: str) -> str | None:
        folded = {name.casefold(): found for name, found in known.items()}
        found = folded.get(written.strip().casefold())
        if found is None:
            self.unknown(option, written, known, what)
        return found

    def unknown(self, option: str, written: str, known: Iterable[str], what: str) -> None:
        """Note a name that is none, with the nearest one there is."""
        names = list(dict.fromkeys(known))
        fix = did_you_mean(written, names) or f"There are {listed(names)}."
        self.problem(option, written, what, fix)

    def problem(self, option: str, written: str, expected: str, fix: str) -> None:
        """Note a mistake in an option."""
        self.problems.append(Problem(option, None, None, f"'{written}'", expected, fix))

    def raise_if_any(self) -> None:
        """Raise all problems at once."""
        if self.problems:
            raise InputProblems(self.problems)


def _row_name(tree_id: str) -> str:
    return numbered_name(tree_id)[0]


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


def changes_said(
    season: Season, old: Changes, said: Said, known_trees: Sequence[str] = ()
) -> Changes:
    """The facts in force with what was said laid over them.

    Raises ``InputProblems``: With every name, day and number that is wrong.
    """
    ids = {tree.id for tree in season.trees}
    names = Names(season, tuple(tree for tree in known_trees if tree not in ids))
    changes = replace(
        old,
        opens=_shelter_days(names, "--late", said.late, old.opens),
        closes=_shelter_days(names, "--closes", said.closes, old.closes),
        broken=_broken(names, said, old.broken),
        gone=_gone(names, said, old.gone),
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
            yield name, day, name if written is None else f"{name}={written}"


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


def _check_open_spans(names: Names, changes: Changes) -> None:
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
    season: Season, said: Said, old: Changes, known_trees: Sequence[str], unmarked: str | None
) -> Request:
    """What a re-plan is asked for; raises ``InputProblems`` and ``UserError`` for what is wrong."""
    changes = changes_said(season, old, said, known_trees)
    if unmarked is not None and unmarked not in tuple(Unmarked):
        raise UserError(f"--unmarked is done or not-done, not '{unmarked}'.")
    return Request(said.today, changes, None if unmarked is None else Unmarked(unmarked))
