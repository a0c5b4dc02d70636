"""shelters.toml: shelters, their envelopes or thermometers, heaters, and places."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field

from overwinter.files.envelope import AirC, EnvelopeTable
from overwinter.files.findings import Findings, KeyGuess, Where, did_you_mean
from overwinter.files.measures import COVER, ROOM
from overwinter.files.schema import Day, Number, Row, Schema, Share, Text, Word, YesNo
from overwinter.files.sheets import read_csv
from overwinter.files.tables import whole_rows
from overwinter.files.text_files import SHELTERS, read_toml
from overwinter.model.shelter import (
    Carrier,
    Heater,
    Place,
    PlaceKind,
    Readings,
    Shelter,
    Side,
    Thermometer,
)
from overwinter.shelters.fit import LEAST_DAYS
from overwinter.shelters.network import light_let_in

BURNER_EFFICIENCY = 0.8
"""Heat delivered per energy bought where none is given: vented burners 0.78 to 0.82, from memory,
unverified. Resistance heat gives all by definition, and so does a burner without a flue."""
STEP_TOLERANCE = 1.001
EXPOSURE = {
    PlaceKind.BENCH: 0.05,
    PlaceKind.SHELF: 0.0,
    PlaceKind.FLOOR: 0.5,
    PlaceKind.GROUND: 1.0,
    PlaceKind.SUNK: 1.0,
}
"""Rodent exposure where none is given. That pots on the ground are exposed to mice and benches
hardly: common practice, no source; the figures are ours."""
USUAL_COVER_M = 0.10  # over the highest roots of a sunk pot where none is given: a judgement
DESCRIPTIONS = ("open_air = true", "[shelter.envelope]", "[shelter.thermometer]", "readings")
Id = Annotated[Text, Field(pattern=r"^[^/;,]+$")]


class ThermometerTable(Schema):
    """``[shelter.thermometer]``."""

    coldest_c: AirC = Field(description="coldest reading inside")
    warmest_c: AirC = Field(description="warmest reading inside")
    outdoor_at_coldest_c: AirC = Field(description="outdoor air at the coldest reading")
    outdoor_at_warmest_c: AirC = Field(description="outdoor air at the warmest reading")
    smoothing_h: Number = Field(24.0, ge=0, le=2000)

    def check(self) -> None:
        """Cold readings below warm ones."""
        for column, cold, warm in (
            ("coldest", self.coldest_c, self.warmest_c),
            ("outdoor_at_coldest", self.outdoor_at_coldest_c, self.outdoor_at_warmest_c),
        ):
            if None not in (cold, warm) and cold >= warm:
                self.where.of(column).problem(
                    "a coldest reading not below the warmest",
                    "two readings that differ, the coldest below",
                    "Are the two the wrong way round?",
                )


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

    def check(self) -> None:
        """Settings, steps and efficiency; that there is none is told of a sound table only."""
        if self.told.sound and not self.steps_w and not self.hold_c:
            self.where.problem(
                "neither steps nor hold temperatures",
                "steps_w (heat of each fixed step) or hold_c (temperatures its thermostat may"
                " keep)",
                "Write for example hold_c = [2, 5, 8], or steps_w = [1000] for a plain heater.",
            )
        largest = max(self.steps_w, default=0.0)
        if self.power_w is not None and largest > self.power_w * STEP_TOLERANCE:
            self.where.of("steps_w").problem(
                f"a step of {largest:g} W", f"at most its full power of {self.power_w:g} W"
            )
        burns = self.carrier not in (None, Carrier.ELECTRICITY)
        if burns and self.efficiency is not None and self.efficiency > 1:
            self.where.of("efficiency").problem(
                f"'{self.efficiency:g}'",
                "at most 1 for a burner (heat delivered per energy bought)",
                "A percentage is written as a share: 80 % is 0.8.",
            )

    def heater(self) -> Heater:
        """The heater of a whole table."""
        electric = self.carrier is Carrier.ELECTRICITY
        if not self.vented and not electric:
            self.where.findings.warn(
                f"[{self.where.row}] burns {self.carrier.value} without a flue: its fumes hold"
                " carbon monoxide and water and can kill people and plants. Fit an alarm, give it"
                " fresh air, and ask a licensed person."
            )
        usual = 1.0 if electric or not self.vented else BURNER_EFFICIENCY
        given = self.model_dump() | {"efficiency": self.efficiency or usual}
        settings = {name: tuple(sorted(set(given[name]))) for name in ("steps_w", "hold_c")}
        return Heater(**given | settings)


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

    def check(self) -> None:
        """Cover of sunk pots alone, and readings in pairs."""
        if self.kind not in (None, PlaceKind.SUNK) and self.cover_m is not None:
            self.where.of("cover").problem(
                f"a cover over pots of kind '{self.kind.value}'",
                'cover_cm (or its other units) with kind = "sunk" alone',
                "Leave it out, or sink the pots.",
            )
        here, air = self.reads_c, self.shelter_reads_c
        twice = bool(here or air) and self.warmer_k is not None
        if self.told.sound and (len(here) != len(air) or twice):
            also = " and warmer_k" if twice else ""
            self.where.of("reads").problem(
                f"{len(here)} readings here, {len(air)} of the shelter's air{also}",
                "as many of each, read at the same times, or warmer_k alone",
            )

    def place(self, shelter_id: str) -> Place:
        """The place of a whole table."""
        if self.kind is PlaceKind.SUNK and self.cover_m is None:
            self.where.findings.assume(
                f"[{self.where.row}] gives no cover: the highest roots are taken to lie"
                f" {USUAL_COVER_M * 100:.0f} cm under soil, bark or leaves. Give cover_cm.",
                KeyGuess(SHELTERS, str(self.where.row), "cover_cm", 100 * USUAL_COVER_M),
            )
        # A corner by two thermometers read at the same times.
        warmer = [a - b for a, b in zip(self.reads_c, self.shelter_reads_c, strict=True)]
        filled = {
            "headroom_m": math.inf,
            "load_limit_kg": math.inf,
            "rodent_exposure": EXPOSURE[self.kind],
            "cover_m": USUAL_COVER_M,
            "warmer_k": sum(warmer) / len(warmer) if warmer else 0.0,
            "glass_side": None,
        } | self.model_dump(exclude_none=True, exclude={"reads_c", "shelter_reads_c"})
        return Place(
            **filled
            | {
                "id": f"{shelter_id}/{self.id}",
                "shelter_id": shelter_id,
                "name": self.name or self.id,
                "open_sides": frozenset(self.open_sides),
            }
        )


class ShelterTable(Schema):
    """``[[shelter]]``."""

    id: Id = Field(description="a short id for the shelter")
    name: Text | None = None
    open_air: YesNo = False
    opens: Day | None = None
    closes: Day | None = None
    transmission: Share | None = None
    lamp_mol_m2_d: Number = Field(0.0, ge=0, le=60)
    readings: Text | None = None
    note: str = ""
    envelope: EnvelopeTable | None = None
    thermometer: ThermometerTable | None = None
    heater: tuple[HeaterTable, ...] = ()
    place: tuple[PlaceTable, ...] = ()

    @property
    def key(self) -> str:
        """Its id, or what a message calls it."""
        return self.id or str(self.where.row).removeprefix("shelter.")

    @property
    def lies_open(self) -> bool | None:
        """Whether it is in the open air; None where a slip may hide it."""
        doubtful = self.told.unknown or "open_air" in self.told.given or not any(self._ways()[1:])
        return self.open_air if "open_air" in self.model_fields_set or not doubtful else None

    @property
    def place_ids(self) -> list[str | None]:
        """Full ids of its places; None where one has none that can be read."""
        return [one.id and f"{self.key}/{one.id}" for one in self.place]

    @property
    def all_named(self) -> bool:
        """Whether its id and those of all its places are known."""
        ids = self.place_ids
        once = bool(ids) and len(set(ids)) == len(ids) and None not in ids
        swallowed = any(isinstance(raw, (dict, list)) for raw in self.told.unknown.values())
        return once and self.id is not None and not swallowed and not self.told.unformed

    def _ways(self) -> tuple[bool, ...]:
        """Which of ``DESCRIPTIONS`` are given."""
        envelope, thermometer = self.envelope is not None, self.thermometer is not None
        return self.open_air, envelope, thermometer, "readings" in self.told.given

    def check(self) -> None:
        """Described once: open air, envelope, thermometer or readings; with places. Unless it is
        certain that nothing was misspelt, only too many descriptions are a problem."""
        told, given, at = self.told, self._ways(), self.where
        findings = at.findings
        findings.repeats(at.file, [one for one in self.place_ids if one], "place")
        findings.repeats(at.file, [one.name for one in self.heater if one.name], f"{at.row}.heater")
        misread = "open_air" in told.given.keys() - self.model_fields_set
        certain = not told.unformed and not told.unknown and not misread
        named = [name for name, is_given in zip(DESCRIPTIONS, given, strict=True) if is_given]
        if len(named) > 1 or (certain and not named):
            at.problem(
                " and ".join(named) or "no description of its temperature",
                f"exactly one of {', '.join(DESCRIPTIONS)}",
            )
        if certain and self.heater and len(named) == 1 and self.envelope is None:
            at.under("heater").problem(
                f"a heater in a shelter described by {named[0]}",
                "[shelter.envelope], from which the heat need is computed",
                f"Describe its envelope instead of {named[0]}, or leave the heater out.",
            )
        if not self.place and certain:
            at.of("place").problem("no place", "at least one [[shelter.place]]")

    def shelter(self, readings: Readings | None) -> Shelter:
        """The shelter of a whole table; ``readings`` are those of its file."""
        places = tuple(place.place(self.id) for place in self.place)
        heaters = tuple(heater.heater() for heater in self.heater)
        envelope = self.envelope.envelope(self.transmission) if self.envelope else None
        thermometer = self.thermometer
        same = ("id", "opens", "closes", "open_air", "lamp_mol_m2_d", "note")
        return Shelter(
            **{name: getattr(self, name) for name in same},
            name=self.name or self.id,
            places=places,
            envelope=envelope,
            thermometer=Thermometer(**thermometer.model_dump()) if thermometer else None,
            readings=readings,
            heaters=heaters,
            transmission=self._light(None if envelope is None else light_let_in(envelope)),
        )

    def _light(self, through: float | None) -> float:
        """The share of light that gets in: given, or of the glazing, or (unknown) none."""
        if self.transmission is not None:
            return self.transmission
        if self.open_air:
            return 1.0
        light, taken = 0.0, "taken as dark (0)."
        if through is not None:
            light = through
            taken = (
                f"taken as {through:.2f} from its glazing, less frame and dirt, and how much of the"
                " floor it lights."
            )
        self.where.findings.assume(
            f"[{self.where.row}] gives no transmission: {taken}",
            KeyGuess(SHELTERS, str(self.where.row), "transmission", round(light, 2)),
        )
        return light


class ShelterFile(Schema):
    """shelters.toml."""

    shelter: tuple[ShelterTable, ...] = ()

    @property
    def places(self) -> Mapping[str, ShelterTable]:
        """The shelter of every place, by the place's full id."""
        return {place: one for one in self.shelter for place in one.place_ids if place}

    @property
    def all_named(self) -> bool:
        """Whether the ids of all shelters and places are known."""
        ids = {one.key for one in self.shelter}
        # Of two of one name, one may have another.
        once = bool(ids) and len(ids) == len(self.shelter)
        return once and not self.told.unknown and all(one.all_named for one in self.shelter)

    @classmethod
    def report_unknown(cls, heading: str, raw: Any, where: Where) -> None:
        """Report what is no shelter."""
        found, fix = "an unknown table or key", did_you_mean(heading, ["shelter"])
        where.under(heading).problem(found, "[[shelter]] tables only", fix)

    def check(self) -> None:
        """Shelters of different names."""
        if not self.shelter and not self.told.unknown:
            self.where.problem("no shelter", "at least one [[shelter]]")
        keys = [one.key for one in self.shelter]
        self.where.findings.repeats(self.where.file, keys, "shelter")


