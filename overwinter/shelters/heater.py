"""The heater settings a shelter offers, their prices, breaker draws, and what they can hold.
Caution belongs to the outputs: heaters, cords, fuel and flues are for licensed people and local
codes; unvented burners give off carbon monoxide, water and ethylene."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from itertools import product

from overwinter.model.shelter import Carrier, Heater, HeaterPart, HeaterSetting, Shelter
from overwinter.units import Display

OFF = HeaterSetting()
Choice = tuple[Heater, HeaterPart]  # a heater that is on: its step, W, or hold, degC


def _setting(chosen: Sequence[Choice], money_per_kwh: Mapping[Carrier, float]) -> HeaterSetting:
    fixed = [(heater, part.step_w) for heater, part in chosen if part.hold_c is None]
    held = [(heater, heater.power_w) for heater, part in chosen if part.hold_c is not None]
    draws = defaultdict[str, float](float)
    for heater, heat_w in fixed + held:
        if heater.carrier is Carrier.ELECTRICITY and heater.breaker is not None:
            draws[heater.breaker] += heat_w / heater.efficiency

    def mean(heats: list[tuple[Heater, float]], of: Callable[[Heater], float]) -> float:
        """By heat; 0 where there is none."""
        total = sum(heat_w for _, heat_w in heats)
        return sum(heat_w * of(heater) for heater, heat_w in heats) / total if total else 0.0

    def price(heater: Heater) -> float:
        return money_per_kwh[heater.carrier] / heater.efficiency

    def bought(heater: Heater) -> float:
        return 1 / heater.efficiency

    return HeaterSetting(
        parts=tuple(part for _, part in chosen),
        fixed_w=sum(heat_w for _, heat_w in fixed),
        hold_c=next((part.hold_c for _, part in chosen if part.hold_c is not None), None),
        power_w=sum(heat_w for _, heat_w in held),
        fixed_money_per_kwh=mean(fixed, price),
        hold_money_per_kwh=mean(held, price),
        fixed_efficiency=1 / (mean(fixed, bought) or 1.0),
        hold_efficiency=1 / (mean(held, bought) or 1.0),
        breaker_w=tuple(sorted(draws.items())),
    )


def heater_settings(
    shelter: Shelter, money_per_kwh: Mapping[Carrier, float]
) -> tuple[HeaterSetting, ...]:
    """Every way to heat ``shelter``, "off" first. Each heater is off, on a step, or on a hold
    temperature; heaters on a hold share one hold temperature and its heat in proportion to their
    power. Open air and shelters known only by a thermometer have "off" alone: without an envelope
    no heat can be computed. Settings that would hold a temperature at or above the vents' are left
    out."""
    if shelter.open_air or shelter.envelope is None:
        return (OFF,)
    vent_c = shelter.envelope.vent_above_c
    ways: list[list[Choice | None]] = [
        [
            None,
            *((heater, HeaterPart(heater.name, step_w=step_w)) for step_w in heater.steps_w),
            *((heater, HeaterPart(heater.name, hold_c=hold_c)) for hold_c in heater.hold_c),
        ]
        for heater in shelter.heaters
    ]
    settings = []
    for combination in product(*ways):
        chosen = [choice for choice in combination if choice is not None]
        holds = {part.hold_c for _, part in chosen if part.hold_c is not None}
        vented = vent_c is not None and any(hold_c >= vent_c for hold_c in holds)
        if chosen and len(holds) < 2 and not vented:
            settings.append(_setting(chosen, money_per_kwh))
    return (OFF, *sorted(settings, key=_order))


def _order(setting: HeaterSetting) -> tuple[float, float, float, str]:
    hold = -273.15 if setting.hold_c is None else setting.hold_c
    return hold, setting.fixed_w, setting.power_w, " ".join(part.heater for part in setting.parts)


def setting_label(setting: HeaterSetting, display: Display) -> str:
    """A setting for people: "off", "hold 36 °F", "fan A step 500 W + fan B hold 2 °C"."""

    def words(part: HeaterPart) -> str:
        if part.hold_c is None:
            what = f"step {part.step_w:g} W"
        else:
            what = f"hold {display.thermostat(part.hold_c)}"
        return f"{part.heater} {what}" if len(setting.parts) > 1 else what

    return " + ".join(words(part) for part in setting.parts) or "off"
