"""site.toml: where and when, what things cost, and what the weather is read from."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from overwinter.climate.coldest_night import zone_middle_c
from overwinter.files import schema
from overwinter.files.findings import Where, closest, did_you_mean, listed
from overwinter.files.measures import ROOM, UNITS_KWH, degrees_of
from overwinter.files.schema import Day, Number, Schema, Share, Text, Whole, Word, YesNo
from overwinter.model.season import SnowLies
from overwinter.model.shelter import Carrier
from overwinter.model.site import CONTINUOUS_SHARE, ONE_PERSON_KG, Ground, Household, Site, Weights
from overwinter.units import Display

SHORTEST_D, LONGEST_D = 28, 366
POLAR = 66  # degrees of latitude from which days without sun begin
AirC = Annotated[Number, Field(ge=-70, le=60)]
Money = Annotated[Number, Field(ge=0, le=1e9)]
MONEY_UNLESS_SAID: dict[str, Any] = {
    "comfortable_share": Share,
    "fullest_share": Annotated[Number, Field(gt=0, le=1)],
    "two_person_kg": Annotated[Number, Field(gt=0, le=1000)],
    "rodent_share": Share,
    "shift": Share,
    "guard_leaves": Share,
    "caution": Annotated[Number, Field(gt=0, le=100)],
    "most_chance": Annotated[Number, Field(gt=0, le=1)],
    "most_carries": Annotated[Whole, Field(ge=2, le=100)],
}
WEIGHTS: Mapping[str, Any] = {
    field.name: (MONEY_UNLESS_SAID.get(field.name, Money) | None, None) for field in fields(Weights)
}
CARRIERS = {carrier.value: carrier for carrier in Carrier}


def _degrees(value: Any) -> Any:
    """Degrees of latitude or longitude, as ``47° 30' N`` too."""
    found = degrees_of(value) if isinstance(value, str) else ()
    return found[0] if len(found) == 1 else value


Degrees = Annotated[Number, BeforeValidator(_degrees)]


def _zone(value: Any) -> Any:
    """A hardiness zone such as 5b; TOML may give a whole zone as a number."""
    text = str(value).strip().lower()
    try:
        zone_middle_c(text)
    except ValueError:
        raise schema.wrong("a hardiness zone from 1a to 13b") from None
    return text


class MonthTable(Schema):
    """``[[weather.month]]``: normals of one month."""

    month: Whole = Field(ge=1, le=12, description="the month, 1 to 12")
    mean_min_c: AirC = Field(description="mean daily minimum")
    mean_max_c: AirC = Field(description="mean daily maximum")
    sun_mj_m2_d: Number | None = Field(None, ge=0, le=45)

    def check(self) -> None:
        """Nights below days."""
        low, high = self.mean_min_c, self.mean_max_c
        if None not in (low, high) and low >= high:
            self.where.of("mean_min").problem(
                "a mean minimum not below the mean maximum",
                "the mean of the nights below the mean of the days",
                "Are the two the wrong way round?",
            )


class WeatherTable(Schema):
    """``[weather]``."""

    file: Text | None = None
    kind: Annotated[Literal["epw", "hourly", "daily", "normals"], Word] | None = None
    origin: Text | None = None
    licence: Text | None = None
    hardiness_zone: Annotated[str, BeforeValidator(_zone)] | None = None
    coldest_night_mean_c: AirC | None = None
    coldest_night_spread_k: Annotated[Number, Field(gt=0, le=15)] | None = None
    snow_lies: Annotated[SnowLies, Word] = SnowLies.NEVER
    month: tuple[MonthTable, ...] = ()

    @property
    def months(self) -> frozenset[int] | None:
        """Months that there are normals of, be they wrong ones; None where a slip may hide one."""
        numbers = {one.month for one in self.month if one.month is not None}
        known = self.told.sound and not self.told.unformed and len(numbers) == len(self.month)
        return frozenset(numbers) if known else None

    def check(self) -> None:
        """One law of the coldest nights, and each month once."""
        if self.hardiness_zone is not None and self.coldest_night_mean_c is not None:
            self.where.of("hardiness_zone").problem(
                "coldest_night_mean beside it",
                "one of the two: a zone is a mean of coldest nights",
                "Keep the one you trust more.",
            )
        numbers = [one.month for one in self.month if one.month is not None]
        for number in sorted({number for number in numbers if numbers.count(number) > 1}):
            self.where.under(f"month.{number}").of("month").problem(
                f"month {number} twice", "each month once"
            )


class HeatingTable(Schema):
    """``[heating]``."""

    design_min_c: AirC | None = None


class GroundTable(Schema):
    """``[ground]``."""

    mean_c: Annotated[Number, Field(ge=-20, le=35)] = Field(description="yearly mean")
    amplitude_k: Number = Field(ge=0, le=35, description="half the yearly swing at the surface")
    coldest_day: Number = Field(ge=1, le=366, description="day of the year of the coldest surface")
    diffusivity_m2_d: Number = Field(0.05, ge=0.005, le=0.2)


