"""shelters.toml: shelters, their envelopes or thermometers, heaters, and places."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from overwinter.files.envelope import read_envelope
from overwinter.files.findings import Findings, KeyGuess
from overwinter.files.heaters import known_heater, read_heater
from overwinter.files.known import KnownShelter, KnownShelters
from overwinter.files.pydantic_problems import Where, known_fields, parse, unknown_keys
from overwinter.files.schemas_shelter import PlaceTable, ShelterTable
from overwinter.files.spelling import did_you_mean
from overwinter.files.thermometers import read_readings, read_thermometer
from overwinter.files.toml_file import SHELTERS, read_toml, sub_table, sub_tables
from overwinter.model.shelter import Place, PlaceKind, Shelter

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
        findings.problem(file, dotted, "place", "no place", "at least one [[shelter.place]]", "")
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
            findings.problem(
                file,
                dotted,
                "cover",
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
        findings.problem(
            file,
            dotted,
            "reads",
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
        findings.problem(
            file,
            dotted,
            None,
            " and ".join(named) or "no description of its temperature",
            f"exactly one of {', '.join(DESCRIPTIONS)}",
            "",
        )
    if certain and heated and count == 1 and not given[1]:
        known_by = DESCRIPTIONS[given.index(True)]
        findings.problem(
            file,
            f"{dotted}.heater",
            None,
            f"a heater in a shelter described by {known_by}",
            "[shelter.envelope], from which the heat need is computed",
            f"Describe its envelope instead of {known_by}, or leave the heater out.",
        )
