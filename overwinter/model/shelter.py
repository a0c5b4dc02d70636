"""Shelters, their heaters and places, and the air, light and roots that physics finds in them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]


class PlaceKind(StrEnum):
    """What the pot stands on or in; decides what its roots feel and who can reach it."""

    BENCH = "bench"
    SHELF = "shelf"
    FLOOR = "floor"
    GROUND = "ground"
    SUNK = "sunk"  # pot sunk in soil or deep mulch


class Side(StrEnum):
    """Sides of a place, seen from the aisle: front is where one stands."""

    FRONT = "front"
    BACK = "back"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Place:
    """A part of a shelter with its own area, headroom, light and rodent exposure."""

    id: str  # "shelter/place", unique
    shelter_id: str
    name: str
    kind: PlaceKind
    width_m: float  # along the front
    depth_m: float
    headroom_m: float  # clear height; `inf` under the open sky
    load_limit_kg: float  # `inf` where the ground carries it
    light_share: float  # share of the shelter's inside light that falls here, 0 to 1
    rodent_exposure: float  # 0 (out of reach) to 1 (mice run here); before guards
    guarded: bool  # mesh guards are fitted here
    open_sides: frozenset[Side] = frozenset({Side.FRONT})  # sides from which an arm can reach in
    glass_side: Side | None = None  # side the light comes from
    cover_m: float = 0.10  # soil, bark or leaves over the highest roots of a sunk pot, m
    warmer_k: float = 0.0  # by how much it is warmer than its shelter's air, K
    sky_share: float = 1.0  # of the sky that pots see in the open; about 0.5 beside a hedge

    @property
    def area_m2(self) -> float:
        """Area, m2."""
        return self.width_m * self.depth_m


class Towards(StrEnum):
    """What lies on the other side of a surface."""

    OUTDOORS = "outdoors"
    GROUND = "ground"
    HOUSE = "house"


@dataclass(frozen=True, slots=True)
class Surface:
    """One part of an envelope: area in m2, U-value in W/(m2 K) with the films of ISO 6946."""

    name: str
    area_m2: float
    u_w_m2k: float
    towards: Towards
    glazed: bool = False
    transmission: float = 0.0  # share of the sun that glazing lets through, straight on
    faces_deg: float | None = None  # where it faces, degrees from north over east; None: all round
    slope_deg: float | None = None  # 0 a flat roof, 90 a wall; None: walls and roof taken together
    mass_j_m2k: float = 0.0  # heat that a heavy wall stores, J/(m2 K)
    mass_at: float = 0.5  # share of the resistance that lies between the air inside and that mass
    dries_mm_d: float | None = None  # water that a floor gives off; None: by its U-value
    u_least_w_m2k: float | None = None
    u_most_w_m2k: float | None = None  # what the U-value may be; None: as sure as the value itself


@dataclass(frozen=True, slots=True)
class Envelope:
    """A shelter by what surrounds its air. ``heat_capacity_j_k`` counts contents and what else
    follows the air through a day, if the grower knows it. ``solar_aperture_m2`` times global
    horizontal irradiance (W/m2) is the sun that warms it, W; None: by direction from the
    surfaces."""

    surfaces: tuple[Surface, ...]
    volume_m3: float
    air_changes_per_h: float
    heat_capacity_j_k: float | None = None
    solar_aperture_m2: float | None = None
    vent_above_c: float | None = None  # vents open when the air would pass this; None: never vented
    vent_air_changes_per_h: float = 20.0


@dataclass(frozen=True, slots=True)
class Thermometer:
    """A shelter known by its min/max thermometer over a past winter instead of its envelope. The
    air follows outdoor air, its memory (``smoothing_h``, time constant, h), sun and sky such that
    it gives the two readings (``shelters.fit``). Unheated readings only."""

    coldest_c: float
    warmest_c: float
    outdoor_at_coldest_c: float
    outdoor_at_warmest_c: float
    smoothing_h: float = 24.0


@dataclass(frozen=True, slots=True)
class Readings:
    """A log of a min/max thermometer: one row a day; from it UA and mass are fitted."""

    dates: tuple[date, ...]
    min_c: tuple[float, ...]
    max_c: tuple[float, ...]
    outdoor_min_c: tuple[float, ...]
    outdoor_max_c: tuple[float, ...]


class Carrier(StrEnum):
    """What a heater burns or draws."""

    ELECTRICITY = "electricity"
    NATURAL_GAS = "natural gas"
    PROPANE = "propane"
    HEATING_OIL = "heating oil"
    KEROSENE = "kerosene"


@dataclass(frozen=True, slots=True)
class Heater:
    """A heater. ``power_w`` is heat delivered at full power; efficiency = heat / purchased energy.
    With a thermostat it offers ``hold_c`` (degC); without one it offers its fixed ``steps_w`` (W,
    each heat delivered continuously)."""

    name: str
    carrier: Carrier
    efficiency: float
    power_w: float
    steps_w: tuple[float, ...] = ()
    hold_c: tuple[float, ...] = ()
    breaker: str | None = None
    vented: bool = True
    broken_from: date | None = None  # first day it does not heat; None: it works


@dataclass(frozen=True, slots=True)
class HeaterPart:
    """What one heater of a setting does: a step (W of heat) or a hold temperature (degC)."""

    heater: str
    step_w: float = 0.0
    hold_c: float | None = None


@dataclass(frozen=True, slots=True)
class HeaterSetting:
    """One way to heat a shelter for a whole stage: ``fixed_w`` every hour, ``hold_c`` while
    ``power_w`` lasts. Prices are money per kWh of heat delivered."""

    parts: tuple[HeaterPart, ...] = ()  # what each heater that is on does; none: off
    fixed_w: float = 0.0
    hold_c: float | None = None
    power_w: float = 0.0
    fixed_money_per_kwh: float = 0.0
    hold_money_per_kwh: float = 0.0
    fixed_efficiency: float = 1.0
    hold_efficiency: float = 1.0
    breaker_w: tuple[tuple[str, float], ...] = ()  # W it may draw at once, by breaker

    @property
    def is_off(self) -> bool:
        """Whether nothing is heated."""
        return not self.parts


@dataclass(frozen=True, slots=True)
class Shelter:
    """A building or cover with one air temperature; the open garden is one too (``open_air``)."""

    id: str
    name: str
    places: tuple[Place, ...]
    opens: date | None = None  # first day it can be used; None: from the start
    closes: date | None = None  # first day it can no longer be used; None: never
    open_air: bool = False
    envelope: Envelope | None = None
    thermometer: Thermometer | None = None
    readings: Readings | None = None
    heaters: tuple[Heater, ...] = ()
    transmission: float = 1.0  # share of outdoor light that gets in; 0 in a dark cellar
    lamp_mol_m2_d: float = 0.0  # daily light integral added by lamps
    note: str = ""


# A setting is simulated as if it were held all winter. ``setting`` runs over
# ``ShelterConditions.settings`` ("off" first), ``winter`` over the sample, ``day`` from noon to
# noon.


@dataclass(frozen=True)
class ShelterConditions:
    """One shelter with each of its heater settings."""

    settings: tuple[HeaterSetting, ...]
    air_c: FloatArray  # air at the end of each hour, degC, `(setting, winter, hour)`
    purchased_kwh: FloatArray  # energy bought, kWh, `(setting, winter, day)`
    money: FloatArray  # what it costs, `(setting, winter, day)`
    heat_unsure: tuple[float, float] = (0.0, 0.0)  # shares by which it may be less and more


@dataclass(frozen=True)
class RootZone:
    """Temperatures in one class of pot on one kind of stand, degC, ``(setting, winter, day)``."""

    wall_min_c: FloatArray  # coldest of the day at the wall, where the young roots are
    core_min_c: FloatArray  # coldest of the day inside, where the old roots are
    core_mean_c: FloatArray  # mean of the day inside: what hardening follows


@dataclass(frozen=True)
class PlaceConditions:
    """One place; shapes ``(setting, winter, day)`` unless said."""

    dli_mol_m2_d: FloatArray  # daily light integral, mol/(m2 d), `(winter, day)`
    air_min_c: FloatArray
    air_mean_c: FloatArray
    chill_hours: FloatArray  # hours of the day with 0 <= air <= 7.2 degC
    utah_units: FloatArray  # Utah chill units of the day; may be negative
    warmth_k_d: FloatArray  # of the day above the base of bud break, K d
    root: Mapping[float, RootZone]  # by class of pot in use (`root_zone.POT_CLASSES_L`)
    cold_dose_k_h: Mapping[float, FloatArray]  # by air floor, degC: of the day below it, K h


@dataclass(frozen=True)
class Conditions:
    """The whole site."""

    outdoor_min_c: FloatArray  # coldest of the night, degC, `(winter, day)`
    day_length_h: FloatArray  # `(day,)`
    shelters: Mapping[str, ShelterConditions]
    places: Mapping[str, PlaceConditions]
