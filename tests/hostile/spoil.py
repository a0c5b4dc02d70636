"""Ways to spoil one file: as people, programs and bad luck do it."""

import contextlib
import json
import os
import random
import unicodedata
from collections.abc import Callable
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils.exceptions import IllegalCharacterError

NASTY = (
    *("1,5", "1.234,5", "1,234", "1 234", "1'234", "1.5.3", "1_5", "\u0661\u0665", "\uff11\uff15"),
    *("\u00bd", "1e308", "1e-320", "-1", "-0", "NaN", "inf", "-inf", "0x10", "1/2", "10 %", "5 kg"),
    *("=1+2", '=HYPERLINK("http://example.org")', "+1", "@SUM(A1)", "-2+3", "\t=1", "#REF!"),
    *(
        "31/02/2027",
        "2027-02-30",
        "2027-02-29",
        "12/11/26",
        "2026-11-05T10:00",
        "1e99999",
        "9" * 400,
    ),
    *(
        "e\u0301",
        "\u00e9",
        "\u200bElm",
        "Elm\u200b",
        "\u202emlE",
        "\ufeffElm",
        "\u00a0",
        "\x1b[31m",
    ),
    *(
        "<script>alert(1)</script>",
        '"><img src=x>',
        "../../etc/passwd",
        "CON",
        "\U0001f333",
        "\u00df",
    ),
    *(
        "yes",
        "true",
        "none",
        "nan",
        "null",
        "x" * 100_000,
        '"',
        "'",
        '"""',
        ",",
        ";",
        "\\",
        "{}",
        "[]",
    ),
)
TOML_NASTY = (
    *("1_5", "0x10", "1e308", "nan", "inf", "-inf", "-1", "0", "1e-320", "9" * 400, "true", '""'),
    *('"x"', "[]", "{}", "[1, 2]", "2027-02-30", "2027-02-28", "2027-02-28T10:00:00Z", "10:00:00"),
    *("9" * 5000, "[" * 100_000, '"\\ud800"', '"\\u0000"', "1979-05-27 07:32:00"),
    *('"<script>alert(1)</script>"', '"=1+2"', '"\\u200b"', '"../x"', "'''", "[[", "1,5", "", "#"),
)


def spoil_bytes(path: Path, rng: random.Random) -> None:
    """Bytes changed, lost, doubled, or the file cut short."""
    raw = bytearray(path.read_bytes())
    for _ in range(rng.choice([1, 1, 3, 30])):
        at = rng.randrange(len(raw) + 1)
        to = at + rng.choice([1, 1, 5, 100])
        how = rng.randrange(5)
        if how == 0:
            raw[at:to] = bytes(rng.randrange(256) for _ in range(to - at))
        elif how == 1:
            del raw[at:to]
        elif how == 2:
            raw[at:at] = raw[at:to]
        elif how == 3:
            raw[at:at] = rng.choice([b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"\r", b"\n\n"])
        elif rng.random() < 0.2:
            del raw[at:]
    path.write_bytes(bytes(raw))


def spoil_encoding(path: Path, rng: random.Random) -> None:
    """Another encoding or other line ends, letters with accents in it."""
    text = path.read_text(encoding="utf-8").replace("Elm", "\u00c9lm")
    if rng.random() < 0.5:
        text = unicodedata.normalize("NFD", text)
    text = text.replace("\n", rng.choice(["\n", "\r\n", "\r", "\n\r", "\u2028", "\x0b"]))
    codes = [
        "utf-16",
        "utf-16-le",
        "utf-16-be",
        "utf-8-sig",
        "latin-1",
        "cp1252",
        "utf-7",
        "utf-32",
    ]
    path.write_bytes(text.encode(rng.choice(codes), errors="replace"))


def spoil_cells(path: Path, rng: random.Random) -> None:
    """A few cells of a table replaced; commas may shift a row, as they do."""
    rows = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    delimiter = rng.choice([",", ",", ",", ";", "\t"])
    for _ in range(rng.choice([1, 1, 2, 5])):
        row = rng.choice(rows)
        row[rng.randrange(len(row))] = rng.choice(NASTY)
    if rng.random() < 0.2:
        rows.insert(rng.randrange(len(rows)), rng.choice(rows))
    if rng.random() < 0.1:
        rng.shuffle(rows)
    text = "\n".join(delimiter.join(row) for row in rows) + "\n"
    path.write_text(text, encoding="utf-8", errors="surrogatepass")


def spoil_lines(path: Path, rng: random.Random) -> None:
    """Values of a TOML file replaced, lines lost, doubled or put elsewhere."""
    lines = path.read_text(encoding="utf-8").splitlines()
    for _ in range(rng.choice([1, 1, 2, 5])):
        at, how = rng.randrange(len(lines)), rng.randrange(6)
        if how < 3 and "=" in lines[at]:
            key = lines[at].partition("=")[0]
            lines[at] = f"{key}= {rng.choice(TOML_NASTY)}"
        elif how == 3:
            del lines[at]
        elif how == 4:
            lines.insert(rng.randrange(len(lines)), lines[at])
        else:
            lines[at] = lines[at].replace("_", "-", 1).replace("[", "[[", 1)
        lines = lines or [""]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def spoil_sheet(path: Path, rng: random.Random) -> None:
    """Cells of a workbook with formulas, errors, dates and merged cells."""
    book = load_workbook(path)
    sheet = book.active
    for _ in range(rng.choice([1, 2, 5])):
        row, column = rng.randint(1, sheet.max_row), rng.randint(1, sheet.max_column)
        value: object = rng.choice([*NASTY[:60], True, 1e308, -3, 10**30])
        with contextlib.suppress(AttributeError, IllegalCharacterError):  # merged; not for XML
            sheet.cell(row, column).value = value
        if rng.random() < 0.2:
            sheet.merge_cells(
                start_row=row, end_row=row + 1, start_column=column, end_column=column + 1
            )
    with contextlib.suppress(AttributeError, TypeError):  # XML has no such cell
        book.save(path)


def spoil_kind(path: Path, rng: random.Random) -> None:
    """Not a file at all, or one that lies elsewhere."""
    how = rng.randrange(7)
    content = path.read_bytes()
    path.unlink()
    if how == 0:
        path.mkdir()
    elif how == 6:  # a link that points outside
        (path.parent.parent / "outside" / path.name).write_bytes(content)
        path.symlink_to(f"../outside/{path.name}")
    elif how == 5:
        os.mkfifo(path)
    elif how == 1:
        path.symlink_to(path.name)
    elif how == 2:
        path.symlink_to(path.parent / "nowhere")
    elif how == 3:
        path.write_bytes(b"")
    else:
        path.symlink_to("/dev/null")


def spoil_json(path: Path, rng: random.Random) -> None:
    """A value somewhere in a JSON file replaced, or a key lost."""
    document = json.loads(path.read_text(encoding="utf-8"))
    at = document
    while True:
        keys = list(at) if isinstance(at, dict) else list(range(len(at)))
        if not keys:
            break
        key = rng.choice(keys)
        if isinstance(at[key], (dict, list)) and rng.random() < 0.85:
            at = at[key]
            continue
        if rng.random() < 0.2:
            del at[key]
        else:
            odd = [None, -1, 10**30, 0.5, "", "x", [], {}, True, float("nan"), "\ud800", "DEEP"]
            at[key] = rng.choice([*odd, "LONG", *NASTY[:40]])
        break
    text = json.dumps(document).replace('"DEEP"', "[" * 100_000).replace('"LONG"', "9" * 5000)
    path.write_text(text, encoding="utf-8")


Spoil = Callable[[Path, random.Random], None]
