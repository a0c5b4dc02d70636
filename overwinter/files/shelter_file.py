"""shelters.toml: shelters, their envelopes or thermometers, heaters, and places."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from overwinter.domain.shelter import Place, PlaceKind, Readings, Shelter, Thermometer
from overwinter.files.envelope import read_envelope
from overwinter.files.findings import Findings
from overwinter.files.heaters import read_heater
from overwinter.files.pydantic_problems import Where, parse
from overwinter.files.schemas_shelter import (
    PlaceTable,
    ReadingRow,
    ShelterTable,
    ThermometerTable,
)
from overwinter.files.spelling import did_you_mean
from overwinter.files.tables import parse_rows, read_csv
from overwinter.files.toml_file import read_toml, sub_table, sub_tables
from overwinter.shelters.fit import LEAST_DAYS

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


def read_shelters(path: Path, findings: Findings) -> tuple[Shelter, ...]:
    """Read shelters.toml; shelters with mistakes are left out and reported."""
    written = read_toml(path, findings)
    if written is None:
        return ()
    tables = sub_tables(written, "shelter", path.name, "shelter", findings)
    for name in written:
        findings.problem(
            path.name,
            name,
            None,
            "an unknown table or key",
            "[[shelter]] tables only",
            did_you_mean(name, ["shelter"]),
        )
    if not tables and not written:
        findings.problem(path.name, None, None, "no shelter", "at least one [[shelter]]", "")
    shelters = []
    for number, table in enumerate(tables, 1):
        shelter = _shelter(path, number, table, findings)
        if shelter is not None:
            shelters.append(shelter)
    _check_repeats(path.name, [s.id for s in shelters], "shelter", findings)
    return tuple(shelters)


def _shelter(path: Path, number: int, table: dict[str, Any], findings: Findings) -> Shelter | None:
    file, dotted = path.name, f"shelter.{table.get('id', number)}"
    before = len(findings.problems)
    envelope_table = sub_table(table, "envelope", file, dotted, findings)
    thermometer_table = sub_table(table, "thermometer", file, dotted, findings)
    heater_tables = sub_tables(table, "heater", file, dotted, findings)
    place_tables = sub_tables(table, "place", file, dotted, findings)
    head = parse(ShelterTable, table, Where(file, dotted, cells=False), findings)
    shelter_id = head.id if head else str(table.get("id", number))
    places = _each(place_tables, f"{dotted}.place", file, findings, _place_reader(shelter_id))
    heaters = _each(heater_tables, f"{dotted}.heater", file, findings, read_heater)
    _check_repeats(file, [place.id for place in places], "place", findings)
    _check_repeats(file, [heater.name for heater in heaters], f"{dotted}.heater", findings)
    transmission = head.transmission if head else None
    envelope, through = None, None
    if envelope_table is not None:
        envelope, through = read_envelope(envelope_table, file, dotted, transmission, findings)
    thermometer = thermometer_table and _thermometer(thermometer_table, file, dotted, findings)
    if head is None:
        return None
    readings = _readings(path.parent / head.readings, findings) if head.readings else None
    given = (
        head.open_air,
        envelope_table is not None,
        thermometer_table is not None,
        bool(head.readings),
    )
    _check_description(file, dotted, given, bool(heater_tables), findings)
    _check_places(file, dotted, place_tables, findings)
    if len(findings.problems) > before:
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
        findings.warn(f"[{dotted}] gives no transmission: taken as dark (0).")
        return 0.0
    findings.warn(
        f"[{dotted}] gives no transmission: taken as {through:.2f} from its glazing and the share"
        " of the envelope that is glazed."
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
        label = table.get("id", table.get("name", number))
        item = read(table, file, f"{dotted}.{label}", findings)
        if item is not None:
            found.append(item)
    return found


def _place_reader(
    shelter_id: str,
) -> Callable[[dict[str, Any], str, str, Findings], Place | None]:
    def read(written: dict[str, Any], file: str, dotted: str, findings: Findings) -> Place | None:
        table = parse(PlaceTable, written, Where(file, dotted, cells=False), findings)
        if table is None:
            return None
        return _place(table, shelter_id, _cover_m(table, file, dotted, findings))

    return read


def _cover_m(table: PlaceTable, file: str, dotted: str, findings: Findings) -> float:
    """Depth of the cover over sunk roots; the grower's, for the roots live or die by it."""
    if table.kind is not PlaceKind.SUNK:
        if table.cover_m is not None:
            findings.problem(
                file,
                dotted,
                "cover",
                f"a cover over pots of kind '{table.kind.value}'",
                'cover_cm (or its other units) with kind = "sunk" alone',
                "Leave it out, or sink the pots.",
            )
        return USUAL_COVER_M
    if table.cover_m is None:
        findings.warn(
            f"[{dotted}] gives no cover: the highest roots are taken to lie"
            f" {USUAL_COVER_M * 100:.0f} cm under soil, bark or leaves. Give cover_cm."
        )
        return USUAL_COVER_M
    return table.cover_m


