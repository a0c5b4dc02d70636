"""The one place where pydantic's errors become ``Problem``s in the grower's words and units."""

import math
import operator
import re
from collections.abc import Mapping
from copy import copy
from datetime import date
from enum import Enum
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from overwinter.files.findings import Findings, Where, did_you_mean, listed, meant
from overwinter.files.measures import SUFFIX_OF, in_unit, measure_of, number_of
from overwinter.files.schema import Key, S, Schema, Told, widened
from overwinter.packaged import packaged_toml
from overwinter.problems import InputProblems

NUMBER_WITH_TAIL = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s.,].*?)\s*")
MEANT = packaged_toml("sentences.toml")["no_number"]
LETTERS = str.maketrans({"O": "0", "o": "0", "l": "1", "I": "1"})
BOUNDS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}
LARGEST_SHARE = 6.0  # of efficiencies; other shares end at 1
KINDS = packaged_toml("sentences.toml")["expected"]


def parse(
    schema: type[S],
    written: Mapping[str, Any],
    where: Where,
    quiet_missing: frozenset[str] = frozenset(),
) -> S:
    """Read one row or table with the tables in it; what is wrong is reported and left out.
    ``written``: raw cells or TOML values by heading as written; blank cells are left out before.
    ``quiet_missing``: fields whose absence was reported once for the whole file."""
    problems = where.findings.problems
    before = len(problems)
    tables, unformed = _tables(schema, written, where)
    in_parts = len(problems)
    fields, given, unknown = _to_si(schema, written, where)
    for heading, raw in unknown.items():
        schema.report_unknown(heading, raw, where)
    values = fields | tables
    try:
        row = schema.model_validate(values)
    except ValidationError as error:
        quiet = quiet_missing | schema.misspelt(unknown)
        for detail in error.errors(include_url=False):
            name = str(detail["loc"][0])
            values.pop(name, None)
            if name in given:
                _report(schema, detail, written[given[name]], where, given[name])
            elif name not in quiet:
                ways, about = schema.headings_of(name), schema.model_fields[name].description
                fix = f"{'Fill in' if schema.in_cells else 'Add'} {listed(ways, most=6)}."
                where.of(ways[0]).problem("nothing", about or "a value", fix)
        row = _nothing_required(schema).model_validate(values)
    sound = type(row) is schema and len(problems) == in_parts
    parts = frozenset(schema.parts.keys() & written.keys()) if schema.parts else frozenset[str]()
    row._told = Told(where, given, unknown, parts, unformed, sound)
    row.check()
    row.told.whole = sound and len(problems) == before
    return row


def nothing_of(schema: type[S], where: Where) -> S:
    """A table of which nothing is known."""
    row: S = _nothing_required(schema).model_validate({})
    row._told = Told(where, unformed=frozenset(schema.parts))
    return row


@cache
def _nothing_required(schema: type[S]) -> type[S]:
    """The schema with every field optional."""
    fields: dict[str, Any] = {}
    for name, given in schema.model_fields.items():
        if given.is_required():
            relaxed = copy(given)
            relaxed.default = None
            fields[name] = (given.annotation, relaxed)
    return widened(fields)(schema)


def _tables(
    schema: type[Schema], written: Mapping[str, Any], where: Where
) -> tuple[dict[str, Any], frozenset[str]]:
    """The parts of a table, and the names of those that are no tables."""
    read: dict[str, Any] = {}
    unformed = set()
    for name, part in schema.parts.items():
        at, value = where.under(name), written.get(name)
        rows = value if part.kind is tuple and isinstance(value, list) else [value]
        if value is not None and not all(isinstance(row, dict) for row in rows):
            unformed.add(name)
            line = f"[[...{name}]]" if part.kind is tuple else f"[...{name}]"
            place = at if where.row is None else where
            fix = f"Write it under its own line {line}."
            place.of(name).problem(f"'{value}'", "a table", fix)
            value = None
        if part.kind is tuple:
            read[name] = tuple(
                parse(part.schema, row, at.under(str(label or number)))
                for number, row in enumerate(rows if value is not None else [], 1)
                for label in (row.get("id", row.get("name", row.get("month"))),)
            )
        elif part.kind is dict:
            read[name] = {
                key: parse(
                    part.schema,
                    one if isinstance(one, dict) else {part.schema.alone: one},
                    at.under(key),
                )
                for key, one in (value or {}).items()
            }
        elif value is not None or not part.optional:
            read[name] = parse(part.schema, value or {}, at)
    return read, frozenset(unformed)


