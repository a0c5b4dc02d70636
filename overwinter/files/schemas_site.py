"""What site.toml may hold, what it held once, and what is known of a file with mistakes."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, create_model

from overwinter.climate.coldest_night import zone_band
from overwinter.files.findings import Where
from overwinter.files.quantities import ROOM
from overwinter.files.schema import Day, Number, Schema, Share, Text, Whole, Word, YesNo, wrong
from overwinter.model.season import SnowLies
from overwinter.model.shelter import Carrier
from overwinter.model.site import Weights

AirC = Annotated[Number, Field(ge=-70, le=60)]
Money = Annotated[Number, Field(ge=0, le=1e9)]


class SiteTable(Schema):
    """The plain keys at the top of site.toml."""

    other_units: ClassVar = {"elevation": ROOM}
    name: Text = Field(description="the name of the site")
    invented: YesNo = False
    latitude: Number = Field(ge=-66, le=66, description="degrees north (south is negative)")
    longitude: Number = Field(ge=-180, le=180, description="degrees east (west is negative)")
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


def _zone(value: Any) -> Any:
    """A hardiness zone such as 5b; TOML may give a whole zone as a number."""
    text = str(value).strip().lower()
    try:
        zone_band(text)
    except ValueError:
        raise wrong("a hardiness zone from 1a to 13b") from None
    return text


class WeatherTable(Schema):
    """``[weather]`` without its months."""

    parts: ClassVar = ("month",)
    file: Text | None = None
    kind: Annotated[Literal["epw", "hourly", "daily", "normals"], Word] | None = None
    origin: Text | None = None
    licence: Text | None = None
    hardiness_zone: Annotated[str, BeforeValidator(_zone)] | None = None
    coldest_night_mean_c: AirC | None = None
    coldest_night_spread_k: Annotated[Number, Field(gt=0, le=15)] | None = None
    snow_lies: Annotated[SnowLies, Word] = SnowLies.NEVER


class MonthTable(Schema):
    """``[[weather.month]]``: normals of one month."""

    month: Whole = Field(ge=1, le=12, description="the month, 1 to 12")
    mean_min_c: AirC = Field(description="mean daily minimum")
    mean_max_c: AirC = Field(description="mean daily maximum")
    sun_mj_m2_d: Number | None = Field(None, ge=0, le=45)


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

    per_kwh: Money | None = None
    per_unit: Money | None = None
    unit: Annotated[Text, Word] | None = None


class BreakerTable(Schema):
    """One breaker: what it is rated for, or the continuous load it may carry."""

    volts: Number | None = Field(None, ge=12, le=480)
    amps: Number | None = Field(None, gt=0, le=200)
    watts: Number | None = Field(None, gt=0, le=1e5)


class HouseholdTable(Schema):
    """``[household]``."""

    people: Whole = Field(2, ge=1, le=1000)
    hours_a_day: Number = Field(4.0, gt=0, le=16)
    minutes_a_tree: Number = Field(8.0, gt=0, le=240)
    weekends_only: YesNo = False
    thermostat_changes: Whole = Field(2, ge=0, le=20)


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


_WEIGHTS: dict[str, Any] = {
    field.name: (MONEY_UNLESS_SAID.get(field.name, Money) | None, None) for field in fields(Weights)
}
WeightsTable = create_model("WeightsTable", __base__=Schema, **_WEIGHTS)
"""``[weights]``: any field of ``model.site.Weights``; what is left out keeps its default."""


STAGES = "trees are carried where a stage of the winter begins"
SAMPLE = "the plan is made for many winters at once"
PRICED = "what a loss costs follows from value, chance and caution"
TOP = ""
"""The keys above all tables."""

RETIRED = {
    (TOP, "longest_spell_days"): ("a stage is as long as the weather makes it", "Delete it."),
    ("weather", "winter"): (SAMPLE, "Delete it; of a long record all whole winters are used."),
    ("weather", "seed"): (SAMPLE, "Write seed and winters at the top of the file."),
    ("household", "carry_days_max"): (STAGES, "Delete it; see carry and most_carries."),
    ("household", "carries_per_day"): (
        "how much is carried on a day follows from people, hours and daylight",
        "Write people, hours_a_day and, if carrying is slow, minutes_a_tree.",
    ),
    ("weights", "carry_day"): (STAGES, "Delete it; carry is the price of carrying one tree."),
    ("weights", "rodent_limit"): (PRICED, "Delete it; most_chance is the limit of all losses."),
    ("weights", "tail_chance"): (SAMPLE, "Delete it; see caution."),
    ("weights", "tail_scale_k"): (SAMPLE, "Delete it; see caution."),
    ("weights", "tail_scale_f"): (SAMPLE, "Delete it; see caution."),
}
"""By table and key: why it is gone, and what to do."""


def take_retired_keys(written: dict[str, Any], where: Where) -> None:
    """Take keys and tables out of site.toml that it no longer has; each is one problem."""
    for (table, key), (why, fix) in RETIRED.items():
        holder = written if table == TOP else written.get(table)
        if isinstance(holder, dict) and key in holder:
            del holder[key]
            at = where if table == TOP else where.under(table)
            at.of(key).problem("a key of an earlier edition", f"no such key: {why}", fix)
    if "margins" in written:
        del written["margins"]
        where.under("margins").problem(
            "a table of an earlier edition",
            f"no such table: {PRICED}",
            "Delete it; in [weights], caution and most_chance say how careful the plan is.",
        )


# A name is called unknown, and a thing missing, only where everything that could hold it was read;
# what a mistake may have swallowed is None or marked as not known here.


@dataclass(frozen=True, slots=True)
class KnownHeater:
    """A heater as far as it could be read; ``where`` is its dotted key."""

    where: str
    name: str
    carrier: Carrier | None = None
    breaker: str | None = None


@dataclass(frozen=True, slots=True)
class KnownShelter:
    """A shelter as far as it could be read; ``places`` are full ids."""

    id: str
    open_air: bool | None
    opens: date | None
    closes: date | None
    places: tuple[str, ...]
    heaters: tuple[KnownHeater, ...]


@dataclass(frozen=True)
class KnownShelters:
    """shelters.toml as far as it could be read."""

    shelters: tuple[KnownShelter, ...] = ()
    all_named: bool = False
    """Whether the ids of all shelters and places are known."""

    @property
    def places(self) -> Mapping[str, KnownShelter]:
        """The shelter of every place, by the place's full id."""
        return {place: shelter for shelter in self.shelters for place in shelter.places}


@dataclass(frozen=True)
class KnownSite:
    """site.toml as far as it could be read; None: not known."""

    starts: date | None = None
    ends: date | None = None
    """None, like ``starts``, where the two do not agree."""
    summer_place: str | None = None
    tree_value: float | None = None
    carriers: frozenset[Carrier] | None = None
    """What there is a price of, be it a wrong one."""
    breakers: tuple[str, ...] | None = None
    weather: WeatherTable | None = None
    months: frozenset[int] | None = None
    """Months that there are normals of, be they wrong ones."""

    @property
    def season(self) -> tuple[date, date] | None:
        """First and last day, where both are known."""
        return None if self.starts is None or self.ends is None else (self.starts, self.ends)
