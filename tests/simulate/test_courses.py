"""Hardening against published courses that it was not made from; each was read as an abstract.

1. Warm spells of 7 days and cold ones after them, Norway spruce, Finland ("Impact of warm spells
   during late fall and winter on frost hardiness of short-day-treated Norway spruce seedlings",
   discovery.researcher.life): no loss in October and November, loss in January and March; needles
   hardened again up to January.
2. Roots of spruce and pine stored from October to April outdoors (-0.5 to 11 degC), cool (0.7 to
   3.7) and frozen (-5.0 to -3.8) (Lindstrom & Stattin 1994, Can. J. For. Res. 24:2477-2484): most
   hardy in January, less in March everywhere, least lost in the frozen store. Ours keeps all in the
   cool store: told in docs/species.md.
3. Black spruce, hardened from August to November (Colombo, Glerum & Webb 2003, Ann. For. Sci.
   60:307-317): at 20 degC short days at first most hardy, natural ones least at the end, outdoors
   as hardy as any by then.
4. Norway spruce by temperature sums above 5 degC in spring (Luoranen, Sutinen & Rikala 2010, Trees
   24:809-817): hardier than -10 degC up to 88 K d, about -6 from 142 on. The slide of buds was
   mended by this one.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from simulated import make_kind

from overwinter.climate.sun import day_length_h
from overwinter.files.species_table import shipped_species
from overwinter.simulate.exposures import Calendar, Kind, Series, kind_arrays
from overwinter.simulate.follow import State, air_margins, states

STARTS, DAYS = date(2026, 8, 15), 270


def follow(kind: Kind, mean_c: np.ndarray, length_h: np.ndarray, swing_k: float = 1.0) -> State:
    """One tree whose air and roots have these daily means."""
    mean = mean_c.astype(np.float32)[None, None]
    none = np.zeros_like(mean)
    low = mean - np.float32(swing_k)
    series = Series(
        wall_min_c=low,
        core_min_c=low,
        core_mean_c=mean,
        air_min_c=low,
        air_mean_c=mean,
        cold_dose_k_h=none,
        chill=np.full_like(mean, 24.0),
        warmth_k_d=np.maximum(mean - 5.0, 0.0),
        dli_mol_m2_d=none,
        shelter_factor=none,
        rodents=none,
    )
    calendar = Calendar(length_h.astype(np.float32), none[0])
    return states(series, kind_arrays([kind]), calendar)


def kind_of_row(key: str) -> Kind:
    return Kind(shipped_species()[key].limits, 5.0, False, make_kind().condition)


def length_at(latitude_deg: float) -> np.ndarray:
    numbers = [(STARTS + timedelta(i)).timetuple().tm_yday for i in range(DAYS)]
    return np.asarray(day_length_h(latitude_deg, np.array(numbers, dtype=np.float64)))


def index(month: int, day: int) -> int:
    return (date(2026 if month > 7 else 2027, month, day) - STARTS).days


def test_warm_spells_of_autumn_spare_the_tops_and_those_of_late_winter_do_not() -> None:
    kind, length = kind_of_row("picea-abies"), length_at(62.6)
    usual = np.interp(np.arange(DAYS), [0, 60, 110, 200, 269], [15.0, 5.0, -4.0, -4.0, 4.0])
    lost, regained = {}, {}
    for month in (10, 11, 1, 3):
        first = index(month, 8)
        spell = usual.copy()
        spell[first : first + 7] = 12.0
        top = follow(kind, spell, length).top_hardening[0, 0]
        lost[month] = float(top[first] - top[first + 7])
        regained[month] = float(top[first + 14] - top[first + 7])
    assert lost[10] <= 0.0
    assert lost[11] <= 0.0
    assert lost[1] > 0.02
    assert lost[3] > 0.02
    assert regained[1] > 0.0


def test_roots_in_three_stores() -> None:
    kind, length = kind_of_row("picea-abies"), length_at(60.0)
    autumn = np.linspace(14.0, 4.0, index(10, 28))
    rest = DAYS - autumn.size
    outdoors = np.interp(np.arange(rest), [0, 30, 90, 130, rest], [4.0, 1.0, 0.5, 4.0, 11.0])
    march, january = index(3, 20), index(1, 20)
    roots = {
        name: follow(kind, np.concatenate((autumn, part)), length, swing).hardening[0, 0]
        for name, part, swing in (
            ("outdoors", outdoors, 1.0),
            ("cool", np.full(rest, 2.2), 1.5),
            ("frozen", np.full(rest, -4.4), 0.6),
        )
    }
    assert all(course[january] > 0.7 for course in roots.values())
    assert roots["outdoors"][march] < roots["outdoors"][january]
    assert roots["frozen"][march] == pytest.approx(roots["frozen"][january])
    assert roots["frozen"][march] > max(roots["cool"][march], roots["outdoors"][march])


def test_short_days_lead_and_cold_makes_up_for_it() -> None:
    kind, natural = kind_of_row("picea-mariana"), length_at(46.5)
    warm = np.full(DAYS, 20.0)
    falling = np.interp(np.arange(DAYS), [0, 46, 77, 107, 269], [18.0, 12.0, 6.0, -2.0, -10.0])
    short = follow(kind, warm, np.full(DAYS, 8.0)).top_hardening[0, 0]
    warm_natural = follow(kind, warm, natural).top_hardening[0, 0]
    outdoors = follow(kind, falling, natural).top_hardening[0, 0]
    september, november = index(9, 10), index(11, 20)
    assert short[september] > outdoors[september] >= warm_natural[september]
    assert outdoors[november] >= short[november] >= warm_natural[november]


def test_spruce_buds_by_temperature_sums() -> None:
    kind = kind_of_row("picea-abies")
    mean = np.full(DAYS, -2.0)
    begins = index(2, 15)
    mean[begins:] = 15.0  # 10 K d a day
    state = follow(kind, mean, length_at(62.6))
    arrays = kind_arrays([kind])
    zero = np.zeros((1, 1, DAYS), dtype=np.float32)
    series = Series(*[zero] * 11)
    limit = -air_margins(series, state.top_hardening, state.warmth_k_d, arrays)[1][0, 0]
    assert limit[begins + 9] < -10.0  # 90 K d
    assert limit[begins + 15] == pytest.approx(-6.0, abs=2.5)  # 150 K d