def _place(table: PlaceTable, shelter_id: str, cover_m: float) -> Place:
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
    )


def _thermometer(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> Thermometer | None:
    dotted = f"{dotted}.thermometer"
    table = parse(ThermometerTable, written, Where(file, dotted, cells=False), findings)
    if table is None:
        return None
    for column, low, high in (
        ("coldest", table.coldest_c, table.warmest_c),
        ("outdoor_at_coldest", table.outdoor_at_coldest_c, table.outdoor_at_warmest_c),
    ):
        if low >= high:
            findings.problem(
                file,
                dotted,
                column,
                "a coldest reading not below the warmest",
                "two readings that differ, the coldest below",
                "Are the two the wrong way round?",
            )
    return Thermometer(**table.model_dump())


def _readings(path: Path, findings: Findings) -> Readings | None:
    table = read_csv(path, findings)
    if table is None:
        return None
    numbered = parse_rows(table, ReadingRow, findings)
    rows = [row for _, row in sorted(numbered, key=lambda pair: pair[1].date)]
    for number, row in numbered:
        if row.min_c > row.max_c or row.outdoor_min_c > row.outdoor_max_c:
            findings.problem(
                path.name,
                number,
                "min, max",
                "a minimum above its maximum",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )
    _check_repeats(path.name, [row.date.isoformat() for row in rows], "date", findings)
    if len(rows) < LEAST_DAYS:
        findings.problem(
            path.name,
            None,
            None,
            f"{len(rows)} days of readings",
            f"at least {LEAST_DAYS} days, better three weeks",
            "",
        )
    return Readings(
        dates=tuple(row.date for row in rows),
        min_c=tuple(row.min_c for row in rows),
        max_c=tuple(row.max_c for row in rows),
        outdoor_min_c=tuple(row.outdoor_min_c for row in rows),
        outdoor_max_c=tuple(row.outdoor_max_c for row in rows),
    )


def _check_description(
    file: str, dotted: str, given: tuple[bool, ...], heated: bool, findings: Findings
) -> None:
    """A shelter is described once: open air, envelope, thermometer or readings."""
    count = sum(given)
    if count != 1:
        named = [name for name, is_given in zip(DESCRIPTIONS, given, strict=True) if is_given]
        findings.problem(
            file,
            dotted,
            None,
            " and ".join(named) or "no description of its temperature",
            f"exactly one of {', '.join(DESCRIPTIONS)}",
            "",
        )
    if heated and count == 1 and not given[1]:
        known_by = DESCRIPTIONS[given.index(True)]
        findings.problem(
            file,
            f"{dotted}.heater",
            None,
            f"a heater in a shelter described by {known_by}",
            "[shelter.envelope], from which the heat need is computed",
            f"Describe its envelope instead of {known_by}, or leave the heater out.",
        )


def _check_places(file: str, dotted: str, places: list[dict[str, Any]], findings: Findings) -> None:
    if not places:
        findings.problem(file, dotted, "place", "no place", "at least one [[shelter.place]]", "")


def _check_repeats(file: str, names: list[str], key: str, findings: Findings) -> None:
    for name in sorted({name for name in names if names.count(name) > 1}):
        findings.problem(file, None, key, f"'{name}' twice", "each name once", "Rename one.")
