"""How the winter is run: carries match the stays, hands are enough, and what is heated may be."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from overwinter.audit.costs import Ledger, moves
from overwinter.audit.report import Finding, Rule, excess
from overwinter.climate.sun import sunset_h

FROM_H, BEFORE_SUNSET_H = 10.0, 1.0
"""When carrying begins and ends, h: as docs/carry-lists.md has it, written again so that a slip in
what the search uses is found."""
DAYS, WEEKEND_DAYS = 3, 2
ALONE_MIN, TOGETHER_MIN = 8.0, 15.0
"""One over a light tree, each of two over a heavy one; the site's own figure stretches both."""


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
    house = site.household
    minutes = defaultdict[int, float](float)
    for (stage, tree_id, source, target), times in moves(ledger).items():
        if source is not None and stage >= ledger.free_stages.start:
            two = trees[tree_id].weight_kg >= site.weights.two_person_kg
            each = min(2, house.people) * TOGETHER_MIN / ALONE_MIN if two else 1.0
            each *= times * ledger.work(tree_id, target)
            minutes[stage] += each * house.minutes_a_tree
    for stage, needed in sorted(minutes.items()):
        light_h = sunset_h(site, ledger.plan.stages[stage].usual) - BEFORE_SUNSET_H - FROM_H
        hours = house.people * max(0.0, min(house.hours_a_day, light_h))
        most = 60.0 * hours * (WEEKEND_DAYS if house.weekends_only else DAYS)
        if over := excess(needed, most):
            text = f"carrying takes {needed:.0f} minutes of the household; it has {most:.0f}"
            yield Finding(Rule.HANDS, None, None, stage, over, "minutes", text)


def heaters_work(ledger: Ledger) -> Iterator[Finding]:
    """No setting counts on a heater after it broke, in any winter."""
    last_day = ledger.stage_days.end_day.max(axis=1)
    for shelter in ledger.season.shelters:
        broken = {h.name: h.broken_from for h in shelter.heaters if h.broken_from is not None}
        for stage in ledger.free_stages:
            for part in ledger.plan.settings[shelter.id][stage].parts:
                if part.heater not in broken:
                    continue
                days = int(last_day[stage]) - ledger.season.day_index(broken[part.heater])
                if days > 0:
                    text = f"{shelter.name} counts on the {part.heater}, which is broken"
                    yield Finding(Rule.SETTING, shelter.id, shelter.id, stage, days, "days", text)


def breakers_hold(ledger: Ledger) -> Iterator[Finding]:
    """What may be drawn at once on a breaker stays within its load."""
    for stage in ledger.free_stages:
        drawn = defaultdict[str, float](float)
        for settings in ledger.plan.settings.values():
            for breaker, watts in settings[stage].breaker_w:
                drawn[breaker] += watts
        for breaker, watts in drawn.items():
            if over := excess(watts, ledger.season.site.breakers_w.get(breaker, 0.0)):
                text = f"heaters draw {watts:.0f} W on breaker {breaker}"
                yield Finding(Rule.BREAKER, breaker, None, stage, over, "W", text)


def thermostats_left_alone(ledger: Ledger) -> Iterator[Finding]:
    """A heater is set at most once more than ``thermostat_changes``, its last turning off apart."""
    most = ledger.season.site.thermostat_changes + 1
    for shelter_id, settings in ledger.plan.settings.items():
        changes = [k for k in ledger.free_stages if settings[k] != settings[k - 1]]
        if changes and settings[changes[-1]].is_off:
            changes.pop()
        if len(changes) > most:
            name = ledger.season.shelter_by_id[shelter_id].name
            text = f"the heating of {name} is set {len(changes)} times instead of at most {most}"
            at, over = max(changes), len(changes) - most
            yield Finding(Rule.THERMOSTAT, shelter_id, shelter_id, at, over, "changes", text)
