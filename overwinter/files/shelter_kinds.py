"""Kinds of shelter from their outside measures and what they are made of, written as TOML.

Everything that follows is written out with its range and may be overridden; the figures behind it
are in ``data/shelter_kinds.csv`` and ``data/constructions.csv``, each with its source.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from math import hypot, pi, sqrt
from pathlib import Path

from overwinter.files.csv_text import packaged, packaged_rows
from overwinter.files.envelope import constructions
from overwinter.files.findings import closest
from overwinter.files.outputs import check_writable, write
from overwinter.files.quantities import AREA, COVER, ROOM, TEMPERATURE, VOLUME, Unit
from overwinter.model.site import CONTINUOUS_SHARE
from overwinter.problems import UserError

EAVES_SHARE = 0.75
"""Height of the eaves over that of the ridge, and of a lean-to's or frame's low side over its high
one: a judgement."""
LAMP_UMOL_J = 2.0
"""Photons for each joule that a lamp draws: tubes 1.0, present LEDs up to 2.8; from memory."""
LAMP_REACHES = 0.6
"""Share of them that fall on the place: a judgement."""
SECONDS_PER_H = 3600
ROOM_LIGHT = {"heated room": 0.1, "window sill": 0.35}
"""Share of the outdoor light: a sill sees half the sky through double glass (0.5 x 0.77, less
frame), a room behind it a tenth; judgements."""
WARMEST_OUTDOORS_C = 30.0


@dataclass(frozen=True, slots=True)
class Kind:
    """A row of the table of kinds; air changes an hour as least, usual and most."""

    name: str
    shape: str
    made_of: str
    roof: str
    floor: str
    back: str
    air_changes: tuple[str, str, str]
    vent_c: str
    source: str
    also: tuple[str, ...]
    """What else people call it, in several languages."""


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by name."""
    return {
        row["kind"]: Kind(
            name=row["kind"],
            shape=row["shape"],
            made_of=row["made_of"],
            roof=row["roof"],
            floor=row["floor"],
            back=row["back"],
            air_changes=(row["least_ach"], row["usual_ach"], row["most_ach"]),
            vent_c=row["vent_c"],
            source=row["source"],
            also=tuple(row["also"].split("; ")),
        )
        for row in packaged_rows("shelter_kinds.csv")
    }


def kind_named(answer: str) -> str | None:
    """The kind that is meant, however it is called; empty for an empty answer."""
    if not answer:
        return ""
    called = {name: kind.name for kind in kinds().values() for name in (kind.name, *kind.also)}
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


@dataclass
class Geometry:
    """Volume (m3) and surfaces of a shape."""

    volume_m3: float
    faces: list[Face] = field(default_factory=list)


def geometry(one: Described) -> Geometry:
    """Surfaces from outside measures; height is that of the highest point inside."""
    kind = kinds()[one.kind]
    cover = one.made_of or kind.made_of
    length, width, high = one.length_m, one.width_m, one.height_m
    low = EAVES_SHARE * high
    floor_to = "outdoors" if kind.shape == "box" and "floor" not in kind.floor else "ground"
    floor = Face("floor", length * width, kind.floor, floor_to)
    roof = kind.roof
    if one.made_of and constructions()[cover].transmission is not None and kind.shape != "frame":
        roof = cover
    if kind.shape == "hoop":
        # Half an ellipse (Ramanujan's length), the ends half of one each.
        a, b = width / 2, high
        arc = pi * (3 * (a + b) - sqrt((3 * a + b) * (a + 3 * b))) / 2
        end = pi * a * b / 2
        return Geometry(end * length, [Face("film", arc * length + 2 * end, cover), floor])
    if kind.shape == "gable":
        slope = 2 * length * hypot(width / 2, high - low)
        walls = 2 * (length + width) * low + width * (high - low)
        faces = [Face("walls", walls, cover), Face("roof", slope, roof), floor]
        return Geometry(length * width * (low + high) / 2, faces)
    if kind.shape in ("lean-to", "frame"):
        slope = length * hypot(width, high - low)
        walls = length * low + width * (low + high)
        faces = [Face("roof", slope, roof), floor]
        if kind.back:
            faces.append(Face("wall to the house", length * high, kind.back, "house"))
        else:
            walls += length * high
        return Geometry(length * width * (low + high) / 2, [Face("walls", walls, cover), *faces])
    return _box(one, kind, cover, roof, floor)


