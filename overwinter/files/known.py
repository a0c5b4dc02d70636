"""What can be told of files with mistakes in them, so that checks between files still go on.

A name is called unknown, and a thing missing, only where everything that could hold it was read;
what a mistake may have swallowed is None or marked as not known here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from overwinter.files.schemas_site import WeatherTable
from overwinter.model.shelter import Carrier


@dataclass(frozen=True, slots=True)
class KnownHeater:
    """A heater as far as it could be read; ``where`` is its dotted key."""

    where: str
    name: str
    carrier: Carrier | None = None
    breaker: str | None = None


@dataclass(frozen=True, slots=True)
class KnownShelter:
    """A shelter as far as it could be read; ``places`` are full ids."""

    id: str
    open_air: bool | None
    opens: date | None
    closes: date | None
    places: tuple[str, ...]
    heaters: tuple[KnownHeater, ...]


@dataclass(frozen=True)
class KnownShelters:
    """shelters.toml as far as it could be read."""

    shelters: tuple[KnownShelter, ...] = ()
    all_named: bool = False
    """Whether the ids of all shelters and places are known."""

    @property
    def places(self) -> Mapping[str, KnownShelter]:
        """The shelter of every place, by the place's full id."""
        return {place: shelter for shelter in self.shelters for place in shelter.places}


@dataclass(frozen=True)
class KnownSite:
    """site.toml as far as it could be read; None: not known."""

    starts: date | None = None
    ends: date | None = None
    """None, like ``starts``, where the two do not agree."""
    summer_place: str | None = None
    tree_value: float | None = None
    carriers: frozenset[Carrier] | None = None
    """What there is a price of, be it a wrong one."""
    breakers: tuple[str, ...] | None = None
    weather: WeatherTable | None = None
    months: frozenset[int] | None = None
    """Months that there are normals of, be they wrong ones."""

    @property
    def season(self) -> tuple[date, date] | None:
        """First and last day, where both are known."""
        return None if self.starts is None or self.ends is None else (self.starts, self.ends)
