"""Size and weight: what is too tall or too wide for a place, or too heavy for it."""

from collections.abc import Iterator

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule, carried, excess, with_places, with_tree


def _over(amount: float) -> float | None:
    return amount if amount > 1e-9 else None


def too_tall(_: Season, tree: Tree, place: Place) -> float | None:
    """Height beyond the clear height, m."""
    return _over(tree.height_m - place.headroom_m)


def low_enough(ledger: Ledger) -> Iterator[Fault]:
    """No tree is taller than the clear height of its place."""
    for tree, place, stages in ledger.chosen_stays():
        if over := excess(tree.height_m, place.headroom_m):
            text = f"{tree.name} is too tall for {place.id}"
            yield tree.id, place.id, stages[0], over, "m", text


HEADROOM = Rule(
    "headroom",
    low_enough,
    lambda season, _: with_places(season, headroom_m=0.0),
    lacks="too tall",
    unit="m",
    refuses=too_tall,
    cure=Cure.SIZE,
)


def too_wide(_: Season, tree: Tree, place: Place) -> float | None:
    """Footprint beyond the place, turned as it fits best, m."""
    wide, narrow = max(tree.width_m, tree.depth_m), min(tree.width_m, tree.depth_m)
    long, short = max(place.width_m, place.depth_m), min(place.width_m, place.depth_m)
    return _over(max(wide - long, narrow - short))


def narrow_enough(ledger: Ledger) -> Iterator[Fault]:
    """Each tree's footprint, turned or not, lies within its place."""
    for tree, place, stages in ledger.chosen_stays():
        straight = max(tree.width_m - place.width_m, tree.depth_m - place.depth_m)
        turned = max(tree.depth_m - place.width_m, tree.width_m - place.depth_m)
        if over := excess(min(straight, turned)):
            text = f"{tree.name} is too wide for {place.id}"
            yield tree.id, place.id, stages[0], over, "m", text


WIDTH = Rule(
    "room for its footprint",
    narrow_enough,
    lambda season, plan: with_tree(season, carried(plan).tree_id, width_m=99.0),
    lacks="too wide",
    unit="m",
    refuses=too_wide,
    cure=Cure.SIZE,
)


def too_heavy(_: Season, tree: Tree, place: Place) -> float | None:
    """Weight beyond what an empty place carries, kg."""
    return _over(tree.weight_kg - place.load_limit_kg)


def load_borne(ledger: Ledger) -> Iterator[Fault]:
    """Trees on a place weigh no more than it may carry."""
    for place, stage, trees in ledger.chosen():
        if over := excess(sum(tree.weight_kg for tree in trees), place.load_limit_kg):
            yield None, place.id, stage, over, "kg", f"{len(trees)} trees overload {place.id}"


LOAD = Rule(
    "load of a place",
    load_borne,
    lambda season, _: with_places(season, load_limit_kg=0.0),
    lacks="too heavy",
    unit="kg",
    refuses=too_heavy,
    cure=Cure.SIZE,
)

RULES = (HEADROOM, WIDTH, LOAD)
