"""How long a shelter may stay shut before some tree has no safe place, by trying dates."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from overwinter.model.plan import LeftOut
from overwinter.model.season import Spell
from overwinter.planning.openings import Openings, Situation
from overwinter.planning.solving import NoPlan

DAY = timedelta(days=1)


class Lacks(StrEnum):
    """What there is not for every tree with a shelter that opens too late."""

    A_PLACE = "a place"
    """Every place refuses some tree, however the others are placed."""
    ROOM = "room"
    A_PLAN = "a plan"
    """No plan with all trees was found."""


@dataclass(frozen=True)
class LastSafeDate:
    """The last opening of a late shelter with which no more trees are left out."""

    shelter_id: str
    asked: date
    """Opening the plan reckons with."""
    last: date
    """Latest opening with a plan; before ``asked`` where that leaves trees out for its sake."""
    never_needed: bool
    """It may stay shut for the rest of the winter."""
    fails_on: date | None
    """First opening found too late; None where none was."""
    lacks: Lacks
    """What there is not with that opening."""
    fails: tuple[LeftOut, ...]
    """Trees left out with it, and what each place lacks for them."""
    spells: tuple[Spell, ...]
    """Spells of that try, for ``fails``."""
    tries: int

    @property
    def settled(self) -> bool:
        """Known to the day."""
        return self.never_needed or self.fails_on == self.last + DAY


def last_safe_date(situation: Situation, shelter_id: str) -> LastSafeDate | None:
    """Find it; a later opening never gives a tree a place it would not have otherwise.

    What is asked first takes no search: until when every tree by itself has some place. A plan for
    all of them is then sought for that opening alone, and for earlier ones if there is none.

    Parameters
    ----------
    situation
        With the shelter's opening as asked for.

    Returns
    -------
    LastSafeDate or None
        None where the shelter is open already.
    """
    shelter = situation.season.shelter_by_id[shelter_id]
    now, asked = situation.start.day, shelter.opens
    if asked is None or asked <= now:
        return None
    shut = situation.season.site.ends + DAY
    if shelter.closes is not None:
        shut = min(shut, shelter.closes)
    openings = Openings(situation, shelter_id)
    between = _Between(openings, now, shut + DAY)
    left_out = frozenset(left.tree_id for left in situation.new.left_out)
    spared: frozenset[str] = frozenset()
    with suppress(NoPlan, KeyboardInterrupt):  # what is known by then is told
        spared = _without_a_place_anyhow(openings, now, left_out)
        openings = Openings(situation.without(spared), shelter_id)
        whole = left_out <= spared
        between = _Between(openings, asked, shut + DAY) if whole else _Between(openings, now, asked)
        between.narrow()
    fails: tuple[LeftOut, ...] = ()
    spells: tuple[Spell, ...] = ()
    if between.bad == asked:
        fails = tuple(left for left in situation.new.left_out if left.tree_id not in spared)
        spells = situation.new.spells
    elif between.bad <= shut:
        with suppress(NoPlan, KeyboardInterrupt):
            fails, spells = openings.lacking(between.bad, between.without())
    return LastSafeDate(
        shelter_id=shelter_id,
        asked=asked,
        last=between.good,
        never_needed=between.good == shut,
        fails_on=between.bad if between.bad <= shut else None,
        lacks=between.lacks,
        fails=fails,
        spells=spells,
        tries=len(openings.tried),
    )


def _without_a_place_anyhow(
    openings: Openings, now: date, left_out: frozenset[str]
) -> frozenset[str]:
    """Trees that have no place even if the shelter opens at once."""
    if not left_out:
        return left_out
    refused = openings.refused(now)
    return refused if left_out <= refused else openings.left_out(now, all_of_them=True)


class _Between:
    """A good and a later bad opening, brought nearer together."""

    def __init__(self, openings: Openings, good: date, bad: date) -> None:
        self.good, self.bad = good, bad
        self.lacks = Lacks.A_PLAN
        self._openings = openings
        self._without: frozenset[str] = frozenset()

    def narrow(self) -> None:
        """Until they are a day apart, as far as the searches reach."""
        self._by(Lacks.A_PLACE, lambda day: not self._openings.refused(day))
        self._by(Lacks.ROOM, self._openings.has_room)
        # what is not ruled out by then nearly always has a plan
        day = self.bad - DAY
        while day > self.good and self._openings.may_search:
            left_out = self._openings.left_out(day)
            if left_out:
                self.bad, self.lacks, self._without = day, Lacks.A_PLAN, left_out
            else:
                self.good = day
            day = self.good + (self.bad - self.good) // 2

    def _by(self, lacks: Lacks, is_good: Callable[[date], bool]) -> None:
        """Bring the bad day as far forward as what can be told without a search reaches."""
        latest = self.bad - DAY
        if latest > self.good and not is_good(latest):
            _, self.bad = _halve(self.good, latest, is_good)
            self.lacks = lacks

    def without(self) -> frozenset[str]:
        """Trees without a place with the bad opening."""
        if self.lacks is Lacks.A_PLACE:
            return self._openings.refused(self.bad)
        if self.lacks is Lacks.ROOM:
            return self._openings.without_room(self.bad)
        return self._without


def _halve(good: date, bad: date, is_good: Callable[[date], bool]) -> tuple[date, date]:
    """Narrow a good and a later bad day down to a day apart."""
    while bad - good > DAY:
        middle = good + (bad - good) // 2
        if is_good(middle):
            good = middle
        else:
            bad = middle
    return good, bad
