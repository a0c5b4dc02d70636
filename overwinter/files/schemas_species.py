"""What a row of species.csv may hold, shipped or the grower's."""

from dataclasses import fields
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, create_model

from overwinter.files.quantities import temperatures
from overwinter.files.schema import Names, Number, Schema, Share, Text, Word, YesNo
from overwinter.model.species import ChillModel, LeafHabit, Limits

LIMIT_FIELDS = tuple(field.name for field in fields(Limits))
OPTIONAL_LIMITS = ("air_floor_c", "rest_ceiling_c")
"""Limits a species may not have; a grower writes ``none`` to take one away."""
RootC = Annotated[Number, Field(ge=-60, le=15)]
TopC = Annotated[Number, Field(ge=-80, le=15)]
AirC = Annotated[Number, Field(ge=-40, le=35)]
Nothing = Annotated[Literal["none"], Word]


class _SpeciesBase(Schema):
    """All fields but the key may be blank: the grower fills in what differs."""

    quantities: ClassVar = temperatures(
        *(name.removesuffix("_c") for name in LIMIT_FIELDS if name.endswith("_c"))
    )
    key: Text = Field(description="a short, unique key of the species")
    latin: str | None = None
    common: str | None = None
    group: Text | None = None
    is_group: YesNo | None = None
    synonyms: Names | None = None
    leaf: Annotated[LeafHabit, Word] | None = None
    root_kill_c: RootC | None = None
    root_kill_young_c: RootC | None = None
    root_kill_unhardened_c: RootC | None = None
    top_kill_c: TopC | None = None
    top_kill_unhardened_c: TopC | None = None
    new_leaf_kill_c: Annotated[Number, Field(ge=-15, le=15)] | None = None
    air_floor_c: AirC | Nothing | None = None
    chill_injury_k_h: Annotated[Number, Field(gt=0, le=20_000)] | None = None
    rest_ceiling_c: AirC | Nothing | None = None
    chill_need: Annotated[Number, Field(ge=0, le=4000)] | None = None
    chill_model: Annotated[ChillModel, Word] | None = None
    bud_break_k_d: Annotated[Number, Field(gt=0, le=1000)] | None = None
    drying: Share | None = None
    light_floor_mol_m2_d: Annotated[Number, Field(ge=0, le=60)] | None = None
    dark_below_c: AirC | None = None
    rodent_appeal: Share | None = None
    harden_below_c: Annotated[Number, Field(ge=5, le=20)] | None = None
    harden_days: Annotated[Number, Field(ge=1, le=365)] | None = None
    deharden_above_c: AirC | None = None
    deharden_per_degree_day: Annotated[Number, Field(ge=0, le=1)] | None = None


_SOURCES: dict[str, Any] = {f"{name}_source": (str | None, None) for name in LIMIT_FIELDS}
SpeciesRow = create_model("SpeciesRow", __base__=_SpeciesBase, **_SOURCES)
"""The row with a source column for each limit."""
