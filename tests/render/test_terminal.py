"""The summary fits one screen and says what the audit found; tables carry units."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest

from overwinter.audit.report import AuditReport, Away, AwayWhy, HeatUse, PlaceUse, Rule, TreeMargin
from overwinter.model.plan import Carry, Costs, Lack, LeftOut, Plan, Proof, Reason
from overwinter.model.season import Season, Spell, Weather
from overwinter.model.shelter import Carrier, Heater, Place, PlaceKind, Shelter
from overwinter.model.site import Ground, Site
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree
from overwinter.render.tables import TABLES, Column, Table, csv_text, render
from overwinter.render.terminal import HEIGHT, WIDTH, Style, summary
from overwinter.render.words import clip, count, money, percent, proven, short_date
from overwinter.units import Display

STARTS = date(2026, 10, 1)
LIMITS = Limits(
    -10.0,
    -8.0,
    -5.0,
    None,
    None,
    0.0,
    ChillModel.HOURS,
    0.0,
    5.0,
    LeafHabit.DECIDUOUS,
    0.2,
    8.0,
    20.0,
    10.0,
    0.02,
)


def make_shelter(number: int, name: str, heated: bool) -> Shelter:
    """A shelter with two places."""
    shelter_id = f"s{number}"
    heaters = (Heater("oven", Carrier.ELECTRICITY, 1.0, 1000.0, hold_c=(5.0,)),) if heated else ()
    places = tuple(
        Place(
            f"{shelter_id}/p{n}",
            shelter_id,
            f"{name} place {n}",
            PlaceKind.BENCH,
            2.0,
            1.0,
            2.0,
            100.0,
            1.0,
            0.0,
            False,
        )
        for n in range(2)
    )
    return Shelter(shelter_id, name, places, heaters=heaters)


def make_report(
    trees: int, shelters: int, spells: int, name: str = "", us: bool = False
) -> tuple[Season, Plan, AuditReport]:
    """An audited plan of any size, its figures made up."""
    tiling = tuple(
        Spell(n, STARTS + timedelta(days=7 * n), STARTS + timedelta(days=7 * n + 7), "a week")
        for n in range(spells)
    )
    site = Site(
        name=f"{name}Yard",
        latitude_deg=45.0,
        longitude_deg=0.0,
        elevation_m=0.0,
        utc_offset_h=0.0,
        starts=STARTS,
        ends=tiling[-1].end - timedelta(days=1),
        design_min_c=-20.0,
        ground=Ground(10.0, 10.0, 35.0),
        house_c=20.0,
        summer_place="s0/p0",
        currency="EUR",
        money_per_kwh={},
        breakers_w={},
        carries_per_day=50,
        carry_days_max=30,
        display=Display(us),
        invented=True,
    )
    season = Season(
        site=site,
        weather=Weather(air_c=None, sun_w_m2=None, origin="made up"),
        species={},
        trees=tuple(
            Tree(
                f"t{n}",
                f"{name}tree {n}",
                "k",
                LIMITS,
                0.5,
                0.5,
                1.0,
                30.0,
                5.0,
                Condition.ORDINARY,
                100.0,
            )
            for n in range(trees)
        ),
        shelters=tuple(make_shelter(n, f"{name}shelter {n}", n > 0) for n in range(shelters)),
    )
    last = f"s{shelters - 1}/p1"
    plan = Plan(
        spells=tiling,
        settings={s.id: ("off", "hold 5 °C") * (spells // 2) for s in season.shelters},
        stays={t.id: ("s0/p0", *[last] * (spells - 1)) for t in season.trees[1:]},
        carries=tuple(Carry(s.start, "t1", "s0/p0", last) for s in tiling),
        left_out=(LeftOut("t0", (Lack(last, "off", 1, Reason.ROOTS_TOO_COLD, 2.13, "K"),)),),
        costs=Costs(heat=1.0),
        proof=Proof("HiGHS 1.16.0", "gap reached", 1000.0, 999.2, 0.0008, 12.34, 2),
    )
    whys = (AwayWhy.NOT_SAFE, AwayWhy.DEARER, AwayWhy.NO_CARRY)
    report = AuditReport(
        findings=(),
        costs=Costs(100.0, 20.0, 3.0, 40.0, 50.0, 6.5, 0.0, 2.0),
        margins={
            t.id: TreeMargin(
                t.id,
                1.0 + n,
                STARTS,
                last,
                -6.0,
                -7.0,
                None,
                None,
                None,
                1.25,
                1,
                900.0,
                800.0,
                "chill hours",
            )
            for n, t in enumerate(season.trees[1:])
        },
        heat=tuple(
            HeatUse(
                s.id,
                spell.index,
                plan.settings[s.id][spell.index],
                "off" if spell.index % 2 == 0 else "hold 41 °F",
                10.0,
                10.0,
                2.5,
            )
            for s in season.shelters[1:]
            for spell in tiling
        ),
        uses=tuple(
            PlaceUse(p, spell.index, 3, 1.2, 0.5 + spell.index / 100, 90.0)
            for p in season.places
            for spell in tiling
        ),
        away=tuple(
            Away(t.id, last, whys[n % len(whys)], Rule.ROOTS if n == 0 else None, tiling[-1].start)
            for n, t in enumerate(season.trees[1:])
        ),
        rules_checked=tuple(Rule),
    )
    return season, plan, report


LONG = "A name as long as growers like to write, with its cultivar and its pot: "


@pytest.mark.parametrize("us", [False, True])
@pytest.mark.parametrize("name", ["", LONG])
@pytest.mark.parametrize(
    ("trees", "shelters", "spells"), [(2, 2, 2), (15, 3, 16), (300, 12, 26), (30000, 40, 32)]
)
def test_fits_one_screen(trees: int, shelters: int, spells: int, name: str, us: bool) -> None:
    """At every size, and with long names, 80 columns and 23 lines hold everything."""
    text = summary(*make_report(trees, shelters, spells, name, us))
    lines = text.splitlines()
    assert len(lines) <= HEIGHT - 1
    assert max(map(len, lines)) <= WIDTH
    assert text.endswith("\n")
    assert "\x1b" not in text


def test_says_what_the_audit_found() -> None:
    """Money and heat are the audit's: 221.50 in all, not the 1.00 the plan itself claims."""
    lines = summary(*make_report(15, 3, 4)).splitlines()
    assert lines[0] == "Yard, 1 Oct 2026 to 28 Oct 2026 (an invented grower)"
    assert lines[1] == "Trees safe  14 of 15; 1 tree has no safe place (--table left-out): tree 0"
    assert lines[2].startswith("Not home    14 trees are not home on 28 Oct: ")
    assert lines[4].startswith("Cost        221.50 EUR: heat 100.00, crowding 20.00, rodents 3.00,")
    text = "\n".join(lines)
    assert "Carry days  4 of at most 30: 1 Oct (1), 8 Oct (1), 15 Oct (1), 22 Oct (1)" in text
    # two heated shelters, four spells of 10 kWh at 2.50
    heat = [" ".join(line.split()) for line in lines]
    assert "shelter 1 40 10.00 off, hold 41 °F, off, hold 4…" in heat
    assert "all shelters 80 20.00" in heat
    assert lines[-1].startswith("Audited: all 28 rules hold.")


