"""The grower's word: where a tree must be, and where it must not."""

from collections.abc import Iterator

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule


def banned(_: Season, tree: Tree, place: Place) -> float | None:
    """A place that the grower forbids, itself or with its whole shelter."""
    return 0.0 if {place.id, place.shelter_id} & tree.forbidden else None


def bans_kept(ledger: Ledger) -> Iterator[Fault]:
    """No tree is where the grower forbids it."""
    for tree, place, stages in ledger.chosen_stays():
        if place.id in tree.forbidden or place.shelter_id in tree.forbidden:
            text = f"{tree.name} must not be at {ledger.season.place_name(place.id)}"
            yield tree.id, place.id, stages[0], 1, "place", text


FORBIDDEN = Rule("forbidden places", bans_kept, "forbidden by the grower", "", banned, Cure.GROWER)


def pinned_elsewhere(season: Season, tree: Tree, place: Place) -> float | None:
    """Another place than those a tree is pinned to; at its summer stand pins do not hold."""
    here = place.id == season.home(tree) or {place.id, place.shelter_id} & tree.pinned
    return 0.0 if tree.pinned and not here else None


def pins_kept(ledger: Ledger) -> Iterator[Fault]:
    """A pinned tree is where it is pinned; pins do not hold at its summer stand."""
    for tree, place, stages in ledger.chosen_stays():
        free = not tree.pinned or place.id == ledger.season.home(tree)
        if not free and not {place.id, place.shelter_id} & tree.pinned:
            name, pins = ledger.season.place_name(place.id), ", ".join(sorted(tree.pinned))
            text = f"{tree.name} is at {name} but pinned to {pins}"
            yield tree.id, place.id, stages[0], 1, "place", text


PINNED = Rule("pinned places", pins_kept, "pinned elsewhere", "", pinned_elsewhere, Cure.GROWER)

RULES = (FORBIDDEN, PINNED)
