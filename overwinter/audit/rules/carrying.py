"""Can it be carried: the carries are those the stays call for, on few days, few a day."""

from collections import Counter

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule
from overwinter.model.plan import Carry


def carries_called_for(ledger: Ledger) -> list[Carry]:
    """Every change of place, a first one from where the tree stands, and each joining."""
    carries = []
    for tree in ledger.trees:
        before = ledger.start.trees[tree.id].place
        for spell, place_id in zip(ledger.spells, ledger.plan.stays[tree.id], strict=True):
            if place_id is not None and place_id != before:
                carries.append(Carry(spell.start, tree.id, before, place_id))
                before = place_id
    return carries


def check_carries(ledger: Ledger) -> list[Finding]:
    """The carries listed are exactly the changes of place."""
    wanted = Counter(carries_called_for(ledger))
    listed = Counter(ledger.plan.carries)
    missing, extra = wanted - listed, listed - wanted
    return [
        Finding(
            Rule.CARRIES,
            carry.tree_id,
            carry.target,
            carry.day,
            float(times),
            "carries",
            f"{words} carry of {carry.tree_id} from {carry.source or 'joining'} to {carry.target}",
        )
        for words, odd in (("missing", missing), ("needless", extra))
        for carry, times in odd.items()
    ]


def check_carry_day(ledger: Ledger) -> list[Finding]:
    """Nothing is carried but on the first day of a spell."""
    starts = {spell.start for spell in ledger.spells}
    return [
        Finding(
            Rule.CARRY_DAY,
            carry.tree_id,
            carry.target,
            carry.day,
            1.0,
            "carries",
            f"{carry.tree_id} is carried on {carry.day}, inside a spell",
        )
        for carry in ledger.plan.carries
        if carry.day not in starts
    ]


def check_carries_per_day(ledger: Ledger) -> list[Finding]:
    """No day has more carries than the household can do."""
    limit = ledger.season.site.carries_per_day
    return [
        Finding(
            Rule.CARRIES_PER_DAY,
            None,
            None,
            day,
            float(times - limit),
            "carries",
            f"{times} carries on {day}, at most {limit} can be done",
        )
        for day, times in sorted(Counter(c.day for c in carries_called_for(ledger)).items())
        if times > limit
    ]


def check_carry_days(ledger: Ledger) -> list[Finding]:
    """There are no more carry days than the household allows (or has left)."""
    limit = ledger.start.carry_days_left
    days = sorted({carry.day for carry in carries_called_for(ledger)})
    if len(days) <= limit:
        return []
    text = f"{len(days)} carry days, at most {limit} are allowed"
    return [Finding(Rule.CARRY_DAYS, None, None, days[-1], float(len(days) - limit), "days", text)]
