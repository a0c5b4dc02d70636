"""Shipped tables read with nothing but the standard library."""

import csv
from importlib import resources


def table_text(name: str) -> str:
    return resources.files("overwinter").joinpath("data", name).read_text(encoding="utf-8")


def table_rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(table_text(name).splitlines()))
