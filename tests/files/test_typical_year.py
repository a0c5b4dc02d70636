"""A whole public typical year, where the package that carries it is installed."""

import numpy as np
import pytest
from tmy3 import typical_year


@pytest.mark.energyplus
def test_chicago_typical_year() -> None:
    # The references give, from the same TMY3 file (pvlib and ladybug-core read the same minimum):
    # mean 9.988, coldest -22.8, 1788 h below 0, 382 h below -10, 1406.6 kWh/m2 of sun a year,
    # monthly means January to March -4.65, -2.52, 3.82 degC.
    record = typical_year("Chicago")
    assert record.sun_w_m2 is not None
    assert record.air_c.shape == (365, 24)
    assert record.air_c.min() == -22.8
    assert record.air_c.mean() == pytest.approx(9.988, abs=0.001)
    assert int((record.air_c < 0).sum()) == 1788
    assert int((record.air_c < -10).sum()) == 382
    assert record.sun_w_m2.sum() / 1000 == pytest.approx(1406.6, abs=0.1)
    months = np.array([day.month for day in record.days])
    means = [record.air_c[months == month].mean() for month in (1, 2, 3)]
    assert means == pytest.approx([-4.65, -2.52, 3.82], abs=0.006)
