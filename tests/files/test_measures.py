"""Units in headings, against the definitions of the units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.files import measures
from overwinter.files.measures import Unit

KINDS = [value for value in vars(measures).values() if isinstance(value, dict)]
UNITS = [unit for kind in KINDS for unit in kind.values() if isinstance(unit, Unit)]


@pytest.mark.parametrize(
    ("unit", "written", "si"),
    [
        # International inch, foot, pound and US gallon: exact by definition.
        (measures.LENGTH["in"], 10, 0.254),
        (measures.LENGTH["ft"], 1, 0.3048),
        (measures.MASS["lb"], 100, 45.359237),
        (measures.POT["gal"], 1, 3.785411784),
        # Fixed points of the Fahrenheit scale.
        (measures.TEMPERATURE["f"], 32, 0),
        (measures.TEMPERATURE["f"], 212, 100),
        (measures.TEMPERATURE["f"], -40, -40),
        (measures.DIFFERENCE["f"], 9, 5),
        # 1 kWh = 3412.142 Btu; 1 Btu/(h ft2 F) = 5.678263 W/(m2 K): published conversion tables.
        (measures.POWER["btu_h"], 3412.142, 1000.0),
        (measures.CONDUCTANCE["btu_h_ft2_f"], 1, 5.678263),
        (measures.RESISTANCE["h_ft2_f_btu"], 5.678263, 1.0),
        # A knot is a nautical mile of 1852 m an hour.
        (measures.WIND["knots"], 1, 1852 / 3600),
    ],
)
def test_units_against_their_definitions(unit: Unit, written: float, si: float) -> None:
    # The definition of each unit is named beside it.
    assert unit.to_si(written) == pytest.approx(si, rel=1e-6, abs=1e-12)


def test_heat_capacity_in_us_units() -> None:
    # 1 Btu/F = 1055.05585 J / (5/9 K) = 1899.1005 J/K, arithmetic on the definition of the Btu.
    assert measures.HEAT_CAPACITY["btu_f"].to_si(1) == pytest.approx(1899.1005, rel=1e-6)


@given(st.sampled_from(UNITS), st.floats(-1000, 1000))
def test_there_and_back(unit: Unit, written: float) -> None:
    # Bounds are shown in the unit of the heading; they must be the same bounds.
    assert unit.from_si(unit.to_si(written)) == pytest.approx(written, rel=1e-12, abs=1e-9)


@given(st.integers(1, 3000))
def test_centimetres_and_metres_are_the_same_number(written: int) -> None:
    # A pot of 57 cm must fit a place of 0.57 m to the last bit.
    assert measures.LENGTH["cm"].to_si(written) == float(f"{written / 100:.2f}")
