"""What came of trying to lay out one place."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from overwinter.benches.region import Region
from overwinter.model.plan import Layout
from overwinter.model.stage import IntArray


class Why(StrEnum):
    """What proves that a set of trees cannot stand at a place."""

    TOO_TALL = "a tree is taller than the headroom"
    TOO_HEAVY = "the trees together are heavier than the load limit"
    TOO_LARGE = "a tree is larger than the place"
    OUT_OF_REACH = "a tree cannot be reached wherever it stands"
    AREA = "the trees together take more area than there is"
    SIDE_BY_SIDE = "the large trees fit neither side by side nor one behind the other"
    SEARCHED = "an exhaustive search found no arrangement"


@dataclass(frozen=True, slots=True)
class LaidOut:
    """Every tree has its rectangle; in the order of the trees given."""

    layouts: tuple[Layout, ...]
    clearance_m: float
    """Least clearance kept between any two trees, m."""
    shade_m2: float
    """How much taller trees stand before shorter ones, seen from the light: height x width."""
    found_by: str
    """"rows", "corners" or "exact"."""
    slots: IntArray = field(default_factory=lambda: np.empty((0, 4), dtype=np.int64), compare=False)
    """``(n, 4)`` in the frame and units of ``region``, in the order of ``layouts``."""
    region: Region | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Impossible:
    """Proven: no arrangement exists at this clearance (lengths to a tenth of a millimetre)."""

    why: Why
    detail: str
    tree_ids: tuple[str, ...]
    """Trees that cannot stand there together; already minimal for TOO_TALL, TOO_LARGE and
    OUT_OF_REACH (one tree), not for the others (see ``benches.cut``)."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """Neither found nor excluded within the work limit. Callers treat it as not fitting."""

    detail: str
    tree_ids: tuple[str, ...]


LayoutResult = LaidOut | Impossible | Unknown


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try. All limits count work, never seconds, so that results repeat."""

    exact_trees: int = 15
    """Up to how many trees the exact search is tried: of 40 sets of 16 to 40 trees that the corners
    did not fit it fitted 4, and took nine tenths of the time."""
    exact_work: float = 0.1
    """CP-SAT deterministic time for one search; its own unit, 0.1 takes some tenths of a second."""
    corner_trees: int = 4000
    """How many trees the corner heuristic may set down in all its tries together."""
