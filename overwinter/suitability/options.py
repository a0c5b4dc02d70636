"""Options: a place with one heater setting of its shelter."""

from dataclasses import dataclass

from overwinter.model.conditions import Conditions
from overwinter.model.season import Season


@dataclass(frozen=True, slots=True)
class Option:
    """One place with one heater setting of its shelter."""

    index: int
    place_id: str
    shelter_id: str
    setting: int
    """Index into ``ShelterConditions.settings``."""


def all_options(season: Season, conditions: Conditions) -> tuple[Option, ...]:
    """Every place with every setting of its shelter, in the order of the files."""
    pairs = [
        (place.id, shelter.id, setting)
        for shelter in season.shelters
        for place in shelter.places
        for setting in range(len(conditions.shelters[shelter.id].settings))
    ]
    return tuple(Option(index, *pair) for index, pair in enumerate(pairs))
