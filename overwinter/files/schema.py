"""What all schemas of written input share: strictness, units in headings, kinds of cell."""

import math
import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from overwinter.files.quantities import Quantity

ISO_DATE = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
LARGEST_DAY = 31
SPREADSHEET_DAY_ZERO = date(1899, 12, 30).toordinal()


class Schema(BaseModel):
    """Base of one written table or row; fields in SI, headings in any unit of ``quantities``."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True
    )
    quantities: ClassVar[Mapping[str, Quantity]] = {}
    """By the stem of the heading (``height`` of ``height_cm``)."""
    parts: ClassVar[tuple[str, ...]] = ()
    """Names of its sub-tables, which are read by themselves."""

    @classmethod
    def headings(cls) -> dict[str, str]:
        """Every heading or key that may be written, and the field it fills."""
        measured = {quantity.field for quantity in cls.quantities.values()}
        names = {name: name for name in cls.model_fields if name not in measured}
        for stem, quantity in cls.quantities.items():
            names |= dict.fromkeys(quantity.headings(stem), quantity.field)
        return names

    @classmethod
    def customary_headings(cls) -> list[str]:
        """One heading for each field, in the customary unit, sorted."""
        return sorted(cls.headings_of(name)[0] for name in cls.model_fields)

    @classmethod
    def headings_of(cls, field: str) -> list[str]:
        """The headings that fill a field, the customary one first."""
        return [heading for heading, target in cls.headings().items() if target == field]


def wrong(expected: str, fix: str = "") -> PydanticCustomError:
    """An error of a cell in our own words, for the translator."""
    return PydanticCustomError("wrong", "{expected}", {"expected": expected, "fix": fix})


def number(value: Any) -> Any:
    """Refuse true/false and dates where a number belongs; pydantic would take them."""
    if isinstance(value, (bool, date)):
        raise wrong("a number")
    return value


def iso_date(value: Any) -> Any:
    """A date from TOML, a sheet or text; only YYYY-MM-DD, as other orders are read two ways."""
    if isinstance(value, datetime):
        if (value.hour, value.minute, value.second) != (0, 0, 0):
            raise wrong("a date without a time", f"Write {value.date().isoformat()}.")
        return value.date()
    if isinstance(value, date):
        return value
    text = str(value).strip()
    match = ISO_DATE.fullmatch(text)
    if not match:
        raise wrong("a date as YYYY-MM-DD", date_fix(text))
    try:
        return date(*map(int, match.groups()))
    except ValueError:
        raise wrong("a day that is in the calendar, as YYYY-MM-DD", date_fix(text)) from None


def date_fix(text: str) -> str:
    """What day was probably meant by a text that is none, as a sentence; empty if none is near."""
    numbers = [int(part) for part in re.split(r"[./\-]", text) if part.isdigit()]
    if len(numbers) == 3:
        if numbers[0] > LARGEST_DAY:
            numbers = [*numbers[1:], numbers[0]]
        readings = _readings(*numbers)
        if readings:
            whichever = ", whichever is meant" if len(readings) > 1 else ""
            return f"Write {' or '.join(readings)}{whichever}."
    if len(numbers) == 1 and 20_000 < numbers[0] < 80_000:
        day = date.fromordinal(SPREADSHEET_DAY_ZERO + numbers[0])
        return f"A spreadsheet's own day number? It would be {day.isoformat()}."
    return ""


def _readings(first: int, second: int, year: int) -> list[str]:
    year = year + 2000 if year < 100 else year
    readings = []
    for month, day in ((first, second), (second, first)):
        try:
            readings.append(date(year, month, day).isoformat())
        except ValueError:
            continue
    return list(dict.fromkeys(readings))


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


def _lower(value: Any) -> Any:
    """Words of a fixed list may be written in capitals."""
    return value.strip().lower().replace("_", " ") if isinstance(value, str) else value


def _yes_no(value: Any) -> Any:
    """Yes or no, true or false, 1 or 0; nothing else."""
    if isinstance(value, bool):
        return value
    known = {"yes": True, "y": True, "true": True, "1": True, "x": True}
    known |= {"no": False, "n": False, "false": False, "0": False}
    answer = known.get(str(value).strip().lower())
    if answer is None:
        raise wrong("yes or no")
    return answer


def whole_number(value: Any) -> Any:
    """A sheet gives 3.0 where 3 was typed; pydantic takes that, but not the text '3.0'."""
    number(value)
    if isinstance(value, str):
        try:
            as_float = float(value)
        except ValueError:
            return value
        return int(as_float) if math.isfinite(as_float) and as_float.is_integer() else value
    return value


Number = Annotated[float, BeforeValidator(number)]
Whole = Annotated[int, BeforeValidator(whole_number)]
Day = Annotated[date, BeforeValidator(iso_date)]
Names = Annotated[tuple[str, ...], BeforeValidator(_names)]
YesNo = Annotated[bool, BeforeValidator(_yes_no)]
Word = BeforeValidator(_lower)
"""Goes before an enumeration."""
Text = Annotated[str, BeforeValidator(_text), Field(min_length=1)]
Share = Annotated[float, BeforeValidator(number), Field(ge=0, le=1)]
