"""Records of years: whole winters, normals, coldest nights."""

from datetime import date, timedelta

import numpy as np
import pytest

from overwinter.climate.records import (
    DayRecord,
    coldest_nights,
    normals_of_record,
    whole_winters,
    winters_of_record,
)
from overwinter.model.season import SnowLies
from overwinter.model.site import Location

STARTS, ENDS = date(2026, 10, 1), date(2027, 4, 30)


def record(first: date, last: date, typical_year: bool = False) -> DayRecord:
    """Days whose minimum tells the year and the day."""
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    low = np.array([-day.toordinal() % 1000 / 40 for day in days])
    return DayRecord(
        "w.csv", tuple(days), np.column_stack((low, low + 8)), typical_year=typical_year
    )


def test_whole_winters_are_found_by_name() -> None:
    """Three winters that have every day and the morning after; not the one begun too late."""
    # By hand.
    found = whole_winters(record(date(1998, 10, 2), date(2002, 5, 1)), STARTS, ENDS)
    assert list(found) == ["1999/00", "2000/01", "2001/02"]
    assert not whole_winters(record(date(1998, 10, 2), date(2002, 4, 30)), STARTS, ENDS).get(
        "2001/02"
    )
    whole = record(date(1998, 1, 1), date(2002, 12, 31), typical_year=True)
    assert not whole_winters(whole, STARTS, ENDS)


def test_winters_of_a_record_are_as_measured() -> None:
    """Every night's minimum is that of the record, noon to noon; leap days fall out."""
    # By hand: day 0 is the night to 2 October.
    years = record(date(1998, 10, 1), date(2002, 5, 1))
    whole = whole_winters(years, STARTS, ENDS)
    winters = winters_of_record(
        years, whole, STARTS, Location(42.0, -88.0, -6.0, 200.0), SnowLies.NEVER
    )
    assert winters.names == ("1998/99", "1999/00", "2000/01", "2001/02")
    assert winters.air_c.shape[1] == 24 * 212
    assert winters.air_c[0, 16] == years.min_c[1]
    assert winters.air_c[1, -24 + 16] == years.min_c[years.days.index(date(2000, 5, 1))]
    assert winters.sun_w_m2.shape == winters.air_c.shape
    assert winters.sun_w_m2[:, 11:17].max() == 0  # 23:00 to 05:00
    assert winters.sun_w_m2[:, 0].min() > 0  # noon


def test_normals_are_means_by_month() -> None:
    """Over all years; a month with a few days only is told from the others."""
    # By hand.
    one_year = record(date(2001, 1, 1), date(2001, 7, 5))
    normals = normals_of_record(one_year)
    assert normals.mean_min_c[0] == pytest.approx(one_year.min_c[:31].mean())
    assert normals.mean_max_c[0] == pytest.approx(normals.mean_min_c[0] + 8)
    assert np.isfinite(normals.mean_min_c).all()
    with pytest.raises(ValueError, match="months"):
        normals_of_record(record(date(2001, 1, 1), date(2001, 4, 30)))


def test_coldest_nights_of_whole_winters_only() -> None:
    """One a winter; a calendar year patched to a winter counts once; typical years not."""
    # By hand.
    assert coldest_nights(record(date(1998, 7, 1), date(2002, 6, 30)), 0).size == 4
    assert coldest_nights(record(date(1998, 12, 1), date(2002, 2, 1)), 0).size == 2
    year = record(date(2001, 1, 1), date(2001, 12, 31))
    assert coldest_nights(year, 0).size == 1
    assert coldest_nights(record(date(2001, 1, 1), date(2001, 12, 31), True), 0).size == 0
    assert coldest_nights(record(date(2001, 3, 1), date(2001, 12, 31)), 0).size == 0
