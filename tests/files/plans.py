"""Plans for tests of files: one small and written out, and any at all by hypothesis."""

from datetime import date, timedelta

from hypothesis import strategies as st

from overwinter.model.plan import (
    Carry,
    Costs,
    Cure,
    Lack,
    Layout,
    LeftOut,
    Plan,
    Proof,
    Termination,
)
from overwinter.model.shelter import HeaterPart, HeaterSetting
from overwinter.model.species import Harm
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.rules import RULES

DAY = date(2026, 10, 1)
OFF = HeaterSetting()
HOLD_5 = HeaterSetting(
    parts=(HeaterPart("fan", hold_c=5.0),),
    hold_c=5.0,
    power_w=1500.0,
    hold_money_per_kwh=0.1,
    breaker_w=(("shed", 1500.0),),
)


def small_plan() -> Plan:
    """Three trees of the good folder over two stages; figures invented."""
    change, end = date(2026, 11, 20), date(2027, 5, 16)
    inside = "greenhouse/bench"
    joins = (Happening(HappeningKind.JOINS, "Gift"),)
    week = timedelta(days=7)
    return Plan(
        stages=(
            Stage(0, Sign.START, None, (), DAY, DAY, DAY, change),
            Stage(1, Sign.COLD_NIGHT, -3.5, joins, change - week, change, change + week, end),
        ),
        settings={"garden": (OFF, OFF), "greenhouse": (OFF, HOLD_5), "cellar": (OFF, OFF)},
        stays={
            "Maple": ("garden/bench", "cellar/shelf"),
            "Pine 1/2": ("garden/bench", "garden/bench"),
            "Gift": (None, inside),
        },
        carries=(
            Carry(1, change, "Gift", None, inside),
            Carry(1, change, "Maple", "garden/bench", "cellar/shelf"),
        ),
        left_out=(
            LeftOut(
                "Pine 2/2",
                Cure.GROWER,
                inside,
                (
                    Lack("cellar/shelf", 1, "too tall", 0.05, "m"),
                    Lack(inside, 1, "forbidden by the grower", float("inf"), "", Harm.TOP),
                ),
            ),
        ),
        costs=Costs(heat=61.7, losses=0.1 + 0.2, carries=2.0, cover=5.0),
        proof=Proof(
            "highs", Termination.OPTIMAL, 68.99999999999999, 68.5, 0.007246376811594, 1.25, 2
        ),
        layouts={inside: {1: (Layout("Gift", 0.1, 0.05, 0.3, 0.3),)}},
    )


NAMES = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=12)
NUMBERS = st.floats(allow_nan=False)
COUNTS = st.integers(0, 400)


happening = st.builds(Happening, st.sampled_from(HappeningKind), NAMES)
setting = st.builds(
    HeaterSetting,
    st.lists(st.builds(HeaterPart, NAMES, NUMBERS, st.none() | NUMBERS), max_size=2).map(tuple),
    NUMBERS,
    st.none() | NUMBERS,
    breaker_w=st.lists(st.tuples(NAMES, NUMBERS), max_size=2).map(tuple),
)


@st.composite
def any_plan(draw: st.DrawFn) -> Plan:
    """A plan that agrees with itself, with any names and numbers."""
    lengths = draw(st.lists(st.integers(0, 60), min_size=1, max_size=4))
    stages, start = [], draw(st.dates(date(1990, 1, 1), date(2100, 1, 1)))
    for index, length in enumerate(lengths):
        end = start + timedelta(days=length)
        sign, threshold_c = draw(st.sampled_from(Sign)), draw(st.none() | NUMBERS)
        happens = draw(st.lists(happening, max_size=2).map(tuple))
        stages.append(Stage(index, sign, threshold_c, happens, start, start, end, end))
        start = end
    trees = draw(st.lists(NAMES, max_size=4, unique=True))
    places = st.none() | NAMES
    row = st.tuples(*[places for _ in stages])
    stays = {tree: draw(row) for tree in trees}
    carries = [
        Carry(0, stages[0].usual, draw(st.sampled_from(trees)), draw(places), draw(NAMES))
        for _ in range(draw(st.integers(0, 3)) if trees else 0)
    ]
    lack = st.builds(
        Lack,
        NAMES,
        COUNTS,
        st.sampled_from([rule.lacks for rule in RULES]),
        NUMBERS,
        NAMES,
        st.none() | st.sampled_from(Harm),
    )
    left_out = st.builds(
        LeftOut, NAMES, st.sampled_from(Cure), places, st.lists(lack, max_size=3).map(tuple)
    )
    layout = st.builds(Layout, NAMES, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
    optional = st.none() | NUMBERS
    return Plan(
        stages=tuple(stages),
        settings=draw(st.dictionaries(NAMES, st.tuples(*[setting for _ in stages]), max_size=3)),
        stays=stays,
        carries=tuple(carries),
        left_out=tuple(draw(st.lists(left_out, max_size=2))),
        costs=draw(st.builds(Costs, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)),
        proof=draw(
            st.builds(
                Proof,
                NAMES,
                st.sampled_from(Termination),
                NUMBERS,
                optional,
                optional,
                NUMBERS,
                COUNTS,
            )
        ),
        layouts=draw(
            st.dictionaries(
                NAMES,
                st.dictionaries(COUNTS, st.lists(layout, max_size=2).map(tuple), max_size=2),
                max_size=2,
            )
        ),
    )
