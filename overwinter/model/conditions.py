"""What the physics found for every place, heater setting, winter and day.

A setting is simulated as if it were held all winter. ``setting`` runs over
``ShelterConditions.settings`` ("off" first), ``winter`` over the sample, ``day`` from noon to noon.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from overwinter.model.shelter import FloatArray, HeaterSetting


@dataclass(frozen=True)
class ShelterConditions:
    """One shelter with each of its heater settings."""

    shelter_id: str
    settings: tuple[HeaterSetting, ...]
    air_c: FloatArray
    """Air at the end of each hour, degC, ``(setting, winter, hour)``."""
    purchased_kwh: FloatArray
    """Energy bought, kWh, ``(setting, winter, day)``."""
    money: FloatArray
    """What it costs, ``(setting, winter, day)``."""
    design_need_w: tuple[float, ...]
    """Steady heat that each setting's hold needs in the design night, W; 0 without a hold."""
    heat_unsure: tuple[float, float] = (0.0, 0.0)
    """Shares by which the heat may lie below and above, as U-values and wind are not known."""


@dataclass(frozen=True)
class RootZone:
    """Temperatures in one class of pot on one kind of stand, degC, ``(setting, winter, day)``."""

    wall_min_c: FloatArray
    """Coldest of the day at the wall, where the young roots are."""
    core_min_c: FloatArray
    """Coldest of the day inside, where the old roots are."""
    core_mean_c: FloatArray
    """Mean of the day inside: what hardening follows."""


@dataclass(frozen=True)
class PlaceConditions:
    """One place; shapes ``(setting, winter, day)`` unless said."""

    place_id: str
    dli_mol_m2_d: FloatArray
    """Daily light integral, mol/(m2 d), ``(winter, day)``."""
    air_min_c: FloatArray
    air_mean_c: FloatArray
    chill_hours: FloatArray
    """Hours of the day with 0 <= air <= 7.2 degC."""
    utah_units: FloatArray
    """Utah chill units of the day; may be negative."""
    warmth_k_d: FloatArray
    """Degree-days of the day above the base of bud break (``plants.waking``), K d."""
    root: Mapping[float, RootZone]
    """By class of pot: the litres of ``shelters.root_zone.POT_CLASSES_L``; only those in use."""

    cold_dose_k_h: Mapping[float, FloatArray]
    """By air floor of a kind in the season, degC: degree-hours of the day below it, K h."""


@dataclass(frozen=True)
class Conditions:
    """The whole site."""

    outdoor_min_c: FloatArray
    """Coldest of the night, degC, ``(winter, day)``."""
    day_length_h: FloatArray
    """``(day,)``"""
    shelters: Mapping[str, ShelterConditions]
    places: Mapping[str, PlaceConditions]
