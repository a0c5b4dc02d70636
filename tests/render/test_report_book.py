"""The report's numbers, against sums by hand and against the audit that goes another way."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from report_winters import HOME as YARD
from report_winters import large_winter

from overwinter.audit.audit import audit
from overwinter.model.species import Standing
from overwinter.render.report_book import Moves, ShelterWinter, WinterBook
from overwinter.render.report_parts.benches import standings
from overwinter.render.report_parts.heat import heat_by_month, heat_table
from overwinter.render.report_parts.knowledge import standing_of, standings_used
from overwinter.render.report_parts.light import place_lights
from overwinter.render.report_parts.rodents import reached
from overwinter.render.tables import margins_table

sys.path.append(str(Path(__file__).parents[1] / "audit"))
from audit_season import good, make_tree

COUNT = 40


@pytest.fixture(scope="module")
def book() -> WinterBook:
    return WinterBook(*large_winter(COUNT))


def by_hand() -> WinterBook:
    """Ten mild days at 6 degC, ten of frost at -12, ten mild; three trees in a shed held at 5."""
    season, conditions, plan = good()
    return WinterBook(season, conditions, plan, audit(season, conditions, plan))


def shelter(book: WinterBook, shelter_id: str) -> ShelterWinter:
    return next(one for one in book.shelters if one.shelter.id == shelter_id)


def test_a_shelters_series_by_hand() -> None:
    # Source: arithmetic on the hand-made season: the shed is 2/15 of the way to 18 degC when off
    # (7.6 degC) and held at 5 through the frost; killing at -10 plus a margin of 3 makes -7.
    shed = shelter(by_hand(), "shed")
    assert shed.air_min_c == pytest.approx([7.6] * 10 + [5.0] * 10 + [7.6] * 10)
    assert np.isnan(shed.hold_c[:10]).all()
    assert shed.hold_c[10:20] == pytest.approx([5.0] * 10)
    assert np.isnan(shed.limit_c[:10]).all()
    assert shed.limit_c[10:20] == pytest.approx([-7.0] * 10)
    assert [(run.first, run.last, run.label) for run in shed.settings] == [
        (0, 10, "off"),
        (10, 20, "hold 5 °C"),
        (20, 30, "off"),
    ]
    assert shed.moves == (Moves(10, 3, 0, 0), Moves(20, 0, 3, 0))
    assert [moves.words for moves in shed.moves] == ["3 in", "3 out"]


def test_outdoors_and_shelters_never_used_are_left_out() -> None:
    # Intent: the band is the weather's; the cellar, where nothing ever is, has no panel.
    book = by_hand()
    low, high = book.outdoor_min_max_c
    assert low == pytest.approx([6.0] * 10 + [-12.0] * 10 + [6.0] * 10)
    assert high == pytest.approx(low)
    assert [one.shelter.id for one in book.shelters] == ["garden", "shed"]


def test_air_limit_is_the_highest_of_the_trees_there() -> None:
    # Intent: of two tender trees the tenderer one sets it, only while it is there.
    season, conditions, plan = good(
        make_tree("a", air_floor_c=2.0), make_tree("b", air_floor_c=4.0)
    )
    book = WinterBook(season, conditions, plan, audit(season, conditions, plan))
    shed = shelter(book, "shed")
    assert shed.air_limit_c[10:20] == pytest.approx([4.0] * 10)
    assert np.isnan(shed.air_limit_c[20:]).all()


def test_the_least_gap_of_all_panels_is_the_audits(book: WinterBook) -> None:
    # Intent: pictures and audit tell the same; the panel's gap is never negative where the audit
    # finds none.
    used = [one for one in book.shelters if one.worst_day is not None]
    least = min(float(np.nanmin(one.spare_k)) for one in used)
    assert least == pytest.approx(min(m.root_spare_k for m in book.report.margins.values()))
    for one in used:
        worst = one.worst_day
        if worst is not None and one.spare_k[worst] == pytest.approx(least):
            tree = one.nearest[worst]
            assert tree is not None
            assert book.report.margins[tree.id].root_when == book.date(worst)


def test_coldest_roots_are_never_warmer_than_the_nearest_trees(book: WinterBook) -> None:
    # Intent: the coldest of all is at most as warm as any.
    for one in book.shelters:
        some = np.isfinite(one.root_c)
        assert (one.coldest_root_c[some] <= one.root_c[some] + 1e-9).all()


def test_moves_add_up_to_the_plans_carries(book: WinterBook) -> None:
    # Intent: every carry leaves one place and comes to another, or stays within a shelter.
    into = sum(m.into for one in book.shelters for m in one.moves)
    out = sum(m.out for one in book.shelters for m in one.moves)
    within = sum(m.within for one in book.shelters for m in one.moves)
    assert into + within == out + within == len(book.plan.carries)


def test_heat_by_month_by_hand() -> None:
    # Source: 240 h x 0.3 kW = 72 kWh, all in December, at 0.25 a kWh: 18 EUR.
    rows = heat_by_month(by_hand())
    assert [(row.shelter_id, row.name) for row in rows] == [("shed", "Dec 2026")]
    assert rows[0].delivered_kwh == pytest.approx(72.0)
    assert rows[0].money == pytest.approx(18.0)


def test_heat_by_month_is_the_audits_heat(book: WinterBook) -> None:
    # Intent: months add up to the same heat as spells, shelter by shelter; so does the table.
    rows = heat_by_month(book)
    assert len({row.month for row in rows}) == 8  # October to May
    for one in book.season.shelters:
        mine = [row for row in rows if row.shelter_id == one.id]
        uses = [use for use in book.report.heat if use.shelter_id == one.id]
        assert sum(r.purchased_kwh for r in mine) == pytest.approx(
            sum(u.purchased_kwh for u in uses)
        )
        assert sum(r.money for r in mine) == pytest.approx(sum(u.money for u in uses))
    total = heat_table(book, rows).rows[-1]
    assert total[0] == "All shelters, all months"
    assert total[3] == pytest.approx(book.report.costs.heat)


def test_every_set_of_trees_is_drawn_once_with_all_its_dates(book: WinterBook) -> None:
    # Intent: sets and spells cover the plan exactly; dates of a set that comes back are joined.
    made = standings(book)
    seen = {
        (one.place.id, spell.index, t) for one in made for spell in one.spells for t in one.tree_ids
    }
    stays = {
        (place_id, spell, tree_id)
        for tree_id, path in book.plan.stays.items()
        for spell, place_id in enumerate(path)
    }
    assert seen == stays
    assert len({(one.place.id, one.tree_ids) for one in made}) == len(made)
    everyone = next(one for one in made if one.place.id == YARD and len(one.spells) > 2)
    assert everyone.dates == "1 Oct to 14 Oct, and 19 Apr to 20 May"
    assert {it.tree_id for it in everyone.layouts} == set(everyone.tree_ids)


def test_light_is_what_the_audit_sees(book: WinterBook) -> None:
    # Intent: the tightest ratio over all places is the audit's.
    ratios = [float(np.nanmin(one.light / one.need)) for one in place_lights(book)]
    audited = [m.light_ratio for m in book.report.margins.values() if m.light_ratio is not None]
    assert min(ratios) == pytest.approx(min(audited))


def test_rodents_are_what_the_audit_prices(book: WinterBook) -> None:
    # Intent: the losses of all places add up to the audit's cost.
    found = reached(book)
    assert sum(one.loss for one in found.values()) == pytest.approx(book.report.costs.rodents)
    assert all(book.season.places[place_id].rodent_exposure > 0 for place_id in found)


def test_standings_count_each_number_once(book: WinterBook) -> None:
    # Intent: as many numbers as species used have limits, however many trees; a grower's own value
    # counts as one more, and as the grower's.
    season = book.season
    counts = standings_used(season)
    species = {tree.species_key for tree in season.trees}
    sources = [s for key in species for s in season.species[key].sources.values()]
    assert sum(counts.values()) == 15 * len(species) == len(sources)
    for standing in Standing:
        assert counts[standing] == sum(source.standing is standing for source in sources)
    tree = season.trees[0]
    own = replace(tree, limits=replace(tree.limits, root_kill_c=-1.25))
    changed = standings_used(replace(season, trees=(own, *season.trees)))
    assert changed[Standing.GROWER] == counts[Standing.GROWER] + 1
    assert standing_of(season, own, "root_kill_c") is Standing.GROWER
    assert standing_of(season, tree, "root_kill_c") is not Standing.GROWER


def test_the_margins_table_of_the_screen_has_as_many_rows(book: WinterBook) -> None:
    # Intent: report and screen list the same trees.
    assert len(margins_table(book.season, book.plan, book.report).rows) == len(book.courses)
