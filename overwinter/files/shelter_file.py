"""shelters.toml: shelters, their envelopes or thermometers, heaters, and places."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from overwinter.files.csv_text import read_csv
from overwinter.files.envelope import read_envelope
from overwinter.files.findings import Findings, KeyGuess, Where, did_you_mean
from overwinter.files.pydantic_problems import known_fields, parse, unknown_keys
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

BURNER_EFFICIENCY = 0.8
"""Heat delivered per energy bought where none is given: vented burners 0.78 to 0.82, from memory,
unverified. Resistance heat gives all by definition, and so does a burner without a flue."""
STEP_TOLERANCE = 1.001
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
    where = findings.at(path.name)
    tables = sub_tables(written, "shelter", where.under("shelter"))
    for name in written:
        where.under(name).problem(
            "an unknown table or key", "[[shelter]] tables only", did_you_mean(name, ["shelter"])
        )
    if not tables and not written:
        where.problem("no shelter", "at least one [[shelter]]")
    read = [_shelter(table, path.parent, at) for table, at in _each(tables, where, "shelter")]
    known = tuple(one.known for one in read)
    ids = [shelter.id for shelter in known]
    findings.repeats(path.name, ids, "shelter")
    # Of two of one name, one may have another.
    once = len(set(ids)) == len(ids)
    all_named = bool(tables) and once and not written and all(one.all_named for one in read)
    return ShelterFile(
        shelters=tuple(one.shelter for one in read if one.shelter is not None),
        known=KnownShelters(known, all_named),
        complete=len(findings.problems) == before,
    )


def _each(
    tables: Sequence[dict[str, Any]], where: Where, key: str
) -> Iterator[tuple[dict[str, Any], Where]]:
    """Sub-tables, each with its place, under its id, name or number."""
    for number, table in enumerate(tables, 1):
        yield table, where.under(f"{key}.{table.get('id', table.get('name', number))}")


@dataclass(frozen=True)
class _Read:
    """A shelter, if there is no mistake in it, and what is known of it anyway."""

    shelter: Shelter | None
    known: KnownShelter
    all_named: bool
    """Whether the ids of the shelter and of all its places are known."""


def _shelter(table: dict[str, Any], folder: Path, where: Where) -> _Read:
    findings, before = where.findings, len(where.findings.problems)
    envelope_table = sub_table(table, "envelope", where)
    thermometer_table = sub_table(table, "thermometer", where)
    heater_tables = sub_tables(table, "heater", where)
    place_tables = sub_tables(table, "place", where)
    formed = len(findings.problems) == before
    head = parse(ShelterTable, table, where)
    known = known_fields(ShelterTable, table)
    shelter_id = str(known.get("id", str(where.row).removeprefix("shelter.")))
    made_places = [_place(one, shelter_id, at) for one, at in _each(place_tables, where, "place")]
    made_heaters = [read_heater(one, at) for one, at in _each(heater_tables, where, "heater")]
    places = [place for place in made_places if place is not None]
    heaters = [heater for heater in made_heaters if heater is not None]
    findings.repeats(where.file, [place.id for place in places], "place")
    findings.repeats(where.file, [heater.name for heater in heaters], f"{where.row}.heater")
    envelope, through = None, None
    if envelope_table is not None:
        given_light = known.get("transmission")
        envelope, through = read_envelope(envelope_table, given_light, where.under("envelope"))
    thermometer = None
    if thermometer_table is not None:
        thermometer = read_thermometer(thermometer_table, where.under("thermometer"))
    readings = read_readings(folder / known["readings"], findings) if "readings" in known else None
    given = (
        bool(known.get("open_air")),
        envelope_table is not None,
        thermometer_table is not None,
        "readings" in table,
    )
    unknown = unknown_keys(ShelterTable, table)
    # What was not understood may be the description, or the place, that seems to be missing.
    certain = formed and ("open_air" not in table or "open_air" in known) and not unknown
    _check_description(given, bool(heater_tables), certain, where)
    if not place_tables and certain:
        where.of("place").problem("no place", "at least one [[shelter.place]]")

    doubtful = bool(unknown) or not any(given[1:]) or "open_air" in table
    place_ids = [known_fields(PlaceTable, one).get("id") for one in place_tables]
    swallowed = any(isinstance(table[key], (dict, list)) for key in unknown)
    once = bool(place_ids) and len(set(place_ids)) == len(place_ids)
    found = KnownShelter(
        id=shelter_id,
        open_air=known.get("open_air", None if doubtful else False),
        opens=known.get("opens"),
        closes=known.get("closes"),
        places=tuple(f"{shelter_id}/{place}" for place in place_ids if place is not None),
        heaters=tuple(_known_heater(one, at) for one, at in _each(heater_tables, where, "heater")),
    )
    all_named = formed and "id" in known and once and None not in place_ids and not swallowed
    if head is None or len(findings.problems) > before:
        return _Read(None, found, all_named)
    shelter = Shelter(
        id=head.id,
        name=head.name or head.id,
        places=tuple(places),
        opens=head.opens,
        closes=head.closes,
        open_air=head.open_air,
        envelope=envelope,
        thermometer=thermometer,
        readings=readings,
        heaters=tuple(heaters),
        transmission=_transmission(head, through, where),
        lamp_mol_m2_d=head.lamp_mol_m2_d,
        note=head.note,
    )
    return _Read(shelter, found, all_named)


def _transmission(head: ShelterTable, through: float | None, where: Where) -> float:
    """The share of light that gets in: given, or of the glazing, or (unknown) none."""
    if head.transmission is not None:
        return head.transmission
    if head.open_air:
        return 1.0
    light, taken = 0.0, "taken as dark (0)."
    if through is not None:
        light = through
        taken = (
            f"taken as {through:.2f} from its glazing, less frame and dirt, and how much of the"
            " floor it lights."
        )
    where.findings.assume(
        f"[{where.row}] gives no transmission: {taken}",
        KeyGuess(SHELTERS, str(where.row), "transmission", round(light, 2)),
    )
    return light


def _check_description(given: tuple[bool, ...], heated: bool, certain: bool, where: Where) -> None:
    """A shelter is described once: open air, envelope, thermometer or readings.

    Unless it is ``certain`` that nothing was misspelt, only too many descriptions are a problem.
    """
    count = sum(given)
    if count > 1 or (certain and count == 0):
        named = [name for name, is_given in zip(DESCRIPTIONS, given, strict=True) if is_given]
        where.problem(
            " and ".join(named) or "no description of its temperature",
            f"exactly one of {', '.join(DESCRIPTIONS)}",
        )
    if certain and heated and count == 1 and not given[1]:
        known_by = DESCRIPTIONS[given.index(True)]
        where.under("heater").problem(
            f"a heater in a shelter described by {known_by}",
            "[shelter.envelope], from which the heat need is computed",
            f"Describe its envelope instead of {known_by}, or leave the heater out.",
        )


def read_heater(written: dict[str, Any], where: Where) -> Heater | None:
    """Read one heater table; None when something in it is wrong."""
    before = len(where.findings.problems)
    table = parse(HeaterTable, written, where)
    _check_heater(known_fields(HeaterTable, written), table is not None, where)
    if table is None or len(where.findings.problems) > before:
        return None
    electric = table.carrier is Carrier.ELECTRICITY
    if not table.vented and not electric:
        where.findings.warn(
            f"[{where.row}] burns {table.carrier.value} without a flue: its fumes hold carbon"
            " monoxide and water and can kill people and plants. Fit an alarm, give it fresh air,"
            " and ask a licensed person."
        )
    efficiency = table.efficiency
    if efficiency is None:
        efficiency = 1.0 if electric or not table.vented else BURNER_EFFICIENCY
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


def _known_heater(written: dict[str, Any], where: Where) -> KnownHeater:
    """What of a heater table is right."""
    known, dotted = known_fields(HeaterTable, written), str(where.row)
    name = str(known.get("name", dotted.rpartition(".")[2]))
    return KnownHeater(dotted, name, known.get("carrier"), known.get("breaker"))


def _check_heater(known: Mapping[str, Any], whole: bool, where: Where) -> None:
    """Checks between keys; that there is no setting can be told only of a ``whole`` table."""
    steps_w, power_w = known.get("steps_w", ()), known.get("power_w", math.inf)
    if whole and not steps_w and not known.get("hold_c"):
        where.problem(
            "neither steps nor hold temperatures",
            "steps_w (heat of each fixed step) or hold_c (temperatures its thermostat may keep)",
            "Write for example hold_c = [2, 5, 8], or steps_w = [1000] for a plain heater.",
        )
    if steps_w and max(steps_w) > power_w * STEP_TOLERANCE:
        where.of("steps_w").problem(
            f"a step of {max(steps_w):g} W", f"at most its full power of {power_w:g} W"
        )
    efficiency = known.get("efficiency") or 0.0
    if known.get("carrier", Carrier.ELECTRICITY) is not Carrier.ELECTRICITY and efficiency > 1:
        where.of("efficiency").problem(
            f"'{efficiency:g}'",
            "at most 1 for a burner (heat delivered per energy bought)",
            "A percentage is written as a share: 80 % is 0.8.",
        )


def read_thermometer(written: dict[str, Any], where: Where) -> Thermometer | None:
    """``[shelter.thermometer]`` of a shelter; None when something in it is wrong."""
    table = parse(ThermometerTable, written, where)
    known = known_fields(ThermometerTable, written)
    for column, cold, warm in (
        ("coldest", "coldest_c", "warmest_c"),
        ("outdoor_at_coldest", "outdoor_at_coldest_c", "outdoor_at_warmest_c"),
    ):
        if {cold, warm} <= set(known) and known[cold] >= known[warm]:
            where.of(column).problem(
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
    for number, row in numbered:
        if row.min_c > row.max_c or row.outdoor_min_c > row.outdoor_max_c:
            findings.at(path.name, number, "min, max").problem(
                "a minimum above its maximum",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )
    rows = sorted((row for _, row in numbered), key=lambda row: row.date)
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


def _place(written: dict[str, Any], shelter_id: str, where: Where) -> Place | None:
    table = parse(PlaceTable, written, where)
    known = known_fields(PlaceTable, written)
    kind = known.get("kind", PlaceKind.SUNK)
    if kind is not PlaceKind.SUNK and known.get("cover_m") is not None:
        where.of("cover").problem(
            f"a cover over pots of kind '{kind.value}'",
            'cover_cm (or its other units) with kind = "sunk" alone',
            "Leave it out, or sink the pots.",
        )
    if table is None:
        return None
    unlimited, exposure = float("inf"), table.rodent_exposure
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
        cover_m=_cover_m(table, where),
        warmer_k=_warmer_k(table, where),
        sky_share=table.sky_share,
    )


def _cover_m(table: PlaceTable, where: Where) -> float:
    """Depth of the cover over sunk roots; the grower's, for the roots live or die by it."""
    if table.kind is PlaceKind.SUNK and table.cover_m is not None:
        return table.cover_m
    if table.kind is PlaceKind.SUNK:
        where.findings.assume(
            f"[{where.row}] gives no cover: the highest roots are taken to lie"
            f" {USUAL_COVER_M * 100:.0f} cm under soil, bark or leaves. Give cover_cm.",
            KeyGuess(SHELTERS, str(where.row), "cover_cm", 100 * USUAL_COVER_M),
        )
    return USUAL_COVER_M


def _warmer_k(table: PlaceTable, where: Where) -> float:
    """How much warmer a corner is: as said, or by two thermometers read at the same times."""
    here, air = table.reads_c, table.shelter_reads_c
    if not here and not air:
        return table.warmer_k or 0.0
    if len(here) != len(air) or table.warmer_k is not None:
        also = " and warmer_k" if table.warmer_k is not None else ""
        where.of("reads").problem(
            f"{len(here)} readings here, {len(air)} of the shelter's air{also}",
            "as many of each, read at the same times, or warmer_k alone",
        )
        return 0.0
    return sum(a - b for a, b in zip(here, air, strict=True)) / len(here)
