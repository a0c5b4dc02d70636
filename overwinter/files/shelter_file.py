"""shelters.toml: shelters, their envelopes or thermometers, heaters, and places."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from overwinter.files.csv_text import read_csv
from overwinter.files.envelope import read_envelope
from overwinter.files.findings import Findings, KeyGuess, did_you_mean
from overwinter.files.pydantic_problems import Where, known_fields, parse, unknown_keys
from overwinter.files.schemas_shelter import (
    HeaterTable,
    PlaceTable,
    ReadingRow,
    ShelterTable,
    ThermometerTable,
)
from overwinter.files.schemas_site import KnownHeater, KnownShelter, KnownShelters
from overwinter.files.tables import parse_rows
from overwinter.files.toml_file import SHELTERS, read_toml, sub_table, sub_tables
from overwinter.model.shelter import (
    Carrier,
    Heater,
    Place,
    PlaceKind,
    Readings,
    Shelter,
    Thermometer,
)
from overwinter.shelters.fit import LEAST_DAYS

EFFICIENCY = {
    Carrier.ELECTRICITY: 1.0,
    Carrier.NATURAL_GAS: 0.8,
    Carrier.PROPANE: 0.8,
    Carrier.HEATING_OIL: 0.8,
    Carrier.KEROSENE: 0.8,
}
"""Heat delivered per energy bought: resistance heat by definition; vented burners 0.78 to 0.82,
from memory, unverified."""
STEP_TOLERANCE = 1.001


def read_heater(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> Heater | None:
    """Read one heater table; None when something in it is wrong."""
    before = len(findings.problems)
    table = parse(HeaterTable, written, Where(file, dotted, cells=False), findings)
    _check_heater(known_fields(HeaterTable, written), table is not None, file, dotted, findings)
    if table is None or len(findings.problems) > before:
        return None
    efficiency = table.efficiency
    if efficiency is None:
        efficiency = EFFICIENCY[table.carrier]
        if not table.vented:
            efficiency = 1.0
    if not table.vented and table.carrier is not Carrier.ELECTRICITY:
        findings.warn(
            f"[{dotted}] burns {table.carrier.value} without a flue: its fumes hold carbon"
            " monoxide and water and can kill people and plants. Fit an alarm, give it fresh air,"
            " and ask a licensed person."
        )
    return Heater(
        name=table.name,
        carrier=table.carrier,
        efficiency=efficiency,
        power_w=table.power_w,
        steps_w=tuple(sorted(set(table.steps_w))),
        hold_c=tuple(sorted(set(table.hold_c))),
        breaker=table.breaker,
        vented=table.vented,
    )


def known_heater(written: dict[str, Any], dotted: str) -> KnownHeater:
    """What of a heater table is right."""
    known = known_fields(HeaterTable, written)
    name = str(known.get("name", dotted.rpartition(".")[2]))
    return KnownHeater(dotted, name, known.get("carrier"), known.get("breaker"))


def _check_heater(
    known: Mapping[str, Any], whole: bool, file: str, dotted: str, findings: Findings
) -> None:
    """Checks between keys; that there is no setting can be told only of a ``whole`` table."""
    steps_w, power_w = known.get("steps_w", ()), known.get("power_w", math.inf)
    if whole and not steps_w and not known.get("hold_c"):
        findings.at(file, dotted).problem(
            "neither steps nor hold temperatures",
            "steps_w (heat of each fixed step) or hold_c (temperatures its thermostat may keep)",
            "Write for example hold_c = [2, 5, 8], or steps_w = [1000] for a plain heater.",
        )
    if steps_w and max(steps_w) > power_w * STEP_TOLERANCE:
        findings.at(file, dotted, "steps_w").problem(
            f"a step of {max(steps_w):g} W", f"at most its full power of {power_w:g} W"
        )
    efficiency = known.get("efficiency") or 0.0
    if known.get("carrier", Carrier.ELECTRICITY) is not Carrier.ELECTRICITY and efficiency > 1:
        findings.at(file, dotted, "efficiency").problem(
            f"'{efficiency:g}'",
            "at most 1 for a burner (heat delivered per energy bought)",
            "A percentage is written as a share: 80 % is 0.8.",
        )


def read_thermometer(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> Thermometer | None:
    """``[shelter.thermometer]`` of a shelter; None when something in it is wrong."""
    dotted = f"{dotted}.thermometer"
    table = parse(ThermometerTable, written, Where(file, dotted, cells=False), findings)
    known = known_fields(ThermometerTable, written)
    for column, cold, warm in (
        ("coldest", "coldest_c", "warmest_c"),
        ("outdoor_at_coldest", "outdoor_at_coldest_c", "outdoor_at_warmest_c"),
    ):
        if {cold, warm} <= set(known) and known[cold] >= known[warm]:
            findings.at(file, dotted, column).problem(
                "a coldest reading not below the warmest",
                "two readings that differ, the coldest below",
                "Are the two the wrong way round?",
            )
    return None if table is None else Thermometer(**table.model_dump())


def read_readings(path: Path, findings: Findings) -> Readings | None:
    """A file of daily readings; None when it could not be taken apart."""
    table = read_csv(path, findings, ReadingRow)
    if table is None:
        return None
    numbered = parse_rows(table, ReadingRow, findings)
    rows = [row for _, row in sorted(numbered, key=lambda pair: pair[1].date)]
    for number, row in numbered:
        if row.min_c > row.max_c or row.outdoor_min_c > row.outdoor_max_c:
            findings.at(path.name, number, "min, max").problem(
                "a minimum above its maximum",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )
    findings.repeats(path.name, [row.date.isoformat() for row in rows], "date")
    if len(table.rows) < LEAST_DAYS:
        findings.at(path.name).problem(
            f"{len(table.rows)} days of readings", f"at least {LEAST_DAYS} days, better three weeks"
        )
    return Readings(
        dates=tuple(row.date for row in rows),
        min_c=tuple(row.min_c for row in rows),
        max_c=tuple(row.max_c for row in rows),
        outdoor_min_c=tuple(row.outdoor_min_c for row in rows),
        outdoor_max_c=tuple(row.outdoor_max_c for row in rows),
    )


T = TypeVar("T")

EXPOSURE = {
    PlaceKind.BENCH: 0.05,
    PlaceKind.SHELF: 0.0,
    PlaceKind.FLOOR: 0.5,
    PlaceKind.GROUND: 1.0,
    PlaceKind.SUNK: 1.0,
}
"""Rodent exposure where none is given. That pots on the ground are exposed to mice and benches
hardly: common practice, no source; the figures are ours."""
USUAL_COVER_M = 0.10
"""Over the highest roots of a sunk pot where none is given: a judgement."""
DESCRIPTIONS = ("open_air = true", "[shelter.envelope]", "[shelter.thermometer]", "readings")


@dataclass(frozen=True)
class ShelterFile:
    """What shelters.toml says."""

    shelters: tuple[Shelter, ...] = ()
    """Those without mistakes."""
    known: KnownShelters = field(default_factory=KnownShelters)
    complete: bool = False
    """Whether there is no mistake in the file."""


def read_shelters(path: Path, findings: Findings) -> ShelterFile:
    """Read shelters.toml; shelters with mistakes are reported, and known as far as may be."""
    before = len(findings.problems)
    written = read_toml(path, findings)
    if written is None:
        return ShelterFile()
    tables = sub_tables(written, "shelter", path.name, "shelter", findings)
    for name in written:
        findings.at(path.name, name).problem(
            "an unknown table or key", "[[shelter]] tables only", did_you_mean(name, ["shelter"])
        )
    if not tables and not written:
        findings.at(path.name).problem("no shelter", "at least one [[shelter]]")
    known = [_known(number, table) for number, table in enumerate(tables, 1)]
    made = [_shelter(path, number, table, findings) for number, table in enumerate(tables, 1)]
    found = [shelter for shelter, _ in known]
    ids = [shelter.id for shelter in found]
    findings.repeats(path.name, ids, "shelter")
    # Of two of one name, one may have another.
    once = len(set(ids)) == len(ids)
    all_named = bool(tables) and once and not written and all(named for _, named in known)
    return ShelterFile(
        shelters=tuple(shelter for shelter in made if shelter is not None),
        known=KnownShelters(tuple(found), all_named),
        complete=len(findings.problems) == before,
    )


def _known(number: int, table: Mapping[str, Any]) -> tuple[KnownShelter, bool]:
    """A shelter as far as it can be read, and whether all its names can; reports nothing."""
    aside = Findings()
    head = dict(table)
    parts = {key: sub_tables(head, key, "", "", aside) for key in ShelterTable.parts}
    known = known_fields(ShelterTable, head)
    shelter_id = str(known.get("id", table.get("id", number)))
    dotted = f"shelter.{table.get('id', number)}"
    ids = [known_fields(PlaceTable, place).get("id") for place in parts["place"]]
    unknown = unknown_keys(ShelterTable, head)
    described = "readings" in head or parts["envelope"] or parts["thermometer"]
    swallowed = any(isinstance(head[key], (dict, list)) for key in unknown)
    heaters = tuple(
        known_heater(heater, f"{dotted}.heater.{_label(heater, n)}")
        for n, heater in enumerate(parts["heater"], 1)
    )
    shelter = KnownShelter(
        id=shelter_id,
        open_air=_open_air(head, known, bool(unknown) or not described),
        opens=known.get("opens"),
        closes=known.get("closes"),
        places=tuple(f"{shelter_id}/{place}" for place in ids if place is not None),
        heaters=heaters,
    )
    once = len(set(ids)) == len(ids)
    named = "id" in known and bool(ids) and once and None not in ids and not swallowed
    return shelter, named and not aside.problems


def _open_air(head: Mapping[str, Any], known: Mapping[str, Any], doubtful: bool) -> bool | None:
    """Whether a shelter is the open air; None where it is doubtful, as a slip may hide it."""
    if "open_air" in known:
        return bool(known["open_air"])
    return None if doubtful or "open_air" in head else False


def _label(table: Mapping[str, Any], number: int) -> Any:
    """By what a sub-table is known in messages: its id, its name or its number."""
    return table.get("id", table.get("name", number))


def _shelter(path: Path, number: int, table: dict[str, Any], findings: Findings) -> Shelter | None:
    file, dotted = path.name, f"shelter.{table.get('id', number)}"
    before = len(findings.problems)
    envelope_table = sub_table(table, "envelope", file, dotted, findings)
    thermometer_table = sub_table(table, "thermometer", file, dotted, findings)
    heater_tables = sub_tables(table, "heater", file, dotted, findings)
    place_tables = sub_tables(table, "place", file, dotted, findings)
    formed = len(findings.problems) == before
    head = parse(ShelterTable, table, Where(file, dotted, cells=False), findings)
    known = known_fields(ShelterTable, table)
    shelter_id = str(known.get("id", table.get("id", number)))
    places = _each(place_tables, f"{dotted}.place", file, findings, _place_reader(shelter_id))
    heaters = _each(heater_tables, f"{dotted}.heater", file, findings, read_heater)
    findings.repeats(file, [place.id for place in places], "place")
    findings.repeats(file, [heater.name for heater in heaters], f"{dotted}.heater")
    transmission = known.get("transmission")
    envelope, through = None, None
    if envelope_table is not None:
        envelope, through = read_envelope(envelope_table, file, dotted, transmission, findings)
    thermometer = thermometer_table and read_thermometer(thermometer_table, file, dotted, findings)
    named = known.get("readings")
    readings = read_readings(path.parent / named, findings) if named else None
    given = (
        bool(known.get("open_air")),
        envelope_table is not None,
        thermometer_table is not None,
        "readings" in table,
    )
    # What was not understood may be the description, or the place, that seems to be missing.
    understood = "open_air" not in table or "open_air" in known
    certain = formed and understood and not unknown_keys(ShelterTable, table)
    _check_description(file, dotted, given, bool(heater_tables), certain, findings)
    if not place_tables and certain:
        findings.at(file, dotted, "place").problem("no place", "at least one [[shelter.place]]")
    if head is None or len(findings.problems) > before:
        return None
    return Shelter(
        id=head.id,
        name=head.name or head.id,
        places=tuple(places),
        opens=head.opens,
        closes=head.closes,
        open_air=head.open_air,
        envelope=envelope,
        thermometer=thermometer or None,
        readings=readings,
        heaters=tuple(heaters),
        transmission=_transmission(head, through, dotted, findings),
        lamp_mol_m2_d=head.lamp_mol_m2_d,
        note=head.note,
    )


def _transmission(
    head: ShelterTable, through: float | None, dotted: str, findings: Findings
) -> float:
    """The share of light that gets in: given, or of the glazing, or (unknown) none."""
    if head.transmission is not None:
        return head.transmission
    if head.open_air:
        return 1.0
    if through is None:
        findings.assume(
            f"[{dotted}] gives no transmission: taken as dark (0).",
            KeyGuess(SHELTERS, dotted, "transmission", 0.0),
        )
        return 0.0
    findings.assume(
        f"[{dotted}] gives no transmission: taken as {through:.2f} from its glazing, less frame"
        " and dirt, and how much of the floor it lights.",
        KeyGuess(SHELTERS, dotted, "transmission", round(through, 2)),
    )
    return through


def _each(
    tables: list[dict[str, Any]],
    dotted: str,
    file: str,
    findings: Findings,
    read: Callable[[dict[str, Any], str, str, Findings], T | None],
) -> list[T]:
    """Read a list of sub-tables, each under its id, name or number."""
    found = []
    for number, table in enumerate(tables, 1):
        item = read(table, file, f"{dotted}.{_label(table, number)}", findings)
        if item is not None:
            found.append(item)
    return found


def _place_reader(
    shelter_id: str,
) -> Callable[[dict[str, Any], str, str, Findings], Place | None]:
    def read(written: dict[str, Any], file: str, dotted: str, findings: Findings) -> Place | None:
        table = parse(PlaceTable, written, Where(file, dotted, cells=False), findings)
        known = known_fields(PlaceTable, written)
        kind = known.get("kind", PlaceKind.SUNK)
        if kind is not PlaceKind.SUNK and known.get("cover_m") is not None:
            findings.at(file, dotted, "cover").problem(
                f"a cover over pots of kind '{kind.value}'",
                'cover_cm (or its other units) with kind = "sunk" alone',
                "Leave it out, or sink the pots.",
            )
        if table is None:
            return None
        warmer_k = _warmer_k(table, file, dotted, findings)
        return _place(table, shelter_id, _cover_m(table, dotted, findings), warmer_k)

    return read


def _cover_m(table: PlaceTable, dotted: str, findings: Findings) -> float:
    """Depth of the cover over sunk roots; the grower's, for the roots live or die by it."""
    if table.kind is not PlaceKind.SUNK:
        return USUAL_COVER_M
    if table.cover_m is None:
        findings.assume(
            f"[{dotted}] gives no cover: the highest roots are taken to lie"
            f" {USUAL_COVER_M * 100:.0f} cm under soil, bark or leaves. Give cover_cm.",
            KeyGuess(SHELTERS, dotted, "cover_cm", 100 * USUAL_COVER_M),
        )
        return USUAL_COVER_M
    return table.cover_m


