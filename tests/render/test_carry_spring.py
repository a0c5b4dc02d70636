"""Spring rows against the frost in the weather and each tree's own hardening."""

from datetime import date

import numpy as np
import pytest
from carry_winters import APR, DEC, MAY, PlanMaker, small_winter

from overwinter.audit.audit import audit
from overwinter.render.carry_spring import last_frost, spring_rows
from overwinter.shelters.conditions import compute_conditions


def test_last_frost_is_the_last_day_below_zero() -> None:
    """Found by hand: walk the days of the test weather backwards until one is below 0 °C."""
    season, _ = small_winter()
    day = season.days - 1
    while season.weather.air_c[24 * day : 24 * day + 24].min() >= 0.0:
        day -= 1
    assert last_frost(season) == season.date_of(day)


def test_without_conditions_a_tree_counts_as_awake() -> None:
    """The olive in growth dies at -2 °C in its roots; margin 3 K: 1 °C, compared with the air."""
    season, plan = small_winter()
    row = next(row for row in spring_rows(season, plan) if row.tree == "Olive")
    first = season.day_index(APR)
    coldest = float(season.weather.air_c[24 * first :].min())
    assert (row.day, row.hardened, row.safe_from) == (APR, None, None)
    assert row.spare_k == pytest.approx(coldest - 1.0)
    assert row.coldest_after_c == pytest.approx(coldest)
    days = season.weather.air_c[24 * first :].reshape(-1, 24).min(axis=1)
    assert row.frost_nights_after == int((days < 0.0).sum())
    assert row.risk.startswith("colder than it stands")


def test_with_conditions_each_tree_follows_its_own_winter() -> None:
    """A cold cellar keeps the maple hard; no tree can have more to spare than the audit finds."""
    season, plan = small_winter()
    conditions = compute_conditions(season)
    rows = {row.tree: row for row in spring_rows(season, plan, conditions)}
    assert rows["Old maple"].hardened == pytest.approx(1.0)
    assert rows["Fig"].hardened == pytest.approx(0.0)
    margins = audit(season, conditions, plan).margins
    for row in rows.values():
        assert row.spare_k >= margins[row.tree_id].nearest_k - 1e-9
    assert rows["Fig"].limited_by == "leaves"
    assert rows["Fig"].spare_k == pytest.approx(rows["Fig"].coldest_after_c - 10.0)


def test_safe_from_is_the_first_safe_day() -> None:
    """Roots of the maple outdoors stay above their floor from then on, and it is before May."""
    season, plan = small_winter()
    rows = {row.tree: row for row in spring_rows(season, plan, compute_conditions(season))}
    safe = rows["Old maple"].safe_from
    assert safe is not None
    assert date(2026, 1, 1) < safe < MAY
    assert rows["Fig"].safe_from is None


def test_trees_still_under_cover_are_not_forgotten() -> None:
    """A tree without a way home comes last, with the first day it could go out."""
    season, plan = small_winter()
    stuck = PlanMaker(season)
    stuck.carries = [c for c in plan.carries if (c.tree_id, c.day) != ("t1", MAY)]
    stuck.heat("cellar", DEC, "hold 2 °C")
    row = spring_rows(season, stuck.make(), compute_conditions(season))[-1]
    assert (row.tree, row.stays, row.day) == ("Little maple", True, season.site.ends)
    assert row.safe_from is not None
    assert "still under cover" in row.risk


def test_only_the_last_way_out_counts_and_rows_are_ordered() -> None:
    """By day, the most endangered first."""
    rows = spring_rows(*small_winter())
    assert [row.day for row in rows] == sorted(row.day for row in rows)
    assert [row.tree for row in rows][0:2] == ["Olive", "Fig"]
    assert np.all(np.diff([row.spare_k for row in rows if row.day == MAY]) >= 0.0)
