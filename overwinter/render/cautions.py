"""The usual cautions, once, for every output that asks somebody to lift, climb, heat or bait.

They are reminders, not a safety plan: each defers to the maker's instructions, local codes and
licensed people. Sources: that of the 23 kg (51 lb) stands with ``ONE_PERSON_KG``; heaters straight
into the wall, nothing within 3 ft (1 m), and unvented burners giving off carbon monoxide are US
consumer-safety advice (read second-hand in a utility's and a fire department's copy). Everything
else is common practice, no source.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from overwinter.model.season import Season
from overwinter.model.shelter import Carrier, Place, PlaceKind, Shelter
from overwinter.model.site import ONE_PERSON_KG
from overwinter.model.tree import Tree

LOCAL_CODES = (
    "These are reminders, not a safety plan. Follow the maker's instructions and the local codes; "
    "leave wiring, gas and chimneys to licensed people."
)


@dataclass(frozen=True, slots=True)
class Caution:
    """A heading and two to four short sentences."""

    title: str
    text: str


CAUTIONS: Mapping[str, Caution] = {
    "lifting": Caution(
        "Lifting",
        "Clear the way and look where the pot will stand before you lift. Keep it close to the "
        "body, bend the knees, turn with the feet. A wet pot weighs more than the list says. "
        f"Even with good handles and at waist height, {ONE_PERSON_KG:g} kg (51 lb) is the most one "
        "person should lift now and then; less from the floor, at arm's length, or many times "
        "over. Use a cart or straps. Stop when it hurts.",
    ),
    "two_people": Caution(
        "Two-person lifts",
        "Agree who gives the word before lifting. Lift the pot, never the trunk. Walk side by "
        "side where the way allows, not backwards over steps. If the second person is not there, "
        "the tree waits.",
    ),
    "ladders": Caution(
        "Steps and ladders",
        "Never carry a pot up a ladder. Stand on firm, level ground, have somebody hold the "
        "ladder, and let them hand the tree up once you stand safely; if it needs both hands to "
        "hold, it is too heavy for a shelf. Ice, leaves and algae make treads slip.",
    ),
    "heaters": Caution(
        "Heaters",
        "Only heaters made for the room they stand in (damp, dust, unattended use). Level ground, "
        "nothing that burns, no film and no leaves within 1 m (3 ft), out of the drip. Try the "
        "thermostat and the cut-out before the first frost. Keep a smoke alarm in or near the "
        "shelter and a thermometer you can read from outside.",
    ),
    "cords": Caution(
        "Cords and circuits",
        "Plug a heater straight into a grounded outlet protected by a residual-current device "
        "(GFCI, RCD). No extension cords, no power strips, no plugs lying on wet ground. Feel plug "
        "and outlet after an hour: if either is hot, switch off and call a licensed electrician.",
    ),
    "fuel": Caution(
        "Fuel and carbon monoxide",
        "Burners without a flue fill a closed shelter with carbon monoxide, which has no smell "
        "and kills. Keep a working carbon-monoxide alarm where people enter, air the shelter "
        "before going in, never sleep in it, never close the air supply. Let burners and flues "
        "cool before refuelling, outdoors; store fuel elsewhere. Gas and flues are for licensed "
        "people.",
    ),
    "drying": Caution(
        "Wind and winter sun",
        "Frozen roots give no water: sun and wind then dry evergreens out. Water them well before "
        "the first hard frost, out of the wind and the winter sun, or behind cloth that lets air "
        "through.",
    ),
    "long_cold": Caution(
        "Cold that stays",
        "The plan counts the coldest hour of a spell, not how long it lasts: a week near the limit "
        "is worse than an hour, for roots of bare trees too. Where such cold stays for days, heap "
        "more over the pots, or move the ones most at risk, by the second night.",
    ),
    "rodent_poison": Caution(
        "Mice and poison",
        "Mesh and traps first. Poison kills owls, pets and children's hands find it: only as the "
        "label and local law allow, only in locked bait stations, never loose in pots or on "
        "benches. Wear gloves for droppings, wet them before wiping up, do not sweep them dry.",
    ),
}


def heater_cautions(shelter: Shelter) -> tuple[str, ...]:
    """Keys of the cautions that a shelter's heaters call for."""
    keys: list[str] = []
    for heater in shelter.heaters:
        keys += ["heaters", "cords" if heater.carrier is Carrier.ELECTRICITY else "fuel"]
    return tuple(dict.fromkeys(keys))


def season_cautions(season: Season) -> tuple[str, ...]:
    """Keys of every caution that a season calls for."""
    keys = ["lifting"]
    if any(season.site.weights.takes_two(tree.weight_kg) for tree in season.trees):
        keys.append("two_people")
    if any(dries(tree) for tree in season.trees):
        keys.append("drying")
    if any(tree.limits.rests for tree in season.trees):
        keys.append("long_cold")
    for shelter in season.shelters:
        keys += heater_cautions(shelter)
    if any(place.kind is PlaceKind.SHELF for place in season.places.values()):
        keys.append("ladders")
    if any(place.rodent_exposure > 0.0 for place in season.places.values()):
        keys.append("rodent_poison")
    return in_order(keys)


def dries(tree: Tree) -> bool:
    """Whether a tree rests with leaves that frozen roots cannot water."""
    return tree.limits.rests and tree.limits.drying > 0.0


def dries_at(season: Season, tree: Tree, place: Place, day: date) -> bool:
    """Whether a tree comes into wind and winter sun with leaves that these dry."""
    in_the_open = season.shelter_by_id[place.shelter_id].open_air
    return dries(tree) and in_the_open and day < season.date_of(season.days // 2)


def in_order(keys: Iterable[str]) -> tuple[str, ...]:
    """The keys once each, in the order of ``CAUTIONS``."""
    wanted = set(keys)
    return tuple(key for key in CAUTIONS if key in wanted)
