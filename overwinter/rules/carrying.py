"""Carries: they are the changes of place, and hands and daylight are enough for them."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from overwinter.climate.sun import sunset_h
from overwinter.model.shelter import PlaceKind
from overwinter.rules.rule import Fault, Ledger, Rule, excess

# As docs/carry-lists.md has them, written again so that a slip in what the search uses is found.
FROM_H, BEFORE_SUNSET_H = 10.0, 1.0  # when carrying begins and ends, h
DAYS, WEEKEND_DAYS = 3, 2
ALONE_MIN, TOGETHER_MIN = 8.0, 15.0  # one over a light tree, each of two over a heavy one
SUNK_WORTH = 2.0  # carries that sinking a tree is worth in time and money


def worth(ledger: Ledger, tree_id: str, target: str) -> float:
    """Carries that bringing a tree to a place is worth in time and money, to the audit."""
    sunk = ledger.season.places[target].kind is PlaceKind.SUNK
    away = target != ledger.season.home(ledger.season.tree_by_id[tree_id])
    return SUNK_WORTH if sunk and away else 1.0


def carries_match(ledger: Ledger) -> Iterator[Fault]:
    """The carries listed are exactly the changes of place, on the usual first day of their stage;
    joining is one."""
    listed = Counter((c.stage, c.tree_id, c.source, c.target) for c in ledger.plan.carries)
    for odd, what in (
        (ledger.moves - listed, "is not listed"),
        (listed - ledger.moves, "is listed but not in the stays"),
    ):
        for (stage, tree_id, source, target), times in odd.items():
            text = f"the carry of {tree_id} from {source or 'outside'} to {target} {what}"
            yield tree_id, target, stage, times, "carries", text
    for carry in ledger.plan.carries:
        if carry.stage in ledger.free_stages:
            off = abs((carry.day - ledger.plan.stages[carry.stage].usual).days)
            if off:
                text = f"{carry.tree_id} is carried {off} days off the beginning of the stage"
                yield carry.tree_id, carry.target, carry.stage, off, "days", text


def hands_enough(ledger: Ledger) -> Iterator[Fault]:
    """The carries of a stage fit into three days (a weekend, if the household carries on weekends
    only), by its people, hours and daylight: a forecast reaches no farther surely."""
    site, trees = ledger.season.site, ledger.season.tree_by_id
    house = site.household
    minutes = defaultdict[int, float](float)
    for (stage, tree_id, source, target), times in ledger.moves.items():
        if source is not None and stage in ledger.free_stages:
            two = trees[tree_id].weight_kg >= site.weights.two_person_kg
            each = min(2, house.people) * TOGETHER_MIN / ALONE_MIN if two else 1.0
            each *= times * worth(ledger, tree_id, target)
            minutes[stage] += each * house.minutes_a_tree
    for stage, needed in sorted(minutes.items()):
        light_h = sunset_h(site, ledger.plan.stages[stage].usual) - BEFORE_SUNSET_H - FROM_H
        hours = house.people * max(0.0, min(house.hours_a_day, light_h))
        most = 60.0 * hours * (WEEKEND_DAYS if house.weekends_only else DAYS)
        if over := excess(needed, most):
            text = f"carrying takes {needed:.0f} minutes of the household; it has {most:.0f}"
            yield None, None, stage, over, "minutes", text


CARRIES = Rule("carries match the stays", carries_match)
HANDS = Rule("hands and daylight", hands_enough, lacks="no time left to carry it")
RULES = (CARRIES, HANDS)
