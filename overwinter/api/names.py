"""Trees, shelters, places and heaters as people write them; all mistakes are gathered."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from overwinter.model.tree import numbered_name

if TYPE_CHECKING:
    from overwinter.model.season import Season
    from overwinter.problems import Problem


@dataclass
class Names:
    """Looks names up in a season; ``problems`` holds what was not found."""

    season: "Season"
    more_trees: tuple[str, ...] = ()
    """Trees that plans or marks know and the list does not have any more."""
    problems: list["Problem"] = field(default_factory=list)

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
        shelters, places = self.season.shelter_by_id, self.season.places
        known = {f"{shelters[p.shelter_id].name}, {p.name}": p.id for p in places.values()}
        known |= {place_id: place_id for place_id in places}
        return self._one(option, written, known, "a place")

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
        from overwinter.files.spelling import did_you_mean, listed

        names = list(dict.fromkeys(known))
        fix = did_you_mean(written, names) or f"There are {listed(names)}."
        self.problem(option, written, what, fix)

    def problem(self, option: str, written: str, expected: str, fix: str) -> None:
        """Note a mistake in an option."""
        from overwinter.problems import Problem

        self.problems.append(Problem(option, None, None, f"'{written}'", expected, fix))

    def raise_if_any(self) -> None:
        """Raise all problems at once."""
        from overwinter.problems import InputProblems

        if self.problems:
            raise InputProblems(self.problems)


def _row_name(tree_id: str) -> str:
    return numbered_name(tree_id)[0]
