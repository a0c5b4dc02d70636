"""Places whole trees on winters (``program.winter_choice``).

The relaxation by winters (``winters.py``), with settings and carry days decided, has found the
winters that are worth while; here each group's trees are shared out among them in whole numbers.
Winters that were not found are not chosen from, so nothing is proven here.
"""

import numpy as np

from overwinter.planning.decided import Decided
from overwinter.planning.winters import IntArray, Winters
from overwinter.program.read_back import Placement, whole
from overwinter.program.winter_choice import WinterChoice, WinterProgram

KEPT_LATE = ("suits the setting", "only on carry days")
"""Families of which every open winter keeps the rows whose settings and days are held."""


def winter_choice(winters: Winters, numbers: IntArray) -> WinterChoice:
    """The choice among these winters, within the bounds that are held now."""
    model, flow, arrays = winters.model, winters.flow, winters.arrays
    owner = winters.owner[numbers]
    stays = np.array([winters.courses[n].stays for n in numbers.tolist()], dtype=np.int64)
    lower, upper = winters.bounds
    open_ = np.zeros(arrays.costs.size, dtype=np.bool_)
    open_[winters.shared[lower < upper]] = True
    itself = model.rows_of(KEPT_LATE) & ~winters.rows.with_any(open_)
    rows = np.flatnonzero(winters.kept & ~itself)
    entries = winters.entries(rows, numbers)
    return WinterChoice(
        model=model,
        owner=owner,
        place=np.append(flow.stay_cell % flow.places, -1)[stays.reshape(-1, flow.spells)],
        costs=np.concatenate([arrays.costs[winters.shared], winters.costs[numbers]]),
        lower=np.concatenate([lower, np.zeros(numbers.size)]),
        upper=np.concatenate([upper, flow.count[owner].astype(np.float64)]),
        whole=np.concatenate([arrays.whole[winters.shared], np.ones(numbers.size, np.bool_)]),
        constant=arrays.constant,
        left_out=np.searchsorted(winters.shared, flow.left_out).astype(np.int64),
        row_starts=entries.starts,
        row_columns=entries.positions,
        row_values=entries.values,
        row_lower=winters.rows.lower[rows],
        row_upper=winters.rows.upper[rows],
    )


def read_winters(choice: WinterChoice, program: WinterProgram, decided: Decided) -> Placement:
    """The placement of every tree; of trees alike the first have the winters found first."""
    data = choice.model.data
    places = np.array([*data.season.places, ""], dtype=object)
    paths: dict[int, list[tuple[str | None, ...]]] = {}
    for n, variable in enumerate(program.trees):
        path = tuple(place or None for place in places[choice.place[n]].tolist())
        paths.setdefault(int(choice.owner[n]), []).extend([path] * whole(variable.varValue))
    placed = {
        tree_id: path
        for group in data.groups
        for tree_id, path in zip(group.tree_ids, paths.get(group.index, ()), strict=False)
    }
    out = {i for group in data.groups for i in group.tree_ids if i not in placed}
    return Placement(dict(decided.settings), placed, frozenset(out))
