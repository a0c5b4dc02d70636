"""What was read without a mistake and yet is hard to believe: mostly a slip of unit or point."""

from collections.abc import Iterator

import numpy as np

from overwinter.files.spelling import listed
from overwinter.model.season import Season
from overwinter.model.shelter import Place, PlaceKind, Shelter, Towards
from overwinter.model.site import Site
from overwinter.shelters.envelope import floor_m2
from overwinter.shelters.fit import fit_readings

DEGREES_PER_HOUR = 15.0
FURTHEST_FROM_SUN_H = 3.0
"""Standard time and sun differ by up to 3 h where a country keeps one time (western China)."""
COMMON_MONEY = frozenset({"USD", "EUR", "GBP", "CAD", "AUD", "CHF", "NZD"})
DEAREST_PER_KWH, CHEAPEST_PER_KWH = 1.5, 0.005
HEAVIEST_KG_PER_L, LIGHTEST_KG_PER_L = 6.0, 0.3
"""Pot, moist mix and tree a litre of pot: about 1.5 as a rule, 3 with rock (judgement)."""
HEAVY_KG = 40.0
LONGEST_OVER_SQUARE = 4.0
"""A floor is at most so much longer than a square one of its area: 16 times as long as wide."""
VAGUE_K = 2.0
"""Standard deviation of a foretold coldest night that is said."""
OVERFULL = 1.3
"""Benches cover no more than the floor; shelves may hang over them, and U-values name no inside."""


def oddities(season: Season) -> list[str]:
    """Each in a sentence with what was found, what is usual and the likely slip."""
    return [
        *_site(season.site),
        *(text for shelter in season.shelters for text in _shelter(shelter, season.site)),
        *_trees(season),
    ]


def _site(site: Site) -> Iterator[str]:
    by_sun_h = site.longitude_deg / DEGREES_PER_HOUR
    if abs(site.utc_offset_h - by_sun_h) > FURTHEST_FROM_SUN_H:
        yield (
            f"site.toml: utc_offset_h is {site.utc_offset_h:g}, but at longitude"
            f" {site.longitude_deg:g} the sun is {by_sun_h:+.1f} h from UTC. Is a sign wrong?"
            " West is negative in both."
        )
    for carrier, price in site.money_per_kwh.items():
        odd = price > DEAREST_PER_KWH or 0 < price < CHEAPEST_PER_KWH
        if site.currency in COMMON_MONEY and odd:
            yield (
                f"site.toml: a kWh of {carrier.value} costs {price:.3g} {site.currency}; from"
                f" {CHEAPEST_PER_KWH:g} to {DEAREST_PER_KWH:g} is usual. Are these cents, or is"
                " the unit another?"
            )


def _shelter(shelter: Shelter, site: Site) -> Iterator[str]:
    if shelter.readings is not None:
        fit = fit_readings(shelter.readings, site)
        if fit.unsure_k > VAGUE_K:
            yield (
                f"{shelter.name}: {fit.days} days of readings foretell a design night no better"
                f" than within {site.display.kelvin(fit.unsure_k, 1)}, and the plan counts that as"
                " risk. A log through colder nights tells more."
            )
    if shelter.envelope is None:
        return
    if all(surface.towards is not Towards.GROUND for surface in shelter.envelope.surfaces):
        return  # its floor is not known
    floor = floor_m2(shelter.envelope)
    longest_m = LONGEST_OVER_SQUARE * float(np.sqrt(floor))
    for place in shelter.places:
        side_m = max(place.width_m, place.depth_m)
        if side_m > longest_m:
            yield (
                f"[shelter.{shelter.id}.place.{_id(place)}] is {site.display.length(side_m)} long;"
                f" its shelter has a floor of {site.display.area(floor)}. Is the unit right?"
            )
    standing = [p for p in shelter.places if p.kind not in (PlaceKind.SHELF, PlaceKind.BENCH)]
    for places in (standing, [p for p in shelter.places if p.kind is PlaceKind.BENCH]):
        area_m2 = sum(place.area_m2 for place in places)
        if area_m2 > OVERFULL * floor:
            yield (
                f"[shelter.{shelter.id}]: {', '.join(_id(p) for p in places)} take"
                f" {site.display.area(area_m2)}, more than the floor of"
                f" {site.display.area(floor)} that its envelope tells of. Is a unit wrong?"
            )


def _id(place: Place) -> str:
    return place.id.split("/", 1)[1]


def _trees(season: Season) -> Iterator[str]:
    display = season.site.display
    odd = []
    for tree in season.trees:
        per_litre = tree.weight_kg / tree.pot_litres
        heavy = per_litre > HEAVIEST_KG_PER_L and tree.weight_kg > HEAVY_KG
        if heavy or per_litre < LIGHTEST_KG_PER_L:
            pot = display.volume(tree.pot_litres)
            odd.append(f"{tree.name} ({display.weight(tree.weight_kg)}, pot of {pot})")
    if odd:
        yield (
            f"Weight and pot do not go together: {listed(odd, most=8)}. A litre of pot"
            " weighs 1 to 3 kg with its tree (a US gallon 8 to 25 lb). Is a unit wrong?"
        )