def _warmer_k(table: PlaceTable, file: str, dotted: str, findings: Findings) -> float:
    """How much warmer a corner is: as said, or by two thermometers read at the same times."""
    here, air = table.reads_c, table.shelter_reads_c
    if not here and not air:
        return table.warmer_k or 0.0
    if len(here) != len(air) or table.warmer_k is not None:
        also = " and warmer_k" if table.warmer_k is not None else ""
        findings.at(file, dotted, "reads").problem(
            f"{len(here)} readings here, {len(air)} of the shelter's air{also}",
            "as many of each, read at the same times, or warmer_k alone",
        )
        return 0.0
    return sum(a - b for a, b in zip(here, air, strict=True)) / len(here)


def _place(table: PlaceTable, shelter_id: str, cover_m: float, warmer_k: float) -> Place:
    unlimited = float("inf")
    exposure = table.rodent_exposure
    return Place(
        id=f"{shelter_id}/{table.id}",
        shelter_id=shelter_id,
        name=table.name or table.id,
        kind=table.kind,
        width_m=table.width_m,
        depth_m=table.depth_m,
        headroom_m=unlimited if table.headroom_m is None else table.headroom_m,
        load_limit_kg=unlimited if table.load_limit_kg is None else table.load_limit_kg,
        light_share=table.light_share,
        rodent_exposure=EXPOSURE[table.kind] if exposure is None else exposure,
        guarded=table.guarded,
        open_sides=frozenset(table.open_sides),
        glass_side=table.glass_side,
        cover_m=cover_m,
        warmer_k=warmer_k,
        sky_share=table.sky_share,
    )


def _check_description(
    file: str,
    dotted: str,
    given: tuple[bool, ...],
    heated: bool,
    certain: bool,
    findings: Findings,
) -> None:
    """A shelter is described once: open air, envelope, thermometer or readings.

    Unless it is ``certain`` that nothing was misspelt, only too many descriptions are a problem.
    """
    count = sum(given)
    if count > 1 or (certain and count == 0):
        named = [name for name, is_given in zip(DESCRIPTIONS, given, strict=True) if is_given]
        findings.at(file, dotted).problem(
            " and ".join(named) or "no description of its temperature",
            f"exactly one of {', '.join(DESCRIPTIONS)}",
        )
    if certain and heated and count == 1 and not given[1]:
        known_by = DESCRIPTIONS[given.index(True)]
        findings.at(file, f"{dotted}.heater").problem(
            f"a heater in a shelter described by {known_by}",
            "[shelter.envelope], from which the heat need is computed",
            f"Describe its envelope instead of {known_by}, or leave the heater out.",
        )
