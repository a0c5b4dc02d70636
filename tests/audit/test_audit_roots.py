"""Roots along a tree's true path, against an ODE solver and against worked numbers."""

from dataclasses import replace

import numpy as np
import pytest
from audit_season import (
    FROST,
    GARDEN,
    HEATED,
    HOME,
    IN_SHED,
    SPELLS,
    good,
    make_conditions,
    make_place,
    make_plan,
    make_season,
    make_tree,
)
from scipy.integrate import solve_ivp

from overwinter.audit import Rule, audit
from overwinter.audit.ledger import Ledger
from overwinter.audit.roots import path_key, root_paths
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, PlaceKind
from overwinter.model.start import start_of_season
from overwinter.shelters.conditions import root_zone_of_air
from overwinter.shelters.root_zone import outer_root_time_constant_h, pot_class


def ledger_of(season: Season, conditions: Conditions, plan: Plan) -> Ledger:
    """The plan laid out over its hours."""
    return Ledger(season, conditions, plan, start_of_season(season))


def wavy(mean_c: float, swing_k: float, phase: float) -> FloatArray:
    """Thirty days of a daily sine, degC by hour."""
    hours = np.arange(720.0)
    return np.asarray(mean_c + swing_k * np.sin(2 * np.pi * hours / 24 + phase) - hours / 200)


def test_carried_roots_against_an_ode_solver() -> None:
    """Daily extremes and means of carried roots agree with scipy's solver to 1e-4 K.

    dT/dt = (air(t) - T) / tau with air in straight lines between the hours; on the days of carries
    the line runs from the new place's own last hour. The solver runs at a relative error of 1e-9;
    what is left is its own error at the corners of the lines.
    """
    garden, held = wavy(2.0, 6.0, 0.0), wavy(7.0, 2.0, 1.0)
    tree = make_tree("ash", pot_litres=7.0)
    season = make_season(tree)
    conditions = make_conditions(garden=garden, held=held)
    ledger = ledger_of(season, conditions, make_plan({"ash": IN_SHED}, HEATED))
    path = root_paths(ledger, ledger.air, ledger.cold_air)[path_key(ledger, tree)]

    tau_h = outer_root_time_constant_h(pot_class(7.0))
    expected = np.empty(720)
    state = garden[0]
    for number, series in enumerate((garden, held, garden)):
        first = 240 * number
        knots = np.concatenate(([series[max(first - 1, 0)]], series[first : first + 240]))
        solved = solve_ivp(
            lambda t, y, knots=knots: (np.interp(t, np.arange(241.0), knots) - y) / tau_h,
            (0.0, 240.0),
            [state],
            t_eval=np.arange(1.0, 241.0),
            max_step=0.25,
            rtol=1e-9,
            atol=1e-9,
        )
        expected[first : first + 240] = solved.y[0]
        state = float(solved.y[0][-1])
    by_day = expected.reshape(30, 24)
    np.testing.assert_allclose(path.min_c, by_day.min(axis=1), atol=1e-4)
    np.testing.assert_allclose(path.mean_c, by_day.mean(axis=1), atol=1e-4)


@pytest.mark.parametrize(
    ("kind", "cover_m"), [(kind, 0.1) for kind in PlaceKind] + [(PlaceKind.SUNK, 0.25)]
)
def test_standing_still_is_the_shelters_own_root_zone(kind: PlaceKind, cover_m: float) -> None:
    """A tree that never moves has the roots ``shelters`` gives for its place, for every kind."""
    garden = wavy(1.0, 5.0, 0.3)
    bed = make_place("garden", "bench", kind=kind, cover_m=cover_m)
    tree = make_tree("ash", pot_litres=20.0)
    shelters = (replace(GARDEN, places=(bed,)), *make_season().shelters[1:])
    season = make_season(tree, shelters=shelters)
    conditions = make_conditions(garden=garden)
    ledger = ledger_of(season, conditions, make_plan({"ash": (HOME,) * 3}))
    path = root_paths(ledger, ledger.air, ledger.cold_air)[path_key(ledger, tree)]
    usual = root_zone_of_air(season, bed, garden, 20.0).reshape(30, 24)
    cold = root_zone_of_air(season, bed, garden - 5.0, 20.0, 5.0).reshape(30, 24)
    np.testing.assert_allclose(path.min_c, usual.min(axis=1), atol=1e-9)
    np.testing.assert_allclose(path.mean_c, usual.mean(axis=1), atol=1e-9)
    np.testing.assert_allclose(path.cold_min_c, cold.min(axis=1), atol=1e-9)


