"""Spoils the files of a winter at random, the way people, programs and bad luck do.

``python tests/hostile/mutations.py 50000`` reads that many and lists what was not told clearly.
"""

import contextlib
import io
import json
import random
import re
import shutil
import sys
import tempfile
import time
import unicodedata
from collections.abc import Callable
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.utils.exceptions import IllegalCharacterError
from typer.testing import CliRunner

from overwinter.cli.app import app

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
LONGEST_S = 60.0
CLEAR = {0, 2, 3}
"""Exit codes that say what is the matter: done, bad input, no plan."""
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
    *('"<script>alert(1)</script>"', '"=1+2"', '"\\u200b"', '"../x"', "'''", "[[", "1,5", "", "#"),
)
runner = CliRunner()


def winter(folder: Path) -> Path:
    """A small folder to be spoilt."""
    shutil.copytree(TINY, folder)
    (folder / "species.csv").write_text(
        "key,latin,group,root_kill_c,root_kill_c_source\n"
        "ulmus-parvifolia,Ulmus parvifolia,,-9,own: ten winters\n"
        "home-plum,Prunus domestica,hardy-deciduous,-8,\n",
        encoding="utf-8",
    )
    return folder


def as_workbook(folder: Path) -> None:
    """Turn the tree list into a workbook."""
    book = Workbook()
    lines = (folder / "trees.csv").read_text(encoding="utf-8").splitlines()
    for line in lines:
        book.active.append(
            [float(cell) if re.fullmatch(r"\d+", cell) else cell for cell in line.split(",")]
        )
    book.save(folder / "trees.xlsx")
    (folder / "trees.csv").unlink()


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
    book.save(path)


def spoil_kind(path: Path, rng: random.Random) -> None:
    """Not a file at all."""
    path.unlink()
    how = rng.randrange(5)
    if how == 0:
        path.mkdir()
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
            at[key] = rng.choice([None, -1, 10**30, 0.5, "", "x", [], {}, True, float("nan")])
        break
    path.write_text(json.dumps(document), encoding="utf-8")


Spoil = Callable[[Path, random.Random], None]
INPUTS: tuple[tuple[str, Spoil], ...] = (
    *(("trees.csv", one) for one in (spoil_cells, spoil_cells, spoil_bytes, spoil_encoding)),
    *(("species.csv", one) for one in (spoil_cells, spoil_bytes, spoil_encoding)),
    *(("site.toml", one) for one in (spoil_lines, spoil_lines, spoil_bytes, spoil_encoding)),
    *(("shelters.toml", one) for one in (spoil_lines, spoil_lines, spoil_bytes, spoil_encoding)),
    *(("trees.xlsx", one) for one in (spoil_sheet, spoil_bytes)),
    *((name, spoil_kind) for name in ("trees.csv", "site.toml", "shelters.toml", "species.csv")),
)


def listing(folder: Path) -> dict[str, bytes | None]:
    """Every file with its content; no content for what is none."""
    return {
        path.name: path.read_bytes() if path.is_file() else None
        for path in sorted(folder.iterdir())
    }


def fault(folder: Path, *words: str) -> str | None:
    """Run a command; what is wrong with how it ended, or None."""
    before, began = listing(folder), time.monotonic()
    result = runner.invoke(app, [*words, str(folder)])
    took = time.monotonic() - began
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return f"{type(result.exception).__name__}: {result.exception}"
    if result.exit_code not in CLEAR or "mistake in overwinter" in result.output:
        return f"exit {result.exit_code}: {result.output[-300:]}"
    if "Traceback" in result.output:
        return "a traceback"
    if took > LONGEST_S:
        return f"{took:.0f} s"
    if result.exit_code and not result.output.strip():
        return "not a word"
    if result.exit_code and listing(folder) != before:
        return "something was written"
    if any(name.endswith(".part") for name in listing(folder)):
        return "a file left behind"
    return None


def spoilt(seed: int, room: Path) -> tuple[str, str | None]:
    """Spoil one file of a winter and read it; what was done, and what went wrong."""
    rng = random.Random(seed)
    name, spoil = rng.choice(INPUTS)
    folder = winter(room / "w")
    try:
        if name == "trees.xlsx":
            as_workbook(folder)
        spoil(folder / name, rng)
        command = "plan" if rng.random() < 0.03 else "check"
        return f"{seed} {spoil.__name__} {name} {command}", fault(folder, command)
    finally:
        shutil.rmtree(folder)


def main() -> None:
    """Read as many spoilt winters as asked for."""
    number, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    wrong = 0
    with tempfile.TemporaryDirectory() as room:
        for seed in range(first, first + number):
            with contextlib.redirect_stderr(io.StringIO()):
                what, found = spoilt(seed, Path(room))
            if found:
                wrong += 1
                print(what, "->", found, flush=True)
    print(f"{number} spoilt, {wrong} not told clearly")


if __name__ == "__main__":
    main()
