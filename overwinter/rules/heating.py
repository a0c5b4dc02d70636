"""Heaters: settings that exist and work, breakers that hold, thermostats left alone."""

from collections import defaultdict
from collections.abc import Iterator

from overwinter.rules.rule import Fault, Ledger, Rule, excess


def known_settings(ledger: Ledger) -> Iterator[Fault]:
    """Every shelter has one setting a stage, among those that its heaters offer."""
    shelters = ledger.season.shelter_by_id
    for shelter_id in dict.fromkeys([*shelters, *ledger.plan.settings]):
        if shelter_id not in shelters:
            text = f"{shelter_id} is heated but is no shelter"
            yield shelter_id, shelter_id, None, 1, "shelter", text
            continue
        name = shelters[shelter_id].name
        settings = ledger.plan.settings.get(shelter_id, ())
        if off := abs(len(settings) - len(ledger.stages)):
            text = f"{name} has {len(settings)} heater settings for {len(ledger.stages)} stages"
            yield shelter_id, shelter_id, None, off, "stages", text
        known = ledger.conditions.shelters[shelter_id].settings
        for stage, setting in enumerate(settings):
            if setting not in known:
                text = f"the heaters of {name} have no such setting"
                yield shelter_id, shelter_id, stage, 1, "setting", text


def heaters_work(ledger: Ledger) -> Iterator[Fault]:
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
                    yield shelter.id, shelter.id, stage, days, "days", text


def breakers_hold(ledger: Ledger) -> Iterator[Fault]:
    """What may be drawn at once on a breaker stays within its load."""
    for stage in ledger.free_stages:
        drawn = defaultdict[str, float](float)
        for settings in ledger.plan.settings.values():
            for breaker, watts in settings[stage].breaker_w:
                drawn[breaker] += watts
        for breaker, watts in drawn.items():
            if over := excess(watts, ledger.season.site.breakers_w.get(breaker, 0.0)):
                text = f"heaters draw {watts:.0f} W on breaker {breaker}"
                yield breaker, None, stage, over, "W", text


def thermostats_left_alone(ledger: Ledger) -> Iterator[Fault]:
    """A heater is set at most `thermostat_changes` + 1 times, the last turning off not counted."""
    most = ledger.season.site.thermostat_changes + 1
    for shelter_id, settings in ledger.plan.settings.items():
        changes = [k for k in ledger.free_stages if settings[k] != settings[k - 1]]
        if changes and settings[changes[-1]].is_off:
            changes.pop()
        if len(changes) > most:
            name = ledger.season.shelter_by_id[shelter_id].name
            text = f"the heating of {name} is set {len(changes)} times instead of at most {most}"
            yield shelter_id, shelter_id, max(changes), len(changes) - most, "changes", text


SETTING = Rule("heater settings", known_settings, first=True)
BROKEN = Rule("heaters that work", heaters_work)
BREAKER = Rule("breakers", breakers_hold)
THERMOSTAT = Rule("changes of a thermostat", thermostats_left_alone)
RULES = (SETTING, BROKEN, BREAKER, THERMOSTAT)