class HouseTable(Schema):
    """``[house]``."""

    temperature_c: Annotated[Number, Field(ge=0, le=30)] = 19.0


class PriceTable(Schema):
    """``[prices.<carrier>]``."""

    alone: ClassVar = "per_kwh"
    per_kwh: Money | None = None
    per_unit: Money | None = None
    unit: Annotated[Text, Word] | None = None

    def money_per_kwh(self, carrier: Carrier) -> float | None:
        """The price of what is bought; None after a problem."""
        if (self.per_kwh is None) == (self.per_unit is None):
            found = "neither price" if self.per_kwh is None else "per_kwh and per_unit"
            self.where.problem(found, "either per_kwh, or per_unit with its unit")
            return None
        if self.per_unit is None:
            return self.per_kwh
        units = UNITS_KWH[carrier]
        if self.unit not in units:
            self.where.of("unit").problem(
                f"'{self.unit}'" if self.unit else "nothing",
                f"what one unit of sale is: {listed(units)}",
                did_you_mean(self.unit or "", units),
            )
            return None
        return self.per_unit / units[self.unit]


class BreakerTable(Schema):
    """One breaker: what it is rated for, or the continuous load it may carry."""

    alone: ClassVar = "watts"
    volts: Number | None = Field(None, ge=12, le=480)
    amps: Number | None = Field(None, gt=0, le=200)
    watts: Number | None = Field(None, gt=0, le=1e5)

    @property
    def load_w(self) -> float | None:
        """What it may carry for hours; None where what is written does not tell."""
        if self.watts is not None and self.volts is None and self.amps is None:
            return self.watts
        if self.watts is None and self.volts is not None and self.amps is not None:
            return self.volts * self.amps * CONTINUOUS_SHARE
        return None

    def check(self) -> None:
        """One way to say what it carries."""
        if self.told.sound and self.load_w is None:
            self.where.problem(
                listed(sorted(self.told.given.values())) or "nothing",
                "volts and amps of the breaker, or the watts it may carry all day",
                "Write for example {volts = 230, amps = 16}.",
            )


class HouseholdTable(Schema):
    """``[household]``."""

    people: Whole = Field(2, ge=1, le=1000)
    hours_a_day: Number = Field(4.0, gt=0, le=16)
    minutes_a_tree: Number = Field(8.0, gt=0, le=240)
    weekends_only: YesNo = False
    thermostat_changes: Whole = Field(2, ge=0, le=20)


@schema.widened(WEIGHTS)
class WeightsTable(Schema):
    """``[weights]``: any field of ``model.site.Weights``; what is left out keeps its default."""

    @property
    def weights(self) -> Weights:
        """The weights, defaults filled in."""
        given = self.model_dump(exclude_none=True)
        weights = Weights(**given)
        return weights if "not_home" in given else weights.with_own_not_home()

    def check(self) -> None:
        """Shares in order; what is odd is said."""
        weights, at = self.weights, self.where
        if weights.comfortable_share > weights.fullest_share:
            at.of("comfortable_share").problem(
                f"'{weights.comfortable_share:g}', more than fullest_share"
                f" '{weights.fullest_share:g}'",
                "a comfortable share no larger than the fullest",
            )
        if weights.two_person_kg > ONE_PERSON_KG:
            at.findings.warn(
                f"{at.file}, [weights]: two_person_kg is {_kg_lb(weights.two_person_kg)}, so one"
                f" person is asked to lift trees heavier than {_kg_lb(ONE_PERSON_KG)}, the most one"
                " person should lift now and then, and less from the floor or many times over."
            )
        if 0.0 < weights.not_home <= weights.dearest_way_home:
            at.findings.warn(
                f"{at.file}, [weights]: not_home is {weights.not_home:g}, no more than taking one"
                f" tree home can cost ({weights.dearest_way_home:g}: the dearest carry and "
                "extra_carry), so trees may be left under cover at the end although it is safe "
                "outdoors. Leave it out, or make it higher."
            )


def _kg_lb(mass_kg: float) -> str:
    return f"{Display(us=False).weight(mass_kg)} ({Display(us=True).weight(mass_kg)})"


