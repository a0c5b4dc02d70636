"""Tiny winters drawn at random: four kinds of tree in a garden, a shed and a heated shed."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from overwinter.climate.generator import fresh_winters
from overwinter.files.season import read_season
from overwinter.model.changes import start_of_season
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.search.problem import Problem, make_problem
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.harm_table import Follower

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"


@cache
def tiny() -> Season:
    """Four trees and two shelters, as read."""
    return read_season(TINY)


def random_season(seed: int, winters: int = 4) -> Season:
    """Two more shelters than that has, one unheated, and trees of random size, number and value."""
    rng = np.random.default_rng(seed)
    season = tiny()
    garden, shed = season.shelters
    barn = replace(
        shed,
        id="barn",
        name="Barn",
        heaters=(),
        transmission=0.2,
        places=tuple(
            replace(p, id="barn/floor", shelter_id="barn", kind=PlaceKind.SUNK) for p in shed.places
        ),
    )
    kinds = {tree.species_key: tree for tree in season.trees}
    trees = tuple(
        replace(
            kind,
            id=f"{key} {i}",
            name=f"{key} {i}",
            width_m=float(rng.uniform(0.2, 0.7)),
            depth_m=float(rng.uniform(0.2, 0.6)),
            weight_kg=float(rng.uniform(5, 40)),
            value=float(rng.uniform(20, 600)),
        )
        for key, kind in kinds.items()
        for i in range(int(rng.integers(1, 4)))
    )
    drawn = replace(season, trees=trees, shelters=(garden, shed, barn))
    return replace(drawn, winters=fresh_winters(drawn, winters, seed))


def random_problem(seed: int, **site: object) -> Problem:
    """The problem of such a season, before its winter, at a changed site."""
    season = random_season(seed)
    season = replace(season, site=replace(season.site, **site))
    conditions = compute_conditions(season)
    follower = Follower(season, conditions)
    start = start_of_season(season)
    return make_problem(season, conditions, follower, follower.stages(), start)


def random_settings(problem: Problem, rng: np.random.Generator) -> dict[str, tuple[int, ...]]:
    """Any programme of each shelter."""
    return {h: ways[rng.integers(len(ways))].settings for h, ways in problem.programmes.items()}
