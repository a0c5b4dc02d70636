"""The order of trees, places and shelters inside the search, which the files do not decide.

Ties fall to what comes first. So that the same winter written in another order, under other names,
gets the same plan, all is sorted by what it is; the plan is then listed in the files' order.
"""

from dataclasses import replace

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place, Shelter
from overwinter.model.tree import Tree

NO_PLACES: frozenset[str] = frozenset()


def in_own_order(season: Season) -> Season:
    """The same, sorted by all but names, notes and what refers to names."""
    shelters = [replace(s, places=tuple(sorted(s.places, key=_place))) for s in season.shelters]
    return replace(
        season,
        trees=tuple(sorted(season.trees, key=_tree)),
        shelters=tuple(sorted(shelters, key=_shelter)),
    )


def _tree(tree: Tree) -> str:
    return repr(replace(tree.unnamed, stands_at=None, pinned=NO_PLACES, forbidden=NO_PLACES))


def _place(place: Place) -> str:
    return repr(replace(place, id="", shelter_id="", name=""))


def _shelter(shelter: Shelter) -> str:
    places = [_place(place) for place in shelter.places]
    return repr((replace(shelter, id="", name="", places=(), note=""), places))


def listed_as(season: Season, plan: Plan) -> Plan:
    """A plan in the order of the season's trees and shelters."""
    at = {tree.id: number for number, tree in enumerate(season.trees)}
    return replace(
        plan,
        settings={s.id: plan.settings[s.id] for s in season.shelters if s.id in plan.settings},
        stays={tree.id: plan.stays[tree.id] for tree in season.trees if tree.id in plan.stays},
        carries=tuple(sorted(plan.carries, key=lambda carry: (carry.stage, at[carry.tree_id]))),
        left_out=tuple(sorted(plan.left_out, key=lambda left: at[left.tree_id])),
    )
