"""A part of the carry lists, for printing: some shelters only, or some stages only."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from overwinter.render.carry_book import CarryBook, ShelterList
from overwinter.render.cautions import in_order


@dataclass(frozen=True, slots=True)
class Part:
    """What to keep; empty means no limit."""

    shelters: Collection[str] = ()
    """Ids."""
    stages: Collection[int] = ()
    """Numbers, counted from 1."""

    def keeps(self, one: ShelterList) -> bool:
        """Whether a shelter's list belongs to it."""
        if self.shelters and one.shelter_id not in self.shelters:
            return False
        return not self.stages or one.head.number in self.stages

    def words(self, book: CarryBook) -> str:
        """``Garage, stages 2 and 3``, in the order of ``book``."""
        names = [name for key, name in book.shelters.items() if key in self.shelters]
        numbers = " and ".join(map(str, sorted(set(self.stages))))
        word = "stage" if len(set(self.stages)) == 1 else "stages"
        return ", ".join([*names, f"{word} {numbers}"] if numbers else names)


def part_of(book: CarryBook, part: Part) -> CarryBook:
    """The book with that part's lists and their cautions."""
    lists = tuple(one for one in book.lists if part.keeps(one))
    return replace(
        book, lists=lists, cautions=in_order(key for one in lists for key in one.cautions)
    )
