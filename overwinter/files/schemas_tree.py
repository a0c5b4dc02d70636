"""What a row of the tree list may hold."""

from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from overwinter.files.quantities import (
    MASS,
    POT,
    Quantity,
    lengths,
    temperatures,
)
from overwinter.files.schema import (
    Day,
    Names,
    Number,
    Schema,
    Share,
    Text,
    Whole,
    Word,
    YesNo,
    iso_date,
    wrong,
)
from overwinter.model.tree import Condition

LIMIT_OVERRIDES = (
    "root_kill_c",
    "root_kill_young_c",
    "root_kill_unhardened_c",
    "top_kill_c",
    "air_floor_c",
    "rest_ceiling_c",
    "chill_need",
    "light_floor_mol_m2_d",
    "dark_below_c",
    "rodent_appeal",
)
"""Fields of ``Limits`` a grower may set for one tree; by the same names in the row."""


def _quarantine(value: Any) -> Any:
    """A date, or yes for the usual length."""
    if isinstance(value, (bool, str)):
        answer = str(value).strip().lower()
        if answer in ("yes", "y", "true"):
            return "yes"
        if answer in ("no", "n", "false"):
            return "no"
    if isinstance(value, str) and not any(character.isdigit() for character in value):
        raise wrong("yes, or the date it ends as YYYY-MM-DD")
    return iso_date(value)


Quarantine = Annotated[date | Literal["yes", "no"], BeforeValidator(_quarantine)]
KillC = Annotated[Number, Field(ge=-60, le=15)]
AirC = Annotated[Number, Field(ge=-40, le=35)]


class TreeRow(Schema):
    """One row of trees.csv; SI."""

    quantities: ClassVar = {
        **lengths("width", "depth", "height"),
        **temperatures(
            "root_kill",
            "root_kill_young",
            "root_kill_unhardened",
            "top_kill",
            "air_floor",
            "rest_ceiling",
            "dark_below",
        ),
        "weight": Quantity("weight_kg", MASS),
        "pot": Quantity("pot_litres", POT),
    }

    tree: Text = Field(description="the tree's name")
    species: Text = Field(description="a species, cultivar or common name")
    quantity: Whole = Field(1, ge=1, le=10_000)
    width_m: Number = Field(ge=0.02, le=8, description="width of pot or crown, the larger")
    depth_m: Number | None = Field(None, ge=0.02, le=8)
    height_m: Number = Field(
        ge=0.03, le=15, description="height from the foot of the pot to the top"
    )
    weight_kg: Number | None = Field(None, gt=0, le=3000)
    pot_litres: Number = Field(ge=0.02, le=2000, description="volume of the pot")
    condition: Annotated[Condition, Word] = Condition.ORDINARY
    value: Number | None = Field(None, ge=0, le=1e7)
    repotted: YesNo = False
    stands_at: Text | None = None
    joins: Day | None = None
    quarantine_until: Quarantine = "no"
    only: Names = ()
    never: Names = ()
    group: Text | None = None
    root_kill_c: KillC | None = None
    root_kill_young_c: KillC | None = None
    root_kill_unhardened_c: KillC | None = None
    top_kill_c: Annotated[Number, Field(ge=-80, le=15)] | None = None
    air_floor_c: AirC | None = None
    rest_ceiling_c: AirC | None = None
    chill_need: Number | None = Field(None, ge=0, le=4000)
    light_floor_mol_m2_d: Number | None = Field(None, ge=0, le=60)
    dark_below_c: AirC | None = None
    rodent_appeal: Share | None = None
