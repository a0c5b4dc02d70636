"""Spoils the files of a winter at random, the way people, programs and bad luck do.

``python tests/hostile/mutations.py 50000`` reads that many and lists what was not told clearly, by
what reads such a file; every fiftieth by whole commands: check, plan, mark, replan, lists, report.
``--first`` is the first seed. Ends at once if one takes longer than a minute or 4 GB.
"""

import argparse
import contextlib
import csv
import faulthandler
import io
import json
import random
import re
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache, partial
from html.parser import HTMLParser
from math import pi, sin
from pathlib import Path
from unittest.mock import patch

from openpyxl import Workbook, load_workbook
from spoil import (
    Spoil,
    spoil_bytes,
    spoil_cells,
    spoil_encoding,
    spoil_json,
    spoil_kind,
    spoil_lines,
    spoil_sheet,
)
from typer.testing import CliRunner

from overwinter.api.folder import OUTPUTS, Winter
from overwinter.audit.audit import audit
from overwinter.cli.app import app
from overwinter.cli.guard import explain
from overwinter.cli.history import history_lines
from overwinter.files import season
from overwinter.files.findings import Findings
from overwinter.files.history import read_history
from overwinter.files.outputs import check_free
from overwinter.files.ticks import read_ticks
from overwinter.files.weather_records import read_forecast
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.problems import AuditRefused, InputProblems, UserError
from overwinter.replan.past import stages_of
from overwinter.shelters.conditions import compute_conditions

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"
LONGEST_S = 60.0
CLEAR = {0, 1, 2, 3}
"""Exit codes that say what is the matter: done, trees left out, bad input, a plan refused."""
HUNG_S, MOST_BYTES = 300, 4 << 30
EACH = 50
"""One in so many is read by whole commands."""
LIVE = re.compile(r"[=+\-@\t\r](?!$|\d*(\.\d+)?$)")
"""A cell that a spreadsheet would run; numbers with a sign and a dash alone are none."""
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
AGAIN = (
    *OPEN,
    ("replan", "--today", "2026-11-25", "--unmarked", "done"),
    ("plan", "--restart", "--force"),
)
TABLE = (spoil_cells, spoil_cells, spoil_bytes, spoil_encoding, spoil_kind)
LINES = (spoil_lines, spoil_lines, spoil_bytes, spoil_encoding, spoil_kind)
JSON = (spoil_json, spoil_json, spoil_bytes, spoil_kind)
SHEET = (spoil_sheet, spoil_bytes, spoil_kind)


@cache
def _tiny_season() -> tuple[Season, Conditions]:
    """What a plan in a spoilt file is held against."""
    tiny = season.read_season(TINY)
    return tiny, compute_conditions(tiny)


@cache
def _kinds(text: str) -> object:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / season.SPECIES
        path.write_text(text, encoding="utf-8")
        return season.read_species(path, Findings())


def read_inputs(folder: Path) -> None:
    """All inputs; species.csv, which is not spoilt, is read once: it takes half of the time."""
    known = _kinds((folder / season.SPECIES).read_text(encoding="utf-8"))
    with patch.object(season, "read_species", lambda *_: known):
        season.read_folder(folder)


def read_plan(folder: Path) -> None:
    """The plan in force as ``show`` reads and audits it."""
    tiny, conditions = _tiny_season()
    plan = _in_force(folder)
    audit(tiny, conditions, stages_of(tiny, conditions, plan), plan).refuse_unless_passed()


def _in_force(folder: Path) -> Plan:
    history = read_history(folder)
    assert history is not None
    return history.in_force.read().plan


def read_marks(folder: Path) -> None:
    """The history as every command reads it."""
    history = read_history(folder)
    if history is not None:
        winter = Winter(folder, _tiny_season()[0], history)
        found = winter.in_force
        winter.season_of(history.in_force, found.plan)
        history_lines(winter)


def read_ticked(name: str) -> Callable[[Path], object]:
    """A ticked list as ``mark`` reads it."""

    def read(folder: Path) -> object:
        return read_ticks(folder / name, _in_force(folder), _tiny_season()[0])

    return read


def read_record(folder: Path) -> None:
    """The list of files that are ours."""
    check_free(folder, OUTPUTS, force=False)


def read_nights(folder: Path) -> None:
    """A forecast as ``tonight`` reads it."""
    read_forecast(folder / "forecast.csv", date(2026, 11, 20))


@dataclass(frozen=True)
class Sort:
    """A sort of file that is spoilt."""

    weight: int
    prepare: Callable[[Path], None] | None
    """What is done to the small folder first."""
    name: str
    spoil: tuple[Spoil, ...]
    read: Callable[[Path], object] = read_inputs
    """What reads it alone."""
    commands: tuple[tuple[str, ...], ...] = (CHECK,)


def _ticks(name: str, spoil: tuple[Spoil, ...]) -> Sort:
    return Sort(1, planned, name, spoil, read_ticked(name), (("mark", "--ticks", name),))


