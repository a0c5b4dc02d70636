"""Size and weight: what is too tall or too wide for a place, or too heavy for it."""

from collections.abc import Callable, Iterator

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule, excess


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


HEADROOM = Rule("headroom", low_enough, "too tall", "m", too_tall, Cure.SIZE)


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


WIDTH = Rule("room for its footprint", narrow_enough, "too wide", "m", too_wide, Cure.SIZE)


def too_heavy(_: Season, tree: Tree, place: Place) -> float | None:
    """Weight beyond what an empty place carries, kg."""
    return _over(tree.weight_kg - place.load_limit_kg)


def load_borne(ledger: Ledger) -> Iterator[Fault]:
    """Trees on a place weigh no more than it may carry."""
    for place, stage, trees in ledger.chosen():
        if over := excess(sum(tree.weight_kg for tree in trees), place.load_limit_kg):
            text = f"{len(trees)} trees overload {ledger.season.place_name(place.id)}"
            yield None, place.id, stage, over, "kg", text


LOAD = Rule("load of a place", load_borne, "too heavy", "kg", too_heavy, Cure.SIZE)

RULES = (HEADROOM, WIDTH, LOAD)