def test_hidden_shelters_are_summed() -> None:
    """Beyond four heated shelters the rest stands in one line, and the total counts them all."""
    lines = summary(*make_report(15, 12, 2)).splitlines()
    rest = next(line for line in lines if line.startswith("8 others"))
    assert rest.split()[2:4] == ["160", "40.00"]
    total = next(line for line in lines if line.startswith("all shelters"))
    assert total.split()[2:4] == ["220", "55.00"]


def test_nearest_trees_and_units() -> None:
    """The tree with the least to spare stands first; 1 K is 1.8 degF on a site in US units."""
    for us, spare in ((False, "1.0 K"), (True, "1.8 °F")):
        lines = summary(*make_report(15, 2, 2, us=us)).splitlines()
        heading = next(n for n, line in enumerate(lines) if "nearest their limit" in line)
        assert " ".join(lines[heading + 1].split()[-5:]) == f"1 {spare} 1 Oct"


def test_air_floor_may_be_the_nearest_limit() -> None:
    """A tender top nearer its limit than the roots decides rank, figure and date."""
    season, plan, report = make_report(15, 2, 2)
    tender = replace(
        report.margins["t9"], air_spare_k=0.2, air_when=date(2026, 10, 9), air_where="s1/p1"
    )
    report = replace(report, margins={**report.margins, "t9": tender})
    first = next(line for line in summary(season, plan, report).splitlines() if "tree 9" in line)
    assert first.endswith("0.2 K   9 Oct")