def _to_si(
    schema: type[Schema], written: Mapping[str, Any], where: Where
) -> tuple[dict[str, Any], dict[str, str], dict[str, Any]]:
    """Values by field, numbers in SI; the heading of each; and what is under no known heading."""
    fields: dict[str, Any] = {}
    given: dict[str, str] = {}
    unknown: dict[str, Any] = {}
    for heading, raw in written.items():
        if heading in schema.parts:
            continue
        key = schema.keys.get(heading) or (schema.in_cells and schema.stems.get(heading))
        if not key:
            unknown[heading] = raw
        elif key.fills in fields:
            found = f"{quoted(raw)} beside {given[key.fills]}"
            where.of(heading).problem(found, "one of the two", "Delete one.")
        else:
            fields[key.fills] = _converted(raw, key, schema.in_cells)
            given[key.fills] = heading
    return fields, given, unknown


def _as_float(raw: int | float) -> float:
    """A whole number beyond every float is infinite, so that it is refused as no number."""
    try:
        return float(raw)
    except OverflowError:
        return math.inf if raw > 0 else -math.inf


def _converted(raw: Any, key: Key, cells: bool) -> Any:
    """The SI value where ``raw`` is a measure (or a list of them); else ``raw`` for pydantic."""
    if not key.units or isinstance(raw, bool):
        return raw
    if isinstance(raw, list):
        return [_converted(item, key, cells) for item in raw]
    if isinstance(raw, (int, float)) and key.unit is not None:
        return key.unit.to_si(_as_float(raw))
    if isinstance(raw, str):
        # A unit inside a text of TOML would stand against the one in its key.
        found = measure_of(raw, key.units if cells else {}, key.unit)
        return raw if found is None else found
    return raw


def quoted(raw: Any) -> str:
    """A written value as a message shows it."""
    if isinstance(raw, bool):
        shown = str(raw).lower()
    elif isinstance(raw, float):
        shown = f"{raw:g}"
    elif isinstance(raw, date):
        shown = raw.isoformat().removesuffix("T00:00:00")
    else:
        shown = str(raw)
    return f"'{shown[:60]}...'" if len(shown) > 60 else f"'{shown}'"


def _report(schema: type[Schema], detail: ErrorDetails, raw: Any, where: Where, head: str) -> None:
    """Report what is wrong with the value of a field; of a list with the item that is."""
    (name, *path), where = detail["loc"], where.of(head)
    for step in path:
        if isinstance(raw, list) and isinstance(step, int) and step < len(raw):
            raw = raw[step]
    if detail["type"] in ("enum", "literal_error"):
        words = _words(schema.model_fields[str(name)].annotation)
        expected, fix = f"one of {listed(words)}", did_you_mean(str(raw), words)
    else:
        key = schema.keys.get(head) or schema.stems[head]
        says = "heading" if schema.in_cells else "key"
        expected, fix = _expected(detail["type"], detail.get("ctx", {}), key, raw, says)
    where.problem("nothing" if raw == "" else quoted(raw), expected, fix)


def _words(kind: Any) -> list[str]:
    """The words of a fixed list that a field takes."""
    if isinstance(kind, type) and issubclass(kind, Enum):
        return [str(member.value) for member in kind]
    if get_origin(kind) is Literal:
        return [str(word) for word in get_args(kind)]
    return [word for part in get_args(kind) for word in _words(part)]


