"""Data files that come with the package."""

import csv
import tomllib
from functools import cache
from importlib import resources
from typing import Any


def packaged(name: str) -> str:
    """Text of one."""
    return resources.files("overwinter").joinpath("data", name).read_text("utf-8")


def packaged_rows(name: str) -> list[dict[str, str]]:
    """Rows of a table, by heading, without blank cells."""
    rows = csv.DictReader(packaged(name).splitlines())
    return [{head: cell for head, cell in row.items() if cell} for row in rows]


@cache
def packaged_toml(name: str) -> dict[str, Any]:
    """Tables of a TOML file."""
    return tomllib.loads(packaged(name))
