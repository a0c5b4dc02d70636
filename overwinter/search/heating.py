"""Which programme each shelter runs: neighbours of the best so far, trees placed anew each time.

A placement of whole trees takes milliseconds, so programmes are judged by what they are for. The
bound comes from the linear relaxation of the whole program.
"""

from collections.abc import Callable, Iterator, Mapping
from itertools import zip_longest

import numpy as np

from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem
from overwinter.search.programmes import Programme
from overwinter.search.whole_trees import improve, place_all

RESCUE_TRIES = 60
"""Neighbourhoods tried where trees are left out, before a choice of programmes is judged by it."""
SHIFT = 2
"""Stages by which the beginning and end of a hold may move in one step."""

Settings = dict[str, tuple[int, ...]]


class Heating:
    """The best programmes found so far."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.known: dict[tuple[tuple[str, tuple[int, ...]], ...], float] = {}
        self.heated = [h for h, ways in problem.programmes.items() if len(ways) > 1]
        self.settings: Settings = self._start()
        self.money = self.judge(self.settings)

    def _start(self) -> Settings:
        """Every heater on its warmest hold all winter, as far as the breakers carry it."""
        ways = self.problem.programmes
        settings: Settings = {h: programmes[0].settings for h, programmes in ways.items()}
        for shelter_id in self.heated:
            for way in reversed(ways[shelter_id]):
                tried = {**settings, shelter_id: way.settings}
                if within_breakers(self.problem, tried):
                    settings = tried
                    break
        return settings

    def placement(self, settings: Mapping[str, tuple[int, ...]]) -> Placement:
        """All trees placed under some settings."""
        placement = Placement(self.problem, settings)
        place_all(placement)
        if any(path is None for path in placement.paths):
            improve(placement, self.problem.season.site.seed, lambda: True, RESCUE_TRIES)
        return placement

    def judge(self, settings: Settings) -> float:
        """Money of a choice: heat, and trees as they are placed at once."""
        key = tuple(sorted(settings.items()))
        if key not in self.known:
            heat = heat_money(self.problem, settings)
            self.known[key] = self.placement(settings).total() + heat
        return self.known[key]

    def next_best(self, most: int) -> list[Settings]:
        """Other choices that were judged, cheapest first."""
        ordered = sorted(self.known.items(), key=lambda item: (item[1], item[0]))
        return [dict(key) for key, _ in ordered if dict(key) != self.settings][:most]

    def offer(self, settings: Settings) -> None:
        """Take over what the relaxation thinks likely, if it is cheaper and keeps the breakers."""
        if settings and within_breakers(self.problem, settings):
            money = self.judge(settings)
            if money < self.money:
                self.settings, self.money = settings, money

    def search(self, goes_on: Callable[[], bool]) -> None:
        """Change one shelter at a time as long as that saves money and time is left."""
        self.offer(thrifty(self.placement(self.settings)))
        improved = True
        while improved and goes_on():
            improved = False
            for shelter_id, way in self._neighbours():
                if not goes_on():
                    return
                tried = {**self.settings, shelter_id: way.settings}
                if not within_breakers(self.problem, tried):
                    continue
                money = self.judge(tried)
                if money < self.money - 1e-6:
                    self.settings, self.money, improved = tried, money, True

    def _neighbours(self) -> Iterator[tuple[str, Programme]]:
        """Ways that differ from the present one by a hold or by when a hold begins or ends.

        Shelters take turns, so that none waits for all the ways of another.
        """
        near = [
            [
                (shelter_id, way)
                for way in self.problem.programmes[shelter_id]
                if way.settings != self.settings[shelter_id]
                and _near(self.settings[shelter_id], way.settings, self.problem.first)
            ]
            for shelter_id in self.heated
        ]
        for turn in zip_longest(*near):
            yield from (one for one in turn if one is not None)


def _spans(settings: tuple[int, ...]) -> list[tuple[int, int, int]]:
    """(setting, first stage, stage after the last) of each stretch that is heated."""
    spans: list[tuple[int, int, int]] = []
    for k, s in enumerate(settings):
        if spans and spans[-1][0] == s and spans[-1][2] == k:
            spans[-1] = (s, spans[-1][1], k + 1)
        elif s:
            spans.append((s, k, k + 1))
    return spans


def _near(now: tuple[int, ...], other: tuple[int, ...], first: int) -> bool:
    a, b = _spans(now[first:]), _spans(other[first:])
    if not a or not b:
        return len(a) + len(b) == 1 and (not b or _is_long(b[0], len(now) - first))
    if len(a) == len(b) == 1:
        same_window = a[0][1:] == b[0][1:]
        shift = abs(a[0][1] - b[0][1]) + abs(a[0][2] - b[0][2])
        return same_window or (a[0][0] == b[0][0] and shift <= SHIFT)
    return sum(x != y for x, y in zip(now, other, strict=True)) <= SHIFT


def _is_long(span: tuple[int, int, int], stages: int) -> bool:
    """Whether a heater that is off is tried for about the whole winter."""
    return span[2] - span[1] >= stages - 5


def heat_money(problem: Problem, settings: Mapping[str, tuple[int, ...]]) -> float:
    """Mean money of heat in a winter."""
    stage = np.arange(problem.stages)
    return sum(float(problem.heat[h][list(s), stage].sum()) for h, s in settings.items())


def thrifty(placement: Placement) -> Settings:
    """The cheapest programmes that give every tree what it has: none heats for nobody."""
    problem, settings = placement.problem, dict(placement.settings)
    shelter_of = [problem.season.places[p].shelter_id for p in placement.places]
    there: dict[str, set[int]] = {shelter_id: set() for shelter_id in settings}
    for path in placement.paths:
        for k, place in enumerate(() if path is None else path.tolist()):
            if place != NOWHERE:
                there[shelter_of[place]].add(k)
    for shelter_id, now in placement.settings.items():
        for way in problem.programmes[shelter_id]:
            tried = {**settings, shelter_id: way.settings}
            same = all(way.settings[k] == now[k] for k in there[shelter_id])
            if same and within_breakers(problem, tried):
                settings = tried
                break
    return settings


def within_breakers(problem: Problem, settings: Mapping[str, tuple[int, ...]]) -> bool:
    """Whether no breaker carries more than it may in any stage that can still be planned."""
    for breaker, limit in problem.season.site.breakers_w.items():
        for k in range(problem.first, problem.stages):
            watts = sum(
                dict(problem.conditions.shelters[h].settings[s[k]].breaker_w).get(breaker, 0.0)
                for h, s in settings.items()
            )
            if watts > limit + 1e-6:
                return False
    return True
