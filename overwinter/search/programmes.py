"""Ways to run one shelter's heater through the stages: off, one hold, or two."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from overwinter.model.shelter import FloatArray, HeaterSetting
from overwinter.model.stage import BoolArray, Sign, StageDays


@dataclass(frozen=True, slots=True)
class Programme:
    """One way, and its mean cost of heat a winter."""

    settings: tuple[int, ...]  # index of the setting in each stage; 0 is off
    money: float


def programmes_of(
    heat: FloatArray,
    usable: BoolArray,
    fixed: Sequence[HeaterSetting],
    known: Sequence[HeaterSetting],
    fixed_stages: int,
    changes: int,
    stage_days: StageDays,
) -> tuple[Programme, ...]:
    """Every sensible programme, cheapest first.

    Heat is on from one stage to another that hold the deep of winter between them, and perhaps
    on a higher setting within; a heater is set at most ``changes`` + 1 times from off to off.

    heat : ``(setting, stage)``, money.
    usable : ``(setting, stage)``.
    fixed : settings of the stages that have begun, among ``known``.
    """
    stages = heat.shape[1]
    parts = [setting.parts for setting in known]
    past = tuple(parts.index(s.parts) if s.parts in parts else 0 for s in fixed)
    past = past or (0,) * fixed_stages
    ways = {(*past, *(0,) * (stages - fixed_stages))}
    spring = (one.index for one in stage_days.stages if one.sign is Sign.MILD_WEEK)
    deep = min(spring, default=stages) - 1  # the last stage before it, with the coldest days
    settings = range(1, heat.shape[0])
    for on, off in combinations(range(fixed_stages, stages + 1), 2):
        if deep >= fixed_stages and not on <= deep < off:
            continue
        for low in settings:
            one = [*past, *(low if on <= k < off else 0 for k in range(fixed_stages, stages))]
            ways.add(tuple(one))
            if changes < 2:
                continue
            for high in settings:
                if high != low and heat[high].sum() > heat[low].sum():
                    for a, b in _inner(on, off, deep):
                        two = list(one)
                        two[a:b] = [high] * (b - a)
                        ways.add(tuple(two))
    stage = np.arange(stages)
    free = stage >= fixed_stages
    found = [
        Programme(way, float(heat[way, stage].sum()))
        for way in ways
        if usable[way, stage][free].all()
    ]
    return tuple(sorted(found, key=lambda p: (p.money, p.settings)))


def _inner(on: int, off: int, deep: int) -> Iterator[tuple[int, int]]:
    """Deep winter, or a stage more on either side, within a window."""
    for a, b in ((deep, deep + 1), (deep - 1, deep + 1), (deep - 1, deep + 2)):
        if on <= a and b <= off and (a, b) != (on, off):
            yield a, b