SORTS: tuple[Sort, ...] = (
    Sort(6, None, "trees.csv", TABLE),
    Sort(4, None, "species.csv", TABLE, season.read_folder),
    Sort(6, None, "site.toml", LINES),
    Sort(6, None, "shelters.toml", LINES),
    Sort(3, as_workbook, "trees.xlsx", SHEET),
    Sort(1, with_days, "weather.csv", TABLE),
    Sort(1, with_hours, "weather.csv", TABLE),
    Sort(1, with_epw, "weather.csv", TABLE),
    Sort(2, with_readings, "readings.csv", TABLE),
    Sort(2, planned, "history.json", JSON, read_plan, OPEN[:1]),
    Sort(2, planned, "history.json", JSON, read_marks, AGAIN),
    Sort(1, planned, ".overwinter-outputs.json", JSON, read_record, (("plan", "--restart"),)),
    Sort(1, planned, "forecast.csv", TABLE, read_nights, (TONIGHT,)),
    _ticks("ticked.csv", TABLE),
    _ticks("ticked.xlsx", SHEET),
    _ticks("ticked.json", JSON),
)
DEEP = 0.03
"""Share of spoilt inputs that are also planned, with every output looked through."""


def listing(folder: Path) -> dict[str, bytes | None]:
    """Every file with its content; no content for what is none."""
    return {
        path.name: path.read_bytes() if path.is_file() else None
        for path in (sorted(folder.iterdir()) if folder.exists() else ())
    }


def outcome(folder: Path, *words: str) -> tuple[int, str]:
    """Exit code and words of a command, the folder after its name; files named after it are of the
    folder."""
    command, *rest = words
    named = [str(folder / word) if (folder / word).suffix else word for word in rest]
    result = runner.invoke(app, [command, str(folder), *named])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        return -1, f"{type(result.exception).__name__}: {result.exception}"
    return result.exit_code, result.output


def alone(folder: Path, read: Callable[[Path], object]) -> tuple[int, str]:
    """Exit code and words of what reads one file, as the commands would end."""
    said = io.StringIO()
    with contextlib.redirect_stderr(said):
        try:
            read(folder)
        except Exception as error:
            known = isinstance(error, (InputProblems, UserError, AuditRefused))
            code, kind = explain(error), "" if known else type(error).__name__
            return int(code), f"{said.getvalue()} {kind}".rstrip(" ")
    return 0, ""


def fault(folder: Path, run: Callable[[], tuple[int, str]]) -> str | None:
    """What is wrong with how a command ended, or None."""
    outside = folder.parent / "outside"
    before, began = listing(folder), time.monotonic()
    beside = sorted(folder.parent.iterdir()), listing(outside)
    code, said = run()
    took = time.monotonic() - began
    if code not in CLEAR or "mistake in overwinter" in said:
        return f"exit {code}: {said[-300:]}"
    if "Traceback" in said:
        return "a traceback"
    if took > LONGEST_S:
        return f"{took:.0f} s"
    if code and not said.strip():
        return "not a word"
    if code > 1 and listing(folder) != before:
        return "something was written"
    if any(name.endswith(".part") for name in listing(folder)):
        return "a file left behind"
    after = sorted(folder.parent.iterdir()), listing(outside)
    return None if after == beside else "something outside the folder"


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
        found = fault(folder, partial(outcome, folder, *words))
        if found or not (folder / "plan.json").exists():
            return found
    return "; ".join(alive(folder) + alien(folder)) or None


def spoilt(seed: int, room: Path, whole: bool = True) -> tuple[str, str | None]:
    """Spoil one file of a winter and read it; what was done, and what went wrong.

    Parameters
    ----------
    whole : by commands, not by what reads such a file alone.
    """
    rng = random.Random(seed)
    sort = rng.choices(SORTS, [sort.weight for sort in SORTS])[0]
    spoil, how = rng.choice(sort.spoil), getattr(sort.prepare, "__name__", "plain")
    pattern, folder = room / f"pattern-{how}", room / "w"
    if not pattern.exists():
        winter(pattern)
        if sort.prepare is not None:
            sort.prepare(pattern)
    (room / "outside").mkdir(exist_ok=True)
    shutil.copytree(pattern, folder)
    try:
        spoil(folder / sort.name, rng)
        if not whole:
            found = fault(folder, lambda: alone(folder, sort.read))
        else:
            runs = [partial(outcome, folder, *words) for words in sort.commands]
            found = next(filter(None, (fault(folder, run) for run in runs)), None)
            if not found and sort.commands == (CHECK,) and rng.random() < DEEP:
                found = _planned_through(folder)
        return f"{seed} {spoil.__name__} {sort.name} {how}", found
    finally:
        shutil.rmtree(folder)


def main() -> None:
    """Read as many spoilt winters as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("number", type=int)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--each", type=int, default=EACH, help="one in so many by whole commands")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    wrong, done = 0, 0
    with tempfile.TemporaryDirectory() as room:
        for seed in range(asked.first, asked.first + asked.number):
            faulthandler.dump_traceback_later(HUNG_S, exit=True)
            with contextlib.redirect_stderr(io.StringIO()):
                what, found = spoilt(seed, Path(room), whole=seed % asked.each == 0)
            done += 1
            if done % 1000 == 0:
                print(f"{done} spoilt", flush=True)
            if found:
                wrong += 1
                print(what, "->", found, flush=True)
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{done} spoilt, {wrong} not told clearly; {most_mb:.0f} MB at most")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
