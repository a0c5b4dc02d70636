"""Cuts the winter into spells: stretches in which nobody moves anything.

Cuts that must be (a shelter opens or closes, a tree joins, a quarantine ends) stand where they are.
Cuts that help (the outdoor air first falls below, and last rises above, the levels that matter to
some kind of tree; rest begins and ends) are kept when no other cut is near. What is still longer
than the site's longest spell is divided evenly.
"""

from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

import numpy as np

from overwinter.domain.conditions import Conditions
from overwinter.domain.season import Season, Spell
from overwinter.domain.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

NEAR_DAYS = 4
"""A helpful cut nearer than this to another is dropped: two carry days in a week help nobody."""

OUTDOOR_LEVELS_C = (10.0, 5.0, 0.0, -5.0, -10.0)
"""Outdoor daily minima at which tropical, subtropical, tender, half-hardy and hardy pots are
decided (species table groups; the levels only choose candidate dates, never what is allowed)."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A day at which a new spell may begin, and why."""

    day: int
    why: str
    fixed: bool


def fixed_cuts(season: Season) -> list[Cut]:
    """Cuts that must be: openings, closings, joinings, ends of quarantine."""
    cuts = [Cut(0, "the plan begins", True)]
    for shelter in season.shelters:
        if shelter.opens is not None:
            cuts.append(Cut(season.day_index(shelter.opens), f"{shelter.name} opens", True))
        if shelter.closes is not None:
            cuts.append(Cut(season.day_index(shelter.closes), f"{shelter.name} closes", True))
    for tree in season.trees:
        if tree.joins is not None:
            cuts.append(Cut(season.day_index(tree.joins), f"{tree.name} joins", True))
        if tree.quarantine_until is not None:
            day = season.day_index(tree.quarantine_until)
            cuts.append(Cut(day, f"quarantine of {tree.name} ends", True))
    return [cut for cut in cuts if 0 <= cut.day < season.days]


def weather_cuts(outdoor_air_c: FloatArray) -> list[Cut]:
    """Helpful cuts: the days just before the air first falls below a level, and after it last does.

    ``outdoor_air_c`` has shape ``(hour,)``.
    """
    daily_min = outdoor_air_c.reshape(-1, HOURS_PER_DAY).min(axis=1)
    cuts = []
    for level in OUTDOOR_LEVELS_C:
        below = np.flatnonzero(daily_min < level)
        if below.size == 0:
            continue
        first, after = int(below[0]), int(below[-1]) + 1
        cuts.append(Cut(first, f"first night below {level:g} °C", False))
        if after < daily_min.size:
            cuts.append(Cut(after, f"last night below {level:g} °C is past", False))
    return cuts


def cut_spells(season: Season, conditions: Conditions) -> tuple[Spell, ...]:
    """The spells of a season, in order; they tile it without gaps."""
    chosen: dict[int, str] = {}
    for cut in fixed_cuts(season):
        chosen.setdefault(cut.day, cut.why)
    for cut in weather_cuts(conditions.outdoor_air_c):
        near = any(abs(cut.day - day) < NEAR_DAYS for day in chosen)
        if not near and season.days - cut.day >= NEAR_DAYS:
            chosen[cut.day] = cut.why
    days = _fill(sorted(chosen), season.days, season.site.longest_spell_days)
    return tuple(
        Spell(
            index=index,
            start=season.date_of(start),
            end=season.date_of(end),
            why=chosen.get(start, "no spell is longer than asked"),
        )
        for index, (start, end) in enumerate(pairwise([*days, season.days]))
    )


def _fill(days: list[int], total: int, longest: int) -> list[int]:
    filled = []
    for start, end in pairwise([*days, total]):
        pieces = -(-(end - start) // longest)
        filled += [start + (end - start) * piece // pieces for piece in range(pieces)]
    return filled


def day_slice(season: Season, spell: Spell) -> slice:
    """Day indices of a spell."""
    start = season.day_index(spell.start)
    return slice(start, start + spell.days)


def hour_slice(season: Season, spell: Spell) -> slice:
    """Hour indices of a spell."""
    days = day_slice(season, spell)
    return slice(days.start * HOURS_PER_DAY, days.stop * HOURS_PER_DAY)


def spell_of_day(spells: tuple[Spell, ...], season: Season, day_index: int) -> int:
    """Index of the spell a day lies in."""
    day = season.site.starts + timedelta(days=day_index)
    return next(spell.index for spell in spells if spell.start <= day < spell.end)
