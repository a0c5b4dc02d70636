"""Would an experienced grower sign the plan? Three climates, one list.

Every date, share and temperature here is common practice, no source. They were set before the plans
of the two newer winters were looked at. Two lines were drawn anew after: camellias and azaleas are
not counted as hardy, and buds are judged over tree-winters. Dates are medians over trees and
winters.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import ceil
from pathlib import Path

import numpy as np
import pytest

from overwinter.audit.audit import audit
from overwinter.files.season import read_season
from overwinter.model.stage import HappeningKind, Sign
from overwinter.model.tree import Tree
from overwinter.search.options import PlanOptions
from overwinter.search.plan_winter import Outcome, plan_stages, plan_winter
from overwinter.simulate.exposures import Kind, Series, key_of, kind_of
from overwinter.simulate.follow import State, states
from overwinter.simulate.harm_table import Follower

pytestmark = pytest.mark.slow

HERE = Path(__file__).parent
UNHURRIED = PlanOptions(time_limit_s=60.0)
"""Three times the usual: what a grower signs must not depend on what else the machine does."""
Days = tuple[date, date]

HARDY_GROUPS = frozenset(
    {
        "deciduous-conifer",
        "fruit-tree",
        "hardy-conifer",
        "hardy-deciduous",
        "maple-like-deciduous",
    }
)
HALF_HARDY = frozenset(
    {"ulmus-parvifolia", "acer-buergerianum", "punica-granatum", "olea-europaea"}
)
STOUT = frozenset(
    {
        "betula-papyrifera",
        "betula-pendula",
        "juniperus-chinensis",
        "larix-decidua",
        "larix-kaempferi",
        "larix-laricina",
        "picea-abies",
        "picea-glauca",
        "pinus-banksiana",
        "pinus-mugo",
        "pinus-sylvestris",
        "ulmus-minor",
        "ulmus-pumila",
    }
)


@dataclass(frozen=True)
class Owed:
    """By how much a line is missed today, and why."""

    at_most: int
    """Days off a band, or trees."""
    why: str


@dataclass(frozen=True)
class Practice:
    """What growers of a climate do; days are inclusive."""

    folder: Path
    bed: str
    tropical_in: Days
    tropical_out: Days
    hardy_in: Days
    """Of those that leave their summer stand at all."""
    hardy_out: Days
    dead_of_winter: Days
    """Nobody carries."""
    half_hardy_c: tuple[float, float]
    """Mean air of January where half-hardy trees stand."""
    owed: Mapping[str, Owed]
    """Lines that do not hold yet."""
    stay_out: float = 0.0
    """Least share of the hardy trees that winter under the open sky, in a bed or not."""

    @property
    def name(self) -> str:
        return self.folder.name


CLIMATES = (
    # zone 5b, cold prairie
    Practice(
        folder=HERE.parents[1] / "scenarios" / "cottonwood-yard",
        bed="yard/bed",
        tropical_in=(date(2026, 9, 10), date(2026, 10, 10)),
        tropical_out=(date(2027, 5, 5), date(2027, 6, 10)),
        hardy_in=(date(2026, 11, 1), date(2026, 12, 10)),
        hardy_out=(date(2027, 3, 10), date(2027, 4, 30)),
        dead_of_winter=(date(2027, 1, 1), date(2027, 2, 28)),
        half_hardy_c=(-5.0, 6.0),
        owed={
            "hardy trees in": Owed(
                6, "most go at -6 degC, a quarter at 0 degC: no sign lies between them"
            ),
            "hardy trees too warm": Owed(
                5, "weak and dear trees go under a roof in October, and leave the tunnel in May"
            ),
        },
    ),
    # zone 4b, snow from November to April
    Practice(
        folder=HERE / "muskeg-lake",
        bed="yard/bed",
        tropical_in=(date(2026, 9, 1), date(2026, 9, 30)),
        tropical_out=(date(2027, 5, 15), date(2027, 6, 14)),
        hardy_in=(date(2026, 10, 15), date(2026, 11, 25)),
        hardy_out=(date(2027, 3, 20), date(2027, 5, 5)),
        dead_of_winter=(date(2027, 1, 1), date(2027, 2, 28)),
        half_hardy_c=(-8.0, 5.0),
        owed={
            "stout trees lost in the bed": Owed(
                5,
                "Chinese junipers 7 %, an elm 2.4 %: what their tops stand is a judgement, and snow"
                " does not cover tops in the model",
            ),
        },
    ),
    # zone 8b, wet and mild
    Practice(
        folder=HERE / "estuary-terrace",
        bed="patio/bed",
        tropical_in=(date(2026, 9, 10), date(2026, 10, 15)),
        tropical_out=(date(2027, 5, 10), date(2027, 6, 19)),
        hardy_in=(date(2026, 11, 10), date(2026, 12, 20)),
        hardy_out=(date(2027, 2, 15), date(2027, 4, 15)),
        dead_of_winter=(date(2027, 1, 1), date(2027, 2, 15)),
        half_hardy_c=(0.0, 10.0),
        owed={
            "tropical trees out": Owed(1, "nights stay cool: the sign is 12 degC"),
            "tropical trees in": Owed(
                2, "the sign is 10 degC, and comes at once; the next is 2 degC"
            ),
            "hardy trees in": Owed(
                19,
                "half of those that leave their stand do so for a cold that most winters lack:"
                " the house wall keeps their tops a kelvin warmer, not only their roots",
            ),
            "stout trees lost in the bed": Owed(
                2, "two larches, 2.0 and 2.4 %: new leaves in March frosts"
            ),
        },
        stay_out=0.5,
    ),
)


@dataclass(frozen=True, repr=False)
class Planned:
    """A winter of one climate, planned once."""

    practice: Practice
    outcome: Outcome

    def judge(self, line: str, missed: int, found: object) -> None:
        """A line holds, or is missed by no more than is owed; what holds is owed no longer."""
        owed = self.practice.owed.get(line)
        assert missed <= (0 if owed is None else owed.at_most), found
        assert owed is None or missed > 0, f"no longer owed: {line}"

    @cached_property
    def home(self) -> str:
        return self.outcome.season.site.summer_place

    @cached_property
    def deep(self) -> int:
        """The last stage before the first sign of spring."""
        return next(s.index for s in self.outcome.plan.stages if s.sign is Sign.MILD_WEEK) - 1

    @cached_property
    def follower(self) -> Follower:
        return Follower(self.outcome.season, self.outcome.conditions)

    def trees(self, which: Callable[[str, str], bool]) -> list[Tree]:
        """Trees there all winter, free to stand anywhere, picked by key and group of their kind."""
        species = self.outcome.season.species
        return [
            tree
            for tree in self.outcome.season.trees
            if tree.joins is None
            and not tree.pinned
            and tree.id in self.outcome.plan.stays
            and which(tree.species_key, species[tree.species_key].group)
        ]

    def leaves(self, trees: Sequence[Tree]) -> date:
        """Median day on which they leave their summer stand, where they do."""
        return self.median([away.argmax(axis=1)[away.any(axis=1)] for away in self.away(trees)])

    def returns(self, trees: Sequence[Tree]) -> date:
        """Median day on which they are back there for good, where they left it."""
        days = self.outcome.stage_days.days
        back = [
            (days - away[:, ::-1].argmax(axis=1))[away.any(axis=1)] for away in self.away(trees)
        ]
        return self.median(back)

    def away(self, trees: Sequence[Tree]) -> list[np.ndarray]:
        """Whether each tree is not at its summer stand, ``(winter, day)``."""
        stays, stage_of_day = self.outcome.plan.stays, self.outcome.stage_days.stage_of_day
        return [np.array([p != self.home for p in stays[t.id]])[stage_of_day] for t in trees]

    def median(self, days: list[np.ndarray]) -> date:
        return self.outcome.season.date_of(round(float(np.median(np.concatenate(days)))))

    def shelter_of(self, tree: Tree, stage: int) -> str:
        place = self.outcome.plan.stays[tree.id][stage]
        assert place is not None
        return self.outcome.season.places[place].shelter_id

    def is_roofed(self, tree: Tree) -> np.ndarray:
        """Whether a tree is under cover, ``(winter, day)``."""
        shelters = self.outcome.season.shelter_by_id
        stages = range(len(self.outcome.plan.stages))
        roofed = np.array([not shelters[self.shelter_of(tree, k)].open_air for k in stages])
        return roofed[self.outcome.stage_days.stage_of_day]

    def followed(self, tree: Tree) -> tuple[Series, State]:
        """What a tree meets on its true path and what it is like, ``(1, winter, day)``."""
        kind: Kind = kind_of(tree)
        index, plan = self.follower.exposures.index, self.outcome.plan
        options = []
        for k, place in enumerate(plan.stays[tree.id]):
            shelter = self.shelter_of(tree, k)
            settings = self.outcome.conditions.shelters[shelter].settings
            options.append(index[place, settings.index(plan.settings[shelter][k])])
        path = np.array([options])[:, self.outcome.stage_days.stage_of_day]
        of = np.array([self.follower.kind_index[kind]])
        series = self.follower.exposures.series(path, key_of(kind))
        return series, states(series, self.follower.arrays.of(of), self.follower.calendar)


@pytest.fixture(scope="module", params=CLIMATES, ids=lambda practice: practice.name)
def planned(request: pytest.FixtureRequest) -> Planned:
    """The winter of each climate, planned once."""
    practice: Practice = request.param
    return Planned(practice, plan_winter(read_season(practice.folder), UNHURRIED))


def hardy(key: str, group: str) -> bool:
    """Hardy kinds, but for those that are treated as half-hardy."""
    return group in HARDY_GROUPS and key not in HALF_HARDY


def half_hardy(key: str, _: str) -> bool:
    """Kinds that stand some frost and no deep winter."""
    return key in HALF_HARDY


def tropical(key: str, group: str) -> bool:
    """Kinds that never freeze at home."""
    return group.startswith("tropical")


def days_off(day: date, band: Days) -> int:
    """Days before or after a band."""
    return max((band[0] - day).days, (day - band[1]).days, 0)


def test_the_plan_is_sound_and_leaves_no_tree_out(planned: Planned) -> None:
    outcome = planned.outcome
    assert outcome.report.passed
    assert outcome.plan.left_out == ()
    # not being home has a price (docs/files.md): one tree that the last nights would chill pays it
    away = [name for name, path in outcome.plan.stays.items() if path[-1] != planned.home]
    assert len(away) <= 1, away


def test_it_is_sound_when_its_folder_is_read_again_in_any_order(planned: Planned) -> None:
    outcome = planned.outcome
    for trees in (outcome.season.trees, outcome.season.trees[::-1]):
        season = replace(outcome.season, trees=trees)
        days = plan_stages(season, outcome.conditions)
        assert audit(season, outcome.conditions, days, outcome.plan).findings == ()


def test_tropical_trees_go_in_before_cold_nights(planned: Planned) -> None:
    went = planned.leaves(planned.trees(tropical))
    planned.judge("tropical trees in", days_off(went, planned.practice.tropical_in), went)


def test_tropical_trees_go_out_when_cold_nights_are_past(planned: Planned) -> None:
    came = planned.returns(planned.trees(tropical))
    planned.judge("tropical trees out", days_off(came, planned.practice.tropical_out), came)


def test_tropical_trees_come_to_little_harm(planned: Planned) -> None:
    risks = planned.outcome.report.risks
    chances = {tree.name: risks[tree.id].chance for tree in planned.trees(tropical)}
    assert chances
    harmed = {name: chance for name, chance in chances.items() if chance >= 0.04}
    planned.judge("tropical trees harmed", len(harmed), harmed)


def test_hardy_trees_stay_out_until_hard_frosts(planned: Planned) -> None:
    went = planned.leaves(planned.trees(hardy))
    planned.judge("hardy trees in", days_off(went, planned.practice.hardy_in), went)


def test_hardy_trees_go_out_early_in_spring(planned: Planned) -> None:
    came = planned.returns(planned.trees(hardy))
    planned.judge("hardy trees out", days_off(came, planned.practice.hardy_out), came)


def test_hardy_trees_go_out_before_their_buds_break_under_cover(planned: Planned) -> None:
    """Half of the buds at most have broken when the roof comes off, four times in five."""
    broken = [
        (planned.followed(tree)[1].bud[0] * planned.is_roofed(tree)).max(axis=1) > 0.5
        for tree in planned.trees(hardy)
    ]
    assert np.mean(broken) <= 0.2


def test_hardy_trees_rest_in_the_cold(planned: Planned) -> None:
    """Under cover no more than ten days above the rest ceiling, in the middle winter."""
    warm = {}
    for tree in planned.trees(hardy):
        ceiling = tree.limits.rest_ceiling_c
        above = (planned.followed(tree)[0].air_mean_c[0] > ceiling) & planned.is_roofed(tree)
        days = float(np.median(above.sum(axis=1)))
        if days > 10:
            warm[tree.name] = days
    planned.judge("hardy trees too warm", len(warm), warm)


def test_nothing_is_carried_in_the_dead_of_winter(planned: Planned) -> None:
    excused = {
        stage.index
        for stage in planned.outcome.plan.stages
        for happening in stage.happenings
        if happening.kind is not HappeningKind.QUARANTINE_ENDS
    }
    idle = [c for c in planned.outcome.plan.carries if c.stage not in excused]
    assert [c for c in idle if days_off(c.day, planned.practice.dead_of_winter) == 0] == []


def test_a_heater_is_set_at_most_three_times(planned: Planned) -> None:
    for settings in planned.outcome.plan.settings.values():
        steps = zip(settings[1:], settings[:-1], strict=True)
        assert sum(now != before for now, before in steps) <= 3


def test_no_shelter_is_heated_for_nobody(planned: Planned) -> None:
    plan, places = planned.outcome.plan, planned.outcome.season.places
    for shelter_id, settings in plan.settings.items():
        stood = {p for path in plan.stays.values() for p in path if p is not None}
        if shelter_id not in {places[p].shelter_id for p in stood}:
            assert all(setting.is_off for setting in settings)


def test_a_third_of_the_hardy_trees_winter_without_heat(planned: Planned) -> None:
    plan, k = planned.outcome.plan, planned.deep
    trees = planned.trees(hardy)
    cold = [tree for tree in trees if plan.settings[planned.shelter_of(tree, k)][k].is_off]
    assert len(cold) >= len(trees) / 3


def test_in_mild_winters_hardy_trees_stay_under_the_sky(planned: Planned) -> None:
    trees, k = planned.trees(hardy), planned.deep
    shelters = planned.outcome.season.shelter_by_id
    out = [tree for tree in trees if shelters[planned.shelter_of(tree, k)].open_air]
    assert len(out) >= planned.practice.stay_out * len(trees)


def test_half_hardy_trees_winter_about_freezing(planned: Planned) -> None:
    low, high = planned.practice.half_hardy_c
    starts = planned.outcome.season.site.starts
    first, end = ((date(2027, month, 1) - starts).days for month in (1, 2))
    air = {
        tree.name: float(planned.followed(tree)[0].air_mean_c[0, :, first:end].mean())
        for tree in planned.trees(half_hardy)
    }
    assert air
    off = {name: c for name, c in air.items() if not low <= c <= high}
    planned.judge("half-hardy trees too warm or cold", len(off), off)


def test_trees_are_carried_in_and_out_and_little_more(planned: Planned) -> None:
    plan = planned.outcome.plan
    carried = [
        sum(c.tree_id == tree_id and c.source is not None for c in plan.carries)
        for tree_id in plan.stays
    ]
    beyond = ceil(sum(carried) - 2.7 * len(carried) - 1e-9)
    planned.judge("carries beyond 2.7 a tree", max(beyond, 0), np.mean(carried))
    assert max(carried) <= planned.outcome.season.site.weights.most_carries


def test_stout_trees_come_through_in_the_bed(planned: Planned) -> None:
    """At home, then sunk in the bed from the hard frosts to the first mild week, and home again."""
    days = planned.outcome.stage_days
    follower = planned.follower
    index = follower.exposures.index
    stages, spring = days.stages, planned.deep + 1
    hard = [s.index for s in stages if s.threshold_c is not None and s.threshold_c <= -4.0]
    frost = min([k for k in hard if k < spring], default=planned.deep)
    trees = [tree for tree in planned.trees(lambda key, _: key in STOUT) if not tree.young_roots]
    assert len({tree.species_key for tree in trees}) >= 6
    kinds = [follower.kind_index[kind_of(tree)] for tree in trees]
    home, bed = index[planned.home, 0], index[planned.practice.bed, 0]
    path = [bed if frost <= k < spring else home for k in range(len(stages))]
    hazards, _, _ = follower.along(kinds, np.array([path] * len(trees)), days, np.ones(len(trees)))
    chance = (1.0 - np.exp(-hazards[:, :, frost:spring].sum(axis=(2, 3)))).mean(axis=1)
    of = zip((tree.name for tree in trees), chance.tolist(), strict=True)
    lost = {name: c for name, c in of if c > 0.02}
    planned.judge("stout trees lost in the bed", len(lost), lost)
