"""What site.toml may hold."""

from dataclasses import fields
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, create_model

from overwinter.model.site import Margins, Weights
from overwinter.files.quantities import (
    DAILY_SUN,
    DIFFERENCE,
    MASS,
    ROOM,
    Quantity,
    lengths,
    temperatures,
)
from overwinter.files.schema import Day, Number, Schema, Share, Text, Whole, Word, YesNo

AirC = Annotated[Number, Field(ge=-70, le=60)]
Money = Annotated[Number, Field(ge=0, le=1e9)]


class SiteTable(Schema):
    """The plain keys at the top of site.toml."""

    quantities: ClassVar = lengths("elevation", units=ROOM)
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
    units: Annotated[Literal["metric", "us"], Word] = "metric"
    longest_spell_days: Whole = Field(14, ge=3, le=60)


class WeatherTable(Schema):
    """``[weather]`` without its months."""

    parts: ClassVar = ("month",)

    file: Text | None = None
    kind: Annotated[Literal["epw", "hourly", "daily", "normals"], Word] | None = None
    origin: Text | None = None
    licence: Text | None = None
    winter: Whole | None = Field(None, ge=1700, le=2300)
    seed: Whole = Field(1, ge=0, le=2**31)


class MonthTable(Schema):
    """``[[weather.month]]``: normals of one month."""

    quantities: ClassVar = {
        **temperatures("mean_min", "mean_max"),
        "sun": Quantity("sun_mj_m2_d", DAILY_SUN),
    }
    month: Whole = Field(ge=1, le=12, description="the month, 1 to 12")
    mean_min_c: AirC = Field(description="mean daily minimum")
    mean_max_c: AirC = Field(description="mean daily maximum")
    sun_mj_m2_d: Number | None = Field(None, ge=0, le=45)


class HeatingTable(Schema):
    """``[heating]``."""

    quantities: ClassVar = temperatures("design_min")
    design_min_c: AirC | None = None


class GroundTable(Schema):
    """``[ground]``."""

    quantities: ClassVar = {
        **temperatures("mean"),
        "amplitude": Quantity("amplitude_k", DIFFERENCE),
    }
    mean_c: Annotated[Number, Field(ge=-20, le=35)] = Field(description="yearly mean")
    amplitude_k: Number = Field(ge=0, le=35, description="half the yearly swing at the surface")
    coldest_day: Number = Field(ge=1, le=366, description="day of the year of the coldest surface")
    diffusivity_m2_d: Number = Field(0.05, ge=0.005, le=0.2)


class HouseTable(Schema):
    """``[house]``."""

    quantities: ClassVar = temperatures("temperature")
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

    carries_per_day: Whole = Field(ge=1, le=100_000, description="most trees carried on one day")
    carry_days_max: Whole = Field(ge=1, le=200, description="most days with carrying in the winter")


MONEY_UNLESS_SAID: dict[str, Any] = {
    "comfortable_share": Share,
    "fullest_share": Annotated[Number, Field(gt=0, le=1)],
    "two_person_kg": Annotated[Number, Field(gt=0, le=1000)],
    "rodent_share": Share,
    "rodent_limit": Share,
    "guard_leaves": Share,
    "tail_chance": Share,
    "tail_scale_k": Annotated[Number, Field(gt=0, le=20)],
}


def _optional(kind: type, types: dict[str, Any], otherwise: Any) -> dict[str, Any]:
    """Every field of a domain dataclass as an optional field of a schema."""
    return {f.name: (types.get(f.name, otherwise) | None, None) for f in fields(kind)}


class _WeightsBase(Schema):
    """``[weights]``: any field of ``domain.site.Weights``; what is left out keeps its default."""

    quantities: ClassVar = {
        "two_person": Quantity("two_person_kg", MASS),
        "tail_scale": Quantity("tail_scale_k", DIFFERENCE),
    }


class _MarginsBase(Schema):
    """``[margins]``: any field of ``domain.site.Margins``; what is left out keeps its default."""

    quantities: ClassVar = {
        f.name.removesuffix("_k"): Quantity(f.name, DIFFERENCE) for f in fields(Margins)
    }


WeightsTable = create_model(
    "WeightsTable", __base__=_WeightsBase, **_optional(Weights, MONEY_UNLESS_SAID, Money)
)
MarginsTable = create_model(
    "MarginsTable",
    __base__=_MarginsBase,
    **_optional(Margins, {}, Annotated[Number, Field(ge=0, le=20)]),
)
