"""Our shelter for a box of EnergyPlus's, in words of shelters.toml, and the differences."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from energyplus_box import SIDES, Box, BoxHours, read_epw_columns, run_energyplus
from tmy3 import weather_file

from overwinter.climate.ground import ground_from_weather
from overwinter.climate.series import by_day, chill_hours_weight
from overwinter.files.envelope import EnvelopeTable
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import parse
from overwinter.model.season import Season, Winters
from overwinter.model.shelter import Carrier, FloatArray, Heater, Shelter
from overwinter.model.site import Ground, Site
from overwinter.shelters.conditions import shelter_model
from overwinter.shelters.heater import heater_settings
from overwinter.shelters.modes import run
from overwinter.shelters.network import surroundings

STARTS, ENDS = date(2006, 10, 1), date(2007, 5, 14)
"""Days from noon to noon; EnergyPlus runs from the midnight before to the one after."""
NOON_H = 12
WINTER = slice(61, 151)
"""December to February."""
PLACES = {  # latitude, longitude, elevation m, UTC offset h
    "Golden": (39.74, -105.18, 1829.0, -7.0),
    "Dulles": (38.95, -77.45, 95.0, -5.0),
    "Chicago": (41.98, -87.92, 201.0, -6.0),
    "Northway": (62.97, -141.93, 522.0, -9.0),
    "Shasta": (41.33, -122.33, 1077.0, -8.0),
}

CONSTRUCTIONS = {
    ("Brick 220",): "solid brick 220 mm",
    ("Concrete 200",): "concrete 200 mm",
    ("Timber 20",): "timber board 20 mm",
    ("Metal",): "metal sheet",
    ("EPS 50",): "50 mm rigid foam",
    ("EPS 100",): "100 mm rigid foam",
    ("EPS 100", "Concrete 100"): "100 mm rigid foam",
    ("Tiles", "Felt and boards"): "tiled roof without insulation",
    ("Timber 20", "Wool 90"): "insulated stud wall 90 mm",
    ("Felt and boards", "Wool 90"): "insulated roof 100 mm mineral wool",
    ("Felt and boards",): "timber board 20 mm",
    ("Concrete 100",): "concrete floor on soil",
    ("Soil 50",): "soil floor",
}
"""What a grower would call each."""


@dataclass(frozen=True)
class Weather:
    """A typical winter and its ground."""

    winters: Winters
    ground: Ground


@cache
def weather(place: str) -> Weather:
    """The typical year from October to May."""
    air, sun = read_epw_columns(weather_file(place))
    first = 24 * (STARTS - date(2006, 1, 1)).days + NOON_H
    hours = (first + np.arange(24 * ((ENDS - STARTS).days + 1))) % air.size
    no_snow = np.zeros((1, hours.size // 24))
    winters = Winters(air[None, hours], sun[None, hours], no_snow, ("typical",), place)
    return Weather(winters, ground_from_weather(by_day(air).mean(axis=-1), np.arange(1.0, 366.0)))


def site(place: str) -> Site:
    """The box's place; prices do not matter here."""
    latitude, longitude, elevation_m, utc_offset_h = PLACES[place]
    return Site(
        name=place,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=elevation_m,
        utc_offset_h=utc_offset_h,
        starts=STARTS,
        ends=ENDS,
        design_min_c=-22.0,
        ground=weather(place).ground,
        house_c=18.0,
        summer_place="garden/bench",
        currency="USD",
        money_per_kwh={Carrier.ELECTRICITY: 0.2},
        breakers_w={},
    )


def described(box: Box) -> dict[str, Any]:
    """``[shelter.envelope]`` as a grower would write it: constructions by name, no estimates."""
    surfaces = []
    for side in (*SIDES, "Roof", "Floor"):
        face = box.face(side)
        table: dict[str, Any] = {"name": side, "area_m2": box.area_m2(side)}
        if face.glazing:
            table["construction"] = face.glazing
        elif side == "Floor" and len(face.layers) > 1:
            table["u_w_m2k"] = 0.5
        elif face.towards == "ground" and side != "Floor":
            table["construction"] = "wall below ground"
        elif face.towards == "house":
            table["construction"] = "interior brick wall"
        else:
            table["construction"] = CONSTRUCTIONS[face.layers]
        table["towards"] = face.towards
        if side == "Roof" or (side == "Floor" and face.towards == "outdoors"):
            table["slope_deg"] = box.roof_slope_deg if side == "Roof" else 90.0
            table["faces"] = "south" if box.roof_slope_deg > 0 else None
        elif side != "Floor":
            table["faces"] = side.lower()
        table = {key: value for key, value in table.items() if value is not None}
        surfaces.append(table)
    written: dict[str, Any] = {
        "volume_m3": box.volume_m3,
        "air_changes_per_h": box.air_changes_per_h,
        "surface": surfaces,
    }
    if len(box.floor.layers) > 1:
        # A slab over insulation: docs/files.md tells to count it.
        written["heat_capacity_kj_k"] = 200 * box.floor_m2
    if box.vent_above_c is not None:
        written |= {
            "vent_above_c": box.vent_above_c,
            "vent_air_changes_per_h": box.vent_air_changes_per_h,
        }
    return written


