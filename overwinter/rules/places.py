"""What a place is no place for: what is too tall, too wide or too heavy, and the grower's word."""

from collections.abc import Callable, Iterator

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule, excess


def banned(_: Season, tree: Tree, place: Place) -> float | None:
    """A place that the grower forbids, itself or with its whole shelter."""
    return 0.0 if {place.id, place.shelter_id} & tree.forbidden else None


def bans_kept(ledger: Ledger) -> Iterator[Fault]:
    """No tree is where the grower forbids it."""
    for tree, place, stages in ledger.chosen_stays():
        if place.id in tree.forbidden or place.shelter_id in tree.forbidden:
            text = f"{tree.name} must not be at {ledger.season.place_name(place.id)}"
            yield tree.id, place.id, stages[0], 1, "place", text


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


def _over(amount: float) -> float | None:
    return amount if amount > 1e-9 else None


def too_tall(_: Season, tree: Tree, place: Place) -> float | None:
    """Height beyond the clear height, m."""
    return _over(tree.height_m - place.headroom_m)


def low_enough(ledger: Ledger) -> Iterator[Fault]:
    """No tree is taller than the clear height of its place."""
    return _too(ledger, "tall", lambda tree, place: tree.height_m - place.headroom_m)


def _too(ledger: Ledger, what: str, over_m: Callable[[Tree, Place], float]) -> Iterator[Fault]:
    for tree, place, stages in ledger.chosen_stays():
        if over := excess(over_m(tree, place)):
            text = f"{tree.name} is too {what} for {ledger.season.place_name(place.id)}"
            yield tree.id, place.id, stages[0], over, "m", text


def too_wide(_: Season, tree: Tree, place: Place) -> float | None:
    """Footprint beyond the place, turned as it fits best, m."""
    narrow, wide = sorted((tree.width_m, tree.depth_m))
    short, long = sorted((place.width_m, place.depth_m))
    return _over(max(wide - long, narrow - short))


def narrow_enough(ledger: Ledger) -> Iterator[Fault]:
    """Each tree's footprint, turned or not, lies within its place."""

    def over_m(tree: Tree, place: Place) -> float:
        straight = max(tree.width_m - place.width_m, tree.depth_m - place.depth_m)
        turned = max(tree.depth_m - place.width_m, tree.width_m - place.depth_m)
        return min(straight, turned)

    return _too(ledger, "wide", over_m)


def too_heavy(_: Season, tree: Tree, place: Place) -> float | None:
    """Weight beyond what an empty place carries, kg."""
    return _over(tree.weight_kg - place.load_limit_kg)


def load_borne(ledger: Ledger) -> Iterator[Fault]:
    """Trees on a place weigh no more than it may carry."""
    for place, stage, trees in ledger.chosen():
        if over := excess(sum(tree.weight_kg for tree in trees), place.load_limit_kg):
            text = f"{len(trees)} trees overload {ledger.season.place_name(place.id)}"
            yield None, place.id, stage, over, "kg", text


FORBIDDEN = Rule("forbidden places", bans_kept, "forbidden by the grower", "", banned, Cure.GROWER)
PINNED = Rule("pinned places", pins_kept, "pinned elsewhere", "", pinned_elsewhere, Cure.GROWER)
HEADROOM = Rule("headroom", low_enough, "too tall", "m", too_tall, Cure.SIZE)
WIDTH = Rule("room for its footprint", narrow_enough, "too wide", "m", too_wide, Cure.SIZE)
LOAD = Rule("load of a place", load_borne, "too heavy", "kg", too_heavy, Cure.SIZE)
RULES = (FORBIDDEN, PINNED, HEADROOM, WIDTH, LOAD)
