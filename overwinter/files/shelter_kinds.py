"""Kinds of shelter from their outside measures and what they are made of, written as TOML.
Everything that follows is written out with its range and may be overridden; the figures behind it
are in ``data/shelter_kinds.csv`` and ``data/constructions.csv``, each with its source."""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from functools import cache
from math import hypot, pi, sqrt
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict

from overwinter.files.envelope import constructions
from overwinter.files.findings import closest
from overwinter.files.measures import AREA, CONDUCTANCE, COVER, ROOM, TEMPERATURE, VOLUME, Unit
from overwinter.files.outputs import check_writable, write
from overwinter.model.site import CONTINUOUS_SHARE
from overwinter.packaged import packaged, packaged_rows
from overwinter.problems import UserError

EAVES_SHARE = 0.75  # eaves over ridge, low over high side of lean-tos and frames: a judgement
LAMP_UMOL_J = 2.0  # photons a joule: tubes 1.0, present LEDs up to 2.8; from memory
LAMP_REACHES = 0.6  # share of them that fall on the place: a judgement
SECONDS_PER_H = 3600
ROOM_LIGHT = {"heated room": 0.1, "window sill": 0.35}
"""Share of the outdoor light: a sill sees half the sky through double glass (0.5 x 0.77, less
frame), a room behind it a tenth; judgements."""
WARMEST_OUTDOORS_C = 30.0
_ROOM, _TEMPERATURE = (ROOM, "m", "ft"), (TEMPERATURE, "c", "f")
WRITTEN: Mapping[str, tuple[Mapping[str, Unit], str, str]] = {
    **dict.fromkeys(("width", "depth", "headroom", "elevation"), _ROOM),
    "cover": (COVER, "cm", "in"),
    "volume": (VOLUME, "m3", "ft3"),
    "area": (AREA, "m2", "ft2"),
}
"""Units in which a measure is written to a metric and to an American grower; others are degrees."""
NAMES = ("site.toml", "shelters.toml", "trees.csv", "species.csv", "README.md")


