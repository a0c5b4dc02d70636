"""May it be heated so: heaters that work, breakers, hands on the thermostat."""

from collections import defaultdict
from collections.abc import Iterator

from overwinter.audit.costs import Ledger
from overwinter.audit.report import Finding, Rule, excess


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