def _box(one: Described, kind: Kind, cover: str, roof: str, floor: Face) -> Geometry:
    """Four upright walls under a flat lid; below ground, or with a long wall to the house."""
    length, width, high = one.length_m, one.width_m, one.height_m
    below = kind.shape == "below"
    walls = 2 * (length + width) * high
    faces = [
        Face("ceiling" if below else "roof", length * width, roof, "house" if below else "outdoors")
    ]
    if kind.back:
        walls -= length * high
        faces.append(Face("wall to the house", length * high, kind.back, "house"))
    faces.insert(0, Face("walls", walls, cover, "ground" if below else "outdoors"))
    return Geometry(length * width * high, [*faces, floor])


_ROOM, _TEMPERATURE = (ROOM, "m", "ft"), (TEMPERATURE, "c", "f")
WRITTEN: Mapping[str, tuple[Mapping[str, Unit], str, str]] = {
    **dict.fromkeys(("width", "depth", "headroom", "elevation"), _ROOM),
    "cover": (COVER, "cm", "in"),
    "volume": (VOLUME, "m3", "ft3"),
    "area": (AREA, "m2", "ft2"),
}
"""Units in which a measure is written to a metric and to an American grower; others are degrees."""


def measure(stem: str, value_si: float, us: bool) -> str:
    """A key with its unit and its value, ``width_ft = 6.5``."""
    units, metric, american = WRITTEN.get(stem, _TEMPERATURE)
    suffix = american if us else metric
    value = units[suffix].from_si(value_si)
    return f"{stem}_{suffix} = {value + 0.0:{'.0f' if abs(value) >= 100 else '.3g'}}"


def lamp_mol_m2_d(watts: float, hours: float, area_m2: float) -> float:
    """Daily light of lamps on an area, mol/(m2 d)."""
    return watts * LAMP_UMOL_J * 1e-6 * SECONDS_PER_H * hours * LAMP_REACHES / max(area_m2, 0.25)


def shelter_toml(one: Described, coldest_outdoors_c: float, us: bool = False) -> str:
    """``[[shelter]]`` with all that follows from the description, each figure with its range."""
    kind = kinds()[one.kind]
    lines = [f"# {one.kind}: {kind.source}", "[[shelter]]", f'id = "{one.id}"', _name(one.name)]
    if one.lamp_w:
        area = sum(spot.width_m * spot.depth_m for spot in one.spots)
        light = lamp_mol_m2_d(one.lamp_w, one.lamp_h, area)
        lines.append(
            f"lamp_mol_m2_d = {light:.1f}  # {one.lamp_w:g} W for {one.lamp_h:g} h over {area:.1f}"
            f" m2; from {light / 2:.1f} (tubes) to {light * 1.4:.1f} (the best LEDs)"
        )
    if kind.shape == "room":
        lines += [
            f"transmission = {ROOM_LIGHT[one.kind]}  # of the outdoor light; half to twice it",
            "",
            "  [shelter.thermometer]",
            f"  {measure('coldest', one.coldest_c, us)}",
            f"  {measure('warmest', one.warmest_c, us)}",
            f"  {measure('outdoor_at_coldest', coldest_outdoors_c, us)}",
            f"  {measure('outdoor_at_warmest', WARMEST_OUTDOORS_C, us)}",
            "  smoothing_h = 48",
        ]
    else:
        lines += _envelope(one, kind, us)
    return "\n".join([*lines, *_heater(one, us), *(_place(spot, us) for spot in one.spots), ""])