def test_many_paths_at_once_are_the_same_as_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stepping paths in chunks changes nothing."""
    trees = [make_tree(f"t{n}", pot_litres=float(n + 1)) for n in range(7)]
    season, conditions, plan = good(*trees)
    ledger = ledger_of(season, conditions, plan)
    whole = root_paths(ledger, ledger.air, ledger.cold_air)
    monkeypatch.setattr("overwinter.audit.roots.CHUNK", 2)
    pieces = root_paths(ledger, ledger.air, ledger.cold_air)
    for key, path in whole.items():
        np.testing.assert_array_equal(path.min_c, pieces[key].min_c)
        np.testing.assert_array_equal(path.cold_min_c, pieces[key].cold_min_c)


def test_hardening_follows_the_place_a_tree_really_had() -> None:
    """The same frost kills a tree that stood warm before it and spares one that stood cold.

    Unhardened roots die at -3, hardened ones at -12; ten days below 8 degC harden fully. Outdoors
    at 6 degC the tree is at a = 1 when the frost comes (floor -12 + 3 = -9, air -8); from the
    cellar at 12 degC it comes at a = 0, and the frost itself hardens it by a tenth a day: on the
    first day its floor is -3 + 3 = 0, so that roots at -8 are 8 K short.
    """
    tree = make_tree("ash", root_kill_c=-12.0, root_kill_unhardened_c=-3.0)
    season = make_season(tree)
    conditions = make_conditions(cellar=np.full(720, 12.0))
    cold = make_plan({"ash": (HOME, "shed/bench", HOME)})
    warm = make_plan({"ash": ("cellar/bench", "shed/bench", HOME)})
    spared = [f for f in audit(season, conditions, cold).findings if f.rule is Rule.ROOTS]
    assert spared == []
    killed = [f for f in audit(season, conditions, warm).findings if f.rule is Rule.ROOTS]
    assert [(f.subject, f.where, f.spell) for f in killed] == [("ash", "shed/bench", 1)]
    assert killed[0].when == FROST
    # the last roots of the warm cellar are long gone by the evening of the first day
    assert killed[0].by_how_much == pytest.approx(8.0, abs=1e-3)


def test_joining_tree_is_unhardened_and_starts_at_its_place() -> None:
    """A tree that joins in the frost has not hardened with those that stood outdoors."""
    limits = {"root_kill_c": -12.0, "root_kill_unhardened_c": -3.0}
    season = make_season(make_tree("late", joins=FROST, **limits))
    plan = make_plan({"late": (None, "shed/bench", HOME)})
    found = [f for f in audit(season, make_conditions(), plan).findings if f.rule is Rule.ROOTS]
    assert [f.when for f in found] == [FROST]
    # the shed itself cools down to -8 within the first hour, its roots by the evening
    assert found[0].by_how_much == pytest.approx(8.0, abs=1e-3)


def test_margin_and_condition() -> None:
    """A weak tree needs 5 K above the killing temperature, a strong one 2 K (site defaults)."""
    from overwinter.model.tree import Condition

    trees = [make_tree(c.value, condition=c) for c in Condition]
    season, conditions, plan = good(*trees)
    report = audit(season, conditions, plan)
    floors = {key: margin.root_floor_c for key, margin in report.margins.items()}
    assert floors == {"weak": -5.0, "ordinary": -7.0, "strong": -8.0}


def test_young_roots_count() -> None:
    """In the first winter after repotting the killing temperature of young roots is used."""
    tree = make_tree("ash", root_kill_young_c=-4.0, young_roots=True, harden_days=1.0)
    season, conditions, plan = good(tree)
    margin = audit(season, conditions, plan).margins["ash"]
    assert margin.root_floor_c == pytest.approx(-1.0)


def test_spells_keep_their_places() -> None:
    """The place named in a margin is the one the tree stands at on that day."""
    season, conditions, plan = good()
    margin = audit(season, conditions, plan).margins["ash"]
    spell = next(s for s in SPELLS if s.start <= margin.root_when < s.end)
    assert margin.root_where == plan.stays["ash"][spell.index]
