"""What shelters.toml may hold; SI inside, any unit of the data dictionary outside."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from overwinter.files.quantities import COVER, ROOM
from overwinter.files.schema import Day, Number, Row, Schema, Share, Text, Word, YesNo
from overwinter.model.shelter import Carrier, PlaceKind, Side, Towards

AirC = Annotated[Number, Field(ge=-60, le=60)]
Id = Annotated[Text, Field(pattern=r"^[^/;,]+$")]


class ShelterTable(Schema):
    """``[[shelter]]`` without its sub-tables."""

    parts: ClassVar = ("envelope", "thermometer", "heater", "place")

    id: Id = Field(description="a short id for the shelter")
    name: Text | None = None
    open_air: YesNo = False
    opens: Day | None = None
    closes: Day | None = None
    transmission: Share | None = None
    lamp_mol_m2_d: Number = Field(0.0, ge=0, le=60)
    readings: Text | None = None
    note: str = ""


class EnvelopeTable(Schema):
    """``[shelter.envelope]`` without its surfaces."""

    parts: ClassVar = ("surface",)
    volume_m3: Number = Field(gt=0, le=1e5, description="volume of the air inside")
    air_changes_per_h: Number = Field(
        ge=0, le=30, description="air changes per hour (0.5 tight, 1 ordinary, 2 to 4 leaky)"
    )
    heat_capacity_j_k: Number | None = Field(None, gt=0, le=1e11)
    solar_aperture_m2: Number | None = Field(None, ge=0, le=1e4)
    vent_above_c: AirC | None = None
    vent_air_changes_per_h: Number = Field(20.0, ge=0, le=200)


Compass = Literal[
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"
]
"""Where a wall or a slope faces, from north over east."""


class SurfaceTable(Schema):
    """``[[shelter.envelope.surface]]``; exactly one of U, R and construction."""

    name: Text = Field(description="a name for the surface")
    area_m2: Number = Field(gt=0, le=1e5, description="area of the surface")
    u_w_m2k: Number | None = Field(None, gt=0, le=15)
    r_m2k_w: Number | None = Field(None, gt=0.05, le=50)
    construction: Text | None = None
    towards: Annotated[Towards, Word] = Towards.OUTDOORS
    glazed: YesNo | None = None
    faces: Annotated[Compass, Word] | None = None
    slope_deg: Number | None = Field(None, ge=0, le=90)


class ThermometerTable(Schema):
    """``[shelter.thermometer]``."""

    coldest_c: AirC = Field(description="coldest reading inside")
    warmest_c: AirC = Field(description="warmest reading inside")
    outdoor_at_coldest_c: AirC = Field(description="outdoor air at the coldest reading")
    outdoor_at_warmest_c: AirC = Field(description="outdoor air at the warmest reading")
    smoothing_h: Number = Field(24.0, ge=0, le=2000)


class ReadingRow(Row):
    """A row of a file of min/max readings."""

    date: Day = Field(description="the day of the reading")
    min_c: AirC = Field(description="coldest inside that day")
    max_c: AirC = Field(description="warmest inside that day")
    outdoor_min_c: AirC = Field(description="coldest outdoors that day")
    outdoor_max_c: AirC = Field(description="warmest outdoors that day")


class HeaterTable(Schema):
    """``[[shelter.heater]]``."""

    name: Text = Field(description="a name for the heater")
    carrier: Annotated[Carrier, Word] = Field(description="what it burns or draws")
    power_w: Number = Field(gt=0, le=1e6, description="heat at full power")
    steps_w: tuple[Annotated[Number, Field(gt=0, le=1e6)], ...] = ()
    hold_c: tuple[Annotated[Number, Field(ge=-10, le=30)], ...] = ()
    efficiency: Number | None = Field(None, gt=0, le=6)
    breaker: Text | None = None
    vented: YesNo = True


class PlaceTable(Schema):
    """``[[shelter.place]]``."""

    other_units: ClassVar = {**dict.fromkeys(("width", "depth", "headroom"), ROOM), "cover": COVER}
    id: Id = Field(description="a short id for the place")
    name: Text | None = None
    kind: Annotated[PlaceKind, Word] = Field(description="bench, shelf, floor, ground or sunk")
    width_m: Number = Field(gt=0.05, le=500, description="width along the front")
    depth_m: Number = Field(gt=0.05, le=500, description="depth from front to back")
    headroom_m: Number | None = Field(None, gt=0.05, le=50)
    load_limit_kg: Number | None = Field(None, gt=0, le=1e6)
    light_share: Share = 1.0
    rodent_exposure: Share | None = None
    guarded: YesNo = False
    open_sides: tuple[Annotated[Side, Word], ...] = (Side.FRONT,)
    glass_side: Annotated[Side, Word] | None = None
    cover_m: Number | None = Field(None, ge=0, le=0.6)
    warmer_k: Number | None = Field(None, ge=-15, le=15)
    reads_c: tuple[AirC, ...] = ()
    shelter_reads_c: tuple[AirC, ...] = ()
    sky_share: Share = 1.0
