"""Spoils the files of a winter at random, the way people, programs and bad luck do.

``python tests/hostile/mutations.py 50000`` reads that many and lists what was not told clearly.
"""

import contextlib
import csv
import faulthandler
import io
import json
import os
import random
import re
import shutil
import sys
import tempfile
import time
import unicodedata
from collections.abc import Callable
from datetime import date, datetime, timedelta
from html.parser import HTMLParser
from math import pi, sin
from pathlib import Path

from openpyxl import Workbook, load_workbook
from openpyxl.utils.exceptions import IllegalCharacterError
from typer.testing import CliRunner, Result

from overwinter.cli.app import app

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
LONGEST_S = 60.0
CLEAR = {0, 1, 2, 3}
"""Exit codes that say what is the matter: done, trees left out, bad input, a plan refused."""
HUNG_S = 300
LIVE = re.compile(r"[=+\-@\t\r](?!$|\d*(\.\d+)?$)")
"""A cell that a spreadsheet would run; numbers with a sign and a dash alone are none."""
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
    with contextlib.suppress(AttributeError, TypeError):  # XML has no such cell
        book.save(path)


def spoil_kind(path: Path, rng: random.Random) -> None:
    """Not a file at all."""
    path.unlink()
    how = rng.randrange(6)
    if how == 0:
        path.mkdir()
    elif how == 5 and hasattr(os, "mkfifo"):
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


def with_days(folder: Path) -> None:
    """Measured days instead of normals: half a year and more, all invented."""
    first = date(2025, 9, 1)
    days = [first + timedelta(n) for n in range(250)]
    low = [round(-9 * sin(pi * n / 250) + n % 5, 1) for n in range(250)]
    rows = [f"{day},{cold},{cold + 7}" for day, cold in zip(days, low, strict=True)]
    _weather(folder, "daily", "\n".join(["date,min_c,max_c", *rows]))


def with_hours(folder: Path) -> None:
    """Measured hours, likewise; one in three, the others are gaps."""
    first = datetime(2025, 9, 1)
    rows = [
        f"{first + timedelta(hours=h)},{round(-9 * sin(pi * h / 5000) + h % 7, 1)},{h % 24 * 10}"
        for h in range(0, 5000, 3)
    ]
    _weather(folder, "hourly", "\n".join(["time,air_c,sun_w_m2", *rows]))


def with_epw(folder: Path) -> None:
    """A typical year of an EPW file, of which the winter half is there."""
    lines = ["LOCATION,Nowhere,-,-,-,0,47.5,9.5,1,450", "DESIGN CONDITIONS,0", *["X"] * 6]
    for n in range(200):
        day = date(2025, 10, 1) + timedelta(n)
        for hour in range(1, 25):
            cells = [str(day.year), str(day.month), str(day.day), str(hour), "0", "?"]
            cells += [f"{-9 * sin(pi * n / 200):.1f}", *["0"] * 6, "100", *["0"] * 21]
            lines.append(",".join(cells))
    _weather(folder, "epw", "\n".join(lines))


def _weather(folder: Path, kind: str, text: str) -> None:
    (folder / "weather.csv").write_text(text + "\n", encoding="utf-8")
    site = (folder / "site.toml").read_text(encoding="utf-8")
    head, rest = site.split("[weather]")
    rest = rest[rest.index("[house]") :]
    table = f'[weather]\nfile = "weather.csv"\nkind = "{kind}"\nhardiness_zone = "7b"\n'
    (folder / "site.toml").write_text(head + table + rest, encoding="utf-8")


