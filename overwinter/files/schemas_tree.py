"""What a row of the tree list may hold."""

import re
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from overwinter.files.quantities import (
    MASS,
    POT,
    Quantity,
    lengths,
)
from overwinter.files.schema import (
    Day,
    Names,
    Number,
    Schema,
    Text,
    Whole,
    YesNo,
    iso_date,
    wrong,
)
from overwinter.files.schemas_species import OF_ONE_TREE, with_limits
from overwinter.model.tree import Condition


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


def _money(value: Any) -> Any:
    """A value with its sign or word of money taken off."""
    return re.sub(r"^[^\d.,+-]+|[^\d.,]+$", "", value) if isinstance(value, str) else value


HEALTH = {
    "strong": "excellent great vigorous healthy thriving",
    "ordinary": "good ok okay fine fair average normal usual",
    "weak": "poor bad sick sickly ailing recovering stressed",
}
"""What people write for a condition."""


def _condition(value: Any) -> Any:
    word = str(value).strip().casefold()
    return next((meant for meant, said in HEALTH.items() if word in said.split()), word)


def _also(**words: str) -> dict[str, str]:
    return {word: meant for meant, several in words.items() for word in several.split()}


WORDS = _also(
    tree="name tree_name plant plant_name label nickname tag id tree_id plant_id tree_no"
    " plant_no nr no number",
    species="botanical_name latin_name latin scientific_name botanical kind variety type"
    " common_name common plant_type",
    cultivar="cv form",
    quantity="qty count pieces how_many trees",
    width="w wide spread crown crown_width width_across across breadth",
    depth="d deep front_to_back",
    height="h ht tall high tree_height overall_height",
    weight="wt mass heavy",
    pot="pot_size pot_volume container container_size volume pot_vol litres",
    pot_l="litres liters pot_litres pot_liters pot_capacity_l",
    pot_gal="gallons pot_gallons",
    pot_diameter="pot_width pot_across pot_dia container_diameter",
    pot_diameter_cm="pot_cm container_cm pot_size_cm",
    pot_diameter_in="pot_in container_in pot_size_in",
    pot_diameter_mm="pot_mm",
    condition="health vigour vigor state",
    value="worth price cost",
    repotted="repotted_this_year repotted_in_spring new_roots",
    stands_at="stands where location place position",
    joins="joined arrives arrival bought_on",
    quarantine_until="quarantine",
)
"""Headings as people write them, the plainest first; a measure's stem may carry a unit."""


@with_limits(OF_ONE_TREE)
class TreeRow(Schema):
    """One row of trees.csv; SI."""

    quantities: ClassVar = {
        **lengths("width", "depth", "height"),
        "weight": Quantity("weight_kg", MASS),
        "pot": Quantity("pot_litres", POT),
        **lengths("pot_diameter"),
    }
    also: ClassVar = WORDS
    keeps_own_columns: ClassVar = True

    tree: Text | None = None
    genus: Text | None = None
    cultivar: Text | None = None
    species: Text = Field(description="a species, cultivar or common name")
    quantity: Whole = Field(1, ge=1, le=10_000)
    width_m: Number = Field(ge=0.02, le=8, description="width of pot or crown, the larger")
    depth_m: Number | None = Field(None, ge=0.02, le=8)
    height_m: Number = Field(
        ge=0.03, le=15, description="height from the foot of the pot to the top"
    )
    weight_kg: Number | None = Field(None, gt=0, le=3000)
    pot_litres: Number | None = Field(None, ge=0.02, le=2000)
    pot_diameter_m: Number | None = Field(None, ge=0.02, le=3)
    condition: Annotated[Condition, BeforeValidator(_condition)] = Condition.ORDINARY
    value: Annotated[Number | None, BeforeValidator(_money)] = Field(None, ge=0, le=1e7)
    repotted: YesNo = False
    stands_at: Text | None = None
    joins: Day | None = None
    quarantine_until: Quarantine = "no"
    only: Names = ()
    never: Names = ()
    group: Text | None = None
