"""Envelopes of shelters, and the constructions they are made of."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from overwinter.files.csv_text import packaged_rows
from overwinter.files.findings import Where, did_you_mean, listed
from overwinter.files.pydantic_problems import known_fields, parse, unknown_keys
from overwinter.files.schemas_shelter import Compass, EnvelopeTable, SurfaceTable
from overwinter.files.toml_file import sub_tables
from overwinter.model.shelter import Envelope, Surface
from overwinter.model.species import Standing
from overwinter.shelters.network import light_let_in


@dataclass(frozen=True, slots=True)
class Construction:
    """A wall, roof, floor or cover by name; U in W/(m2 K), transmission of light 0 to 1.

    ``u_least`` and ``u_most`` are the range between sources. ``mass_j_m2k`` is what a heavy wall
    stores, with the share ``mass_at`` of its resistance between it and the air inside.
    """

    name: str
    u_w_m2k: float
    transmission: float | None
    """None: lets no light through."""
    u_least: float
    u_most: float
    mass_j_m2k: float
    mass_at: float
    standing: Standing
    source: str


@cache
def constructions() -> Mapping[str, Construction]:
    """All named constructions, by name."""
    return {row["construction"]: _construction(row) for row in packaged_rows("constructions.csv")}


def _construction(row: Mapping[str, str]) -> Construction:
    return Construction(
        name=row["construction"],
        u_w_m2k=float(row["u_w_m2k"]),
        transmission=float(row["transmission"]) if row["transmission"] else None,
        u_least=float(row["u_least"]),
        u_most=float(row["u_most"]),
        mass_j_m2k=1000 * float(row["mass_kj_m2k"] or 0),
        mass_at=float(row["mass_at"] or 0.5),
        standing=Standing(row["standing"]),
        source=row["source"],
    )


UNNAMED_GLAZING = 0.8
"""Light that glazing lets in of which neither construction nor transmission is given."""
LOWEST_U = 0.1
"""Better than the walls of the best houses, W/(m2 K)."""
LOWEST_GLAZED_U = 0.5
"""Better than the best triple glazing, W/(m2 K)."""


def read_envelope(
    written: dict[str, Any], transmission: float | None, where: Where
) -> tuple[Envelope | None, float | None]:
    """The envelope, and the share of light its glazing lets in (None without glazing).

    ``transmission`` is the shelter's, for glazing that is not a named one.
    """
    tables = sub_tables(written, "surface", where)
    head = parse(EnvelopeTable, written, where)
    if not tables and not unknown_keys(EnvelopeTable, written):
        where.of("surface").problem("no surface", "at least one [[shelter.envelope.surface]]")
    made = [
        _surface(table, transmission, where.under(f"surface.{table.get('name', number)}"))
        for number, table in enumerate(tables, 1)
    ]
    surfaces = [surface for surface in made if surface is not None]
    if head is None or len(surfaces) < len(tables):
        return None, None
    envelope = Envelope(tuple(surfaces), **head.model_dump())
    return envelope, light_let_in(envelope)


def _surface(written: dict[str, Any], transmission: float | None, where: Where) -> Surface | None:
    before = len(where.findings.problems)
    table = parse(SurfaceTable, written, where)
    _check_ways(table, written, where)
    named = _named(known_fields(SurfaceTable, written).get("construction"), where)
    if table is None or len(where.findings.problems) > before:
        return None
    u = named.u_w_m2k if named else table.u_w_m2k or 1 / (table.r_m2k_w or 1.0)
    glazed = table.glazed
    if glazed is None:
        glazed = named is not None and named.transmission is not None
    light = named.transmission if named else None
    if light is None:
        light = UNNAMED_GLAZING if transmission is None else transmission
    surface = Surface(
        name=table.name,
        area_m2=table.area_m2,
        u_w_m2k=u,
        towards=table.towards,
        glazed=glazed,
        transmission=light if glazed else 0.0,
        faces_deg=None if table.faces is None else 45.0 * get_args(Compass).index(table.faces),
        slope_deg=table.slope_deg if table.slope_deg is not None or table.faces is None else 90.0,
        mass_j_m2k=named.mass_j_m2k if named else 0.0,
        mass_at=named.mass_at if named else 0.5,
        u_least_w_m2k=named.u_least if named else None,
        u_most_w_m2k=named.u_most if named else None,
    )
    _warn_if_absurd(surface, where)
    return surface


def _check_ways(table: SurfaceTable | None, written: dict[str, Any], where: Where) -> None:
    """One U-value, in one way. That it is missing is told of a table without slips only."""
    fields = SurfaceTable.headings()
    ways = {fields.get(key) for key in written} & {"u_w_m2k", "r_m2k_w", "construction"}
    if len(ways) > 1 or (table is not None and not ways):
        where.problem(
            "more than one U-value" if ways else "no U-value",
            "exactly one of u_w_m2k, r_m2k_w (or their US units) and construction",
            'Write for example construction = "single glass".',
        )


def _named(name: str | None, where: Where) -> Construction | None:
    """The construction of a name; None where none is written or after a problem."""
    if name is None:
        return None
    found = constructions().get(name.strip().lower())
    if found is None:
        where.of("construction").problem(
            f"'{name}'",
            f"a named construction: {listed(constructions(), most=6)}",
            did_you_mean(name, constructions()),
        )
    return found


def _warn_if_absurd(surface: Surface, where: Where) -> None:
    """A U-value no real wall or glass has is mostly a slip of the decimal point or of units."""
    lowest = LOWEST_GLAZED_U if surface.glazed else LOWEST_U
    if surface.u_w_m2k >= lowest:
        return
    kind = "glazing" if surface.glazed else "walls"
    where.findings.warn(
        f"[{where.row}] has a U-value of {surface.u_w_m2k:.3g} W/(m² K), better than the best"
        f" {kind} built ({lowest:g}). Is the decimal point or the unit right?"
    )
