"""Tables as people and spreadsheets write them: CSV read with pandas, headings found and matched.

Accepted: UTF-8 with or without a byte-order mark, UTF-16 with one; comma, semicolon or tab
between cells; Windows, Unix and old Mac line ends; rows of comment (#), blank rows, titles above
the headings. Headings in any case and order, with the unit in the heading or in the cells.
"""

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

import pandas as pd

from overwinter.files.as_written import (
    DECIMAL_COMMA,
    ONE_COMMA,
    ONE_POINT,
    PLAIN,
    SUFFIX_OF,
    clean,
    one_order,
)
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import Where, heading_fix, misspelt_fields, parse
from overwinter.files.schema import Schema
from overwinter.files.spelling import closest, listed

S = TypeVar("S", bound=Schema)

DELIMITERS = ",;\t"
MONEY = "$€£¥ "
ZIP_MAGIC = b"PK\x03\x04"
LARGEST_FILE = 200_000_000
MOST_COLUMNS = 300
HEADINGS_WITHIN = 30
"""Rows from the top in which the headings are looked for."""
MOST_ALIKE = 0.8
"""Share of rows of one length from which a longer one is odd."""
MISSPELT = 0.75
"""So near to a heading that is missing, an unknown one is asked about and not kept as the
grower's own."""


@dataclass(frozen=True)
class Table:
    """A table as written: its headings as they are matched, and its cells."""

    file: str
    frame: pd.DataFrame
    """A column for each heading, rows by the number a person counts; None in blank cells."""
    heading_row: int = 1
    written: Mapping[str, str] = field(default_factory=dict)
    """Each heading as it was written."""
    sheet: str = ""
    """Of a workbook."""

    @property
    def headings(self) -> tuple[str, ...]:
        """Headings as they are matched."""
        return tuple(map(str, self.frame.columns))

    @cached_property
    def rows(self) -> tuple[tuple[int, Mapping[str, Any]], ...]:
        """Row number and its cells that are not blank, by heading."""
        return tuple(
            (
                number,
                {n: c for n, c in zip(self.headings, values, strict=True) if not _void(c)},
            )
            for number, *values in self.frame.itertuples(name=None)
        )


def _void(cell: Any) -> bool:
    """Whether a cell of a frame holds nothing."""
    return cell is None or cell != cell


def read_text(
    path: Path, findings: Findings, wanted: str = "this file in the folder"
) -> str | None:
    """Text of a file; a missing, empty or oddly encoded one is a problem and gives None."""

    def bad(found: str, expected: str, fix: str = "", row: int | None = None) -> str | None:
        findings.problem(path.name, row, None, found, expected, fix)
        return None

    try:
        if not path.is_file() and path.exists():
            return bad("a folder or a device", "a file")
        if path.is_file() and path.stat().st_size > LARGEST_FILE:
            return bad("a file of more than 200 MB", "a smaller one", "Is it the right file?")
        raw = path.read_bytes()
    except FileNotFoundError:
        near = _similar_file(path)
        return bad("no such file", wanted, f"Is it {near}? Rename it." if near else "")
    except OSError as error:
        return bad(f"a file that cannot be read ({error.strerror})", "a file")
    if raw.startswith(ZIP_MAGIC):
        fix = "Save it as CSV, or name it .xlsx where a workbook is accepted."
        return bad("a spreadsheet workbook", "text", fix)
    utf16 = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = raw.decode("utf-16" if utf16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        found = f"a byte 0x{raw[error.start]:02x} that is not UTF-8 text"
        fix = 'Save it again as "CSV UTF-8" (or set the encoding to UTF-8).'
        return bad(found, "UTF-8 text", fix, raw[: error.start].count(b"\n") + 1)
    if "\x00" in text:
        return bad("zero bytes", "UTF-8 text", "Is this a text file? Save it as UTF-8.")
    return text if text.strip() else bad("an empty file", "a filled-in file")


def _similar_file(path: Path) -> str | None:
    """A file of the folder whose name is nearly that of a missing one."""
    if not path.parent.is_dir():
        return None
    return closest(path.name, (other.name for other in path.parent.iterdir()), cutoff=0.8)


def read_csv(
    path: Path,
    findings: Findings,
    schema: type[Schema] | None = None,
    wanted: str = "this file in the folder",
) -> Table | None:
    """Read a CSV file; None when it could not be taken apart."""
    text = read_text(path, findings, wanted)
    return None if text is None else csv_table(text, path.name, findings, schema)


def _width(text: str, delimiter: str) -> int:
    """Most cells of a row; where there are quotes, lines and rows are not the same."""
    if '"' not in text:  # str.splitlines would also end a row at a form feed or U+2028
        return max(line.count(delimiter) for line in re.split(r"[\r\n]+", text)) + 1
    try:
        return max(map(len, csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)))
    except csv.Error:  # the reader of the table says what is wrong
        return 1


