"""Plans for tests of files: one small and written out, and any at all by hypothesis."""

from datetime import date, timedelta

from hypothesis import strategies as st

from overwinter.model.plan import (
    Carry,
    Costs,
    Lack,
    Layout,
    LeftOut,
    Plan,
    Proof,
    Reason,
)
from overwinter.model.season import Spell

DAY = date(2026, 10, 1)


def small_plan() -> Plan:
    """Three trees of the good folder over two spells; figures invented."""
    change, end = date(2026, 11, 20), date(2027, 5, 16)
    inside = "greenhouse/bench"
    return Plan(
        spells=(Spell(0, DAY, change, "the plan begins"), Spell(1, change, end, "Gift joins")),
        settings={
            "garden": ("off", "off"),
            "greenhouse": ("off", "hold 5 °C"),
            "cellar": ("off", "off"),
        },
        stays={
            "Maple": ("garden/bench", "cellar/shelf"),
            "Pine 1/2": ("garden/bench", "garden/bench"),
            "Gift": (None, inside),
        },
        carries=(
            Carry(change, "Gift", None, inside),
            Carry(change, "Maple", "garden/bench", "cellar/shelf"),
        ),
        left_out=(
            LeftOut(
                "Pine 2/2",
                (
                    Lack("cellar/shelf", "off", 1, Reason.TOO_TALL, 0.05, "m"),
                    Lack(inside, "hold 5 °C", 1, Reason.FORBIDDEN, float("inf"), ""),
                ),
            ),
        ),
        costs=Costs(heat=61.7, carries=2.0, carry_days=5.0, risk=0.1 + 0.2),
        proof=Proof("highs", "optimal", 68.99999999999999, 68.5, 0.007246376811594, 1.25, 2),
        layouts={inside: {1: (Layout("Gift", 0.1, 0.05, 0.3, 0.3),)}},
    )


NAMES = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=12)
NUMBERS = st.floats(allow_nan=False)
COUNTS = st.integers(0, 400)


@st.composite
def any_plan(draw: st.DrawFn) -> Plan:
    """A plan that agrees with itself, with any names and numbers."""
    lengths = draw(st.lists(st.integers(1, 60), min_size=1, max_size=4))
    spells, start = [], draw(st.dates(date(1990, 1, 1), date(2100, 1, 1)))
    for index, length in enumerate(lengths):
        end = start + timedelta(days=length)
        spells.append(Spell(index, start, end, draw(NAMES)))
        start = end
    trees = draw(st.lists(NAMES, max_size=4, unique=True))
    places = st.none() | NAMES
    row = st.tuples(*[places for _ in spells])
    stays = {tree: draw(row) for tree in trees}
    carries = [
        Carry(spells[0].start, draw(st.sampled_from(trees)), draw(places), draw(NAMES))
        for _ in range(draw(st.integers(0, 3)) if trees else 0)
    ]
    lack = st.builds(Lack, NAMES, NAMES, COUNTS, st.sampled_from(Reason), NUMBERS, NAMES)
    left_out = st.builds(LeftOut, NAMES, st.lists(lack, max_size=3).map(tuple))
    layout = st.builds(Layout, NAMES, NUMBERS, NUMBERS, NUMBERS, NUMBERS)
    optional = st.none() | NUMBERS
    return Plan(
        spells=tuple(spells),
        settings=draw(st.dictionaries(NAMES, st.tuples(*[NAMES for _ in spells]), max_size=3)),
        stays=stays,
        carries=tuple(carries),
        left_out=tuple(draw(st.lists(left_out, max_size=2))),
        costs=draw(st.builds(Costs, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)),
        proof=draw(st.builds(Proof, NAMES, NAMES, NUMBERS, optional, optional, NUMBERS, COUNTS)),
        layouts=draw(
            st.dictionaries(
                NAMES,
                st.dictionaries(COUNTS, st.lists(layout, max_size=2).map(tuple), max_size=2),
                max_size=2,
            )
        ),
    )