class SiteFile(Schema):
    """site.toml."""

    other_units: ClassVar = {"elevation": ROOM}
    name: Text = Field(description="the name of the site")
    invented: YesNo = False
    latitude: Degrees = Field(description="degrees north (south is negative)")
    longitude: Degrees = Field(description="degrees east (west is negative)")
    elevation_m: Number = Field(0.0, ge=-430, le=5000)
    utc_offset_h: Number | None = Field(None, ge=-12, le=14)
    starts: Day = Field(description="first day of the plan")
    ends: Day = Field(description="last day of the plan, in spring")
    summer_place: Text = Field(description="id of the open-air place the trees come from")
    currency: Text = "money"
    tree_value: Money | None = None
    units: Annotated[Literal["metric", "us"], Word] = "metric"
    winters: Whole = Field(30, ge=10, le=1000)
    seed: Whole = Field(1, ge=0, le=2**31)
    weather: WeatherTable
    heating: HeatingTable
    ground: GroundTable | None = None
    house: HouseTable
    prices: dict[str, PriceTable]
    breakers: dict[str, BreakerTable]
    household: HouseholdTable
    weights: WeightsTable

    @classmethod
    def report_unknown(cls, heading: str, raw: Any, where: Where) -> None:
        """Report a key or table that is not read."""
        if not isinstance(raw, dict):
            super().report_unknown(heading, raw, where)
            return
        tables, fix = "], [".join(cls.parts), did_you_mean(heading, cls.parts)
        where.under(heading).problem("an unknown table", f"one of [{tables}]", fix)

    def hides(self, name: str) -> bool:
        """Whether a table is misspelt or none, so that nothing can be said to be missing in it."""
        told = self.told
        tables = [key for key, raw in told.unknown.items() if isinstance(raw, dict)]
        meant = {closest(key, self.parts) for key in tables}
        return name in told.unformed or (name in meant and name not in told.tables)

    @property
    def season(self) -> tuple[date, date] | None:
        """First and last day of the plan; None where they are not known or do not agree."""
        if self.starts is None or self.ends is None:
            return None
        days = (self.ends - self.starts).days + 1
        return (self.starts, self.ends) if SHORTEST_D <= days <= LONGEST_D else None

    @property
    def carriers(self) -> frozenset[Carrier] | None:
        """What there is a price of, right or wrong; None where a slip may hide one."""
        found = [] if self.hides("prices") else [_carrier(name) for name in self.prices]
        hidden = self.hides("prices") or None in found
        return None if hidden else frozenset(filter(None, found))

    @cached_property
    def money_per_kwh(self) -> Mapping[Carrier, float]:
        """Prices of what is bought; what is wrong with one is told once."""
        money = {}
        for name, table in self.prices.items():
            carrier = _carrier(name)
            if carrier is None:
                near = did_you_mean(name, CARRIERS)
                table.where.problem("an unknown carrier", listed(CARRIERS), near)
            elif table.whole and (price := table.money_per_kwh(carrier)) is not None:
                money[carrier] = price
        return money

    def check(self) -> None:
        """A place on earth, a season of some length, and prices."""
        at, starts, ends = self.where.of("ends"), self.starts, self.ends
        _ = self.money_per_kwh
        north, east = self.latitude, self.longitude
        if north is not None and abs(north) > POLAR:
            swapped = east is not None and abs(east) <= POLAR and abs(north) <= 180
            fix = f"Are the two swapped? Write latitude = {east:g} and longitude = {north:g}."
            expected = f"-{POLAR} to {POLAR}, short of the polar circles"
            self.where.of("latitude").problem(f"'{north:g}'", expected, fix if swapped else "")
        if east is not None and abs(east) > 180:
            self.where.of("longitude").problem(f"'{east:g}'", "-180 to 180 (west is negative)")
        if starts is None or ends is None or self.season:
            return
        if ends <= starts:
            at.problem(
                f"'{ends}', not after starts '{starts}'",
                "the last day of the plan, in the spring after starts",
                "Are the two dates the wrong way round, or a year off?",
            )
            return
        at.problem(
            f"a season of {(ends - starts).days + 1} days",
            f"{SHORTEST_D} to {LONGEST_D} days from starts to ends",
            "Check the years of the two dates.",
        )

    @property
    def display(self) -> Display:
        """How numbers are shown to the grower."""
        return Display(us=self.units == "us")

    @property
    def offset_h(self) -> float:
        """Local standard time minus UTC, h; from the longitude when not given."""
        given = self.utc_offset_h
        return given if given is not None else float(round(self.longitude / 15))

    def site(self, ground: Ground, design_min_c: float, summer_place: str) -> Site:
        """The site of a whole file, with what the weather and the shelters tell."""
        same = ("name", "elevation_m", "starts", "ends", "currency", "winters", "seed", "invented")
        return Site(
            **{name: getattr(self, name) for name in same},
            latitude_deg=self.latitude,
            longitude_deg=self.longitude,
            utc_offset_h=self.offset_h,
            design_min_c=design_min_c,
            ground=ground,
            house_c=self.house.temperature_c,
            summer_place=summer_place,
            money_per_kwh=self.money_per_kwh,
            breakers_w={name: one.load_w or 0.0 for name, one in self.breakers.items()},
            household=Household(**self.household.model_dump(exclude={"thermostat_changes"})),
            thermostat_changes=self.household.thermostat_changes,
            weights=self.weights.weights,
            display=self.display,
        )


def _carrier(name: str) -> Carrier | None:
    return CARRIERS.get(name.lower().replace("_", " ").replace("-", " "))