def csv_table(
    text: str, file: str, findings: Findings, schema: type[Schema] | None = None
) -> Table | None:
    """Take CSV text apart; the headings are those that the schema knows most of."""
    delimiter = csv_delimiter(text, schema)
    width = _width(text, delimiter)
    if width > MOST_COLUMNS:
        findings.problem(file, None, None, f"{width} columns", f"at most {MOST_COLUMNS}", "")
        return None
    try:
        # Only the slower of the two readers refuses quotes that do not match.
        grid = pd.read_csv(
            io.StringIO(text, newline=""),
            sep=delimiter,
            header=None,
            names=range(width),
            index_col=False,
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
            engine="python" if '"' in text else "c",
        )
    except (pd.errors.ParserError, csv.Error) as error:
        findings.problem(
            file,
            None,
            None,
            f"quotes that do not match ({error})",
            "a closing quote for every opening one",
            'A quote inside a text is written twice: "".',
        )
        return None
    grid.index = pd.RangeIndex(1, len(grid) + 1)
    table = table_of(file, grid, findings, schema)
    if table is not None and delimiter == "," and '"' not in text:
        _check_lengths(table, text, findings)
    return table


def csv_delimiter(text: str, schema: type[Schema] | None) -> str:
    """What parts the cells: by it most headings are known; else the commonest in one line."""
    lines = [line for line in text.splitlines() if line.strip()][:HEADINGS_WITHIN]
    if lines and lines[0].lower().startswith("sep="):
        return lines[0][4:5] or ","

    def score(delimiter: str) -> tuple[int, int]:
        parted = [re.split(f'{delimiter}(?=(?:[^"]*"[^"]*")*[^"]*$)', line) for line in lines]
        cells = [[cell.strip('" ') for cell in row] for row in parted]
        plain = [len(row) for line, row in zip(lines, cells, strict=True) if line[0] != "#"]
        return max(_known_in(row, schema) for row in cells), plain[0] if plain else 0

    return max(DELIMITERS, key=score) if lines else ","


def _known_in(cells: Sequence[Any], schema: type[Schema] | None) -> int:
    """How many headings of the schema stand in a row."""
    if schema is None:
        return 0
    return len({found for cell in cells if cell and (found := matched(schema, str(cell)))})


def _check_lengths(table: Table, text: str, findings: Findings) -> None:
    """A number with a decimal comma, not in quotes, moves all that follows by one cell."""
    lines = text.splitlines()
    lengths = {number: lines[number - 1].count(",") + 1 for number in table.frame.index}
    if not lengths:
        return
    usual, often = Counter(lengths.values()).most_common(1)[0]
    for number, length in lengths.items():
        pair = re.search(r"(?:^|,)\s*(\d+,\d{1,2})\s*(?:,|$)", lines[number - 1])
        if pair and length == usual + 1 and often >= MOST_ALIKE * len(lengths) and often > 1:
            findings.problem(
                table.file,
                number,
                None,
                f"{length} cells where other rows have {usual}",
                f"{usual} cells",
                f"Is {pair[1]} one number? Write {pair[1].replace(',', '.')}, or put it in quotes.",
            )


_SIGNS = str.maketrans(
    {'"': " in ", "″": " in ", "°": "", "ø": " diameter ", "⌀": " diameter ", "#": " no "}
)


def normal_heading(written: str) -> str:
    """A heading as it is matched: "Width (cm)" -> "width_cm"."""
    return re.sub(r"[\W_]+", "_", written.strip().casefold().translate(_SIGNS)).strip("_")


def matched(schema: type[Schema], written: str) -> str | None:
    """The schema's heading that is meant: ``height_in`` for "Ht. (inches)"; None for an unknown.

    A measure without a unit in its heading comes as its stem (``height``).
    """
    name = normal_heading(written)
    known = schema.headings()
    if name in known or name in schema.quantities:
        return name
    if name in schema.also:
        return schema.also[name]
    head, _, last = name.rpartition("_")
    suffix = SUFFIX_OF.get(last)
    if not head or suffix is None:
        return None
    for stem in (head, head.removesuffix("_in")):
        meant = f"{schema.also.get(stem, stem)}_{suffix}"
        if meant in known:
            return meant
    return None