class Kind(BaseModel):
    """A row of the table of kinds; air changes an hour as least, usual and most."""

    model_config = ConfigDict(frozen=True)
    kind: str
    shape: str
    made_of: str = ""
    roof: str = ""
    floor: str = ""
    back: str = ""
    least_ach: str = ""
    usual_ach: str = ""
    most_ach: str = ""
    vent_c: float | None = None
    also: str  # what else people call it, in several languages
    source: str


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by name."""
    return {row["kind"]: Kind.model_validate(row) for row in packaged_rows("shelter_kinds.csv")}


def kind_named(answer: str) -> str | None:
    """The kind that is meant, however it is called; empty for an empty answer."""
    if not answer:
        return ""
    called = {n: one.kind for one in kinds().values() for n in (one.kind, *one.also.split("; "))}
    near = closest(answer.casefold(), called, cutoff=0.85)
    return called[near] if near else None


@dataclass(frozen=True, slots=True)
class Spot:
    """A bench, shelf, floor, ground or bed, m."""

    name: str
    kind: str
    width_m: float
    depth_m: float
    headroom_m: float | None = None
    cover_m: float | None = None


@dataclass(frozen=True, slots=True)
class Circuit:
    """A breaker; without a name it is not known."""

    name: str = ""
    volts: float = 0.0
    amps: float = 0.0

    @property
    def carries_w(self) -> float:
        """What it may carry for hours, W; 0 where it is not known."""
        return CONTINUOUS_SHARE * self.volts * self.amps


@dataclass(frozen=True)
class Described:
    """A shelter as its grower describes it; lengths in m, power in W, temperatures in degC."""

    kind: str
    name: str
    spots: tuple[Spot, ...] = ()
    length_m: float = 0.0
    width_m: float = 0.0
    height_m: float = 0.0
    made_of: str = ""
    heater_w: float = 0.0
    hold_c: tuple[float, ...] = ()
    lamp_w: float = 0.0
    lamp_h: float = 0.0
    coldest_c: float = 0.0
    warmest_c: float = 0.0
    circuit: Circuit = Circuit()
    carrier: str = "electricity"
    vented: bool = True
    opens: date | None = None

    @property
    def id(self) -> str:
        """A short id from its name."""
        return identifier(self.name)


def identifier(name: str) -> str:
    """A name as an id: small letters, digits and hyphens."""
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-") or "shelter"


@dataclass(frozen=True, slots=True)
class Face:
    """One surface: name, area in m2, construction, what lies behind it."""

    name: str
    area_m2: float
    construction: str
    towards: str = "outdoors"


def geometry(one: Described) -> tuple[float, list[Face]]:
    """Volume (m3) and surfaces from outside measures; height is the highest inside."""
    kind = kinds()[one.kind]
    cover, roof = one.made_of or kind.made_of, kind.roof
    length, width, high = one.length_m, one.width_m, one.height_m
    low = EAVES_SHARE * high
    over_air = kind.shape == "box" and "floor" not in kind.floor
    floor = Face("floor", length * width, kind.floor, "outdoors" if over_air else "ground")
    if one.made_of and constructions()[cover].transmission is not None and kind.shape != "frame":
        roof = cover
    if kind.shape == "hoop":
        # Half an ellipse (Ramanujan's length), the ends half of one each.
        a, b = width / 2, high
        arc = pi * (3 * (a + b) - sqrt((3 * a + b) * (a + 3 * b))) / 2
        end = pi * a * b / 2
        return end * length, [Face("film", arc * length + 2 * end, cover), floor]
    if kind.shape == "gable":
        slope = 2 * length * hypot(width / 2, high - low)
        walls = 2 * (length + width) * low + width * (high - low)
        faces = [Face("walls", walls, cover), Face("roof", slope, roof), floor]
        return length * width * (low + high) / 2, faces
    # A long wall may be the house's.
    back = [Face("wall to the house", length * high, kind.back, "house")] if kind.back else []
    if kind.shape in ("lean-to", "frame"):
        slope = length * hypot(width, high - low)
        walls = length * low + width * (low + high) + (0 if back else length * high)
        faces = [Face("walls", walls, cover), Face("roof", slope, roof), floor, *back]
        return length * width * (low + high) / 2, faces
    # Four upright walls under a flat lid, perhaps below ground.
    below = kind.shape == "below"
    walls = 2 * (length + width) * high - (length * high if back else 0)
    lid = ("ceiling", length * width, roof, "house") if below else ("roof", length * width, roof)
    side = Face("walls", walls, cover, "ground" if below else "outdoors")
    return length * width * high, [side, Face(*lid), *back, floor]


def measure(stem: str, value_si: float, us: bool) -> str:
    """A key with its unit and its value, ``width_ft = 6.5``; a side of no round feet in inches, so
    that what is as wide as a bench fits it."""
    units, metric, american = WRITTEN.get(stem, _TEMPERATURE)
    suffix, side = american if us else metric, stem in ("width", "depth", "headroom")
    value = units[suffix].from_si(value_si)
    if side and suffix == "ft" and abs(value - round(value, 1)) > 1e-6:
        suffix, value = "in", units["in"].from_si(value_si)
    digits = ".4g" if side else ".0f" if abs(value) >= 100 else ".3g"
    return f"{stem}_{suffix} = {value + 0.0:{digits}}"


def lamp_mol_m2_d(watts: float, hours: float, area_m2: float) -> float:
    """Daily light of lamps on an area, mol/(m2 d)."""
    return watts * LAMP_UMOL_J * 1e-6 * SECONDS_PER_H * hours * LAMP_REACHES / max(area_m2, 0.25)


def shelter_toml(one: Described, coldest_outdoors_c: float, us: bool = False) -> str:
    """``[[shelter]]`` with all that follows from the description, each figure with its range."""
    kind = kinds()[one.kind]
    lines = [
        f"# {one.kind}: {kind.source}",
        "[[shelter]]",
        *_keys(us, id=one.id, name=one.name, opens=one.opens),
    ]
    if one.lamp_w:
        area = sum(spot.width_m * spot.depth_m for spot in one.spots)
        light = lamp_mol_m2_d(one.lamp_w, one.lamp_h, area)
        lines.append(
            f"lamp_mol_m2_d = {light:.1f}  # {one.lamp_w:g} W for {one.lamp_h:g} h over {area:.1f}"
            f" m2; from {light / 2:.1f} (tubes) to {light * 1.4:.1f} (the best LEDs)"
        )
    if one.warmest_c > one.coldest_c:
        lines.append(
            f"transmission = {ROOM_LIGHT.get(one.kind, 0)}  # of the outdoor light; half to twice"
        )
        lines += _table(
            "  [shelter.thermometer]",
            us,
            coldest_c=one.coldest_c,
            warmest_c=one.warmest_c,
            outdoor_at_coldest_c=coldest_outdoors_c,
            outdoor_at_warmest_c=WARMEST_OUTDOORS_C,
            smoothing_h=48,
        )
    else:
        lines += _envelope(one, kind, us)
    if one.heater_w:
        lines += _table(
            "  [[shelter.heater]]",
            us,
            name="heater",
            carrier=one.carrier,
            power_w=one.heater_w,
            hold_c=one.hold_c or None,
            steps_w=None if one.hold_c else (one.heater_w,),
            breaker=one.circuit.name or None,
            vented=None if one.vented else False,
        )
    return "\n".join([*lines, *_places(one.spots, us), ""])


def _envelope(one: Described, kind: Kind, us: bool) -> list[str]:
    volume_m3, faces = geometry(one)
    ranges = f"{kind.least_ach} tight to {kind.most_ach} leaky"
    lines = [
        "# Light, mass and sun follow from what is below; transmission, heat_capacity_kj_k and",
        "# solar_aperture_m2 may be written where you know better (docs/files.md).",
        *_table("  [shelter.envelope]", us, volume_m3=volume_m3),
        f"  air_changes_per_h = {kind.usual_ach}  # {ranges}",
    ]
    if kind.vent_c is not None:
        vent = measure("vent_above", kind.vent_c, us)
        lines.append(f"  {vent}  # opened by you or by itself above this")
    for face in faces:
        known = constructions()[face.construction]
        table = _table(
            "    [[shelter.envelope.surface]]",
            us,
            name=face.name,
            area_m2=face.area_m2,
            construction=face.construction,
            towards=None if face.towards == "outdoors" else face.towards,
        )
        unit = CONDUCTANCE["btu_h_ft2_f" if us else "w_m2k"]
        said = map(unit.from_si, (known.u_w_m2k, known.u_least, known.u_most))
        usual, least, most = (f"{one:.2g}" for one in said)
        table[4] += f"  # U {usual} {unit.word}, from {least} to {most}"
        lines += table
    return lines


def _places(spots: tuple[Spot, ...], us: bool) -> list[str]:
    lines = []
    for spot in spots:
        lines += _table("  [[shelter.place]]", us, id=identifier(spot.name), **asdict(spot))
        if spot.cover_m is not None:
            lines[-1] += "  # over the highest roots"
    return lines


def _table(head: str, us: bool, **keys: Any) -> list[str]:
    """A table and its keys, as far in as its head, after a blank line."""
    margin = " " * (len(head) - len(head.lstrip()))
    return ["", head, *(margin + line for line in _keys(us, **keys))]


def _keys(us: bool, **keys: Any) -> list[str]:
    """Keys in SI as lines of TOML in the grower's units; none of a key that is None."""
    lines = []
    for key, value in keys.items():
        stem, _, unit = key.rpartition("_")
        if isinstance(value, bool):
            lines.append(f"{key} = {str(value).lower()}")
        elif isinstance(value, date):
            lines.append(f"{key} = {value}")
        elif isinstance(value, str):
            lines.append(f"{key} = {json.dumps(value, ensure_ascii=False)}")
        elif isinstance(value, tuple):
            in_f = us and unit == "c"
            shown = [f"{TEMPERATURE['f'].from_si(v) if in_f else v:.4g}" for v in value]
            lines.append(f"{f'{stem}_f' if in_f else key} = [{', '.join(shown)}]")
        elif value is not None:
            plain = unit not in ("m", "m2", "m3", "c")
            lines.append(f"{key} = {value:g}" if plain else measure(stem, value, us))
    return lines


def garden_toml(spots: tuple[Spot, ...], us: bool = False) -> str:
    """The open garden with its bench, ground and bed."""
    head = ["[[shelter]]", 'id = "garden"', 'name = "Garden"', "open_air = true"]
    return "\n".join([*head, *_places(spots, us), ""])


def template(name: str) -> str:
    """Text of a file of the starter folder, or of one that is filled in with answers."""
    return packaged(f"starter/{name}")


def starter_files() -> Mapping[str, bytes]:
    """Content of each file of the starter folder, by name."""
    return {name: template(name).encode("utf-8") for name in NAMES}


def write_folder(folder: Path, files: Mapping[str, bytes]) -> list[str]:
    """Write files by name into a new or existing folder, over nothing; their names, sorted."""
    if folder.exists():
        for name in files:
            check_writable(folder / name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder}: cannot be made ({error.strerror}).") from error
    for name, content in files.items():
        write(folder / name, content)
    return sorted(files)
