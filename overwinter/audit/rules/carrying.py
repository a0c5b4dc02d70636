"""Who carries what when: the list of carries matches the stays, and hands are enough."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from overwinter.audit.costs import Ledger, moves
from overwinter.audit.report import Finding, Rule, excess
from overwinter.climate.sun import carrying_minutes


def carries_match(ledger: Ledger) -> Iterator[Finding]:
    """The carries listed are the changes of place, each at the usual beginning of its stage."""
    listed = Counter((c.stage, c.tree_id, c.source, c.target) for c in ledger.plan.carries)
    wanted = moves(ledger)
    for odd, what in (
        (wanted - listed, "is not listed"),
        (listed - wanted, "is listed but not in the stays"),
    ):
        for (stage, tree_id, source, target), times in odd.items():
            text = f"the carry of {tree_id} from {source or 'outside'} to {target} {what}"
            yield Finding(Rule.CARRIES, tree_id, target, stage, times, "carries", text)
    for carry in ledger.plan.carries:
        if not ledger.free_stages.start <= carry.stage < len(ledger.stages):
            continue
        off = abs((carry.day - ledger.plan.stages[carry.stage].usual).days)
        if off:
            text = f"{carry.tree_id} is carried {off} days off the beginning of the stage"
            yield Finding(Rule.CARRIES, carry.tree_id, carry.target, carry.stage, off, "days", text)


def hands_enough(ledger: Ledger) -> Iterator[Finding]:
    """At the beginning of a stage no more is carried than by daylight on the days there are."""
    site, trees = ledger.season.site, ledger.season.tree_by_id
    minutes = defaultdict[int, float](float)
    for (stage, tree_id, source, _), times in moves(ledger).items():
        if source is not None and stage >= ledger.free_stages.start:
            two = trees[tree_id].weight_kg >= site.weights.two_person_kg
            minutes[stage] += times * site.household.minutes(two)
    for stage, needed in sorted(minutes.items()):
        most = site.household.days * carrying_minutes(site, ledger.plan.stages[stage].usual)
        if over := excess(needed, most):
            text = f"carrying takes {needed:.0f} minutes of the household; it has {most:.0f}"
            yield Finding(Rule.HANDS, None, None, stage, over, "minutes", text)
