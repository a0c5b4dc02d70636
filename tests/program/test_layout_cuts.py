"""Room cuts: a set that does not fit stays out whichever of several alike trees are in it."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from tiny import random_data

from overwinter.program.build import build
from overwinter.program.data import Cuts, ProgramData, RoomCut
from overwinter.program.read_back import read_back
from overwinter.solvers.choose import solve
from overwinter.suitability.groups import group_trees
from overwinter.suitability.table import Suitability

PLACE = "house/a"


def alike(trees: int) -> ProgramData:
    """So many trees that are alike in everything, in one group, allowed everywhere."""
    data = random_data(3, trees=trees)
    first = data.season.trees[0]
    site = replace(data.season.site, carries_per_day=100, carry_days_max=100)
    season = replace(
        data.season,
        site=site,
        trees=tuple(
            replace(first, id=f"t{n}", name=f"t{n}", width_m=0.01, weight_kg=5.0)
            for n in range(trees)
        ),
    )
    groups = group_trees(season, data.start)
    assert len(groups) == 1
    table = data.suitability
    shape = (1, len(table.options), len(table.spells))
    nothing = np.zeros(shape)
    suits = Suitability(
        spells=table.spells,
        groups=groups,
        options=table.options,
        allowed=np.ones(shape, dtype=np.bool_),
        risk_money=nothing,
        rodent_money=nothing,
        chill=nothing,
        entry_least=nothing,
        exit_most=np.ones(shape),
        present=np.ones((1, len(table.spells)), dtype=np.bool_),
    )
    return replace(data, season=season, suitability=suits)


def most_there(data: ProgramData, cut: RoomCut) -> int:
    """Most trees that the program lets stand at the place of the cut in the first spell."""
    model = build(replace(data, cuts=Cuts(room=(cut,))))
    model.problem.setObjective(-sum(stay.variable for stay in model.stays_at(PLACE, 0)))
    report = solve(model.problem, solver="highs", gap=0.0)
    assert report.has_solution
    return sum(path[0] == PLACE for path in read_back(model).stays.values())


@pytest.mark.parametrize(("members", "limit"), list(product((1, 2, 3), (0, 1, 2))))
def test_any_of_alike_trees_count(members: int, limit: int) -> None:
    """Of three alike trees `members` are in the set; the program keeps to the limit.

    By hand: with c = members in the set, min(c, y) <= limit lets all three stand there where
    c <= limit, and no more than the limit otherwise.
    """
    data = alike(3)
    cut = RoomCut(PLACE, frozenset(f"t{n}" for n in range(members)), limit)
    assert most_there(data, cut) == (3 if members <= limit else limit)
