"""The published model of bud hardiness, and the simple state beside it."""

import numpy as np
import pytest

from overwinter.plants.bud_hardiness import CULTIVARS, bud_hardiness
from overwinter.plants.hardiness import hardening_course, kill_temperature_c

EIGHTY_COLD_THEN_TWENTY_MILD = np.concatenate([np.zeros(80), np.full(20, 10.0)])
DAYS = [1, 10, 30, 60, 70, 80, 81, 82, 85, 90, 100]
# computed beforehand from the equations and parameters in public code of Ferguson et al. 2014
# (read; the paper was not), by another program than ours; hardiness in degC after the day
WORKED = {
    "Cabernet Sauvignon": (
        70,
        [-11.266, -17.564, -23.146, -24.842, -24.969, -24.994, -24.494, -23.994, -22.494, -19.994,
         -14.996],
    ),
    "Chardonnay": (
        60,
        [-12.594, -17.983, -23.321, -25.293, -25.303, -25.312, -24.752, -24.192, -22.512, -19.712,
         -14.119],
    ),
    "Concord": (
        60,
        [-13.765, -20.290, -26.699, -29.030, -29.080, -29.124, -28.424, -27.724, -25.626, -22.155,
         -15.590],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WORKED)
def test_worked_winter_of_the_published_model(name):
    """Eighty days at 0 degC, twenty at 10: hardiness day by day, tolerance 0.001 K (rounding)."""
    switch, expected = WORKED[name]
    course = bud_hardiness(EIGHTY_COLD_THEN_TWENTY_MILD, CULTIVARS[name])
    np.testing.assert_allclose(course.hardiness_c[np.array(DAYS) - 1], expected, atol=0.001)
    assert course.ecodormant_after_day == switch


@pytest.mark.parametrize("name", CULTIVARS)
def test_buds_stay_within_their_range(name):
    """A range over any weather, and never chilled means nothing lost (Ferguson, read)."""
    rng = np.random.default_rng(3)
    cultivar = CULTIVARS[name]
    course = bud_hardiness(rng.normal(4, 12, 300), cultivar)
    assert course.hardiness_c.min() >= cultivar.hardiest_c
    assert course.hardiness_c.max() <= cultivar.tenderest_c
    warm = bud_hardiness(np.full(30, 25.0), cultivar)
    assert warm.hardiness_c[-1] == cultivar.start_c
    assert warm.ecodormant_after_day is None


def test_the_simple_state_loses_at_least_the_kelvins_vine_buds_lose(table):
    """docs/species.md: the table's rate of loss is 0.10 K per degree-day or more, in kelvin.

    0.10 is the ecodormant rate of Cabernet Sauvignon, Merlot and Concord (Ferguson et al. 2014,
    parameters read); 0.06 to 0.20 over 23 genotypes. Tropicals do not harden and are left out.
    """
    for species in table.values():
        limits = species.limits
        kelvin = limits.root_kill_unhardened_c - limits.root_kill_c
        if kelvin > 0:
            assert limits.deharden_per_degree_day * kelvin >= 0.0999, species.key


def test_ten_mild_days_in_the_vine_and_in_the_maple(maple):
    """Ten days at 10 degC after full chilling: a vine bud loses a third of what it had gained.

    Cabernet Sauvignon -24.994 to -19.994 degC (worked above), out of the 14.7 K since its
    start. The maple's roots lose share 0.02 x 3 x 10 = 0.6 of full hardening, more than the
    bud's share: the simple state is on the safe side of it in a mild spell.
    """
    bud = bud_hardiness(EIGHTY_COLD_THEN_TWENTY_MILD, CULTIVARS["Cabernet Sauvignon"]).hardiness_c
    gained = CULTIVARS["Cabernet Sauvignon"].start_c - bud[79]
    bud_share = (bud[89] - bud[79]) / gained
    roots = hardening_course(EIGHTY_COLD_THEN_TWENTY_MILD, maple, np.full(100, 10.0))
    assert roots[80] == 1.0
    assert bud_share == pytest.approx(5.0 / 14.694, abs=0.001)
    assert roots[80] - roots[90] == pytest.approx(0.6)
    assert roots[80] - roots[90] > bud_share
    kill = kill_temperature_c(roots, maple.root_kill_c, maple.root_kill_unhardened_c)
    assert kill[80] == -10.0
    assert kill[90] == pytest.approx(-7.0)
