"""One potted tree."""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from overwinter.model.species import Limits


class Condition(StrEnum):
    """How well the tree is; a weak one gets a wider margin."""

    WEAK = "weak"
    ORDINARY = "ordinary"
    STRONG = "strong"


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree in its pot. A row with a quantity becomes that many trees ("name 1/5", ...). Lengths
    in m, mass in kg (pot and moist soil included), pot volume in litres, value in the site's money.
    Height is from the foot of the pot to the top of the tree."""

    id: str
    name: str
    species_key: str
    limits: Limits
    width_m: float
    depth_m: float
    height_m: float
    weight_kg: float
    pot_litres: float
    condition: Condition
    value: float
    young_roots: bool = False
    stands_at: str | None = None  # place on the first day; None: the summer place
    joins: date | None = None  # first day it is there; None: from the start
    quarantine_until: date | None = None  # kept apart from all other trees before this date
    pinned: frozenset[str] = frozenset()  # places or shelters it must be in, except in summer
    forbidden: frozenset[str] = frozenset()  # ids of places or shelters it must not be in
    row: int = 0  # row of the tree list it came from
    leaves_down: date | None = None  # day on which the grower marked them down; None: foretold
    written: str = ""  # the kind in the grower's own words, cultivar included; lists show this
    note: str = ""  # what the grower notes about it
    own: tuple[tuple[str, str], ...] = ()  # columns of the grower's own: heading and text

    @property
    def yours(self) -> str:
        """Note and own columns of the grower's, in one line."""
        return "; ".join(filter(None, [self.note, *(f"{head}: {text}" for head, text in self.own)]))

    @property
    def unnamed(self) -> "Tree":
        """The same without what only people read: alike trees are equal then."""
        return replace(self, id="", name="", species_key="", row=0, written="", note="", own=())

    @property
    def footprint_m2(self) -> float:
        """Area of the bounding rectangle of pot and crown, m2."""
        return self.width_m * self.depth_m


def numbered_name(name: str) -> tuple[str, int, int]:
    """``Elms``, 2 and 5 of ``Elms 2/5``; any other name is the first and only one of its own."""
    head, _, tail = name.rpartition(" ")
    number, slash, of = tail.partition("/")
    if head and slash and number.isdecimal() and of.isdecimal():
        return head, int(number), int(of)
    return name, 1, 1


def numbered(kind: str, number: int | str) -> str:
    """The name of a tree that has only a number."""
    return f"{kind} no. {number}"
