"""The usual cautions of data/cautions.toml: which of them a winter or a shelter calls for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from overwinter.model.season import Season
from overwinter.model.shelter import Carrier, Place, PlaceKind, Shelter
from overwinter.model.site import ONE_PERSON_KG
from overwinter.model.tree import Tree
from overwinter.packaged import packaged_toml
from overwinter.units import KILOGRAMS_PER_POUND

LOCAL_CODES = (
    "These are reminders, not a safety plan. Follow the maker's instructions and the local codes; "
    "leave wiring, gas and chimneys to licensed people."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """A heading and two to four short sentences."""

    title: str
    text: str


def _read() -> dict[str, Caution]:
    most = f"{ONE_PERSON_KG:g} kg ({ONE_PERSON_KG / KILOGRAMS_PER_POUND:.0f} lb)"
    return {
        key: Caution(one["title"], " ".join(one["text"].format(one_person=most).split()))
        for key, one in packaged_toml("cautions.toml").items()
    }


CAUTIONS: Mapping[str, Caution] = _read()


def heater_cautions(shelter: Shelter) -> tuple[str, ...]:
    """Keys of the cautions that a shelter's heaters call for."""
    burning = ("cords" if h.carrier is Carrier.ELECTRICITY else "fuel" for h in shelter.heaters)
    return in_order(key for kind in burning for key in ("heaters", kind))


def season_cautions(season: Season) -> tuple[str, ...]:
    """Keys of every caution that a season calls for."""
    trees, places = season.trees, season.places.values()
    due = {
        "lifting": True,
        "two_people": any(season.site.weights.takes_two(tree.weight_kg) for tree in trees),
        "drying": any(map(dries, trees)),
        "long_cold": any(tree.limits.rests for tree in trees),
        "ladders": any(place.kind is PlaceKind.SHELF for place in places),
        "rodent_poison": any(place.rodent_exposure > 0.0 for place in places),
    }
    heating = (key for shelter in season.shelters for key in heater_cautions(shelter))
    return in_order([*heating, *(key for key, is_due in due.items() if is_due)])


def dries(tree: Tree) -> bool:
    """Whether a tree rests with leaves that frozen roots cannot water."""
    return tree.limits.rests and tree.limits.drying > 0.0


def dries_at(season: Season, tree: Tree, place: Place, day: date) -> bool:
    """Whether a tree comes into wind and winter sun with leaves that these dry."""
    in_the_open = season.shelter_of(place.id).open_air
    return dries(tree) and in_the_open and day < season.date_of(season.days // 2)


def in_order(keys: Iterable[str]) -> tuple[str, ...]:
    """The keys once each, in the order of ``CAUTIONS``."""
    wanted = set(keys)
    return tuple(key for key in CAUTIONS if key in wanted)
