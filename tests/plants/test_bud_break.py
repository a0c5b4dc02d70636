"""Bud break outdoors against dates of two climates.

Harvard Forest: mean day on which half of the buds had broken, 1990 to 2014 (O'Keefe, data set
hf003, computed from its table of means by year and species as a public repository holds it; of
*Quercus alba*, *Populus*, *Hamamelis* and *Amelanchier* the median). Germany: birch, mean of 1951
to 1960 over six stations at 49 to 51 N (PEP725, the first six of a public table, mean ours);
the others from memory, means of 1951 to 2000 as the German weather service and Menzel give them.

Sugar maple, American beech and red oak had their warmth set by these dates; the rest had not.
"""

import numpy as np
import pytest
from two_climates import Outdoors, harvard_forest, southern_germany

from overwinter.model.species import ChillModel, Limits
from overwinter.plants.hardening import bud_break_share, waking_warmth, warmth_k_d

HARVARD = {
    "acer-rubrum": 126,
    "acer-saccharum": 121,
    "amelanchier-canadensis": 121,
    "betula-alleghaniensis": 127,
    "betula-papyrifera": 122,
    "fagus-grandifolia": 127,
    "hamamelis-virginiana": 122,
    "populus-tremuloides": 119,
    "quercus-alba": 133,
    "quercus-rubra": 127,
}
GERMANY = {
    "acer-platanoides": 117,
    "aesculus-hippocastanum": 113,
    "betula-pendula": 107,
    "fagus-sylvatica": 119,
    "larix-decidua": 106,
    "quercus-robur": 125,
    "sorbus-aucuparia": 110,
    "syringa-vulgaris": 98,
    "tilia-cordata": 117,
}


def half_broken(limits: Limits, place: Outdoors) -> float:
    """Mean day of the year on which half of the buds have broken."""
    need, break_k_d = np.float64(limits.chill_need), np.float64(limits.bud_break_k_d)
    by_utah = limits.chill_model is ChillModel.UTAH
    units = place.utah if by_utah else place.chill_hours
    units = units * (np.cumsum(place.day_length_h < 12.0) > 0)
    after = np.arange(len(place.day_length_h)) >= place.day_length_h.argmin()
    warmth = warmth_k_d(place.mean_c) * after
    winters, days = warmth.shape
    chill, warm, day = np.zeros(winters), np.zeros(winters), np.full(winters, days)
    for d in range(days):
        chill += np.maximum(units[:, d], 0.0)
        warm += waking_warmth(chill, warmth[:, d], need)
        day = np.where((bud_break_share(warm, break_k_d) >= 0.5) & (day == days), d, day)
    return place.day_of_year(day)


@pytest.mark.parametrize(
    ("place", "seen"), [(harvard_forest, HARVARD), (southern_germany, GERMANY)]
)
def test_buds_break_within_ten_days_of_what_was_seen(place, seen, table) -> None:
    here = place()
    off = {key: half_broken(table[key].limits, here) - day for key, day in seen.items()}
    assert all(abs(days) <= 10 for days in off.values()), off
    assert abs(np.mean(list(off.values()))) < 4, off