def ours(box: Box) -> tuple[FloatArray, FloatArray]:
    """Our air (mean over the hour, as EnergyPlus reports it) and heat, ``(hour,)``."""
    findings = Findings()
    table = parse(EnvelopeTable, described(box), findings.at("shelters.toml"))
    findings.raise_if_any()
    envelope = table.envelope(None)
    steps = (box.power_w,) if box.power_w and box.hold_c is None else ()
    holds = () if box.hold_c is None else (box.hold_c,)
    heater = Heater("heater", Carrier.ELECTRICITY, 1.0, box.power_w, steps, holds)
    heaters = (heater,) if box.power_w else ()
    shelter = Shelter("box", "box", (), envelope=envelope, heaters=heaters)
    season = Season(site(box.weather), weather(box.weather).winters, {}, (), (shelter,))
    model = shelter_model(shelter, season.site, box.pot_litres)
    assert model is not None
    air, heat = run(
        model, surroundings(season), heater_settings(shelter, season.site.money_per_kwh)
    )
    air, heat = air[-1, 0], heat[-1, 0]
    return (air + np.concatenate((air[:1], air[:-1]))) / 2, heat


def energyplus(box: Box, folder: Path) -> BoxHours:
    """EnergyPlus's hours from noon of the first day to noon after the last."""
    hours = run_energyplus(box, folder)
    part = slice(NOON_H, -NOON_H)
    return BoxHours(
        hours.air_c[part], hours.heat_w[part], hours.outdoor_c[part], hours.transmitted_w[part]
    )


@dataclass(frozen=True)
class Beside:
    """Ours and EnergyPlus's."""

    coldest_c: tuple[float, float]
    """Ours, EnergyPlus."""
    ten_coldest_k: float
    """Mean of ours minus EnergyPlus on its ten coldest nights, K."""
    warmest_miss_k: float
    """Most that one of them is too warm, K."""
    minima_rms_k: float
    heat_kwh: tuple[float, float]
    chill_h: tuple[float, float]
    """Hours from 0 to 7.2 degC."""
    winter_mean_c: tuple[float, float]
    """December to February."""


def beside(air: FloatArray, heat: FloatArray, reference: BoxHours) -> Beside:
    """Compare hours."""
    low, its_low = by_day(air).min(axis=-1), by_day(reference.air_c).min(axis=-1)
    miss = (low - its_low)[np.argsort(its_low)[:10]]

    def pair(of: Any) -> tuple[float, float]:
        return float(of(air)), float(of(reference.air_c))

    return Beside(
        coldest_c=pair(np.min),
        ten_coldest_k=float(miss.mean()),
        warmest_miss_k=float(miss.max()),
        minima_rms_k=float(np.sqrt(((low - its_low) ** 2).mean())),
        heat_kwh=(float(heat.sum() / 1000), float(reference.heat_w.sum() / 1000)),
        chill_h=pair(lambda a: chill_hours_weight(a).sum()),
        winter_mean_c=pair(lambda a: by_day(a).mean(axis=-1)[WINTER].mean()),
    )


def available(boxes: Iterable[Box]) -> list[Box]:
    """Those whose weather is installed."""

    def there(box: Box) -> bool:
        try:
            weather_file(box.weather)
        except FileNotFoundError:
            return False
        return True

    return [box for box in boxes if there(box)]


HEAD = (
    "| box | coldest, ours / E+ | ten coldest: mean, most | minima rms | heat kWh, ours / E+ "
    "| chill h, ours / E+ | Dec-Feb mean, ours / E+ |"
)


def row(box: Box, found: Beside) -> str:
    """A line of the table."""
    heat = ""
    if found.heat_kwh[1] > 0:
        ratio = found.heat_kwh[0] / found.heat_kwh[1]
        heat = f"{found.heat_kwh[0]:.0f} / {found.heat_kwh[1]:.0f} ({ratio:.2f})"
    return (
        f"| {box.name}, {box.weather} | {found.coldest_c[0]:.1f} / {found.coldest_c[1]:.1f} "
        f"| {found.ten_coldest_k:+.1f}, {found.warmest_miss_k:+.1f} K "
        f"| {found.minima_rms_k:.1f} K | {heat} "
        f"| {found.chill_h[0]:.0f} / {found.chill_h[1]:.0f} "
        f"| {found.winter_mean_c[0]:.1f} / {found.winter_mean_c[1]:.1f} |"
    )
