"""What all schemas of written input share: strictness, units in headings, kinds of cell."""

import math
import re
from calendar import monthrange
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Annotated, Any, ClassVar, TypeVar, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PrivateAttr, create_model
from pydantic_core import PydanticCustomError

from overwinter.files.findings import Where, closest, did_you_mean, listed
from overwinter.files.measures import UNITS_OF, Unit, day_of, days_of, number_of

ISO_DATE = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
SPREADSHEET_DAY_ZERO = date(1899, 12, 30).toordinal()
YES = frozenset(["yes", "y", "true", "1", "x", "ja", "j", "oui", "sí", "si"])
NO = frozenset(["no", "n", "false", "0", "nein", "non", "never", "-", "nie", "jamais", "nunca"])


@dataclass(frozen=True, slots=True)
class Key:
    """What a heading or key of a file fills."""

    fills: str  # name of the field
    unit: Unit | None = None  # unit that the heading names
    units: Mapping[str, Unit] = field(default_factory=dict)  # by suffix, all it may be in


@dataclass(frozen=True, slots=True)
class Part:
    """A field that holds tables of its own."""

    schema: "type[Schema]"
    kind: type  # `tuple` for a list of tables, `dict` for tables by name, else one table
    optional: bool  # whether one that is not written is None, and not a blank table


@dataclass(slots=True)
class Told:
    """How a table was read."""

    where: Where
    given: Mapping[str, str] = field(default_factory=dict)  # heading by field, right or wrong
    unknown: Mapping[str, Any] = field(default_factory=dict)  # keys that are no field
    tables: frozenset[str] = frozenset()  # parts that were written
    unformed: frozenset[str] = frozenset()  # those of them that were no tables
    sound: bool = False  # whether its own fields are right
    whole: bool = False  # whether all of it is right, parts and checks too


class Schema(BaseModel):
    """Base of one written table or row; fields in SI, headings in any unit of the field. What is
    wrong is reported and is None or its default, unless the table is ``whole``."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )
    other_units: ClassVar[Mapping[str, Mapping[str, Unit]]] = {}  # by stem, if not `UNITS_OF`
    keys: ClassVar[Mapping[str, Key]] = {}  # by heading, a field's customary one first
    stems: ClassVar[Mapping[str, Key]] = {}  # by heading without its unit (`height` of `height_cm`)
    parts: ClassVar[Mapping[str, Part]] = {}  # fields that are tables, by name
    alone: ClassVar[str] = ""  # key that is meant where a value stands for the whole table
    in_cells: ClassVar[bool] = False  # whether it is a row of cells, which may carry their unit
    _told: Told = PrivateAttr()

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        cls.parts = {
            name: Part(kind, get_origin(field.annotation) or kind, type(None) in get_args(of))
            for name, field in cls.model_fields.items()
            for of in [field.annotation]
            for kind in (of, *get_args(of))
            if isinstance(kind, type) and issubclass(kind, Schema)
        }
        keys, stems = {}, {}
        for name in [name for name in cls.model_fields if name not in cls.parts]:
            stem, si = _stem_and_unit(name)
            units = cls.other_units.get(stem, UNITS_OF.get(si, {}))
            if units:
                stems[stem] = Key(name, None, units)
            else:
                keys[name] = Key(name)
            keys |= {f"{stem}_{end}": Key(name, unit, units) for end, unit in units.items()}
        cls.keys, cls.stems = keys, stems

    def check(self) -> None:
        """Report what does not go together; what is None or left out is not known."""

    @property
    def where(self) -> Where:
        """Where it stands."""
        return self._told.where

    def at(self, name: str) -> Where:
        """Where a field stands, or would."""
        return self.where.of(self._told.given.get(name) or self.headings_of(name)[0])

    @property
    def told(self) -> Told:
        """How it was read."""
        return self._told

    @property
    def whole(self) -> bool:
        """Whether nothing is wrong with it."""
        return self._told.whole

    @classmethod
    def customary_headings(cls) -> list[str]:
        """One heading for each field, in the customary unit, sorted."""
        return sorted(cls.headings_of(name)[0] for name in cls.model_fields.keys() - cls.parts)

    @classmethod
    def headings_of(cls, field: str) -> list[str]:
        """The headings that fill a field, the customary one first."""
        return [heading for heading, key in cls.keys.items() if key.fills == field]

    @classmethod
    def report_unknown(cls, heading: str, raw: Any, where: Where) -> None:
        """Report a key that is none of the schema's."""
        known = listed(cls.customary_headings(), most=40)
        where.of(heading).problem("an unknown key", f"one of {known}", cls.heading_fix(heading))

    @classmethod
    def misspelt(cls, unknown: Iterable[str]) -> frozenset[str]:
        """Fields that unknown headings were probably meant for; they are not missing as well."""
        return frozenset(key.fills for key in map(cls._meant, unknown) if key)

    @classmethod
    def _meant(cls, heading: str) -> Key | None:
        """What an unknown heading was probably meant to fill, with or without a unit."""
        known = {**cls.keys, **cls.stems}
        return known.get(closest(heading, known) or "")

    @classmethod
    def heading_fix(cls, heading: str) -> str:
        """What to write instead of an unknown heading; one without its unit could be in any."""
        part, meant = closest(heading, [*cls.parts, *cls.keys]), cls._meant(heading)
        if part in cls.parts:
            return f"Did you mean '{part}'?"
        if meant is None:
            return ""
        ends = {suffix.rpartition("_")[2] for suffix in meant.units}
        if not ends or heading.rpartition("_")[2] in ends:
            return did_you_mean(heading, cls.keys)
        ways = listed(cls.headings_of(meant.fills), most=6)
        return f"Did you mean {ways}? The unit belongs to the name."


