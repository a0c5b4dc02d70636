"""The grower's site: where, when, what things cost, and how the plan weighs them."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import NamedTuple

from overwinter.model.shelter import Carrier
from overwinter.units import Display


class Location(NamedTuple):
    """Where on earth; north and east are positive."""

    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float  # local standard time minus UTC
    elevation_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Ground:
    """Undisturbed ground for the Kusuda-Achenbach equation."""

    mean_c: float
    amplitude_k: float
    coldest_day: float  # day of the year of the coldest surface, 1 to 365
    diffusivity_m2_d: float = 0.05
    """Between 0.040 and 0.086 m2/d (4.6e-7 to 1e-6 m2/s), as sources take moist soils."""


ONE_PERSON_KG = 23.0
"""Most that one person should lift now and then, kg: 51 lb, the figure that the US
occupational-safety agency's page on lifting takes from the NIOSH equation (read)."""
CONTINUOUS_SHARE = 0.8
"""Share of a breaker's rating for a load of hours. The US National Electrical Code rates them at
125 % of a load of 3 h or more (210.20(A)) and counts fixed electric heating as one (424.3(B); both
as trade articles quote them, read); elsewhere common practice. Local code decides."""
STAYING_AWAY = 1.5  # price of a tree not home at the end, in dearest ways home (a judgement)
AWAY_OUTDOORS = 0.25
"""Price of a day outdoors away from the stand as a share of one under cover: less water and
turning, but sky and rain (a judgement, no source)."""
STARTS_H, LAST_LIGHT_H = 10.0, 1.0
"""Carrying begins at ten, local standard time, and ends an hour before sunset (judgements: ice and
dew go late; shade and cold come early), h."""
EVEN_CHANCE = 0.5
"""A tree without a place by ``most_chance`` gets one up to this chance of loss in a stage, if there
is room: a grower carries it there and hopes (common practice, no source)."""
DAYS_TO_CARRY, DAYS_OF_A_WEEKEND = 3, 2  # a stage's carries take so long: forecasts are sure so far
SINKING = 2.0  # carries that sinking and lifting a pot is worth: common practice, no source
BY_TWO_SHARE = 1.875  # minutes of two for a heavy tree over one for a light: 15 to 8


@dataclass(frozen=True, slots=True)
class Household:
    """Who carries, and how long on a day."""

    people: int = 2
    hours_a_day: float = 4.0  # each person's, within daylight
    minutes_a_tree: float = 8.0  # one person's, checks included: common practice, no source
    weekends_only: bool = False

    @property
    def days(self) -> int:
        """On how many days the carries of one stage can be done."""
        return DAYS_OF_A_WEEKEND if self.weekends_only else DAYS_TO_CARRY

    @property
    def two_person_min(self) -> float:
        """How long two people take over one heavy tree."""
        return BY_TWO_SHARE * self.minutes_a_tree

    def minutes(self, by_two: bool, sunk: bool = False) -> float:
        """Minutes of the household for one carry; for two, both count. One alone asks a helper."""
        one = self.two_person_min * min(2, self.people) if by_two else self.minutes_a_tree
        return SINKING * one if sunk else one


@dataclass(frozen=True, slots=True)
class Weights:
    """What things are worth, in the site's money. Defaults are judgements, explained in docs."""

    caution: float = 3.0  # an expected loss against money spent: a judgement (docs/risk.md)
    most_chance: float = 0.05  # to lose a tree for good in a winter (docs/risk.md)
    cover_day: float = 0.25
    """For each day that a tree stands under cover and would have been safe outdoors. A judgement:
    to have a tree out for a week is worth about two carries to a grower, who takes it out for a
    mild spell and in again. Outdoors away from its stand (sunk in a bed) a day costs a quarter."""
    crowding_per_m2_day: float = 0.05  # a place filled beyond the comfortable share, by m2 and day
    comfortable_share: float = 0.7
    fullest_share: float = 0.9  # of a place's area; rectangles never pack to 1
    carry: float = 1.0
    two_person_carry: float = 4.0
    shift: float = 0.25  # a tree pushed aside on its place, as a share of its carry (judgement)
    two_person_kg: float = ONE_PERSON_KG  # from this mass a carry takes two people
    most_carries: float = 4  # a tree is carried more often in a winter only where that saves it
    rodent_share: float = 0.10  # chance to lose a tree of appeal 1 at exposure 1 in 180 days
    guard_leaves: float = 0.1  # share of the exposure that is left behind mesh guards
    not_home: float = 13.5  # each tree not back when the plan ends (`with_own_not_home`)
    extra_carry: float = 5.0  # re-planning: price of a carry the plan in force did not have

    def carry_of(self, weight_kg: float, sunk: bool = False) -> float:
        """Money of one carry of a tree."""
        one = self.two_person_carry if self.takes_two(weight_kg) else self.carry
        return SINKING * one if sunk else one

    def takes_two(self, weight_kg: float) -> bool:
        """Whether two people carry a tree."""
        return weight_kg >= self.two_person_kg

    @property
    def dearest_way_home(self) -> float:
        """What taking one tree home can cost at most: two people, in a re-plan, as a new carry."""
        return max(self.carry, self.two_person_carry) + self.extra_carry

    def with_own_not_home(self) -> "Weights":
        """The same with ``not_home`` from the other prices: ``STAYING_AWAY`` dearest ways home. A
        tree left under cover spares the plan a carry that somebody still has to make. Were that
        cheaper than the carry, no tree would ever go home for which two are needed, though it be
        safe outdoors for weeks. The half above the dearest way home is for what a few days outdoors
        cost besides: mice, and a late frost."""
        return replace(self, not_home=STAYING_AWAY * self.dearest_way_home)


@dataclass(frozen=True, slots=True)
class Site:
    """The site and the household."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    starts: date
    ends: date  # last day of the plan (spring, trees outdoors again)
    design_min_c: float  # heaters are sized for it: the coldest night of 20, unless given
    ground: Ground
    house_c: float
    summer_place: str  # id of the place (open air) where trees stand before and after winter
    currency: str
    money_per_kwh: Mapping[Carrier, float] = field(hash=False)  # of energy bought
    breakers_w: Mapping[str, float] = field(hash=False)  # continuous load each breaker may carry, W
    household: Household = field(default_factory=Household)
    thermostat_changes: int = 2  # of one heater in a winter, off and on included
    winters: int = 30  # how many winters the sample holds, where they are drawn
    seed: int = 1  # of the drawn winters and of the errors of the forecasts
    weights: Weights = field(default_factory=Weights)
    display: Display = field(default_factory=Display)
    invented: bool = False  # the folder says of itself that its grower is invented

    @property
    def location(self) -> Location:
        """Where it is."""
        at = self.latitude_deg, self.longitude_deg, self.utc_offset_h, self.elevation_m
        return Location(*at)