def test_bold_headings_on_request() -> None:
    """Bold wraps whole headings and changes no letter."""
    parts = make_report(15, 3, 4)
    bold = summary(*parts, Style(bold=True))
    assert "\x1b[1m" in bold
    assert bold.replace("\x1b[1m", "").replace("\x1b[0m", "") == summary(*parts)


@pytest.mark.parametrize("name", TABLES)
def test_tables_render_and_export(name: str) -> None:
    """Every table has its title, headings and as many rows on screen, in CSV and as records."""
    table = TABLES[name](*make_report(5, 3, 4))
    assert table.name == name
    assert table.rows
    lines = render(table).splitlines()
    assert lines[0] == table.title
    assert len(lines) == len(table.rows) + 3
    assert len(csv_text(table).splitlines()) == len(table.rows) + 1
    assert len(table.records()) == len(table.rows)
    assert all(set(row) == {c.heading for c in table.columns} for row in table.records())


def test_tables_in_the_sites_units() -> None:
    """1.2 m2 is 12.9 ft2, 90 kg 198 lb, 30 kg 66 lb; 1 ft = 0.3048 m, 1 lb = 0.45359237 kg."""
    metric, us = make_report(3, 2, 2), make_report(3, 2, 2, us=True)
    for parts, footprint, load, weight in (
        (metric, ("footprints, m²", "1.20"), ("load, kg", "90.0"), ("weight, kg", "30.0")),
        (us, ("footprints, ft²", "12.9"), ("load, lb", "198"), ("weight, lb", "66")),
    ):
        shown = {name: render(TABLES[name](*parts)).splitlines() for name in TABLES}
        assert footprint[0] in shown["places"][1]
        assert load[0] in shown["places"][1]
        assert shown["places"][3].split()[-2:] == [footprint[1], load[1]]
        assert weight[0] in shown["carries"][1]
        assert shown["carries"][3].split()[-2:] == [weight[1], "2"]
        assert weight[0] in csv_text(TABLES["carries"](*parts)).splitlines()[0]


@pytest.mark.parametrize(
    ("amount", "unit", "metric", "us"),
    [
        (15.0, "K", "15.0 K", "27.0 °F"),  # a difference: times 1.8
        (0.71, "m", "71 cm", "28 in"),  # 1 in = 2.54 cm
        (0.19, "m²", "0.19 m²", "2.0 ft²"),
        (12.0, "kg", "12.0 kg", "26 lb"),
        (1.4, "days", "1 day", "1 day"),
        (1.25, "mol/(m² d)", "1.2 mol/(m² d)", "1.2 mol/(m² d)"),
        (1.0, "", "-", "-"),  # forbidden: nothing measures it
    ],
)
def test_left_out_in_the_sites_units(amount: float, unit: str, metric: str, us: str) -> None:
    """What a place lacks, and the setting it was judged with, as the report has them."""
    for is_us, shown, setting in ((False, metric, "hold 2.2 °C"), (True, us, "hold 36 °F")):
        season, plan, report = make_report(2, 2, 2, us=is_us)
        lack = Lack("s1/p1", "hold 2.22222 °C", 1, Reason.ROOTS_TOO_COLD, amount, unit)
        plan = replace(plan, left_out=(LeftOut("t0", (lack,)),))
        line = render(TABLES["left-out"](season, plan, report)).splitlines()[3]
        assert line.endswith(f"  {shown}")
        assert f"  {setting}  " in line