def read_shelters(path: Path, findings: Findings) -> tuple[ShelterFile, tuple[Shelter, ...] | None]:
    """Read shelters.toml, and the files of readings it names; no shelters after a problem."""
    before = len(findings.problems)
    file = read_toml(path, ShelterFile, findings)
    readings = {
        one.key: read_readings(path.parent / one.readings, findings)
        for one in file.shelter
        if one.readings is not None
    }
    if len(findings.problems) > before:
        return file, None
    return file, tuple(one.shelter(readings.get(one.key)) for one in file.shelter)


class ReadingRow(Row):
    """A row of a file of min/max readings."""

    date: Day = Field(description="the day of the reading")
    min_c: AirC = Field(description="coldest inside that day")
    max_c: AirC = Field(description="warmest inside that day")
    outdoor_min_c: AirC = Field(description="coldest outdoors that day")
    outdoor_max_c: AirC = Field(description="warmest outdoors that day")

    def check(self) -> None:
        """Minima below their maxima."""
        pairs = (self.min_c, self.max_c), (self.outdoor_min_c, self.outdoor_max_c)
        if any(None not in pair and pair[0] > pair[1] for pair in pairs):
            self.where.of("min, max").problem(
                "a minimum above its maximum",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )


def read_readings(path: Path, findings: Findings) -> Readings | None:
    """A file of daily readings; None when it could not be taken apart."""
    table = read_csv(path, findings, ReadingRow)
    if table is None:
        return None
    rows = sorted(whole_rows(table, ReadingRow, findings).values(), key=lambda row: row.date)
    findings.repeats(path.name, [row.date.isoformat() for row in rows], "date")
    if len(table.rows) < LEAST_DAYS:
        findings.at(path.name).problem(
            f"{len(table.rows)} days of readings", f"at least {LEAST_DAYS} days, better three weeks"
        )
    columns = ReadingRow.model_fields  # those of Readings, in its order
    return Readings(*(tuple(getattr(row, name) for row in rows) for name in columns))