def _expected(kind: str, ctx: Mapping[str, Any], key: Key, raw: Any, says: str) -> tuple[str, str]:
    """What was expected, and the likely fix; ``says`` is where the unit stands."""
    if kind == "wrong":
        return str(ctx["expected"]), str(ctx["fix"])
    if kind in BOUNDS:
        name, words = BOUNDS[kind]
        bound = float(ctx[name])
        unit = key.unit or key.units.get(_unit_word(raw))
        return f"{words} {in_unit(bound, unit)}", _bound_fix(kind, bound, key, raw, says)
    expected = KINDS.get(kind, "a value of another kind")
    if expected.endswith("number"):
        ways = [key.unit] if key.unit else key.units.values()
        in_words = f" in {listed(one.word for one in ways)}" if key.units else ""
        return expected + in_words, _number_fix(raw, key, says)
    if expected == "a list":
        items = re.findall(r"[+-]?\d+(?:\.\d+)?", str(raw)) or [f'"{raw}"']
        return expected, f"Write [{', '.join(items)}], in square brackets."
    return expected, ""


def _unit_word(raw: Any) -> str:
    """The unit that a text ends with, as a suffix of headings; empty: none."""
    found = NUMBER_WITH_TAIL.fullmatch(str(raw))
    return SUFFIX_OF.get(found[2].rstrip(".").casefold(), "") if found else ""


def _bound_fix(kind: str, bound: float, key: Key, raw: Any, says: str) -> str:
    """What was probably meant by a number that is out of bounds."""
    if re.fullmatch(r"-?9{3,}(\.[09]+)?", str(raw)):
        return "Does it stand for a missing value? Leave the cell empty."
    if str(raw).startswith(("-", "−")) and bound >= 0:
        return "Is the minus sign a slip?"
    number = number_of(raw) if isinstance(raw, str) else _as_float(raw)
    if number is None:
        return ""
    if key.unit is None and bound <= LARGEST_SHARE and bound < number <= 100:
        return f"A percentage is written as a share: {number:g} % is {number / 100:g}."
    keeps = getattr(operator, BOUNDS[kind][0])
    ways = [u.word for u in key.units.values() if u != key.unit and keeps(u.to_si(number), bound)]
    return f"Is it in {listed(ways)}? The unit stands in the {says}." if ways else ""


def _number_fix(raw: Any, key: Key, says: str) -> str:
    """What was probably meant by something that is not a number."""
    if isinstance(raw, float) and not math.isfinite(raw):
        return "Leave it out where the number is not known."
    text = str(raw).strip()
    figures = text.translate(LETTERS)
    if figures != text and number_of(figures) is not None:
        return f"Letters stand for figures: write {figures}."
    if words := meant(text, MEANT):
        return words
    match = NUMBER_WITH_TAIL.fullmatch(text)
    return "" if match is None else _tail_fix(match, key, says)


def _tail_fix(match: re.Match[str], key: Key, says: str) -> str:
    """What was probably meant by a number with something behind it."""
    number, word = float(match[1].replace(",", ".")), _unit_word(match[0])
    if key.unit and word in key.units:
        number = key.unit.from_si(key.units[word].to_si(number))
    elif key.units and word:
        return f"'{match[2]}' measures something else: does it stand under the wrong {says}?"
    elif key.units:
        return f"'{match[2]}' is no unit that is understood."
    return f"Write {number:.6g} alone{f'; the unit stands in the {says}' if key.unit else ''}."


def document_problems(error: ValidationError, file: str, fix: str) -> InputProblems:
    """Errors of a nested document (plan.json) as problems under their dotted keys."""
    findings = Findings()
    for detail in error.errors(include_url=False):
        *path, key = map(str, detail["loc"])
        at = findings.at(file, ".".join(path) or None, key)
        if detail["type"] == "unexpected_keyword_argument":
            at.problem("an unknown key", "a key of the format")
            continue
        found, expected = "nothing", "a value"
        if detail["type"] not in ("missing", "missing_argument"):
            said = detail["msg"].removeprefix("Input should be ").removeprefix("a valid ")
            found = quoted(detail["input"])
            expected = KINDS.get(detail["type"], f"{said[:1].lower()}{said[1:]}")
        at.problem(found, expected, fix)
    return InputProblems(findings.problems)