def table_of(
    file: str, grid: pd.DataFrame, findings: Findings, schema: type[Schema] | None = None
) -> Table | None:
    """A table from a sheet of cells, indexed by row number: headings found, comments dropped."""
    grid = _plain(grid.astype(object).map(_cell))
    hint = [str(cell or "") for cell in (grid[grid.columns[0]] if grid.shape[1] else [])]
    comment = [(c.startswith("#") and len(c) > 1) or c.lower().startswith("sep=") for c in hint]
    known = [_known_in(row, schema) for row in grid.head(HEADINGS_WITHIN).to_numpy().tolist()]
    blank = grid.isna().all(axis=1)
    usable = [
        not empty and not (said and (n >= len(known) or known[n] < 2))
        for n, (empty, said) in enumerate(zip(blank, comment, strict=True))
    ]
    body = grid[usable]
    if body.empty:
        findings.problem(file, None, None, "no rows", "a row of headings", "")
        return None
    scores = [_known_in(row, schema) for row in body.head(HEADINGS_WITHIN).to_numpy().tolist()]
    at = scores.index(max(scores))
    for number, row in body.iloc[:at].iterrows():
        words = " ".join(str(cell) for cell in row if not _void(cell))
        findings.assume(f"{file}: row {number} ('{words[:40]}') is a title, not a tree.")
    return _headed(file, body.iloc[at:], findings, schema)


def _headed(
    file: str, body: pd.DataFrame, findings: Findings, schema: type[Schema] | None
) -> Table | None:
    """The table whose first row holds the headings."""
    heading_row = int(body.index[0])
    written = ["" if cell is None else str(cell) for cell in body.iloc[0]]
    names = _names(written, schema)
    for name in sorted({name for name in names if name and names.count(name) > 1}):
        findings.problem(
            file, heading_row, name, "the heading twice", "each heading once", "Delete one."
        )
    cells = body.iloc[1:]
    last = max((i for i, name in enumerate(names) if name), default=-1)
    beyond = cells.iloc[:, last + 1 :]
    shifted = beyond[beyond.notna().any(axis=1)]
    for number, row in shifted.iterrows():
        extra = [str(cell) for cell in row if not _void(cell)]
        findings.problem(
            file,
            int(str(number)),
            None,
            f"cells beyond the headings: {listed(extra, most=3)}",
            f"at most {last + 1} cells",
            "Put a text or a number that holds a comma in double quotes.",
        )
    keep = [i for i, name in enumerate(names) if name and name not in names[:i]]
    frame = cells.drop(shifted.index).iloc[:, keep]
    frame.columns = pd.Index([names[i] for i in keep])
    frame = frame[frame.notna().any(axis=1)]
    return Table(file, _in_one_habit(frame), heading_row, {names[i]: written[i] for i in keep})


def _names(written: Sequence[str], schema: type[Schema] | None) -> list[str]:
    """Headings as they are matched; of several that mean the same the plainest, the others are the
    grower's own."""
    plain = [normal_heading(cell) for cell in written]
    if schema is None:
        return plain
    meant = [matched(schema, cell) for cell in written]
    ranks = [*schema.headings(), *schema.quantities, *schema.also]
    names = []
    for own, name in zip(plain, meant, strict=True):
        rivals = [p for p, m in zip(plain, meant, strict=True) if m == name]
        best = min(rivals, key=lambda p: ranks.index(p) if p in ranks else len(ranks))
        names.append(name if name and own == best else own)
    return names


def _cell(cell: Any) -> Any:
    """A cell without what cannot be seen; None for a blank one."""
    if isinstance(cell, str):
        return clean(cell).strip() or None
    return cell


def _in_one_habit(frame: pd.DataFrame) -> pd.DataFrame:
    """Numbers and days that could be read two ways, as the clear ones of the file are written."""
    texts = [cell.lstrip(MONEY) for cell in frame.to_numpy().ravel() if isinstance(cell, str)]
    comma = any(DECIMAL_COMMA.fullmatch(text) for text in texts)
    point = any(PLAIN.fullmatch(t) and "." in t and not ONE_POINT.fullmatch(t) for t in texts)

    def number(cell: Any) -> Any:
        if isinstance(cell, str) and comma != point:
            bare = cell.lstrip(MONEY)
            if ONE_COMMA.fullmatch(bare):
                return bare.replace(",", "." if comma else "")
            if comma and ONE_POINT.fullmatch(bare):
                return bare.replace(".", "")
        return cell

    def day(column: pd.Series) -> pd.Series:
        read = one_order(cell for cell in column if isinstance(cell, str))
        return column.map(
            lambda cell: (read(cell) or cell) if isinstance(cell, str) and cell[:1] < ":" else cell
        )

    return _plain(frame.map(number).apply(day)) if texts else frame


def _plain(frame: pd.DataFrame) -> pd.DataFrame:
    """Cells as objects, None where there is nothing."""
    cells = frame.astype(object)
    return cells.where(cells.notna(), None)


def own_columns(table: Table, schema: type[Schema]) -> tuple[str, ...]:
    """Headings that are none of the schema's: the grower's own."""
    known = {*schema.headings(), *schema.quantities}
    return tuple(name for name in table.headings if name not in known)


