"""Text files of a grower, JSON and TOML: UTF-8, UTF-16 with a mark; of CSV Windows text (1252)."""

import codecs
import json
import re
import tomllib
from pathlib import Path
from typing import Any

from overwinter.files.findings import Findings, closest, meant
from overwinter.files.measures import clean
from overwinter.files.pydantic_problems import nothing_of, parse
from overwinter.files.schema import NO, YES, S, date_fix
from overwinter.packaged import packaged_toml

SITE, SHELTERS, PLAN = "site.toml", "shelters.toml", "plan.json"
WINDOWS = "cp1252"  # spreadsheets save a plain "CSV" so in western Europe
ZIP_MAGIC = b"PK\x03\x04"
OTHER_SHEETS = (".xls", ".ods", ".numbers")
LARGEST_FILE = 200_000_000
DATE_LIKE = re.compile(r"\d{1,4}([./-])\d{1,2}\1\d{1,4}|\d{4}-\d{1,2}")
AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)")
MEANT = packaged_toml("sentences.toml")["no_toml"]


def encoding_of(raw: bytes, windows: bool = False) -> str:
    """The encoding that a text seems to be in; ``windows``: what is no UTF-8 is taken as 1252."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if raw.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return WINDOWS if windows else "utf-8"
    return "utf-8"


def read_text(
    path: Path, findings: Findings, wanted: str = "this file in the folder", windows: bool = False
) -> str | None:
    """Text of a file; a missing, empty or oddly encoded one is a problem and gives None."""

    def bad(found: str, expected: str, fix: str = "", row: int | None = None) -> str | None:
        findings.at(path.name, row).problem(found, expected, fix)
        return None

    try:
        if is_no_file(path, findings):
            return None
        if path.is_file() and path.stat().st_size > LARGEST_FILE:
            return bad("a file of more than 200 MB", "a smaller one", "Is it the right file?")
        raw = path.read_bytes()
    except FileNotFoundError:
        return bad("no such file", wanted, _missing_fix(path))
    except OSError as error:
        return bad(f"a file that cannot be read ({error.strerror})", "a file")
    if raw.startswith(ZIP_MAGIC):
        fix = "Save it as CSV, or name it .xlsx where a workbook is accepted."
        return bad("a spreadsheet workbook", "text", fix)
    encoding = encoding_of(raw, windows)
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        found = f"a byte 0x{raw[error.start]:02x} that is not UTF-8 text"
        fix = 'Save it again as "CSV UTF-8" (or set the encoding to UTF-8).'
        return bad(found, "UTF-8 text", fix, raw[: error.start].count(b"\n") + 1)
    if "\x00" in text:
        return bad("zero bytes", "UTF-8 text", "Is this a text file? Save it as UTF-8.")
    if encoding == WINDOWS:
        odd = dict.fromkeys(re.findall(r"\w*[^\W\da-zA-Z_]\w*", text))
        such = f", with words such as {', '.join(list(odd)[:4])}" if odd else ""
        findings.assume(f"{path.name} is not UTF-8: read as Windows text{such}.")
    return text if text.strip() else bad("an empty file", "a filled-in file")


def _missing_fix(path: Path) -> str:
    """Where a file that is missing may be, or come from."""
    there = [other.name for other in path.parent.glob("*")]
    alike = (name for name in there if Path(name).stem == path.stem)
    if near := next(alike, closest(path.name, there, cutoff=0.75)):
        mend = "Save it as CSV or .xlsx." if near.endswith(OTHER_SHEETS) else "Rename it."
        return f"Is it {near}? {mend}"
    return "`overwinter init NEW` writes one to go by." if path.name in (SITE, SHELTERS) else ""


def is_no_file(path: Path, findings: Findings) -> bool:
    """Whether it is there and no file, which is a problem: a pipe would be waited for for ever."""
    odd = path.exists() and not path.is_file()
    if odd:
        findings.at(path.name).problem("a folder or a device", "a file")
    return odd


def read_json(path: Path, whole: str, mend: str) -> Any:
    """What a JSON file holds."""
    findings = Findings()
    text = read_text(path, findings)
    findings.raise_if_any()
    try:
        content = json.loads(text or "")
        json.dumps(content, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError) as error:
        line, said = getattr(error, "lineno", None), getattr(error, "msg", type(error).__name__)
        found = f"text that is not JSON ({said})"
        fix = f"Was it cut short or edited by hand? {mend}"
        findings.at(path.name, line).problem(found, whole, fix)
        findings.raise_if_any()
    return content


def read_toml(path: Path, schema: type[S], findings: Findings) -> S:
    """The tables of a file, as far as they are right."""
    where, text = findings.at(path.name), read_text(path, findings)
    if text is None:
        return nothing_of(schema, where)
    try:
        written = tomllib.loads(clean(text))
    except (ValueError, RecursionError) as error:  # numbers without end, brackets without end
        place, message = AT_LINE.search(str(error)), AT_LINE.sub("", str(error))
        line = int(place[1]) if place else None
        shown = "".join(text.splitlines()[line - 1 : line]).strip() if line else ""
        found = f"'{shown[:60]}', which is not TOML" if shown else "text that is not TOML"
        fix = _fix(shown)
        found += "" if fix else f" ({message})"
        findings.at(path.name, line).problem(found, "key = value", fix)
        return nothing_of(schema, where)
    return parse(schema, written, where)


def _fix(written: str) -> str:
    """What is usually meant by a line that is not TOML."""
    key, _, value = (part.strip() for part in written.partition("="))
    value = value.split("#")[0].strip()
    if DATE_LIKE.fullmatch(value):
        return date_fix(value)
    if value.casefold() in YES | NO:
        return f"Write {str(value.casefold() in YES).lower()}, in small letters."
    if re.fullmatch(r"\[[\w.]+\]", key):
        if not key.startswith("[shelter"):
            return "It stands there before: put all of its keys under one such line."
        return f"A table that comes more than once has two brackets: [{key}]."
    return meant(value, MEANT, key=key)
