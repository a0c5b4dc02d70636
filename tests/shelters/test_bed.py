"""A mulched bed against an independent model: conduction with freezing on many layers."""

from datetime import date
from typing import Any

import numpy as np
import pytest
from season_maker import MID_MONTH_D, RECIPE, make_season

from overwinter.climate.ground import ground_from_weather, kusuda_c
from overwinter.model.shelter import FloatArray
from overwinter.shelters.network import surroundings
from overwinter.shelters.root_table import (
    FUSION_J_M3,
    MULCH_W_MK,
    SOIL_FROZEN_CAPACITY,
    SOIL_J_M3K,
    SOIL_W_MK,
    SOIL_WATER_SHARE,
    bed_drive,
    freezing_days_c,
)

BARK_J_M3K = 0.6e6
FROZEN_SHARE = 0.75
BOTTOM_M = 3.0
SOIL_LAYERS_M = np.array([0.025] * 12 + [0.05] * 8 + [0.1] * 8 + [0.2] * 8)
ROOT_LAYERS = 12
STEPS_PER_HOUR = 12


def layered_soil_c(
    air_c: FloatArray, cover_m: float, day_of_year: FloatArray, bark_w_mk: float
) -> FloatArray:
    """Top 30 cm of soil under bark, degC, ``(hour, layer)``: explicit steps of the enthalpy.

    The standard enthalpy method for conduction with change of phase (Voller's textbook form); the
    film outside is that of a light wind, the bottom follows the undisturbed ground.
    """
    ground = surroundings(make_season()).site.ground
    barks = max(2, round(cover_m / 0.025))
    thick = np.concatenate((np.full(barks, cover_m / barks), SOIL_LAYERS_M))
    is_soil = np.arange(thick.size) >= barks
    conducts = np.where(is_soil, SOIL_W_MK, bark_w_mk)
    holds = np.where(is_soil, SOIL_J_M3K, BARK_J_M3K)
    fusion = np.where(is_soil, SOIL_WATER_SHARE * FUSION_J_M3, 0.0)
    depth = np.maximum(np.cumsum(thick) - thick / 2 - cover_m, 0.0)
    now = kusuda_c(depth, np.full(depth.size, day_of_year[0]), ground)
    heat = np.where(now >= 0, holds * now, FROZEN_SHARE * holds * now - fusion)
    half = thick / 2 / conducts
    between, outer, inner = 1 / (half[:-1] + half[1:]), 1 / (0.05 + half[0]), 1 / half[-1]
    bottom = kusuda_c(BOTTOM_M, day_of_year, ground)
    flow, out = np.empty(thick.size + 1), np.empty((air_c.size, ROOT_LAYERS))
    for hour in range(air_c.size):
        for _ in range(STEPS_PER_HOUR):
            flow[0] = outer * (air_c[hour] - now[0])
            flow[1:-1] = between * (now[:-1] - now[1:])
            flow[-1] = inner * (now[-1] - bottom[hour])
            heat += 3600.0 / STEPS_PER_HOUR * (flow[:-1] - flow[1:]) / thick
            frozen = np.minimum(0.0, (heat + fusion) / (FROZEN_SHARE * holds))
            now = np.where(heat >= 0, heat / holds, frozen)
        out[hour] = now[barks : barks + ROOT_LAYERS]
    return out


def bed_c(*of: Any) -> FloatArray:
    """Soil of a bed, ``(hour, column)``."""
    fusion_k = SOIL_WATER_SHARE * FUSION_J_M3 / SOIL_J_M3K
    days = freezing_days_c(bed_drive(*of), fusion_k, SOIL_FROZEN_CAPACITY)
    return np.concatenate([day[:, 0].copy() for day in days])


@pytest.mark.parametrize(("cover_m", "bark_w_mk"), [(0.20, 0.2), (0.20, 0.12), (0.10, 0.12)])
def test_bed_stays_near_the_layered_model(cover_m: float, bark_w_mk: float) -> None:
    """The coldest winter of eight: between the top layer and the mean of the roots' depth."""
    # Measured, with -27.9 degC outdoors: 20 cm of sodden bark (0.2 W/(m K)) 0.0 against -1.5 on top
    # and -0.2 in the mean; 10 cm of moist bark (0.12) -1.2 against -2.4 and -0.7. Under 10 cm of
    # sodden bark the layered model freezes to -5.6 on top, ours does not know that: docs.
    season = make_season(winters=8)
    around = surroundings(season)
    coldest = int(season.winters.air_c.min(axis=1).argmin())
    air = season.winters.air_c[coldest]
    none = np.zeros((air.size, 1))
    ours = bed_c(air[:, None], cover_m, none, around.site.ground, around.day_of_year).min()
    layered = layered_soil_c(air, cover_m, around.day_of_year, bark_w_mk)
    assert ours < layered.mean(axis=1).min() + 0.3
    assert ours > layered[:, 0].min() - 0.5


def test_twenty_centimetres_of_bark_keep_a_zone_5_bed_near_freezing() -> None:
    """No night of eight winters takes the bed far below 0 degC."""
    # Common practice, no source: gardens of zone 5 winter hardy potted trees so. The layered model
    # above gives the same within 2 K.
    assert ground_from_weather(
        (np.array(RECIPE.mean_min_c) + np.array(RECIPE.mean_max_c)) / 2, MID_MONTH_D
    ).mean_c == pytest.approx(9.0, abs=1.0)
    season = make_season(winters=8)
    around = surroundings(season)
    none = np.zeros((24 * season.days, 8))
    bed = bed_c(season.winters.air_c.T, 0.20, none, around.site.ground, around.day_of_year)
    assert bed.min() > -1.0


def test_a_month_at_minus_15_under_twenty_centimetres() -> None:
    """From 15 December: above -2 degC, the coldest within 1.5 K of the layered model's mean."""
    # No handbook figure found: the layered model is the reference. Measured: 0.07 against 0.72
    # degC at the coldest. Hour by hour ours is always the colder one, by up to 2.3 K while both
    # are above 1.5 degC, where nothing hangs on it.
    season = make_season(winters=1)
    around = surroundings(season)
    begins = season.day_index(date(2026, 12, 15)) * 24
    air = season.winters.air_c[0][: begins + 30 * 24].copy()
    air[begins:] = -15.0
    days, none = around.day_of_year[: air.size], np.zeros((air.size, 1))
    ours = bed_c(air[:, None], 0.20, none, around.site.ground, days)[begins:, 0]
    layered = layered_soil_c(air, 0.20, days, MULCH_W_MK).mean(axis=1)[begins:]
    assert ours.min() > -2.0
    assert ours.min() == pytest.approx(layered.min(), abs=1.5)
    assert (ours < layered).all()
