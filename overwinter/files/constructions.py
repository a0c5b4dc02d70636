"""Named constructions with their U-values, shipped in ``overwinter/data/constructions.csv``."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from overwinter.model.species import Standing


@dataclass(frozen=True, slots=True)
class Construction:
    """A wall, roof, floor or cover by name; U in W/(m2 K), transmission of light 0 to 1.

    ``u_least`` and ``u_most`` are the range between sources. ``mass_j_m2k`` is what a heavy wall
    stores, with the share ``mass_at`` of its resistance between it and the air inside.
    """

    name: str
    u_w_m2k: float
    transmission: float | None
    """None: lets no light through."""
    u_least: float
    u_most: float
    mass_j_m2k: float
    mass_at: float
    standing: Standing
    source: str


@cache
def constructions() -> Mapping[str, Construction]:
    """All named constructions, by name."""
    data = resources.files("overwinter").joinpath("data", "constructions.csv")
    rows = csv.DictReader(data.read_text(encoding="utf-8").splitlines())
    return {row["construction"]: _construction(row) for row in rows}


def _construction(row: Mapping[str, str]) -> Construction:
    return Construction(
        name=row["construction"],
        u_w_m2k=float(row["u_w_m2k"]),
        transmission=float(row["transmission"]) if row["transmission"] else None,
        u_least=float(row["u_least"]),
        u_most=float(row["u_most"]),
        mass_j_m2k=1000 * float(row["mass_kj_m2k"] or 0),
        mass_at=float(row["mass_at"] or 0.5),
        standing=Standing(row["standing"]),
        source=row["source"],
    )
