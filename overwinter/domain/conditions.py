"""What the physics found: temperatures, heat and light of every place, for every heater setting."""

from collections.abc import Mapping
from dataclasses import dataclass

from overwinter.domain.shelter import FloatArray, HeaterSetting


@dataclass(frozen=True)
class ShelterConditions:
    """A shelter with each of its heater settings held all winter.

    ``air_c`` and ``heat_w`` have shape ``(setting, hour)``: air at the end of the hour (degC) and
    heat delivered by all heaters, mean over the hour (W). ``cold_air_c`` is the same air in a
    winter colder by ``Conditions.colder_by_k``. ``money`` ``(setting, hour)`` is what the heat of
    the hour costs, ``purchased_kwh`` ``(setting, hour)`` the energy bought.
    """

    shelter_id: str
    settings: tuple[HeaterSetting, ...]
    air_c: FloatArray
    cold_air_c: FloatArray
    heat_w: FloatArray
    purchased_kwh: FloatArray
    money: FloatArray
    holds_at_design: tuple[bool, ...]
    """Whether the power can keep the setting's hold temperature at the design temperature."""
    design_shortfall_w: tuple[float, ...]
    """W missing at the design temperature, 0 where it holds."""


@dataclass(frozen=True)
class RootZone:
    """Outer-root temperature of one pot class at one place, by day; shapes ``(setting, day)``."""

    min_c: FloatArray
    mean_c: FloatArray
    cold_min_c: FloatArray
    """Daily minimum in the colder winter."""


@dataclass(frozen=True)
class PlaceConditions:
    """One place; daily series, air shapes ``(setting, day)``, light ``(day,)``."""

    place_id: str
    dli_mol_m2_d: FloatArray
    air_min_c: FloatArray
    air_mean_c: FloatArray
    cold_air_min_c: FloatArray
    chill_hours: FloatArray
    """Hours with 0 <= air <= 7.2 degC in the day."""
    utah_units: FloatArray
    """Utah chill units of the day (may be negative)."""
    root: Mapping[float, RootZone]
    """By pot class: the litres of ``shelters.root_zone.POT_CLASSES_L``."""


@dataclass(frozen=True)
class Conditions:
    """The whole site."""

    days: int
    colder_by_k: float
    outdoor_air_c: FloatArray
    """(hour,)"""
    outdoor_mean_c: FloatArray
    """(day,)"""
    day_length_h: FloatArray
    """(day,)"""
    outdoor_dli_mol_m2_d: FloatArray
    """(day,)"""
    shelters: Mapping[str, ShelterConditions]
    places: Mapping[str, PlaceConditions]
