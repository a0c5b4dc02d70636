"""docs/files.md names everything that may be written."""

import re
from pathlib import Path

import pytest

from overwinter.files import schemas_shelter, schemas_site, weather_table
from overwinter.files.constructions import constructions
from overwinter.files.fuel_units import UNITS_KWH
from overwinter.files.placements import HEADINGS
from overwinter.files.schema import Schema
from overwinter.files.schemas_species import SpeciesRow
from overwinter.files.schemas_tree import TreeRow

DICTIONARY = (Path(__file__).parents[2] / "docs" / "files.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"[A-Za-z0-9_]+", " ".join(re.findall(r"`([^`]+)`", DICTIONARY))))
SCHEMAS = [TreeRow, SpeciesRow] + [
    value
    for module in (schemas_shelter, schemas_site, weather_table)
    for name, value in vars(module).items()
    if isinstance(value, type) and issubclass(value, Schema) and not name.startswith("_")
    if value is not Schema
]


@pytest.mark.parametrize("schema", SCHEMAS, ids=lambda schema: schema.__name__)
def test_every_key_is_in_the_dictionary(schema: type[Schema]) -> None:
    # A key nobody can look up might as well not be there; sources are described as a kind.
    keys = [key for key in schema.customary_headings() if not key.endswith("_source")]
    assert [key for key in keys if key not in NAMED] == []


def test_names_of_things_are_in_the_dictionary() -> None:
    # Constructions, units of sale, columns of the placements.
    joined = " ".join(DICTIONARY.split())
    missing = [name for name in constructions() if name not in joined]
    missing += [unit for units in UNITS_KWH.values() for unit in units if unit not in joined]
    missing += [name for name in HEADINGS if name not in NAMED]
    assert missing == []
