"""The heater settings a shelter offers, their prices, breaker draws, and what they can hold.

Caution belongs to the outputs: heaters, cords, fuel and flues are for licensed people and local
codes; unvented burners give off carbon monoxide, water and ethylene.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product

from overwinter.model.shelter import Carrier, Heater, HeaterPart, HeaterSetting, Shelter
from overwinter.model.site import Site
from overwinter.units import Display

OFF = HeaterSetting()


@dataclass(frozen=True, slots=True)
class _Choice:
    """One heater's part in a setting: off, a step in W, or a hold temperature in degC."""

    heater: Heater
    step_w: float = 0.0
    hold_c: float | None = None


def _choices(heater: Heater) -> list[_Choice]:
    steps = [_Choice(heater, step_w=w) for w in sorted(set(heater.steps_w)) if w > 0]
    holds = [_Choice(heater, hold_c=c) for c in sorted(set(heater.hold_c))]
    return [_Choice(heater), *steps, *holds]


def money_per_kwh_heat(heater: Heater, money_per_kwh: Mapping[Carrier, float]) -> float:
    """Money per kWh of heat delivered.

    Raises ValueError when the site has no price for the heater's carrier.
    """
    if heater.carrier not in money_per_kwh:
        raise ValueError(f"no price for {heater.carrier.value}, which {heater.name!r} uses")
    return money_per_kwh[heater.carrier] / heater.efficiency


def _shared(weights: list[float], values: list[float], default: float) -> float:
    total = sum(weights)
    if total <= 0:
        return default
    return sum(w * v for w, v in zip(weights, values, strict=True)) / total


def _draws(choices: list[_Choice]) -> tuple[tuple[str, float], ...]:
    """Electric W by breaker that the choices may draw together."""
    draws: dict[str, float] = {}
    for choice in choices:
        heater = choice.heater
        if heater.carrier is Carrier.ELECTRICITY and heater.breaker is not None:
            heat_w = choice.step_w if choice.hold_c is None else heater.power_w
            draws[heater.breaker] = draws.get(heater.breaker, 0.0) + heat_w / heater.efficiency
    return tuple(sorted(draws.items()))


def _setting(chosen: list[_Choice], money_per_kwh: Mapping[Carrier, float]) -> HeaterSetting:
    fixed = [choice for choice in chosen if choice.hold_c is None]
    held = [choice for choice in chosen if choice.hold_c is not None]
    fixed_w = [choice.step_w for choice in fixed]
    power_w = [choice.heater.power_w for choice in held]

    def price(choices: list[_Choice]) -> list[float]:
        return [money_per_kwh_heat(choice.heater, money_per_kwh) for choice in choices]

    def bought_per_heat(choices: list[_Choice]) -> list[float]:
        return [1 / choice.heater.efficiency for choice in choices]

    return HeaterSetting(
        parts=tuple(HeaterPart(c.heater.name, c.step_w, c.hold_c) for c in chosen),
        fixed_w=sum(fixed_w),
        hold_c=held[0].hold_c if held else None,
        power_w=sum(power_w),
        fixed_money_per_kwh=_shared(fixed_w, price(fixed), 0.0),
        hold_money_per_kwh=_shared(power_w, price(held), 0.0),
        fixed_efficiency=1 / _shared(fixed_w, bought_per_heat(fixed), 1.0),
        hold_efficiency=1 / _shared(power_w, bought_per_heat(held), 1.0),
        breaker_w=_draws(chosen),
    )


def heater_settings(
    shelter: Shelter, money_per_kwh: Mapping[Carrier, float]
) -> tuple[HeaterSetting, ...]:
    """Every way to heat ``shelter``, "off" first.

    Each heater is off, on a step, or on a hold temperature; heaters on a hold share one hold
    temperature and its heat in proportion to their power. Open air and shelters known only by a
    thermometer have "off" alone: without an envelope no heat can be computed. Settings that would
    hold a temperature at or above the vents' are left out.

    Raises ``ValueError``: A heater's carrier has no price.
    """
    if shelter.open_air or shelter.envelope is None:
        return (OFF,)
    vent = shelter.envelope.vent_above_c
    settings: dict[tuple[HeaterPart, ...], HeaterSetting] = {}
    for combination in product(*(_choices(heater) for heater in shelter.heaters)):
        chosen = [c for c in combination if c.step_w > 0 or c.hold_c is not None]
        holds = {c.hold_c for c in chosen if c.hold_c is not None}
        if not chosen or len(holds) > 1 or (vent is not None and any(h >= vent for h in holds)):
            continue
        setting = _setting(chosen, money_per_kwh)
        settings.setdefault(setting.parts, setting)
    ordered = sorted(settings.values(), key=_order)
    return (OFF, *ordered)


def _order(setting: HeaterSetting) -> tuple[float, float, float, str]:
    hold = -273.15 if setting.hold_c is None else setting.hold_c
    return hold, setting.fixed_w, setting.power_w, " ".join(part.heater for part in setting.parts)


def settings_for(shelter: Shelter, site: Site) -> tuple[HeaterSetting, ...]:
    """``heater_settings`` at the site's prices."""
    return heater_settings(shelter, site.money_per_kwh)


def setting_label(setting: HeaterSetting, display: Display) -> str:
    """A setting for people: "off", "hold 36 °F", "fan A step 500 W + fan B hold 2 °C"."""

    def words(part: HeaterPart) -> str:
        if part.hold_c is None:
            what = f"step {part.step_w:g} W"
        else:
            what = f"hold {display.thermostat(part.hold_c)}"
        return f"{part.heater} {what}" if len(setting.parts) > 1 else what

    return " + ".join(words(part) for part in setting.parts) or "off"
