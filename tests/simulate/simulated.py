"""Kinds of tree and daily series of any weather, for tests of what follows them."""

from dataclasses import replace

import numpy as np
from made import made_limits

from overwinter.model.species import LeafHabit
from overwinter.model.tree import Condition
from overwinter.simulate.exposures import Calendar, Kind, Series

LIMITS = made_limits(
    root_kill_c=-15.0,
    root_kill_young_c=-8.0,
    root_kill_unhardened_c=-5.0,
    top_kill_unhardened_c=-6.0,
    air_floor_c=5.0,
    chill_injury_k_h=200.0,
    rest_ceiling_c=8.0,
    chill_need=600.0,
    bud_break_k_d=100.0,
    drying=0.5,
    leaf=LeafHabit.EVERGREEN,
    rodent_appeal=0.5,
    harden_days=20.0,
    deharden_above_c=7.0,
)
"""Invented: a kind that every harm can reach."""


def make_kind(condition: Condition = Condition.ORDINARY, **limits: object) -> Kind:
    """The kind above in a pot of ten litres, some of its limits changed."""
    return Kind(replace(LIMITS, **limits), 10.0, False, condition)


def any_series(rng: np.random.Generator, shape: tuple[int, int, int]) -> Series:
    """Weather from autumn to spring of no place, float32, ``(n, winter, day)``."""
    base = 10.0 - 18.0 * np.sin(np.linspace(0.0, np.pi, shape[-1]))

    def near(offset: float, spread: float) -> np.ndarray:
        return (base + offset + spread * rng.standard_normal(shape)).astype(np.float32)

    air_min, core_min = near(-4.0, 4.0), near(-1.0, 2.0)
    return Series(
        wall_min_c=core_min - 1.0,
        core_min_c=core_min,
        core_mean_c=core_min + 1.5,
        air_min_c=air_min,
        air_mean_c=air_min + 4.0,
        cold_dose_k_h=np.maximum(5.0 - air_min, 0.0) * 6.0,
        chill=rng.uniform(0.0, 24.0, shape).astype(np.float32),
        warmth_k_d=np.maximum(air_min + 2.0, 0.0),
        dli_mol_m2_d=rng.uniform(0.0, 10.0, shape).astype(np.float32),
        shelter_factor=np.ones((*shape[:-2], 1, 1), dtype=np.float32),
        rodents=np.full((*shape[:-2], 1, 1), 0.4, dtype=np.float32),
    )


def any_calendar(days: int) -> Calendar:
    """Days from 12.5 h down to 8.5 h and up again."""
    length = 12.5 - 4.0 * np.sin(np.linspace(0.0, np.pi, days))
    return Calendar(length.astype(np.float32), np.zeros((1, days), dtype=np.float32))
