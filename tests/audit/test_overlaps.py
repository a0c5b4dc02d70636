"""Overlapping rectangles on a drawn place."""

from itertools import combinations

import numpy as np

from overwinter.audit.rules.room import SLACK_M, _overlaps
from overwinter.model.plan import Layout


def test_the_sweep_finds_what_looking_at_every_pair_finds() -> None:
    """Random rectangles, some touching, some the same; the reference looks at every pair."""
    random = np.random.default_rng(7)
    for _ in range(60):
        drawn = [
            Layout(str(i), *(float(v) for v in random.integers(0, 8, 2) / 4), *(0.25, 0.5))
            for i in range(14)
        ]
        expected = {}
        for one, other in combinations(drawn, 2):
            along = min(one.x_m, other.x_m) + 0.25 - max(one.x_m, other.x_m)
            deep = min(one.y_m, other.y_m) + 0.5 - max(one.y_m, other.y_m)
            if min(along, deep) > SLACK_M:
                expected[frozenset((one.tree_id, other.tree_id))] = min(along, deep)
        found = {frozenset((a.tree_id, b.tree_id)): by for a, b, by in _overlaps(drawn)}
        assert found.keys() == expected.keys()
        assert all(abs(found[pair] - expected[pair]) < 1e-12 for pair in found)
        assert expected
