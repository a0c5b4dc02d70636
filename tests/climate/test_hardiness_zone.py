"""Hardiness zones."""

import pytest

from overwinter.climate.coldest_night import zone_middle_c

# USDA Plant Hardiness Zone Map; degF from memory (agreeing with what was read), degC derived
BANDS_C = {
    "1a": (-51.1, -48.3),
    "3b": (-37.2, -34.4),
    "5b": (-26.1, -23.3),
    "6a": (-23.3, -20.6),
    "7b": (-15.0, -12.2),
    "9b": (-3.9, -1.1),
    "10a": (-1.1, 1.7),
    "13b": (18.3, 21.1),
}


@pytest.mark.parametrize("zone", BANDS_C)
def test_middles_in_celsius(zone: str) -> None:
    """Half zones of 5 degF."""
    assert zone_middle_c(zone) == pytest.approx(sum(BANDS_C[zone]) / 2, abs=0.06)


def test_a_whole_zone_is_both_halves() -> None:
    """6 is 6a and 6b."""
    halves = zone_middle_c("6a"), zone_middle_c("6b")
    assert zone_middle_c("6") == pytest.approx(sum(halves) / 2)


@pytest.mark.parametrize("wrong", ["0a", "14a", "6c", "", "zone", "zone six"])
def test_what_is_no_zone_is_refused(wrong: str) -> None:
    """Nothing is guessed from a slip of the pen."""
    with pytest.raises(ValueError, match="hardiness zone"):
        zone_middle_c(wrong)