def with_readings(folder: Path) -> None:
    """A shed that is known by its thermometer."""
    rows = [f"2025-12-{n:02},{n % 5 - 2},{n % 5 + 3},{n % 7 - 6},{n % 7 + 2}" for n in range(1, 29)]
    head = "date,min_c,max_c,outdoor_min_c,outdoor_max_c"
    (folder / "readings.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    text = (folder / "shelters.toml").read_text(encoding="utf-8")
    at, to = text.index("  [shelter.envelope]"), text.rindex("  [[shelter.place]]")
    text = text[:at] + 'readings = "readings.csv"\n' + text[to:]
    (folder / "shelters.toml").write_text(text, encoding="utf-8")


def planned(folder: Path) -> None:
    """A plan, a mark, lists ticked on paper and on a phone, a forecast."""
    for words in (["plan"], ["mark", "--all", "--day", "2026-11-20"], ["lists"]):
        result = runner.invoke(app, [words[0], str(folder), *words[1:]])
        assert result.exit_code == 0, result.output
    (made,) = (folder / "lists").glob("carries*all.csv")
    with made.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    last = rows[-1]["key"]
    with (folder / "ticked.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows({**row, "done": "x" if row["key"] == last else ""} for row in rows)
    book = load_workbook(folder / "lists" / "carries.xlsx")
    for sheet in book.worksheets:
        heads = {str(cell.value).lower(): cell.column for cell in sheet[1]}
        for row in range(2, sheet.max_row + 1):
            if "key" in heads and sheet.cell(row, heads["key"]).value == last:
                sheet.cell(row, heads["done"]).value = "x"
    book.save(folder / "ticked.xlsx")
    ticks = [{"key": last, "done": True}]
    document = {"format": "overwinter ticks", "version": 1, "plan": "x", "ticks": ticks}
    (folder / "ticked.json").write_text(json.dumps(document), encoding="utf-8")
    nights = [f"2026-11-{n},{5 - n},{9 - n}" for n in range(20, 28)]
    (folder / "forecast.csv").write_text("date,min_c,max_c\n" + "\n".join(nights) + "\n")


CHECK, PLAN = ("check",), ("plan", "--force")
TONIGHT = ("tonight", "--today", "2026-11-20", "--forecast", "forecast.csv")
OPEN = (("show",), ("lists", "--force"), ("history",), ("tonight", "--low", "-8"))
AGAIN = (*OPEN, ("replan", "--today", "2026-11-25", "--unmarked", "done"))
TABLE, TEXT = (spoil_cells, spoil_cells, spoil_bytes, spoil_encoding, spoil_kind), (spoil_bytes,)
LINES = (spoil_lines, spoil_lines, spoil_bytes, spoil_encoding, spoil_kind)
JSON = (spoil_json, spoil_json, spoil_bytes, spoil_kind)

Sort = tuple[Callable[[Path], None] | None, str, tuple[Spoil, ...], tuple[tuple[str, ...], ...]]
SORTS: tuple[tuple[int, Sort], ...] = (
    (6, (None, "trees.csv", TABLE, (CHECK,))),
    (4, (None, "species.csv", TABLE, (CHECK,))),
    (6, (None, "site.toml", LINES, (CHECK,))),
    (6, (None, "shelters.toml", LINES, (CHECK,))),
    (3, (as_workbook, "trees.xlsx", (spoil_sheet, spoil_bytes, spoil_kind), (CHECK,))),
    (1, (with_days, "weather.csv", TABLE, (CHECK,))),
    (1, (with_hours, "weather.csv", TABLE, (CHECK,))),
    (1, (with_epw, "weather.csv", TABLE, (CHECK,))),
    (2, (with_readings, "readings.csv", TABLE, (CHECK,))),
    (1, (planned, "plan.json", JSON, OPEN[:1])),
    (1, (planned, "history.json", JSON, AGAIN)),
    (1, (planned, ".overwinter-outputs.json", JSON, (("plan", "--restart"),))),
    (1, (planned, "forecast.csv", TABLE, (TONIGHT,))),
    (1, (planned, "ticked.csv", TABLE, (("mark", "--ticks", "ticked.csv"),))),
    (
        1,
        (planned, "ticked.xlsx", (spoil_sheet, spoil_bytes), (("mark", "--ticks", "ticked.xlsx"),)),
    ),
    (1, (planned, "ticked.json", JSON, (("mark", "--ticks", "ticked.json"),))),
)
"""How often, what is done to the small folder first, the file, how it is spoilt, what reads it."""
DEEP = 0.03
"""Share of spoilt inputs that are also planned, with every output looked through."""


def listing(folder: Path) -> dict[str, bytes | None]:
    """Every file with its content; no content for what is none."""
    return {
        path.name: path.read_bytes() if path.is_file() else None
        for path in sorted(folder.iterdir())
    }


def outcome(folder: Path, *words: str) -> Result:
    """A command, the folder after its name; files named after it are of the folder."""
    command, *rest = words
    named = [str(folder / word) if (folder / word).suffix else word for word in rest]
    return runner.invoke(app, [command, str(folder), *named])


def fault(folder: Path, *words: str) -> str | None:
    """Run a command; what is wrong with how it ended, or None."""
    before, began = listing(folder), time.monotonic()
    beside = sorted(folder.parent.iterdir())
    result = outcome(folder, *words)
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
    if result.exit_code > 1 and listing(folder) != before:
        return "something was written"
    if any(name.endswith(".part") for name in listing(folder)):
        return "a file left behind"
    return None if sorted(folder.parent.iterdir()) == beside else "something outside the folder"


def alive(folder: Path) -> list[str]:
    """Cells of the tables that were made that a spreadsheet would run."""
    found = []
    for path in folder.rglob("*.csv"):
        if path.name.startswith(("placements", "carries")):
            with path.open(encoding="utf-8-sig", newline="") as stream:
                cells = [cell for row in csv.reader(stream) for cell in row]
            found += [f"{path.name}: {cell}" for cell in cells if LIVE.match(cell)]
    for path in folder.glob("lists/*.xlsx"):
        for sheet in load_workbook(path).worksheets:
            cells = [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
            found += [f"{path.name}: {cell.value}" for cell in cells]
    return found


class Tags(HTMLParser):
    """Tags and attributes that no page of ours has."""

    def __init__(self) -> None:
        super().__init__()
        self.alien: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what came to life."""
        named = dict(attrs)
        if named.get("src") == "x" or any(key.startswith("onerror") for key in named):
            self.alien.append(tag)

    def handle_data(self, data: str) -> None:
        """The text of a script is data of its own."""
        if self.lasttag == "script" and data.strip() == "alert(1)":
            self.alien.append("script")


def alien(folder: Path) -> list[str]:
    """Tags that came to life in a page."""
    found = []
    for page in folder.rglob("*.html"):
        tags = Tags()
        tags.feed(page.read_text(encoding="utf-8"))
        found += [f"{page.name}: {tag}" for tag in tags.alien]
    return found


def _planned_through(folder: Path) -> str | None:
    """A spoilt folder planned, and every output of it, if it can be."""
    for words in (PLAN, ("lists", "--force"), ("report", "--force")):
        found = fault(folder, *words)
        if found or not (folder / "plan.json").exists():
            return found
    return "; ".join(alive(folder) + alien(folder)) or None


def spoilt(seed: int, room: Path) -> tuple[str, str | None]:
    """Spoil one file of a winter and read it; what was done, and what went wrong."""
    rng = random.Random(seed)
    (prepare, name, ways, commands) = rng.choices(
        [sort for _, sort in SORTS], [weight for weight, _ in SORTS]
    )[0]
    spoil = rng.choice(ways)
    pattern = room / f"pattern-{getattr(prepare, '__name__', 'plain')}"
    if not pattern.exists():
        winter(pattern)
        if prepare is not None:
            prepare(pattern)
    folder = room / "w"
    shutil.copytree(pattern, folder)
    try:
        spoil(folder / name, rng)
        found = next(filter(None, (fault(folder, *words) for words in commands)), None)
        if not found and commands == (CHECK,) and rng.random() < DEEP:
            found = _planned_through(folder)
        how = getattr(prepare, "__name__", "")
        return f"{seed} {spoil.__name__} {name} {how}", found
    finally:
        shutil.rmtree(folder)


def main() -> None:
    """Read as many spoilt winters as asked for."""
    number, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    wrong = 0
    with tempfile.TemporaryDirectory() as room:
        for seed in range(first, first + number):
            faulthandler.dump_traceback_later(HUNG_S, exit=True)
            with contextlib.redirect_stderr(io.StringIO()):
                what, found = spoilt(seed, Path(room))
            if (seed + 1 - first) % 500 == 0:
                print(f"{seed + 1 - first} spoilt", flush=True)
            if found:
                wrong += 1
                print(what, "->", found, flush=True)
    print(f"{number} spoilt, {wrong} not told clearly")


if __name__ == "__main__":
    main()
