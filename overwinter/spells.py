"""Cuts the winter into spells: stretches in which nobody moves anything.

Cuts that must be (a shelter opens or closes, a tree joins, a quarantine ends) stand where they are.
Cuts that help are the days on which some kind of tree can no longer stay at its summer stand, and
from which it can go back there for good; those of a few days are drawn together. What is still
longer than the site's longest spell is divided evenly.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.season import Season, Spell
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import air_floor_c, hardening, working_floor_c
from overwinter.shelters.root_zone import pot_class
from overwinter.units import HOURS_PER_DAY

OPENS, CLOSES = "opens", "closes"
TOGETHER_DAYS = 5
"""Trees that must come in within so many days come in together, before the first cold night."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A day at which a new spell may begin, and why."""

    day: int
    why: str


def fixed_cuts(season: Season) -> list[Cut]:
    """Cuts that must be: openings, closings, joinings, ends of quarantine."""
    cuts = [Cut(0, "the plan begins")]
    for shelter in season.shelters:
        if shelter.opens is not None:
            cuts.append(Cut(season.day_index(shelter.opens), f"{shelter.name} {OPENS}"))
        if shelter.closes is not None:
            cuts.append(Cut(season.day_index(shelter.closes), f"{shelter.name} {CLOSES}"))
    for tree in season.trees:
        if tree.joins is not None:
            cuts.append(Cut(season.day_index(tree.joins), f"{tree.name} joins"))
        if tree.quarantine_until is not None:
            day = season.day_index(tree.quarantine_until)
            cuts.append(Cut(day, f"quarantine of {tree.name} ends"))
    return [cut for cut in cuts if 0 <= cut.day < season.days]


def unsafe_days(season: Season, conditions: Conditions, tree: Tree) -> tuple[int, int] | None:
    """First and last day on which a tree is not safe at its summer stand; None: never."""
    stand = tree.stands_at or season.site.summer_place
    place = conditions.places[stand]
    root = place.root[pot_class(tree.pot_litres)]
    state = hardening(root.mean_c[0], tree.limits, conditions.day_length_h)
    margins = season.site.margins
    floor = working_floor_c(
        state,
        tree.root_kill_hardened_c,
        tree.limits.root_kill_unhardened_c,
        margins,
        tree.condition,
    )
    cold = (root.min_c[0] < floor) | (place.air_min_c[0] < air_floor_c(tree.limits, margins))
    days = np.flatnonzero(cold)
    return (int(days[0]), int(days[-1])) if days.size else None


def kinds_of_trees(season: Season) -> tuple[Tree, ...]:
    """One tree of each kind that the weather at the summer stand treats alike."""
    kinds = {
        (t.limits, t.condition, t.young_roots, pot_class(t.pot_litres), t.stands_at): t
        for t in season.trees
    }
    return tuple(kinds.values())


def helpful_cuts(season: Season, conditions: Conditions) -> list[Cut]:
    """Days just before some tree must leave its summer stand, and from which it may go back."""
    leave: dict[int, str] = {}
    back: dict[int, str] = {}
    for tree in kinds_of_trees(season):
        span = unsafe_days(season, conditions, tree)
        if span is not None:
            leave.setdefault(span[0], tree.name)
            back.setdefault(span[1] + 1, tree.name)
    cuts = [
        Cut(day, f"too cold outdoors for {leave[day]}") for day in _drawn_together(sorted(leave))
    ]
    later = _drawn_together(sorted(-day for day in back))
    cuts += [Cut(-day, f"{back[-day]} can go out again") for day in later]
    return [cut for cut in cuts if 0 < cut.day < season.days]


def _drawn_together(days: Sequence[int]) -> list[int]:
    """Of sorted days, those that stand for all within the next few."""
    kept: list[int] = []
    for day in days:
        if not kept or day - kept[-1] > TOGETHER_DAYS:
            kept.append(day)
    return kept


def cut_spells(
    season: Season, conditions: Conditions, first_day: date | None = None
) -> tuple[Spell, ...]:
    """The spells from ``first_day`` (None: the whole season), in order; they tile it."""
    first = 0 if first_day is None else season.day_index(first_day)
    chosen: dict[int, str] = {first: "the plan begins"}
    for cut in [*fixed_cuts(season), *helpful_cuts(season, conditions)]:
        if cut.day > first:
            chosen.setdefault(cut.day, cut.why)
    return spells_between(season, chosen)


def spells_between(season: Season, chosen: Mapping[int, str]) -> tuple[Spell, ...]:
    """Spells that begin on the days ``chosen``, and why; what is too long is divided evenly."""
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


def judged_windows(season: Season, spell: Spell) -> tuple[slice, ...]:
    """Stretches of days by which light and the coolness of rest may be judged for a spell.

    All stretches as long as the longest spell that hold it; the most favourable one counts. Leaves
    live on the light of weeks: a spell that an opening or a new plan cuts short must not be judged
    by its two dull days, nor a piece of a spell be refused where the whole would do.
    """
    days = day_slice(season, spell)
    length = min(max(season.site.longest_spell_days, spell.days), season.days)
    first, last = max(days.stop - length, 0), min(days.start, season.days - length)
    return tuple(slice(start, start + length) for start in range(first, last + 1))


def hour_slice(season: Season, spell: Spell) -> slice:
    """Hour indices of a spell."""
    days = day_slice(season, spell)
    return slice(days.start * HOURS_PER_DAY, days.stop * HOURS_PER_DAY)


def spell_of_day(spells: tuple[Spell, ...], season: Season, day_index: int) -> int:
    """Index of the spell a day lies in."""
    day = season.site.starts + timedelta(days=day_index)
    return next(spell.index for spell in spells if spell.start <= day < spell.end)