def parse_rows(
    table: Table, schema: type[S], findings: Findings, own: str = "note"
) -> list[tuple[int, S]]:
    """Validate every row of a table; bad rows are left out and reported.

    Columns whose heading starts with ``own`` are the grower's and are not looked at; a schema that
    keeps other columns is asked about those alone that are nearly spelled like a missing one.
    """
    known = {*schema.headings(), *schema.quantities}
    missing = _check_headings(table, schema, findings, own)
    unitless = _check_units(table, schema, findings)
    doubled = _check_doubled(table, schema, findings)
    rows = []
    for number, cells in table.rows:
        written = {
            name: cell
            for name, cell in cells.items()
            if name in known and not cells.keys() & doubled.get(name, set())
        }
        written = {n: c for n, c in written.items() if n not in unitless or not _alone(c)}
        quiet = missing | {schema.quantities[name].field for name in unitless}
        row = parse(schema, written, Where(table.file, number, quiet_missing=quiet), findings)
        if row is not None:
            rows.append((number, row))
    return rows


def _alone(cell: Any) -> bool:
    """Whether a cell is a number without a unit."""
    return not isinstance(cell, str) or bool(PLAIN.fullmatch(cell) or DECIMAL_COMMA.fullmatch(cell))


def _check_units(table: Table, schema: type[Schema], findings: Findings) -> frozenset[str]:
    """Measures that have a unit neither in the heading nor in the cells, told once a column."""
    unitless = []
    for name in table.headings:
        if name not in schema.quantities:
            continue
        alone = table.frame[name].dropna().map(_alone)
        if alone.any():
            unitless.append(name)
            first = alone.index[alone][0]
            ways = schema.quantities[name].headings(name)
            findings.problem(
                table.file,
                table.heading_row,
                table.written.get(name, name),
                f"no unit, and numbers alone in {int(alone.sum())} cells"
                f" (row {first}: '{table.frame[name][first]}')",
                "the unit in the heading, or in each cell",
                f"Name the column {listed(ways, most=6)}.",
            )
    return frozenset(unitless)


def _check_doubled(
    table: Table, schema: type[Schema], findings: Findings
) -> Mapping[str, set[str]]:
    """Cells of one field in two units, told once for each pair of columns, not once a row.

    Returns, for a heading, the earlier ones beside which it is not looked at.
    """
    known = schema.headings() | {stem: q.field for stem, q in schema.quantities.items()}
    earlier: dict[str, set[str]] = {}
    for at, heading in enumerate(table.headings):
        if heading in known:
            same = {one for one in table.headings[:at] if known.get(one) == known[heading]}
            earlier[heading] = same - {heading}
    for heading, others in earlier.items():
        for other in sorted(others):
            both = table.frame[[heading, other]].notna().all(axis=1)
            rows = [int(number) for number in table.frame.index[both]]
            if rows:
                findings.problem(
                    table.file,
                    table.heading_row,
                    heading,
                    f"values beside {other} in {_rows(rows)}",
                    "one of the two in a row",
                    "Is one of the headings another column's? Else empty or delete one.",
                )
    return earlier


def _rows(numbers: list[int], most: int = 5) -> str:
    """``row 2``, ``rows 2, 3``, ``rows 2, 3, 4, 5, 6, ... (13 in all)``."""
    shown = ", ".join(map(str, numbers[:most]))
    more = f", ... ({len(numbers)} in all)" if len(numbers) > most else ""
    return f"row{'s' * (len(numbers) > 1)} {shown}{more}"


def _check_headings(
    table: Table, schema: type[Schema], findings: Findings, own: str
) -> frozenset[str]:
    """Report unknown headings and required columns that are not there; return the latter."""
    known = schema.headings() | {stem: q.field for stem, q in schema.quantities.items()}
    present = {known[name] for name in table.headings if name in known}
    unknown = [name for name in own_columns(table, schema) if not name.startswith(own)]
    if schema.keeps_own_columns:
        absent = [name for name, target in known.items() if target not in present]
        unknown = [name for name in unknown if closest(name, absent, cutoff=MISSPELT)]
    for name in unknown:
        keep = f"A column of your own may start with '{own}'."
        fix = heading_fix(schema, name)
        findings.problem(
            table.file,
            table.heading_row,
            name,
            "an unknown heading",
            "a heading of the data dictionary (docs/files.md)",
            f"{fix} {keep}" if fix and schema.keeps_own_columns else fix or keep,
        )
    missing = frozenset(
        name
        for name, given in schema.model_fields.items()
        if given.is_required() and name not in present
    )
    # A heading that is only misspelt is not missing as well.
    for name in schema.model_fields:
        if name in missing - misspelt_fields(schema, unknown):
            wanted = schema.headings_of(name)
            about = schema.model_fields[name].description or "a value"
            findings.problem(
                table.file,
                table.heading_row,
                wanted[0],
                "no such column",
                about,
                f"Add a column {listed(wanted, most=6)}.",
            )
    return missing
