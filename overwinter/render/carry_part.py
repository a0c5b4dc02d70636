"""A part of the carry lists, for printing: some shelters only, or some days only."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from overwinter.render.carry_book import CarryBook, ShelterDay
from overwinter.render.carry_words import day_words
from overwinter.render.cautions import in_order


@dataclass(frozen=True, slots=True)
class Part:
    """What to keep; empty and None mean no limit."""

    shelters: Collection[str] = ()
    """Ids."""
    first: date | None = None
    last: date | None = None

    def keeps(self, day: ShelterDay) -> bool:
        """Whether a shelter's day belongs to it."""
        if self.shelters and day.shelter_id not in self.shelters:
            return False
        return (self.first or day.day) <= day.day <= (self.last or day.day)

    def words(self, book: CarryBook) -> str:
        """``Garage, from Sat 1 Nov 2025 to Sun 30 Nov 2025``, in the order of ``book``."""
        names = [name for key, name in book.shelters.items() if key in self.shelters]
        ends = (("from", self.first), ("to", self.last))
        days = " ".join(f"{word} {day_words(day)}" for word, day in ends if day is not None)
        if self.first is not None and self.first == self.last:
            days = day_words(self.first)
        return ", ".join([*names, days] if days else names)


def part_of(book: CarryBook, part: Part) -> CarryBook:
    """The book with that part's days, their cautions and, of spring, the trees they carry out."""
    days = tuple(day for day in book.days if part.keeps(day))
    carried = {(step.carry.tree_id, step.carry.day) for day in days for step in day.steps}
    return replace(
        book,
        days=days,
        spring=tuple(
            row for row in book.spring if not row.stays and (row.tree_id, row.day) in carried
        ),
        cautions=in_order(key for day in days for key in day.cautions),
    )
