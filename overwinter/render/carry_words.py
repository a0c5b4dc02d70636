"""The short sentences of a carry list: settings, guards, water and pest checks, notes.

All checks are common practice, no source, but for watering well and letting the tops dry before
trees go under cover (UMass Extension, read) and mesh of 6 mm or finer (extension, read).
"""

from datetime import date

from overwinter.model.season import Season
from overwinter.model.shelter import Place, PlaceKind
from overwinter.model.species import LeafHabit
from overwinter.model.tree import Condition, Tree
from overwinter.render.cautions import dries_at
from overwinter.render.words import long_date, place_name, short_date

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

NEAR_ROOF_M = 0.10
"""Headroom left over below which the tree must be tilted in."""


def day_words(day: date, *, year: bool = True) -> str:
    """``Sat 1 Nov 2025``, the same whatever the machine's language is."""
    return f"{_DAYS[day.weekday()]} {long_date(day) if year else short_date(day)}"


def place_words(season: Season, place_id: str | None) -> str:
    """``Garage, bench 2``; a tree without a source arrives that day."""
    return "arrives today" if place_id is None else place_name(season, place_id)


def guard_words(tree: Tree, place: Place) -> str:
    """What to do about mice once the tree stands; empty where none come or none care."""
    if place.rodent_exposure <= 0.0 or tree.limits.rodent_appeal <= 0.0:
        return ""
    if place.guarded:
        return "close the mesh guard down to the ground, no gap wider than 6 mm (1/4 in)"
    return "no guard here and mice can come: look for gnawing every week"


def water_words(season: Season, tree: Tree, place: Place) -> str:
    """The water check before a tree goes to ``place``."""
    if season.shelter_by_id[place.shelter_id].open_air:
        if place.kind in (PlaceKind.SUNK, PlaceKind.GROUND):
            return "water once it stands, never onto a frozen root ball"
        return "water once it stands"
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return "watered well the day before, leaves dry when it goes in"
    return "soil moist all through, not dripping; no saucer left under it"


def pest_words(tree: Tree, *, out: bool) -> str:
    """The pest check before a tree is moved."""
    if out:
        return "look for scale, aphids and mould before it joins the others"
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return "both sides of leaves, twigs, drain holes: scale, mites, aphids, slugs"
    return "take off fallen leaves and weeds; bark and drain holes: scale, slugs, nests"


def tree_notes(season: Season, tree: Tree, place: Place, day: date) -> list[str]:
    """What else to mind about this tree on this day."""
    notes = []
    if tree.quarantine_until is not None and day < tree.quarantine_until:
        until = day_words(tree.quarantine_until, year=False)
        notes.append(f"new: keep it apart from all others until {until}")
    if tree.condition is Condition.WEAK:
        notes.append("weak: look at it twice")
    if tree.young_roots:
        notes.append("young roots: hold it by the pot, frost hurts them sooner")
    if dries_at(season, tree, place, day):
        notes.append("frozen roots give its leaves no water: out of wind and winter sun")
    spare_m = place.headroom_m - tree.height_m
    if spare_m < NEAR_ROOF_M:
        notes.append(f"only {season.site.display.length(max(spare_m, 0.0))} to the top: tilt it in")
    return notes
