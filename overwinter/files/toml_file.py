"""TOML files: read, and completed with keys that were left out."""

import re
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import tomlkit

from overwinter.files.as_written import clean
from overwinter.files.csv_text import read_text
from overwinter.files.findings import Findings, KeyGuess, Where
from overwinter.files.pydantic_problems import nothing_of, parse
from overwinter.files.schema import Schema, date_fix

S = TypeVar("S", bound=Schema)

SITE, SHELTERS = "site.toml", "shelters.toml"
DATE_LIKE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{1,4}")
AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)")


def read_toml(
    path: Path,
    schema: type[S],
    findings: Findings,
    prepare: Callable[[dict[str, Any], Where], None] = lambda *_: None,
) -> S:
    """The tables of a file, as far as they are right; ``prepare`` looks at them first."""
    where, text = findings.at(path.name), read_text(path, findings)
    if text is None:
        return nothing_of(schema, where)
    try:
        written = tomllib.loads(clean(text))
    except (ValueError, RecursionError) as error:  # numbers without end, brackets without end
        place = AT_LINE.search(str(error))
        line = int(place.group(1)) if place else None
        message = AT_LINE.sub("", str(error))
        findings.at(path.name, line).problem(
            f"text that is not TOML ({message})", "key = value", _fix(text, line)
        )
        return nothing_of(schema, where)
    prepare(written, where)
    return parse(schema, written, where)


def _fix(text: str, line: int | None) -> str:
    """What is usually meant by a line that is not TOML."""
    lines = text.splitlines()
    if line is None or line > len(lines):
        return ""
    written = lines[line - 1]
    _, _, value = written.partition("=")
    value = value.split("#")[0].strip()
    if re.fullmatch(r"[+-]?\d+,\d+", value):
        return f"Write {value.replace(',', '.')} with a decimal point."
    if re.fullmatch(r"[+-]?\.\d+|[+-]?\d+\.", value):
        return "A number has a digit on both sides of its point: 0.5."
    if DATE_LIKE.fullmatch(value):
        return date_fix(value) or "Write a day that is in the calendar, year first: 2026-10-20."
    if re.fullmatch(r"[+-]?\d[\d.]*\s*[^\d\s,.].*", value):
        return "Write the number alone, without a unit; the unit is in the key."
    if re.fullmatch(r"[A-Za-z][^\"']*", value):
        return f'Put text in double quotes: "{value}".'
    return f"The line reads: {written.strip()[:60]}" if written.strip() else ""


def with_keys(text: str, guesses: Iterable[KeyGuess]) -> str:
    """The text of a file with keys that were left out, all else as it is, comments too."""
    document = tomlkit.parse(text)
    for guess in guesses:
        table = _table_at(document, guess.table)
        table[guess.key] = guess.value
        table[guess.key].comment("guessed by check")
    return tomlkit.dumps(document)


def _table_at(parent: Any, dotted: str) -> Any:
    """The table of a dotted name, arrays by id or name; made where there is none."""
    name, _, rest = dotted.partition(".")
    if isinstance(parent.get(name), list):
        for number, one in enumerate(parent[name], 1):
            label = str(one.get("id", one.get("name", number)))
            if rest == label or rest.startswith(f"{label}."):
                more = rest.removeprefix(label).removeprefix(".")
                return _table_at(one, more) if more else one
    if name not in parent:
        parent[name] = tomlkit.table()
    return _table_at(parent[name], rest) if rest else parent[name]