def test_trees_table_joins_neighbouring_spells() -> None:
    """A tree that stays put has one row from its first day to its last."""
    season, plan, report = make_report(2, 2, 4)
    rows = TABLES["trees"](season, plan, report).rows
    assert [row[1:] for row in rows] == [
        ("1 Oct to 7 Oct", "shelter 0, shelter 0 place 0"),
        ("8 Oct to 28 Oct", "shelter 1, shelter 1 place 1"),
    ]


def test_two_people_for_heavy_trees() -> None:
    """From the site's own weight on a carry takes two: 30 kg here, two from 23 kg."""
    rows: Sequence[tuple[object, ...]] = TABLES["carries"](*make_report(3, 2, 2)).rows
    assert {row[-1] for row in rows} == {2}


def test_trees_not_home_are_counted_by_why() -> None:
    """Seven away: 3, 2 and 2 of the three reasons; and no line where all are home."""
    season, plan, report = make_report(8, 2, 2)
    told = " ".join(summary(season, plan, report).split())
    assert (
        "Not home 7 trees are not home on 14 Oct: 3 not safe outdoors yet, 2 no carry left, "
        "2 dearer at home (--table not-home)"
    ) in told
    rows = TABLES["not-home"](season, plan, report).rows
    assert rows[0][2:] == ("not safe outdoors yet", "root temperature", "8 Oct")
    assert "Not home" not in summary(season, plan, replace(report, away=()))


def test_columns_align() -> None:
    """Numbers stand on the right under their headings, texts on the left, none as a dash."""
    columns = (Column("name"), Column("heat", "kWh", 1))
    table = Table("x", "Title", columns, (("a", 5.0), ("longer", None)))
    assert render(table) == (
        "Title\n"
        "  name    heat, kWh\n"
        "  ------  ---------\n"
        "  a             5.0\n"
        "  longer          -\n"
    )
    assert csv_text(table) == 'name,"heat, kWh"\r\na,5.0\r\nlonger,\r\n'


@pytest.mark.parametrize(
    ("objective", "bound", "gap", "text"),
    [
        (10.0, None, None, "no bound is known, so nothing is proven about how good this plan is"),
        (10.0, 10.0, 0.0, "proven best, to within a hundredth of a EUR"),
        (
            1000.0,
            999.2,
            0.0008,
            "proven within 0.08 % of the best: no plan can be more than 0.80 EUR cheaper",
        ),
        (
            100.0,
            75.0,
            0.25,
            "proven within 25 % of the best: no plan can be more than 25.00 EUR cheaper",
        ),
        (
            652.19,
            -0.91,  # the search's costs were a little less than the audit's
            653.10 / 652.19,
            "nothing is proven about how good this plan is: the bound found is only 0.00 EUR",
        ),
        (
            500.0,
            2.5,
            0.995,
            "nothing is proven about how good this plan is: the bound found is only 2.50 EUR",
        ),
        (0.001, 0.0, 1.0, "proven best, to within a hundredth of a EUR"),
    ],
)
def test_proven(objective: float, bound: float | None, gap: float | None, text: str) -> None:
    """Only a bound proves anything, and what is said is no more than it shows."""
    proof = Proof("HiGHS", "time limit", objective, bound, gap, 1.0, 1)
    assert proven(proof, "EUR") == text


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0.00 %"), (0.00081, "0.09 %"), (0.0008, "0.08 %"), (0.0123, "1.3 %"), (0.101, "11 %")],
)
def test_percent_never_flatters(share: float, text: str) -> None:
    """A gap is rounded up: 0.081 % is shown as 0.09 %."""
    assert percent(share) == text


def test_words() -> None:
    """Amounts, counts, dates and cut names."""
    assert money(-0.001, "EUR") == "0.00 EUR"
    assert (count(1, "tree"), count(2, "tree"), count(0, "tree")) == (
        "1 tree",
        "2 trees",
        "0 trees",
    )
    assert short_date(date(2027, 1, 7)) == "7 Jan"
    assert clip("abcdef", 4) == "abc…"
    assert clip("abcd", 4) == "abcd"
