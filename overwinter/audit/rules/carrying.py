"""Who carries what when: the list of carries matches the stays, and hands are enough."""

from collections import Counter
from collections.abc import Iterator

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule
from overwinter.model.site import DAYS_TO_CARRY

Move = tuple[int, str, str | None, str]
"""Stage, tree, source (None: it joins), target."""


def moves(ledger: Ledger) -> Counter[Move]:
    """Changes of place in the stays; joining is one."""
    return Counter(
        (stage, tree.id, path[stage - 1], place_id)
        for tree in ledger.placed
        for path in (ledger.plan.stays[tree.id],)
        for stage in range(1, len(ledger.stages))
        for place_id in (path[stage],)
        if place_id is not None and place_id != path[stage - 1]
    )


def carries_match(ledger: Ledger) -> Iterator[Finding]:
    """The carries listed are the changes of place, each at the usual beginning of its stage."""
    listed = Counter((c.stage, c.tree_id, c.source, c.target) for c in ledger.plan.carries)
    wanted = moves(ledger)
    for move in dict.fromkeys([*wanted, *listed]):
        over = listed[move] - wanted[move]
        if over:
            stage, tree_id, source, target = move
            what = "is listed but not in the stays" if over > 0 else "is not listed"
            text = f"the carry of {tree_id} from {source or 'outside'} to {target} {what}"
            yield Finding(Rule.CARRIES, tree_id, target, stage, abs(over), "carries", text)
    for carry in ledger.plan.carries:
        if not ledger.free_stages.start <= carry.stage < len(ledger.stages):
            continue
        off = abs((carry.day - ledger.plan.stages[carry.stage].usual).days)
        if off:
            text = f"{carry.tree_id} is carried {off} days off the beginning of the stage"
            yield Finding(Rule.CARRIES, carry.tree_id, carry.target, carry.stage, off, "days", text)


def hands_enough(ledger: Ledger) -> Iterator[Finding]:
    """At the beginning of a stage no more is carried than in the days that a forecast reaches."""
    most = ledger.season.site.carries_per_day * DAYS_TO_CARRY
    carried = Counter[int]()
    for (stage, _, source, _), times in moves(ledger).items():
        if source is not None and stage >= ledger.free_stages.start:
            carried[stage] += times
    for stage, times in sorted(carried.items()):
        if times > most:
            text = f"{times} trees are carried as the stage begins; {most} can be"
            yield Finding(Rule.CARRIES_PER_DAY, None, None, stage, times - most, "carries", text)
