"""Can it be heated so: the heater works and is large enough, the breakers carry it."""

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule

SLACK_W = 1e-6


def check_holds(ledger: Ledger) -> list[Finding]:
    """Every setting in force keeps its hold temperature at the design temperature, with heaters
    that are not broken."""
    found = check_broken(ledger)
    for shelter_id, columns in ledger.setting_index.items():
        heated = ledger.conditions.shelters[shelter_id]
        for spell, column in zip(ledger.spells, columns, strict=True):
            if heated.holds_at_design[column]:
                continue
            key = heated.settings[column].key
            text = f"the heaters of {shelter_id} cannot keep “{key}” at the design temperature"
            found.append(
                Finding(
                    Rule.HOLDS,
                    shelter_id,
                    shelter_id,
                    spell.start,
                    heated.design_shortfall_w[column],
                    "W",
                    text,
                    spell.index,
                )
            )
    return found


def check_broken(ledger: Ledger) -> list[Finding]:
    """No setting relies on a heater that is broken by the end of its spell."""
    found = []
    for shelter in ledger.season.shelters:
        broken = {h.name: h.broken_from for h in shelter.heaters if h.broken_from is not None}
        if not broken:
            continue
        for spell in ledger.spells:
            for name in ledger.setting(shelter.id, spell.index).heaters:
                days = (spell.end - broken[name]).days if name in broken else 0
                if days > 0:
                    text = f"{name} of {shelter.name} is broken"
                    found.append(
                        Finding(
                            Rule.HOLDS,
                            shelter.id,
                            shelter.id,
                            spell.start,
                            float(min(days, spell.days)),
                            "days",
                            text,
                            spell.index,
                        )
                    )
    return found


def check_breakers(ledger: Ledger) -> list[Finding]:
    """What all heaters on a breaker may draw at once stays within what it carries."""
    limits = ledger.season.site.breakers_w
    found = []
    for spell in ledger.spells:
        drawn: dict[str, float] = {}
        for shelter_id in ledger.setting_index:
            for breaker, watts in ledger.setting(shelter_id, spell.index).breaker_w:
                drawn[breaker] = drawn.get(breaker, 0.0) + watts
        for breaker, watts in drawn.items():
            over = watts - limits.get(breaker, 0.0)
            if over > SLACK_W:
                text = f"breaker {breaker} would carry {watts:.0f} W"
                found.append(
                    Finding(Rule.BREAKER, breaker, None, spell.start, over, "W", text, spell.index)
                )
    return found
