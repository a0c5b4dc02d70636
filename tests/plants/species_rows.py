"""The shipped species table read with nothing but the standard library."""

import csv
from collections.abc import Mapping
from dataclasses import fields
from importlib import resources

from overwinter.model.species import ChillModel, LeafHabit, Limits, Source, Species, Standing

LIMIT_FIELDS = tuple(field.name for field in fields(Limits))
BLANK_MEANS_NONE = {"air_floor_c", "rest_ceiling_c"}
KINDS = {"leaf": LeafHabit, "chill_model": ChillModel}


def table_text(name: str) -> str:
    return resources.files("overwinter").joinpath("data", name).read_text(encoding="utf-8")


def table_rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(table_text(name).splitlines()))


def _value(row: Mapping[str, str], name: str) -> object:
    text = row[name]
    if not text and name in BLANK_MEANS_NONE:
        return None
    return KINDS.get(name, float)(text)


def _source(text: str) -> Source:
    standing, _, words = text.partition(": ")
    return Source(Standing(standing), words)


def species_of(row: Mapping[str, str]) -> Species:
    return Species(
        key=row["key"],
        latin=row["latin"],
        common=row["common"],
        group=row["group"],
        limits=Limits(**{name: _value(row, name) for name in LIMIT_FIELDS}),
        sources={name: _source(row[f"{name}_source"]) for name in LIMIT_FIELDS},
        is_group=row["is_group"] == "yes",
        synonyms=tuple(filter(None, row["synonyms"].split(";"))),
    )
