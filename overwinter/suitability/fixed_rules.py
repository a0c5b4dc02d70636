"""Refusals that do not depend on the weather: size, weight, mice, doors, the grower's own word.

Each rule returns by how much an option falls short, shape ``(option,)`` or ``(option, spell)``;
0 or less is allowed. The unit stands in ``UNITS``.
"""

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Reason
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray, Place
from overwinter.model.tree import Tree
from overwinter.plants.rodents import exposure_left
from overwinter.suitability.options import Option

UNITS: dict[Reason, str] = {
    Reason.CLOSED: "days",
    Reason.FORBIDDEN: "",
    Reason.PINNED_ELSEWHERE: "",
    Reason.HEATER_TOO_SMALL: "W",
    Reason.TOO_TALL: "m",
    Reason.TOO_WIDE: "m",
    Reason.TOO_HEAVY: "kg",
    Reason.RODENTS: "of 1",
    Reason.ROOTS_TOO_COLD: "K",
    Reason.AIR_TOO_COLD: "K",
    Reason.TOO_WARM_TO_REST: "K",
    Reason.TOO_DARK: "mol/(m² d)",
}


def closed_days(
    season: Season, options: tuple[Option, ...], spells: tuple[Spell, ...]
) -> FloatArray:
    """Days of each spell on which the shelter cannot be used, ``(option, spell)``."""
    rows = []
    for option in options:
        shelter = season.shelter_by_id[option.shelter_id]
        row = []
        for spell in spells:
            opens = max(shelter.opens or spell.start, spell.start)
            closes = min(shelter.closes or spell.end, spell.end)
            row.append(spell.days - max((closes - opens).days, 0))
        rows.append(row)
    return np.array(rows, dtype=np.float64)


def heater_shortfall_w(conditions: Conditions, options: tuple[Option, ...]) -> FloatArray:
    """W missing at the design temperature, ``(option,)``."""
    return np.array(
        [conditions.shelters[o.shelter_id].design_shortfall_w[o.setting] for o in options],
        dtype=np.float64,
    )


def fixed_shortfalls(season: Season, tree: Tree, place: Place) -> dict[Reason, float]:
    """Everything that is settled by the tree and the place alone."""
    weights = season.site.weights
    names = {place.id, place.shelter_id}
    home = place.id == season.site.summer_place
    left = exposure_left(tree.limits.rodent_appeal, place.rodent_exposure, place.guarded, weights)
    wide, narrow = max(tree.width_m, tree.depth_m), min(tree.width_m, tree.depth_m)
    long, short = max(place.width_m, place.depth_m), min(place.width_m, place.depth_m)
    return {
        Reason.FORBIDDEN: 1.0 if names & tree.forbidden else 0.0,
        Reason.PINNED_ELSEWHERE: 1.0
        if tree.pinned and not home and not names & tree.pinned
        else 0.0,
        Reason.TOO_TALL: tree.height_m - place.headroom_m,
        Reason.TOO_WIDE: max(wide - long, narrow - short),
        Reason.TOO_HEAVY: tree.weight_kg - place.load_limit_kg,
        Reason.RODENTS: left - weights.rodent_limit,
    }
