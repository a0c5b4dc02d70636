"""``[shelter.envelope]``: surfaces and the two figures growers seldom know, estimated if need be.

Both estimates are judgements without a source and are said in the season's warnings; a few weeks
of min/max readings do better.
"""

from typing import Any

from overwinter.files.constructions import Construction, constructions
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import Where, known_fields, parse, unknown_keys
from overwinter.files.schemas_shelter import EnvelopeTable, SurfaceTable
from overwinter.files.spelling import did_you_mean, listed
from overwinter.files.toml_file import sub_tables
from overwinter.model.shelter import Envelope, Surface, Towards
from overwinter.shelters.envelope import (
    estimate_capacity_j_k,
    estimate_opaque_aperture_m2,
    estimate_solar_aperture_m2,
)

PLAN_SHARE = 0.4
"""Area seen in plan of an m2 of glazing, roof and walls taken together: a judgement."""
ROOM_HEIGHT_M = 2.2
"""To guess a floor from the volume where no surface is towards ground or house."""
LOWEST_U = 0.1
"""Better than the walls of the best houses, W/(m2 K)."""
LOWEST_GLAZED_U = 0.5
"""Better than the best triple glazing, W/(m2 K)."""


def read_envelope(
    written: dict[str, Any],
    file: str,
    shelter: str,
    transmission: float | None,
    findings: Findings,
) -> tuple[Envelope | None, float | None]:
    """The envelope, and the share of light its glazing lets in (None without glazing)."""
    dotted = f"{shelter}.envelope"
    tables = sub_tables(written, "surface", file, dotted, findings)
    head = parse(EnvelopeTable, written, Where(file, dotted, cells=False), findings)
    if not tables and not unknown_keys(EnvelopeTable, written):
        findings.problem(
            file, dotted, "surface", "no surface", "at least one [[shelter.envelope.surface]]", ""
        )
    surfaces: list[Surface] = []
    lights: list[float] = []
    for number, table in enumerate(tables, 1):
        name = f"{dotted}.surface.{table.get('name', number)}"
        found = _surface(table, file, name, findings)
        if found is not None:
            surfaces.append(found[0])
            lights.append(found[1] if found[0].glazed else 0.0)
    if head is None or len(surfaces) < len(tables):
        return None, None
    through = _light_let_in(surfaces, lights)
    return (
        Envelope(
            surfaces=tuple(surfaces),
            volume_m3=head.volume_m3,
            air_changes_per_h=head.air_changes_per_h,
            heat_capacity_j_k=_heat_capacity(head, surfaces, dotted, findings),
            solar_aperture_m2=_aperture(head, surfaces, lights, transmission, dotted, findings),
            vent_above_c=head.vent_above_c,
            vent_air_changes_per_h=head.vent_air_changes_per_h,
        ),
        through,
    )


