"""When a cold roof, wall or pane drips: dew point of the air against inner faces, over the winters.
Vapour comes with the outdoor air, from the pots' own drying after people's watering, and from a
bare floor; it leaves with the air exchange. Within an hour the two are taken to be in balance."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.air import cold_sky_share
from overwinter.climate.series import by_day
from overwinter.model.season import Season
from overwinter.model.shelter import (
    Conditions,
    Envelope,
    FloatArray,
    HeaterSetting,
    Shelter,
    Surface,
    Towards,
)
from overwinter.shelters.conditions import pots_in_l
from overwinter.shelters.network import AIR_WH_M3K, INSIDE_FILM_M2K_W, Surroundings, surroundings
from overwinter.units import HOURS_PER_DAY

MAGNUS_PA, MAGNUS_B, MAGNUS_C = 611.2, 17.62, 243.12
"""Pa, 1, degC. Magnus coefficients over water as the WMO gives them (from memory; within 0.02 K of
PsychroLib above freezing). Below 0 degC the dew point is over water too, not the frost point."""
INSIDE_FILM_GLAZING_M2K_W = 0.13
INSIDE_FILM_OPAQUE_M2K_W = 0.25
"""Films of the ISO 13788 surface check (read in a tutorial on it); heat-loss films are smaller and
would be optimistic for opaque parts."""
OUTSIDE_W_M2K = 10.0  # wind and radiation at an outer face, as in `network`
VAPOUR_GAS_J_KGK = 461.5  # gas constant of water vapour
POT_DEPTH_M = 0.15  # volume of a pot over the open surface of its mix (judgement)
POTS_DRY_MM_D, FLOOR_DRIES_MM_D = 0.4, 0.2
"""Water that moist pots of resting trees and a bare floor give off in a cool house: judgements."""
USUAL_HUMIDITY = 0.7  # air in which they do (judgement)
BARE_U_W_M2K = 0.9  # a U-value towards ground from which on a floor is counted as bare
SECOND_LAYER_M2K_W, FOAM_M2K_W = 0.16, 0.7  # a second pane or film with air; 25 mm of foam


def saturation_pa(air_c: FloatArray | float) -> FloatArray:
    """Vapour pressure over water, Pa."""
    air = np.asarray(air_c, dtype=np.float64)
    return np.asarray(MAGNUS_PA * np.exp(MAGNUS_B * air / (MAGNUS_C + air)))


def dew_point_c(vapour_pa: FloatArray) -> FloatArray:
    """Dew point over water, degC, of air with so much vapour pressure, Pa."""
    g = np.log(vapour_pa / MAGNUS_PA)
    return np.asarray(MAGNUS_C * g / (MAGNUS_B - g))


def inner_surface_c(
    inside_c: FloatArray | float,
    outside_c: FloatArray | float,
    u_w_m2k: float,
    inside_film_m2k_w: float,
) -> FloatArray:
    """Inner surface temperature, degC: Ti - U Rsi (Ti - To); U must be built with the same Rsi."""
    inside = np.asarray(inside_c, dtype=np.float64)
    return np.asarray(inside - u_w_m2k * inside_film_m2k_w * (inside - np.asarray(outside_c)))


@dataclass(frozen=True, slots=True)
class WetSurface:
    """Hours a winter, mean, in which water forms on a surface, as things are and might be."""

    shelter_id: str
    surface: str
    glazed: bool
    hours: float
    stage: int  # with the most of them
    insulated_hours: float  # with 25 mm of foam, or a second layer of glazing
    floor_covered_hours: float  # with a vapour barrier on the bare floor
    aired_hours: float  # with twice the air exchange
    airing_kwh: float  # of the second air exchange in hours that are wet, a winter
    airing_money: float  # what a thermostat buys of it, money a winter


def wet_surfaces(
    season: Season,
    conditions: Conditions,
    settings: Mapping[str, tuple[HeaterSetting, ...]],
    stage_of_day: NDArray[np.integer[Any]],
) -> list[WetSurface]:
    """Every surface towards the outdoors that is ever wet, shelter by shelter, wettest first.
    ``settings``: of each shelter by stage, as planned. ``stage_of_day``: ``(winter, day)``."""
    around, found = surroundings(season), []
    for shelter in season.shelters:
        if shelter.envelope is None:
            continue
        here = conditions.shelters[shelter.id]
        rows = np.array([here.settings.index(one) for one in settings[shelter.id]])[stage_of_day]
        winter, day = np.indices(stage_of_day.shape)
        air = by_day(here.air_c)[rows, winter, day].reshape(stage_of_day.shape[0], -1)
        prices = np.array([one.hold_money_per_kwh for one in settings[shelter.id]])
        price = np.repeat(prices[stage_of_day], HOURS_PER_DAY, axis=1)
        litres = pots_in_l(shelter, season.trees)
        room = _Room(shelter, shelter.envelope, litres, around, air, price)
        some = (room.wet(surface, stage_of_day) for surface in shelter.envelope.surfaces)
        found += sorted((one for one in some if one is not None), key=lambda one: -one.hours)
    return found


@dataclass(frozen=True)
class _Room:
    """One shelter's hours, ``(winter, hour)``."""

    shelter: Shelter
    envelope: Envelope
    pot_litres: float
    around: Surroundings
    air_c: FloatArray
    money_per_kwh: FloatArray  # of heat by a thermostat; 0 without one

    def dew_c(self, airing: float = 1.0, covered: bool = False) -> FloatArray:
        """Dew point inside; the outdoor one is the night's minimum (FAO-56 eq. 48)."""
        nights = np.repeat(by_day(self.around.air_c).min(axis=-1), HOURS_PER_DAY, axis=1)
        outside = saturation_pa(nights) / (VAPOUR_GAS_J_KGK * (self.around.air_c + 273.15))
        changes_per_h = max(0.05, airing * self.envelope.air_changes_per_h)
        exchange_m3_h = changes_per_h * self.envelope.volume_m3
        kelvin = VAPOUR_GAS_J_KGK * (self.air_c + 273.15)
        full = saturation_pa(self.air_c) / kelvin
        # Moist things dry the less the damper the air is, and not at all into saturated air.
        added = self._gives_kg_h(covered) / (1 - USUAL_HUMIDITY) / exchange_m3_h
        return dew_point_c(kelvin * (outside + added) / (1 + added / full))

    def _gives_kg_h(self, covered: bool) -> float:
        given = POTS_DRY_MM_D * self.pot_litres / 1000 / POT_DEPTH_M
        for one in self.envelope.surfaces:
            if one.towards is Towards.GROUND and not covered:
                bare = FLOOR_DRIES_MM_D if one.u_w_m2k >= BARE_U_W_M2K else 0.0
                given += one.area_m2 * (bare if one.dries_mm_d is None else one.dries_mm_d)
        return given / HOURS_PER_DAY

    def face_c(self, surface: Surface, more_m2k_w: float = 0.0) -> FloatArray:
        """Inner face by ISO 13788's film, its outside cooled by the sky."""
        film = INSIDE_FILM_GLAZING_M2K_W if surface.glazed else INSIDE_FILM_OPAQUE_M2K_W
        resistance = 1 / surface.u_w_m2k - INSIDE_FILM_M2K_W + film + more_m2k_w
        sky_k = cold_sky_share(surface.slope_deg) * self.around.sky_loss_w_m2 / OUTSIDE_W_M2K
        return inner_surface_c(self.air_c, self.around.air_c - sky_k, 1 / resistance, film)

    def wet(self, surface: Surface, stage_of_day: NDArray[np.integer[Any]]) -> WetSurface | None:
        """Hours of one surface; None where it is never wet or not towards the outdoors."""
        if surface.towards is not Towards.OUTDOORS:
            return None
        vent_c = self.envelope.vent_above_c
        shut = np.full(self.air_c.shape, True) if vent_c is None else self.air_c < vent_c - 0.1
        dew, face = self.dew_c(), self.face_c(surface)
        wet = shut & (face < dew)
        if not wet.any():
            return None
        winters = self.air_c.shape[0]
        more = SECOND_LAYER_M2K_W if surface.glazed else FOAM_M2K_W
        hours_wet = by_day(wet.astype(np.float64)).sum(axis=-1)
        by_stage = np.bincount(stage_of_day.ravel(), hours_wet.ravel())

        def hours(face_c: FloatArray, dew_c: FloatArray) -> float:
            return float(np.count_nonzero(shut & (face_c < dew_c)) / winters)

        second_w_k = AIR_WH_M3K * self.envelope.air_changes_per_h * self.envelope.volume_m3
        second_kw = second_w_k / 1000 * wet * np.maximum(0.0, self.air_c - self.around.air_c)
        return WetSurface(
            shelter_id=self.shelter.id,
            surface=surface.name,
            glazed=surface.glazed,
            hours=float(wet.sum()) / winters,
            stage=int(by_stage.argmax()),
            insulated_hours=hours(self.face_c(surface, more), dew),
            floor_covered_hours=hours(face, self.dew_c(covered=True)),
            aired_hours=hours(face, self.dew_c(airing=2.0)),
            airing_kwh=float(second_kw.sum()) / winters,
            airing_money=float((second_kw * self.money_per_kwh).sum()) / winters,
        )
