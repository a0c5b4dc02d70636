"""Shelters, heaters and trees as people write them, and the changed facts said of them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import chain
from typing import TypeVar

from overwinter.files.findings import did_you_mean, listed
from overwinter.files.measures import day_of
from overwinter.files.schema import date_fix
from overwinter.model.changes import Changes, Unmarked
from overwinter.model.season import Season
from overwinter.model.tree import Tree, numbered, numbered_name
from overwinter.problems import InputProblems, Problem, UserError
from overwinter.replan.replan import Request

Key = TypeVar("Key")


@dataclass
class Names:
    """Looks names up in a season; ``problems`` holds what was not found."""

    season: Season
    more_trees: tuple[str, ...] = ()
    """Trees that plans or marks know and the list does not have any more."""
    problems: list[Problem] = field(default_factory=list)

    def trees(self, option: str, written: str) -> list[str]:
        """Ids of the trees that are called so: one, all of a row, one by its number, or of a kind.
        Empty and a problem if there are none."""
        ids = [*(tree.id for tree in self.season.trees), *self.more_trees]
        word = written.strip().casefold()
        rows = {one: numbered_name(one)[0] for one in ids}
        named = {tree.id: numbered(tree.written, word) for tree in self.season.trees}
        by_number = [one for one in named if rows[one].casefold() == named[one].casefold()]
        found = [one for one in ids if one.casefold() == word]
        found = found or [one for one in ids if rows[one].casefold() == word]
        if not found and len({rows[one] for one in by_number}) == 1:
            found = by_number
        kinds = {tree.id: self._kinds(tree) for tree in self.season.trees}
        found = found or [one for one in kinds if word in map(str.casefold, kinds[one])]
        if not found:
            called = [*chain.from_iterable(kinds.values()), *rows.values(), *ids]
            fix = did_you_mean(written, called) or f"There are {listed(ids)}."
            self.problem(option, written, "a tree of the list, or its kind", fix)
        return found

    def trees_like(self, option: str, written: str) -> list[str]:
        """The same, or all whose name or kind holds the word: to look at, not to mark."""
        word = written.strip().casefold()
        known = len(self.problems)
        found = self.trees(option, written)
        holding = [
            tree.id
            for tree in self.season.trees
            if any(word in name.casefold() for name in (tree.id, tree.name, *self._kinds(tree)))
        ]
        if not found and holding:
            del self.problems[known:]
        return found or holding

    def _kinds(self, tree: Tree) -> list[str]:
        """What the kind of a tree is called."""
        species = self.season.species.get(tree.species_key)
        known = [] if species is None else [species.common, species.latin]
        return list(filter(None, [tree.written, *known]))

    def shelter(self, option: str, written: str) -> str | None:
        """Id of a shelter by id or name."""
        shelters = self.season.shelters
        known = {one.name: one.id for one in shelters} | {one.id: one.id for one in shelters}
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
        """A day, clear to read."""
        try:
            return day_said(written, option)
        except InputProblems as error:
            self.problems += error.problems
            return None

    def day_of_winter(self, option: str, written: str | None) -> date | None:
        """A day of the plan; None where none is said."""
        day, site = None if written is None else self.day(option, written), self.season.site
        if day is not None and not site.starts <= day <= site.ends:
            expected = f"a day of this winter, {site.starts} to {site.ends}"
            self.problem(option, str(written), expected)
        return day

    def _one(self, option: str, written: str, known: Mapping[str, str], what: str) -> str | None:
        folded = {name.casefold(): found for name, found in known.items()}
        found = folded.get(written.strip().casefold())
        if found is None:
            fix = did_you_mean(written, known) or f"There are {listed(known)}."
            self.problem(option, written, what, fix)
        return found

    def problem(self, option: str, written: str, expected: str, fix: str = "") -> None:
        """Note a mistake in an option."""
        self.problems.append(Problem(option, None, None, f"'{written}'", expected, fix))

    def raise_if_any(self) -> None:
        """Raise all problems at once."""
        if self.problems:
            raise InputProblems(self.problems)


def request_of(
    season: Season,
    old: Changes,
    known_trees: Sequence[str],
    today: date,
    unmarked: str | None,
    **said: Sequence[str],
) -> Request:
    """What a re-plan is asked for: the facts in force with what was said laid over them.

    said : facts as ``NAME=DAY``: ``late``, a shelter opens on that day instead; ``closes``, from
        that day it cannot be used. As ``NAME``, from today unless a day is said: ``broken`` and
        ``mended``, "SHELTER" or "SHELTER/HEATER" that does not heat, or does again; ``gone``, a
        tree or all trees of a row, sold or dead.
    """
    ids = {tree.id for tree in season.trees}
    names = Names(season, tuple(tree for tree in known_trees if tree not in ids))
    broken = dict(old.broken)
    for name in said["mended"]:
        for heater in names.heaters("--mended", name):
            if broken.pop(heater, None) is None:
                names.problem("--mended", name, "a heater that is broken", "It is not.")
    changes = replace(
        old,
        opens=_shelter_days(names, "--late", said["late"], old.opens),
        closes=_shelter_days(names, "--closes", said["closes"], old.closes),
        broken=broken | _since(names, "--broken", said["broken"], today, names.heaters),
        gone={**old.gone, **_since(names, "--gone", said["gone"], today, names.trees)},
    )
    for shelter in season.shelters:
        opens = changes.opens.get(shelter.id, shelter.opens)
        closes = changes.closes.get(shelter.id, shelter.closes)
        news = shelter.id in changes.opens or shelter.id in changes.closes
        if news and opens is not None and closes is not None and opens >= closes:
            option = "--late" if shelter.id in changes.opens else "--closes"
            found = f"{shelter.id}: opens {opens}, closes {closes}"
            names.problem(option, found, "an opening before the closing")
    names.raise_if_any()
    if unmarked is not None and unmarked not in tuple(Unmarked):
        raise UserError(f"--unmarked is done or not-done, not '{unmarked}'.")
    return Request(today, changes, None if unmarked is None else Unmarked(unmarked))


def _split(
    names: Names, option: str, facts: Sequence[str]
) -> Iterator[tuple[str, date | None, str]]:
    """Name and day of each fact, None where none is said, and the fact as written."""
    for fact in facts:
        name, equals, written = fact.rpartition("=")
        day = names.day(option, written) if equals else None
        if day is not None or not equals:
            yield name if equals else fact, day, fact


def _shelter_days(
    names: Names, option: str, facts: Sequence[str], old: Mapping[str, date]
) -> dict[str, date]:
    found = dict(old)
    site = names.season.site
    for name, day, fact in _split(names, option, facts):
        shelter_id = names.shelter(option, name)
        if day is None:
            names.problem(option, fact, "SHELTER=DATE", f"Say {option} '{name}=2026-11-30'.")
        elif not site.starts <= day <= site.ends:
            names.problem(option, fact, f"a day of this winter, {site.starts} to {site.ends}")
        elif shelter_id is not None:
            if shelter_id == names.season.places[site.summer_place].shelter_id:
                names.problem(option, fact, "a shelter other than the trees' summer stand")
            found[shelter_id] = day
    return found


def _since(
    names: Names,
    option: str,
    facts: Sequence[str],
    today: date,
    meant: Callable[[str, str], Sequence[Key]],
) -> dict[Key, date]:
    """Day of each thing named, today unless one is said; what is to come is said on its day."""
    found: dict[Key, date] = {}
    for name, day, fact in _split(names, option, facts):
        if day is not None and not names.season.site.starts <= day <= today:
            expected = f"a day of this winter up to today, {today}"
            names.problem(option, fact, expected, "Say what is still to come when it has come.")
        found |= dict.fromkeys(meant(option, name), day or today)
    return found


def day_said(written: date | str, option: str = "--today") -> date:
    """A day, in a list or an option; raises ``InputProblems`` if it is none or could be two."""
    found = day_of(written)
    if found is None:
        fix = date_fix(str(written))
        raise InputProblems([Problem(option, None, None, f"'{written}'", "a day", fix)])
    return found
