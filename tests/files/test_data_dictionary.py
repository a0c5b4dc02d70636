"""docs/files.md names everything that may be written."""

import re
from dataclasses import fields
from pathlib import Path

import pytest
from folders import GOOD
from plans import small_plan

from overwinter.files import envelope, shelter_file, site_file, weather_records
from overwinter.files.envelope import constructions
from overwinter.files.measures import UNITS_KWH
from overwinter.files.schema import Schema
from overwinter.files.season import read_season
from overwinter.files.species_table import SpeciesRow
from overwinter.files.tree_columns import TreeRow
from overwinter.model.site import Weights
from overwinter.render.tables import placements_table

DICTIONARY = (Path(__file__).parents[2] / "docs" / "files.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"[A-Za-z0-9_]+", " ".join(re.findall(r"`([^`]+)`", DICTIONARY))))
SCHEMAS = [TreeRow, SpeciesRow] + [
    value
    for module in (envelope, shelter_file, site_file, weather_records)
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
    missing += [
        name
        for name in placements_table(read_season(GOOD), small_plan()).headings
        if name not in NAMED
    ]
    assert missing == []


def defaults_told(heading: str) -> dict[str, float]:
    """Defaults in the table of docs/files.md that follows a line."""
    rows = DICTIONARY.split(f"\n{heading}\n", 1)[1].strip().split("\n\n")[0]
    return {
        key: float(number)
        for key, number in re.findall(r"^\| `(\w+)` \| ([\d.]+)(?:,[^|]*)? \|", rows, re.MULTILINE)
    }


def test_defaults_of_weights_are_those_of_the_code() -> None:
    # Every weight has its default in the dictionary; once not_home was 2 there and 3 in the code.
    told = defaults_told("Weights, in the site's money unless said:")
    assert told == {field.name: field.default for field in fields(Weights)}


def test_defaults_of_site_keys_are_those_of_the_code() -> None:
    # Numbers and words; what is worked out or needed has no default in the code.
    told = dict(
        re.findall(r"^\| `(\w+)` \| ([\w.]+) \|", DICTIONARY.split("## site.toml")[1], re.MULTILINE)
    )
    written = {
        key: str(field.default).lower().removesuffix(".0")
        for key, field in site_file.SiteFile.model_fields.items()
        if not field.is_required() and field.default is not None
    }
    assert len(written) >= 5
    assert {key: told[key] for key in written} == written
