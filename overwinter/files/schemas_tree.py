"""What a row of the tree list may hold."""

import re
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from overwinter.files.as_written import ONE_COMMA, ONE_POINT
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
    iso_date,
    wrong,
    yes_or_no,
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
    """A value with its sign or word of money taken off; nobody gives thousandths of it."""
    if not isinstance(value, str):
        return value
    bare = re.sub(r"^[^\d.,+-]+|[^\d.,]+$", "", value)
    return (
        re.sub(r"[.,]", "", bare)
        if ONE_COMMA.fullmatch(bare) or ONE_POINT.fullmatch(bare)
        else bare
    )


HEALTH = {
    "strong": "excellent great vigorous healthy thriving stark kräftig gesund fort fuerte sano",
    "ordinary": "good ok okay fine fair average normal usual gut mittel bon moyen bueno",
    "weak": "poor bad sick sickly ailing recovering stressed schwach krank faible débil enfermo",
}
"""What people write for a condition."""


def _condition(value: Any) -> Any:
    word = str(value).strip().casefold()
    return next((meant for meant, said in HEALTH.items() if word in said.split()), word)


_YEAR = re.compile(r"\b(?:19|20)\d\d\b")


def _repotted(value: Any) -> Any:
    """Yes or no, or the year that a day or a month names."""
    found = _YEAR.search(str(value))
    return int(found[0]) if found else yes_or_no(value)


def _also(**words: str) -> dict[str, str]:
    return {word: meant for meant, several in words.items() for word in several.split()}


WORDS = _also(
    tree="name tree_name plant plant_name label nickname tag baum bezeichnung nom arbre nombre"
    " árbol id tree_id plant_id tree_no plant_no nr no number lfd_nr numéro número",
    species="botanical_name latin_name latin scientific_name botanical kind common_name common"
    " plant_type variety type art baumart botanischer_name lateinischer_name"
    " wissenschaftlicher_name espèce essence nom_latin nom_botanique especie nombre_científico",
    genus="gattung genre género",
    cultivar="cv form sorte variété variedad",
    quantity="qty count pieces how_many trees anzahl stück stückzahl menge quantité cantidad",
    width="w wide spread crown crown_width width_across across breadth breite kronenbreite largeur"
    " ancho anchura",
    depth="d deep front_to_back tiefe profondeur profundidad fondo",
    height="h ht tall high tree_height overall_height höhe hoehe baumhöhe gesamthöhe hauteur"
    " altura alto",
    weight="wt mass heavy gewicht masse poids peso",
    pot="pot_size pot_volume container container_size volume pot_vol litres topf schale kübel"
    " topfgrösse topfvolumen volumen gefäss contenant maceta tiesto",
    pot_l="litres liters pot_litres pot_liters pot_capacity_l liter litros",
    pot_gal="gallons pot_gallons",
    pot_diameter="pot_width pot_across pot_dia container_diameter topfdurchmesser diamètre_du_pot"
    " diámetro_de_maceta",
    pot_diameter_cm="pot_cm container_cm pot_size_cm topf_cm",
    pot_diameter_in="pot_in container_in pot_size_in",
    pot_diameter_mm="pot_mm",
    condition="health vigour vigor state zustand gesundheit vitalität état estado",
    value="worth price cost wert preis valeur prix valor precio est_value estimated_value paid"
    " price_paid what_i_paid",
    repotted="repotted_this_year repotted_in_spring new_roots last_repotted umgetopft rempoté"
    " trasplantado",
    stands_at="stands where location place position standort stellplatz platz emplacement"
    " ubicación lugar",
    joins="joined arrives arrival bought_on zugang arrivée llegada",
    quarantine_until="quarantine quarantäne quarantaine cuarentena",
)
"""Headings as people write them, the plainest first; a measure's stem may carry a unit. German,
French and Spanish ones stand behind the English."""


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
    repotted: Annotated[bool | int, BeforeValidator(_repotted)] = False
    stands_at: Text | None = None
    joins: Day | None = None
    quarantine_until: Quarantine = "no"
    only: Names = ()
    never: Names = ()
    group: Text | None = None