def _surface(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> tuple[Surface, float] | None:
    """A surface and its transmission (nan where the glazing is not a named one)."""
    before = len(findings.problems)
    table = parse(SurfaceTable, written, Where(file, dotted, cells=False), findings)
    known = known_fields(SurfaceTable, written)
    _check_ways(table, written, file, dotted, findings)
    named = _named(known.get("construction"), file, dotted, findings)
    if table is None or len(findings.problems) > before:
        return None
    u = named.u_w_m2k if named else table.u_w_m2k or 1 / (table.r_m2k_w or 1.0)
    glazed = table.glazed
    if glazed is None:
        glazed = named is not None and named.transmission is not None
    surface = Surface(table.name, table.area_m2, u, table.towards, glazed)
    _warn_if_absurd(surface, dotted, findings)
    light = named.transmission if named else None
    return surface, float("nan") if light is None else light


def _check_ways(
    table: SurfaceTable | None, written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> None:
    """One U-value, in one way. That it is missing is told of a table without slips only."""
    fields = SurfaceTable.headings()
    ways = {fields.get(key) for key in written} & {"u_w_m2k", "r_m2k_w", "construction"}
    if len(ways) > 1 or (table is not None and not ways):
        findings.problem(
            file,
            dotted,
            None,
            "more than one U-value" if ways else "no U-value",
            "exactly one of u_w_m2k, r_m2k_w (or their US units) and construction",
            'Write for example construction = "single glass".',
        )


def _named(name: str | None, file: str, dotted: str, findings: Findings) -> Construction | None:
    """The construction of a name; None where none is written or after a problem."""
    if name is None:
        return None
    found = constructions().get(name.strip().lower())
    if found is None:
        findings.problem(
            file,
            dotted,
            "construction",
            f"'{name}'",
            f"a named construction: {listed(constructions(), most=6)}",
            did_you_mean(name, constructions()),
        )
    return found


def _warn_if_absurd(surface: Surface, dotted: str, findings: Findings) -> None:
    """A U-value no real wall or glass has is mostly a slip of the decimal point or of units."""
    lowest = LOWEST_GLAZED_U if surface.glazed else LOWEST_U
    if surface.u_w_m2k >= lowest:
        return
    kind = "glazing" if surface.glazed else "walls"
    findings.warn(
        f"[{dotted}] has a U-value of {surface.u_w_m2k:.3g} W/(m² K), better than the best"
        f" {kind} built ({lowest:g}). Is the decimal point or the unit right?"
    )


def _light_let_in(surfaces: list[Surface], lights: list[float]) -> float | None:
    """Transmission of the whole: glazing by its share of all that faces the outdoors."""
    outer = sum(s.area_m2 for s in surfaces if s.towards is Towards.OUTDOORS)
    known = [
        s.area_m2 * light
        for s, light in zip(surfaces, lights, strict=True)
        if s.glazed and s.towards is Towards.OUTDOORS and light == light
    ]
    return sum(known) / outer if known and outer > 0 else None


def _heat_capacity(
    head: EnvelopeTable, surfaces: list[Surface], dotted: str, findings: Findings
) -> float:
    if head.heat_capacity_j_k is not None:
        return head.heat_capacity_j_k
    floor_m2 = sum(s.area_m2 for s in surfaces if s.towards is Towards.GROUND)
    capacity = estimate_capacity_j_k(head.volume_m3, floor_m2 or head.volume_m3 / ROOM_HEIGHT_M)
    findings.warn(
        f"[{dotted}] gives no heat_capacity: estimated at {capacity / 1000:.0f} kJ/K from its"
        " volume and surfaces (a judgement; min/max readings would tell)."
    )
    return capacity


def _aperture(
    head: EnvelopeTable,
    surfaces: list[Surface],
    lights: list[float],
    transmission: float | None,
    dotted: str,
    findings: Findings,
) -> float:
    if head.solar_aperture_m2 is not None:
        return head.solar_aperture_m2
    outer = [
        (s, light)
        for s, light in zip(surfaces, lights, strict=True)
        if s.towards is Towards.OUTDOORS
    ]
    fallback = 0.8 if transmission is None else transmission
    let_in_m2 = sum(
        s.area_m2 * (light if light == light else fallback) for s, light in outer if s.glazed
    )
    opaque_w_k = sum(s.area_m2 * s.u_w_m2k for s, _ in outer if not s.glazed)
    aperture = estimate_solar_aperture_m2(let_in_m2 * PLAN_SHARE, 1.0)
    aperture += estimate_opaque_aperture_m2(opaque_w_k)
    if outer:
        sources = [
            *(["its glazing"] if let_in_m2 > 0 else []),
            *(["sun on its opaque outside"] if opaque_w_k > 0 else []),
        ]
        findings.warn(
            f"[{dotted}] gives no solar_aperture: estimated at {aperture:.2f} m² from"
            f" {' and '.join(sources)} (a judgement; min/max readings would tell)."
        )
    return aperture
