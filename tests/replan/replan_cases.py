"""A small winter with a plan made by hand, so that what is due and what has begun is known.

Everything is invented. The larch goes into the shed with the first frost and out when it is mild;
the olive goes in with the harder frost.
"""

from datetime import date
from pathlib import Path

from overwinter.files.season import read_season
from overwinter.model.plan import Carry, Costs, Plan, Proof, Termination
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting
from overwinter.model.stage import Sign, Stage

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
GARDEN, SHED = "garden/bench", "shed/bench"
STARTS, FROST, HARD, MILD, AFTER = (
    date(2026, 11, 1),
    date(2026, 11, 10),
    date(2026, 12, 10),
    date(2027, 2, 20),
    date(2027, 4, 1),
)
OFF = HeaterSetting()


def season() -> Season:
    """Four trees, a garden and a shed, 1 November to 31 March."""
    return read_season(TINY)


def stage(index: int, sign: Sign, threshold_c: float | None, usual: date, until: date) -> Stage:
    """A stage that begins on the same day in most winters."""
    return Stage(index, sign, threshold_c, (), usual, usual, usual, until)


STAGES = (
    stage(0, Sign.START, None, STARTS, FROST),
    stage(1, Sign.COLD_NIGHT, -2.0, FROST, HARD),
    stage(2, Sign.COLD_NIGHT, -8.0, HARD, MILD),
    stage(3, Sign.MILD_WEEK, -8.0, MILD, AFTER),
)
LARCH_IN = Carry(1, FROST, "Larch", GARDEN, SHED)
OLIVE_IN = Carry(2, HARD, "Olive", GARDEN, SHED)
LARCH_OUT = Carry(3, MILD, "Larch", SHED, GARDEN)


def hand_plan() -> Plan:
    """The plan that the module tells of; its costs and its proof are of no account."""
    return Plan(
        stages=STAGES,
        settings={"garden": (OFF,) * 4, "shed": (OFF,) * 4},
        stays={
            "Larch": (GARDEN, SHED, SHED, GARDEN),
            "Olive": (GARDEN, GARDEN, SHED, SHED),
            "Elm 1/2": (GARDEN,) * 4,
            "Elm 2/2": (GARDEN,) * 4,
        },
        carries=(LARCH_IN, OLIVE_IN, LARCH_OUT),
        left_out=(),
        costs=Costs(),
        proof=Proof("none", Termination.TIME_LIMIT, 0.0, None, None, 0.0, 0),
    )
