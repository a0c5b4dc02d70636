"""Heater settings, prices, breakers, what is held at the design temperature."""

from dataclasses import replace

import numpy as np
import pytest
from made import made_site

from overwinter.model.shelter import (
    Carrier,
    Envelope,
    Heater,
    HeaterSetting,
    Shelter,
    Surface,
    Thermometer,
    Towards,
)
from overwinter.model.site import Ground, Site
from overwinter.shelters.conditions import design_need_w
from overwinter.shelters.heater import heater_settings, setting_label
from overwinter.units import Display

METRIC = Display()
PRICES = {Carrier.ELECTRICITY: 0.30, Carrier.PROPANE: 0.12}
ENVELOPE = Envelope(
    (Surface("cover", 40, 4.0, Towards.OUTDOORS), Surface("floor", 10, 0.5, Towards.GROUND)),
    volume_m3=20,
    air_changes_per_h=1.0,
    heat_capacity_j_k=1e6,
    solar_aperture_m2=2.0,
    vent_above_c=18.0,
)
RADIATOR = Heater("radiator", Carrier.ELECTRICITY, 1.0, 2000, hold_c=(8, 2, 5), breaker="shed")
BAR = Heater("bar", Carrier.ELECTRICITY, 1.0, 800, steps_w=(800, 400), breaker="shed")
GAS = Heater("gas", Carrier.PROPANE, 0.8, 3000, hold_c=(2.0,))


def _shelter(*heaters: Heater) -> Shelter:
    return Shelter("house", "house", (), envelope=ENVELOPE, heaters=heaters)


def _site() -> Site:
    return made_site(
        name="test",
        design_min_c=-15.0,
        ground=Ground(10.0, 12.0, 35.0, 0.05),
        money_per_kwh=PRICES,
        breakers_w={"shed": 2400.0},
    )


def _labels(shelter: Shelter) -> list[str]:
    return [setting_label(s, METRIC) for s in heater_settings(shelter, PRICES)]


def _by_label(shelter: Shelter) -> dict[str, HeaterSetting]:
    return {setting_label(s, METRIC): s for s in heater_settings(shelter, PRICES)}


def test_one_heater_offers_off_steps_and_holds() -> None:
    """Off first, then steps, then holds from cool to warm, in words."""
    # By the rule stated in the module.
    keys = _labels(_shelter(BAR))
    assert keys == ["off", "step 400 W", "step 800 W"]
    keys = _labels(_shelter(RADIATOR))
    assert keys == ["off", "hold 2 °C", "hold 5 °C", "hold 8 °C"]


def test_step_and_hold_combine() -> None:
    """A step heater beside a thermostat heater multiplies the settings; names tell them apart."""
    # (1 + 2) x (1 + 3) = 12 settings.
    settings = _by_label(_shelter(BAR, RADIATOR))
    assert len(settings) == 12
    both = settings["bar step 400 W + radiator hold 5 °C"]
    assert (both.fixed_w, both.hold_c, both.power_w) == (400, 5, 2000)
    assert both.breaker_w == (("shed", 2400.0),)


def test_two_thermostats_share_one_hold() -> None:
    """Two heaters on a hold keep the same temperature and share the heat by power."""
    # By hand: price (2000 x 0.30 + 3000 x 0.12 / 0.8) / 5000 = 0.21 money/kWh of heat; bought
    # energy per heat (2000 x 1 + 3000 / 0.8) / 5000 = 1.15.
    settings = _by_label(_shelter(RADIATOR, GAS))
    assert "radiator hold 5 °C + gas hold 2 °C" not in settings
    both = settings["radiator hold 2 °C + gas hold 2 °C"]
    assert both.power_w == 5000
    assert both.hold_money_per_kwh == pytest.approx(0.21)
    assert 1 / both.hold_efficiency == pytest.approx(1.15)
    assert both.breaker_w == (("shed", 2000.0),)


def test_holds_at_the_vents_are_not_offered() -> None:
    """A thermostat set where the vents open would heat the garden."""
    # By the rule stated in the module.
    hot = Heater("hot", Carrier.ELECTRICITY, 1.0, 2000, hold_c=(5.0, 18.0, 20.0))
    assert _labels(_shelter(hot)) == ["off", "hold 5 °C"]


def test_no_heat_without_an_envelope() -> None:
    """Open air, and a shelter known by two thermometer readings, are off only."""
    # Without a UA in W/K no heat can be computed.
    garden = Shelter("garden", "garden", (), open_air=True, heaters=(RADIATOR,))
    known = Shelter("shed", "shed", (), thermometer=Thermometer(-5, 20, -15, 25), heaters=(BAR,))
    assert _labels(garden) == ["off"]
    assert _labels(known) == ["off"]


def test_design_need_grows_with_the_hold() -> None:
    """Each kelvin of the hold costs the same heat, between air exchange alone and handbook U A."""
    # The network's own steady answer is held against published problems in test_modes.py.
    shelter = _shelter(RADIATOR)
    off, *holds = heater_settings(shelter, PRICES)
    assert design_need_w(shelter, _site(), off) == 0.0
    needs = [(s.hold_c, design_need_w(shelter, _site(), s)) for s in holds]
    slopes = np.diff([need for _, need in needs]) / np.diff([hold for hold, _ in needs])
    assert slopes == pytest.approx(slopes[0])
    assert 6.7 < slopes[0] < 171.7


def test_label_in_fahrenheit() -> None:
    """People who read Fahrenheit see the hold in it."""
    # 5 degC = 41 degF.
    setting = heater_settings(_shelter(RADIATOR), PRICES)[2]
    assert setting_label(setting, Display(us=True)) == "hold 41 °F"
    assert setting_label(setting, METRIC) == "hold 5 °C"


@pytest.mark.parametrize(
    ("hold_c", "metric", "us"),
    [((36 - 32) / 1.8, "hold 2.2 °C", "hold 36 °F"), (2.5, "hold 2.5 °C", "hold 36 °F")],
)
def test_a_hold_in_the_other_unit_is_rounded(hold_c: float, metric: str, us: str) -> None:
    """36 degF is 2.2222... degC; half a degree C is not rounded away, 2.5 degC is 36.5 degF."""
    setting = heater_settings(_shelter(replace(RADIATOR, hold_c=(hold_c,))), PRICES)[1]
    assert setting_label(setting, METRIC) == metric
    assert setting_label(setting, Display(us=True)) == us