S = TypeVar("S", bound=Schema)


def widened(columns: Mapping[str, Any]) -> Callable[[type[S]], type[S]]:
    """Give a schema more fields, each a type and its default."""

    def made(schema: type[S]) -> type[S]:
        module, doc = schema.__module__, schema.__doc__
        name = schema.__name__
        return create_model(name, __base__=schema, __module__=module, __doc__=doc, **columns)

    return made


class Row(Schema):
    """Base of one row of a table."""

    in_cells: ClassVar[bool] = True
    also: ClassVar[Mapping[str, str]] = {}  # people's words for columns, and what they mean
    apart: ClassVar[Mapping[str, tuple[str, ...]]] = {}  # words for several fields at once
    needed_columns: ClassVar[tuple[str, ...]] = ()  # may be blank, but must be there
    keeps_own_columns: ClassVar[bool] = False  # whether the grower may add any others

    @classmethod
    def words_for(cls, missing: frozenset[str]) -> dict[str, tuple[str, ...]]:
        """Other words for fields whose column is missing, and all they fill."""
        keys = {**cls.keys, **cls.stems}
        words = {word: (keys[meant].fills,) for word, meant in cls.also.items() if meant in keys}
        return {w: fields for w, fields in {**words, **cls.apart}.items() if missing >= {*fields}}


R = TypeVar("R", bound=Row)


def _stem_and_unit(field: str) -> tuple[str, str]:
    """``u`` and ``w_m2k`` of ``u_w_m2k``; the unit is empty where the name ends with none."""
    units = [unit for unit in UNITS_OF if field.endswith(f"_{unit}")]
    unit = max(units, key=len, default="")
    return field.removesuffix(f"_{unit}"), unit


def wrong(expected: str, fix: str = "") -> PydanticCustomError:
    """An error of a cell in our own words, for the translator."""
    return PydanticCustomError("wrong", "{expected}", {"expected": expected, "fix": fix})


def number(value: Any) -> Any:
    """A number as people write it; true, false and dates are none, though pydantic takes them."""
    if isinstance(value, (bool, date)):
        day = "Did the spreadsheet make a day of it? Format the cell as a number, type it again."
        raise wrong("a number", day if isinstance(value, date) else "")
    if not isinstance(value, str):
        return value
    found = number_of(value)
    if found is None:
        raise PydanticCustomError("float_parsing", "no number")
    return found


def iso_date(value: Any) -> Any:
    """A date from TOML, a sheet or text; what countries read in two ways is not guessed."""
    found = day_of(value)
    if found is not None:
        return found
    if isinstance(value, datetime):
        raise wrong("a date without a time", f"Write {value.date().isoformat()}.")
    text = str(value).strip()
    if ISO_DATE.fullmatch(text):
        raise wrong("a day that is in the calendar, as YYYY-MM-DD", date_fix(text))
    raise wrong("a date as YYYY-MM-DD", date_fix(text))


def date_fix(text: str) -> str:
    """What day was probably meant by a text that is none, as a sentence."""
    days = sorted(day.isoformat() for day in days_of(text))
    if days:
        whichever = ", whichever is meant" if len(days) > 1 else ""
        return f"Write {' or '.join(days)}{whichever}."
    if text.isdigit() and 20_000 < int(text) < 80_000:
        day = date.fromordinal(SPREADSHEET_DAY_ZERO + int(text))
        return f"A spreadsheet's own day number? It would be {day.isoformat()}."
    if found := ISO_DATE.fullmatch(text):
        year, month, day_number = found.groups()
        if swapped := days_of(f"{year}-{day_number}-{month}"):
            return f"Are month and day the wrong way round? Write {swapped[0].isoformat()}."
        if 1 <= int(month) <= 12:
            last = monthrange(int(year), int(month))[1]
            return f"That month has {last} days; write {year}-{int(month):02d}-{last} or another."
    return "Write year, month and day in figures, such as 2026-10-20."


def _text(value: Any) -> Any:
    """A name that looks like a number comes as one from a sheet."""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return str(value)
    return value


def _names(value: Any) -> Any:
    """Names parted by semicolons (a cell) or a list (TOML)."""
    if isinstance(value, str):
        return tuple(part.strip() for part in value.split(";") if part.strip())
    return value


def yes_or_no(value: Any, expected: str = "yes or no") -> Any:
    """Yes or no, true or false, 1 or 0; nothing else."""
    if isinstance(value, bool):
        return value
    word = str(value).strip().lower()
    if word not in YES | NO:
        raise wrong(expected)
    return word in YES


def whole_number(value: Any) -> Any:
    """A sheet gives 3.0 where 3 was typed; pydantic takes that, but not the text '3.0'."""
    if not isinstance(value, str):
        return number(value)
    found = number_of(value)
    if found is None:
        raise PydanticCustomError("int_parsing", "no whole number")
    return int(found) if math.isfinite(found) and found.is_integer() else found


Number = Annotated[float, BeforeValidator(number)]
Whole = Annotated[int, BeforeValidator(whole_number)]
Day = Annotated[date, BeforeValidator(iso_date)]
Names = Annotated[tuple[str, ...], BeforeValidator(_names)]
YesNo = Annotated[bool, BeforeValidator(yes_or_no)]
Word = BeforeValidator(lambda v: v.strip().lower().replace("_", " ") if isinstance(v, str) else v)
"""Goes before an enumeration, whose words may be written in capitals."""
Text = Annotated[str, BeforeValidator(_text), Field(min_length=1)]
Share = Annotated[float, BeforeValidator(number), Field(ge=0, le=1)]
