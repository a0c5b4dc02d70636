"""The only unit conversions. Inside: degC, m, kg, W, J, kWh, mol/m2/d; at the edges also degF, in.
Factors: exact by definition (international inch, pound, US gallon; 1 kWh = 3.6 MJ)."""

from dataclasses import dataclass

METRES_PER_INCH = 0.0254
METRES_PER_FOOT = 0.3048
KILOGRAMS_PER_POUND = 0.45359237
LITRES_PER_US_GALLON = 3.785411784
JOULES_PER_KWH = 3.6e6
WATTS_PER_BTU_H = 0.29307107
W_M2K_PER_BTU_H_FT2_F = 5.678263
HOURS_PER_DAY = 24
MJ_PER_WH = 0.0036


def fahrenheit_to_celsius(value_f: float) -> float:
    """Temperature in degC of ``value_f`` in degF."""
    return (value_f - 32.0) / 1.8


def celsius_to_fahrenheit(value_c: float) -> float:
    """Temperature in degF of ``value_c`` in degC."""
    return value_c * 1.8 + 32.0


@dataclass(frozen=True, slots=True)
class Display:
    """How numbers are shown: ``us`` for degF, inches, pounds; else degC, cm, kg."""

    us: bool = False

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """``value_c`` (degC) with its unit; never a minus zero."""
        return f"{round(self.degrees(value_c), digits) + 0.0:.{digits}f} {self.degree}"

    @property
    def degree(self) -> str:
        """Unit of temperatures."""
        return "°F" if self.us else "°C"

    def degrees(self, value_c: float) -> float:
        """The number of a temperature of ``value_c`` (degC) in that unit."""
        return celsius_to_fahrenheit(value_c) if self.us else value_c

    def kelvin(self, value_k: float, digits: int = 1) -> str:
        """A temperature difference of ``value_k`` (K) with its unit."""
        if self.us:
            return f"{value_k * 1.8:.{digits}f} °F"
        return f"{value_k:.{digits}f} K"

    def thermostat(self, value_c: float) -> str:
        """A temperature that is set, ``value_c`` (degC): in degF whole, in degC to a tenth."""
        return self.temperature(value_c, 0 if self.us else int(round(value_c, 1) % 1 != 0))

    def length(self, value_m: float) -> str:
        """A length of ``value_m`` (m) in cm or inches."""
        return self.length_scale.words(value_m)

    @property
    def length_scale(self) -> "Scale":
        """Unit and figures of lengths."""
        return Scale("in", 1 / METRES_PER_INCH, 0) if self.us else Scale("cm", 100.0, 0)

    @property
    def area_scale(self) -> "Scale":
        """Unit and figures of areas."""
        return Scale("ft²", 1 / METRES_PER_FOOT**2, 1) if self.us else Scale("m²", 1.0, 2)

    @property
    def weight_scale(self) -> "Scale":
        """Unit and figures of masses."""
        return Scale("lb", 1 / KILOGRAMS_PER_POUND, 0) if self.us else Scale("kg", 1.0, 1)

    def area(self, value_m2: float) -> str:
        """An area of ``value_m2`` (m2) in m2 or square feet."""
        return self.area_scale.words(value_m2)

    def volume(self, litres: float) -> str:
        """A volume in litres or US gallons, three figures."""
        if self.us:
            return f"{litres / LITRES_PER_US_GALLON:.3g} US gallons"
        return f"{litres:.3g} litres"

    def weight(self, value_kg: float) -> str:
        """A mass of ``value_kg`` (kg) in kg or pounds."""
        return self.weight_scale.words(value_kg)

    def excess(self, value: float, unit: str) -> str:
        """Three figures of what is too much, m, m² and kg in the site's units."""
        known = {"m": self.length_scale, "m²": self.area_scale, "kg": self.weight_scale}
        scale = known.get(unit, Scale(unit, 1.0, 0))
        return f"{value * scale.factor:.3g} {scale.unit}"


@dataclass(frozen=True, slots=True)
class Scale:
    """How a column of numbers is shown: the unit of its heading, factor from SI, decimals."""

    unit: str
    factor: float
    digits: int

    def words(self, value_si: float) -> str:
        """``value_si`` with its unit."""
        return f"{value_si * self.factor:.{self.digits}f} {self.unit}"


METRIC = Display()
