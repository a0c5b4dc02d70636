"""The growing linear program against PuLP's way to the same solver, nothing kept in between."""

import numpy as np
import pulp
import pytest

from overwinter.solvers.choose import relax
from overwinter.solvers.growing_lp import PATIENCE, GrowingLp, Sparse

COLUMNS, ROWS = 12, 6


class Random:
    """A covering problem, in both forms: ``a x >= b``, ``0 <= x <= upper``, at least cost."""

    def __init__(self, seed: int) -> None:
        random = np.random.default_rng(seed)
        self.costs = random.integers(1, 20, COLUMNS).astype(float)
        self.a = random.integers(0, 5, (ROWS, COLUMNS)).astype(float)
        self.b = self.a[:, : COLUMNS // 2].sum(axis=1) * random.random(ROWS)
        self.upper = np.ones(COLUMNS)

    def grown(self, columns: int, rows: int, patience: float = PATIENCE) -> GrowingLp:
        """With the first columns and rows."""
        lp = GrowingLp(patience=patience)
        zeros = np.zeros(columns)
        nothing = Sparse(
            np.zeros(columns + 1, dtype=np.int64), np.zeros(0, dtype=np.int64), zeros[:0]
        )
        lp.add_columns(self.costs[:columns], zeros, self.upper[:columns], nothing)
        self.add_rows(lp, 0, rows, columns)
        return lp

    def add_rows(self, lp: GrowingLp, first: int, last: int, columns: int) -> None:
        """Rows over the first columns."""
        starts = columns * np.arange(last - first + 1)
        positions = np.tile(np.arange(columns), last - first)
        values = self.a[first:last, :columns].ravel()
        lp.add_rows(
            self.b[first:last], np.full(last - first, np.inf), Sparse(starts, positions, values)
        )

    def add_columns(self, lp: GrowingLp, first: int, rows: int) -> None:
        """The rest of the columns, over the first rows."""
        number = COLUMNS - first
        entries = Sparse(
            rows * np.arange(number + 1),
            np.tile(np.arange(rows), number),
            self.a[:rows, first:].T.ravel(),
        )
        lp.add_columns(self.costs[first:], np.zeros(number), self.upper[first:], entries)

    def least(self, columns: int, rows: int) -> float | None:
        """The reference."""
        problem = pulp.LpProblem()
        x = [problem.add_variable(f"x{c}", 0.0, float(self.upper[c])) for c in range(columns)]
        problem.setObjective(pulp.lpSum(self.costs[c] * x[c] for c in range(columns)))
        for r in range(rows):
            problem += pulp.lpSum(self.a[r, c] * x[c] for c in range(columns)) >= self.b[r]
        return relax(problem).objective


def objective(lp: GrowingLp) -> float | None:
    """Of the next solve."""
    answer = lp.solve()
    return None if answer is None else answer.objective


@pytest.mark.parametrize("seed", range(8))
def test_going_back_to_an_earlier_basis(seed: int) -> None:
    """Bounds change, rows and columns are added; from the first basis on the same best comes."""
    made = Random(seed)
    half = COLUMNS // 2
    lp = made.grown(half, ROWS // 2)
    assert objective(lp) == pytest.approx(made.least(half, ROWS // 2))
    basis = lp.basis()
    assert (basis.columns.size, basis.rows.size) == (half, ROWS // 2)
    every = np.arange(half)
    lp.set_bounds(every, np.zeros(half), np.zeros(half))
    lp.solve()
    made.add_columns(lp, half, ROWS // 2)
    made.add_rows(lp, ROWS // 2, ROWS, COLUMNS)
    lp.set_bounds(every, np.zeros(half), made.upper[:half])
    lp.set_basis(basis)
    assert objective(lp) == pytest.approx(made.least(COLUMNS, ROWS))


@pytest.mark.parametrize("seed", range(8))
def test_rows_that_do_not_bind_go_and_may_come_back(seed: int) -> None:
    """Without them nothing changes; with new columns and all rows again, all is as if added now."""
    made = Random(seed)
    half = COLUMNS // 2
    lp = made.grown(half, ROWS)
    whole = made.least(half, ROWS)
    answer = lp.solve()
    assert answer is not None
    assert answer.objective == pytest.approx(whole)
    slack = made.a[:, :half] @ answer.values - made.b > 1e-6
    may = np.arange(ROWS) > 0
    gone = lp.drop_idle(may, least_share=0.0)
    assert not gone[0]
    assert gone[slack & may].all()
    assert answer.duals[gone] == pytest.approx(0.0)
    assert lp.rows == ROWS - gone.sum()
    again = lp.solve()
    assert again is not None
    assert again.objective == pytest.approx(whole)
    assert again.duals == pytest.approx(answer.duals[~gone])
    made.a, made.b = (np.concatenate([rows[~gone], rows[gone]]) for rows in (made.a, made.b))
    made.add_columns(lp, half, lp.rows)
    made.add_rows(lp, lp.rows, ROWS, COLUMNS)
    assert objective(lp) == pytest.approx(made.least(COLUMNS, ROWS))


def test_few_rows_that_do_not_bind_stay() -> None:
    """Taking them away costs more than they do."""
    made = Random(0)
    lp = made.grown(COLUMNS, ROWS)
    lp.solve()
    assert not lp.drop_idle(np.ones(ROWS, dtype=np.bool_), least_share=1.0).any()
    assert lp.rows == ROWS


@pytest.mark.parametrize("seed", range(8))
def test_what_ends_early_costs_more_than_asked(seed: int) -> None:
    """By weak duality: prices of what ended early bound the best from below, and above ``most``.

    The best is found from there as soon as it is asked for.
    """
    made = Random(seed)
    best = made.least(COLUMNS, ROWS)
    assert best is not None
    assert best > 0.0
    lp = made.grown(COLUMNS, ROWS)
    early = lp.solve(0.3 * best)
    assert early is not None
    prices = np.maximum(early.duals, 0.0)
    left = np.minimum(made.costs - made.a.T @ prices, 0.0)
    bound = made.b @ prices + left @ made.upper
    assert 0.3 * best < bound <= best + 1e-6
    later = lp.solve(2.0 * best)
    assert later is not None
    assert later.optimal
    assert later.objective == pytest.approx(best)


def test_some_end_early() -> None:
    """Not all of the programs above are through before they pass what is asked."""
    ended = []
    for seed in range(8):
        made = Random(seed)
        best = made.least(COLUMNS, ROWS)
        assert best is not None
        answer = made.grown(COLUMNS, ROWS).solve(0.1 * best)
        assert answer is not None
        ended.append(answer.optimal)
    assert not all(ended)


@pytest.mark.parametrize("seed", range(8))
def test_what_stalls_is_helped_to_its_end(seed: int) -> None:
    """Here at its first step; and again after new columns, from the last point on."""
    made = Random(seed)
    half = COLUMNS // 2
    lp = made.grown(half, ROWS, patience=0.0)
    assert objective(lp) == pytest.approx(made.least(half, ROWS))
    made.add_columns(lp, half, ROWS)
    assert objective(lp) == pytest.approx(made.least(COLUMNS, ROWS))
