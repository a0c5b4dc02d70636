"""Envelopes of shelters, and the constructions they are made of."""

import re
from collections.abc import Mapping
from functools import cache, cached_property
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

from overwinter.files.findings import did_you_mean, listed
from overwinter.files.schema import Number, Schema, Text, Word, YesNo
from overwinter.model.shelter import Envelope, Surface, Towards
from overwinter.model.species import Standing
from overwinter.packaged import packaged_rows, packaged_toml

UNNAMED_GLAZING = 0.8  # light let in where neither construction nor transmission is given
LOWEST_U = 0.1  # better than the walls of the best houses, W/(m2 K)
LOWEST_GLAZED_U = 0.5  # better than the best triple glazing, W/(m2 K)
_FILM = re.compile(r"\b\d+[\s-]*(?:mil|micron|µm|μm)s?\b")
AirC = Annotated[Number, Field(ge=-60, le=60)]
Compass = Literal[  # where a wall or a slope faces, from north over east
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"
]


class Construction(BaseModel):
    """A wall, roof, floor or cover by name; U in W/(m2 K), transmission of light 0 to 1.
    ``u_least`` and ``u_most`` are the range between sources. ``mass_kj_m2k`` is what a heavy wall
    stores, with the share ``mass_at`` of its resistance between it and the air inside."""

    model_config = ConfigDict(frozen=True)
    u_w_m2k: float
    transmission: float | None = None  # None: lets no light through
    u_least: float
    u_most: float
    mass_kj_m2k: float = 0.0
    mass_at: float = 0.5
    dries_mm_d: float | None = None
    standing: Standing
    source: str


@cache
def constructions() -> Mapping[str, Construction]:
    """All named constructions, by name."""
    rows = packaged_rows("constructions.csv")
    return {row["construction"]: Construction.model_validate(row) for row in rows}


def construction_named(text: str) -> str | None:
    """The construction that is called so."""
    words = _FILM.sub("", text.casefold()).split()
    called = packaged_toml("words.toml")["constructions"].items()
    also = {word: name for name, several in called for word in several.split()}
    found = also.get("_".join(words), " ".join(words))
    return found if found in constructions() else None


class SurfaceTable(Schema):
    """``[[shelter.envelope.surface]]``; exactly one of U, R and construction."""

    name: Text = Field(description="a name for the surface")
    area_m2: Number = Field(gt=0, le=1e5, description="area of the surface")
    u_w_m2k: Number | None = Field(None, gt=0, le=15)
    r_m2k_w: Number | None = Field(None, gt=0.05, le=50)
    construction: Text | None = None
    towards: Annotated[Towards, Word] = Towards.OUTDOORS
    glazed: YesNo | None = None
    faces: Annotated[Compass, Word] | None = None
    slope_deg: Number | None = Field(None, ge=0, le=90)

    @cached_property
    def named(self) -> Construction | None:
        """The construction that is named; None where none is or it is unknown, which is told."""
        name = self.construction
        found = constructions().get(construction_named(name or "") or "")
        if name is not None and found is None:
            words = {word for word in name.casefold().split() if not word.isdecimal()} - {"mm"}
            alike = [one for one in constructions() if words & set(one.split())]
            self.where.of("construction").problem(
                f"'{name}'",
                f"a named construction: {listed(alike or constructions(), most=40)}",
                did_you_mean(name, constructions()),
            )
        return found

    def check(self) -> None:
        """One U-value, in one way. That it is missing is told of a table without slips only."""
        ways = self.told.given.keys() & {"u_w_m2k", "r_m2k_w", "construction"}
        if len(ways) > 1 or (self.told.sound and not ways):
            self.where.problem(
                "more than one U-value" if ways else "no U-value",
                "exactly one of u_w_m2k, r_m2k_w (or their US units) and construction",
                'Write for example construction = "single glass".',
            )
        _ = self.named

    def surface(self, unnamed: float) -> Surface:
        """The surface; light through glazing of no name is ``unnamed``."""
        named, upright = self.named, self.slope_deg is None and self.faces is not None
        through = named.transmission if named else None
        glazed = through is not None if self.glazed is None else self.glazed
        surface = Surface(
            name=self.name,
            area_m2=self.area_m2,
            u_w_m2k=named.u_w_m2k if named else self.u_w_m2k or 1 / (self.r_m2k_w or 1.0),
            towards=self.towards,
            glazed=glazed,
            transmission=(unnamed if through is None else through) if glazed else 0.0,
            faces_deg=45.0 * get_args(Compass).index(self.faces) if self.faces else None,
            slope_deg=90.0 if upright else self.slope_deg,
            mass_j_m2k=1000 * named.mass_kj_m2k if named else 0.0,
            mass_at=named.mass_at if named else 0.5,
            dries_mm_d=named.dries_mm_d if named else None,
            u_least_w_m2k=named.u_least if named else None,
            u_most_w_m2k=named.u_most if named else None,
        )
        # A U-value no real wall or glass has is mostly a slip of the decimal point or of units.
        lowest, kind = (LOWEST_GLAZED_U, "glazing") if glazed else (LOWEST_U, "walls")
        if surface.u_w_m2k < lowest:
            self.where.findings.warn(
                f"[{self.where.row}] has a U-value of {surface.u_w_m2k:.3g} W/(m² K), better than"
                f" the best {kind} built ({lowest:g}). Is the decimal point or the unit right?"
            )
        return surface


class EnvelopeTable(Schema):
    """``[shelter.envelope]``."""

    surface: tuple[SurfaceTable, ...] = ()
    volume_m3: Number = Field(gt=0, le=1e5, description="volume of the air inside")
    air_changes_per_h: Number = Field(
        ge=0, le=30, description="air changes per hour (0.5 tight, 1 ordinary, 2 to 4 leaky)"
    )
    heat_capacity_j_k: Number | None = Field(None, gt=0, le=1e11)
    solar_aperture_m2: Number | None = Field(None, ge=0, le=1e4)
    vent_above_c: AirC | None = None
    vent_air_changes_per_h: Number = Field(20.0, ge=0, le=200)

    def check(self) -> None:
        """At least one surface, unless a slip may hide it."""
        if not self.surface and not self.told.unknown and not self.told.unformed:
            self.where.of("surface").problem(
                "no surface", "at least one [[shelter.envelope.surface]]"
            )

    def envelope(self, transmission: float | None) -> Envelope:
        """The envelope of a whole table; ``transmission`` is that of glazing that is not named."""
        unnamed = UNNAMED_GLAZING if transmission is None else transmission
        surfaces = tuple(one.surface(unnamed) for one in self.surface)
        return Envelope(surfaces, **self.model_dump(exclude={"surface"}))