def _envelope(one: Described, kind: Kind, us: bool) -> list[str]:
    made = geometry(one)
    least, usual, most = kind.air_changes
    lines = [
        "# Light, mass and sun follow from what is below; transmission, heat_capacity_kj_k and",
        "# solar_aperture_m2 may be written where you know better (docs/files.md).",
        "",
        "  [shelter.envelope]",
        f"  {measure('volume', made.volume_m3, us)}",
        f"  air_changes_per_h = {usual}  # {least} tight to {most} leaky",
    ]
    if kind.vent_c:
        vent = measure("vent_above", float(kind.vent_c), us)
        lines.append(f"  {vent}  # opened by you or by itself above this")
    for face in made.faces:
        known = constructions()[face.construction]
        towards = "" if face.towards == "outdoors" else f'\n    towards = "{face.towards}"'
        lines.append(
            f'\n    [[shelter.envelope.surface]]\n    name = "{face.name}"\n'
            f"    {measure('area', face.area_m2, us)}\n"
            f'    construction = "{face.construction}"  # U {known.u_w_m2k:g} W/(m2 K), from'
            f" {known.u_least:g} to {known.u_most:g}{towards}"
        )
    return lines


def _heater(one: Described, us: bool) -> list[str]:
    if not one.heater_w:
        return []
    lines = [
        "",
        "  [[shelter.heater]]",
        '  name = "heater"',
        f'  carrier = "{one.carrier}"',
        f"  power_w = {one.heater_w:g}",
    ]
    unit = TEMPERATURE["f" if us else "c"]
    holds = (
        f"hold_{'f' if us else 'c'} = [{', '.join(f'{unit.from_si(t):.3g}' for t in one.hold_c)}]"
    )
    lines.append(f"  {holds}" if one.hold_c else f"  steps_w = [{one.heater_w:g}]")
    if one.circuit.name:
        lines.append(f'  breaker = "{one.circuit.name}"')
    return lines if one.vented else [*lines, "  vented = false"]


def _place(spot: Spot, us: bool) -> str:
    lines = [
        "",
        "  [[shelter.place]]",
        f'  id = "{identifier(spot.name)}"',
        f"  {_name(spot.name)}",
        f'  kind = "{spot.kind}"',
        f"  {measure('width', spot.width_m, us)}",
        f"  {measure('depth', spot.depth_m, us)}",
    ]
    if spot.headroom_m is not None:
        lines.append(f"  {measure('headroom', spot.headroom_m, us)}")
    if spot.cover_m is not None:
        lines.append(f"  {measure('cover', spot.cover_m, us)}  # over the highest roots")
    return "\n".join(lines)


def _name(name: str) -> str:
    """A name as TOML text."""
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'name = "{escaped}"'


def garden_toml(spots: tuple[Spot, ...], us: bool = False) -> str:
    """The open garden with its bench, ground and bed."""
    head = ["[[shelter]]", 'id = "garden"', 'name = "Garden"', "open_air = true"]
    return "\n".join([*head, *(_place(spot, us) for spot in spots), ""])


NAMES = ("site.toml", "shelters.toml", "trees.csv", "species.csv", "README.md")


def starter_files() -> Mapping[str, bytes]:
    """Content of each file of the starter folder, by name."""
    return {name: template(name).encode("utf-8") for name in NAMES}


def template(name: str) -> str:
    """Text of a file that is filled in with a grower's answers."""
    return packaged(f"starter/{name}")


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write the starter files into a new or existing folder, over nothing.

    Raises ``UserError``: One of the files is there already, or the folder can't be made; nothing is
    written then.
    """
    files = starter_files()
    if folder.exists():
        for name in files:
            check_writable(folder / name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder}: cannot be made ({error.strerror}).") from error
    for name, content in files.items():
        write(folder / name, content)
    return tuple(folder / name for name in files)
