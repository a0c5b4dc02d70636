"""Invented limits, places, trees and a site for tests, each changed as a test asks.

The figures are round and mean nothing; what a test rests on it says itself.
"""

import re
from datetime import date

from overwinter.model.shelter import Place, PlaceKind
from overwinter.model.site import Ground, Site
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree


def made_limits(**changes: object) -> Limits:
    """Limits of an invented kind, changed as asked."""
    fields: dict[str, object] = {
        "root_kill_c": -8.0,
        "root_kill_young_c": -6.0,
        "root_kill_unhardened_c": -3.0,
        "top_kill_c": -30.0,
        "top_kill_unhardened_c": -4.0,
        "new_leaf_kill_c": -3.0,
        "air_floor_c": None,
        "chill_injury_k_h": 100.0,
        "rest_ceiling_c": None,
        "chill_need": 0.0,
        "chill_model": ChillModel.HOURS,
        "bud_break_k_d": 200.0,
        "drying": 0.0,
        "light_floor_mol_m2_d": 4.0,
        "dark_below_c": 5.0,
        "leaf": LeafHabit.DECIDUOUS,
        "rodent_appeal": 0.0,
        "harden_below_c": 10.0,
        "harden_days": 40.0,
        "deharden_above_c": 10.0,
        "deharden_per_degree_day": 0.01,
    }
    return Limits(**{**fields, **changes})


def made_place(**changes: object) -> Place:
    """A bench, 2 m x 1 m, changed as asked."""
    fields: dict[str, object] = {
        "id": "house/bench",
        "shelter_id": "house",
        "name": "Bench",
        "kind": PlaceKind.BENCH,
        "width_m": 2.0,
        "depth_m": 1.0,
        "headroom_m": 2.0,
        "load_limit_kg": 100.0,
        "light_share": 1.0,
        "rodent_exposure": 0.0,
        "guarded": False,
    }
    return Place(**{**fields, **changes})


def made_tree(**changes: object) -> Tree:
    """A tree of half a metre each way, changed as asked."""
    fields: dict[str, object] = {
        "id": "tree",
        "name": "tree",
        "species_key": "invented",
        "limits": made_limits(),
        "width_m": 0.5,
        "depth_m": 0.4,
        "height_m": 1.0,
        "weight_kg": 10.0,
        "pot_litres": 5.0,
        "condition": Condition.ORDINARY,
        "value": 100.0,
    }
    return Tree(**{**fields, **changes})


def made_site(**changes: object) -> Site:
    """An invented site, changed as asked."""
    fields: dict[str, object] = {
        "name": "Invented yard",
        "latitude_deg": 42.0,
        "longitude_deg": -88.0,
        "elevation_m": 200.0,
        "utc_offset_h": -6.0,
        "starts": date(2026, 10, 1),
        "ends": date(2027, 5, 15),
        "design_min_c": -12.0,
        "ground": Ground(10.0, 10.0, 30.0),
        "house_c": 18.0,
        "summer_place": "garden/bench",
        "currency": "EUR",
        "money_per_kwh": {},
        "breakers_w": {"shed": 1500.0},
    }
    return Site(**{**fields, **changes})


def plain(text: str) -> str:
    """A text of the terminal as a pipe has it, without bold headings."""
    return re.sub(r"\x1b\[\d+m", "", text)
