"""Tables as people write them: headings in any case and order, units in headings or cells, rows of
comment (#), blank rows and titles above the headings."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from overwinter.files import measures
from overwinter.files.findings import Findings, closest, listed, rows_listed
from overwinter.files.pydantic_problems import parse, quoted
from overwinter.files.schema import R, Row

MONEY = "$€£¥ "
OWN = "note"  # how a heading of the grower's own may begin
SHEET_ERRORS = ("#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!")
HEADINGS_WITHIN = 30  # rows from the top in which the headings are looked for
MISSPELT = 0.75  # so near to a missing heading, an unknown one is asked about and not kept as own
_SIGNS = str.maketrans(
    {'"': " in ", "″": " in ", "°": "", "ø": " diameter ", "⌀": " diameter ", "#": " no "}
)


@dataclass
class Table:
    """A table as written: its headings as they are matched, and its cells."""

    file: str
    headings: list[str]
    rows: dict[int, dict[str, Any]]  # by the number a person counts: cells not blank, by heading
    heading_row: int = 1
    written: dict[str, str] = field(default_factory=dict)  # each heading as it was written
    sheet: str = ""  # of a workbook

    def head(self, name: str) -> str:
        """A heading as it was written."""
        return self.written.get(name, name)

    def column(self, name: str) -> dict[int, Any]:
        """The cells of a column that are not blank, by row."""
        return {number: cells[name] for number, cells in self.rows.items() if name in cells}

    def take(self, name: str) -> dict[int, Any]:
        """The cells of a column, which is no longer there."""
        self.headings = [heading for heading in self.headings if heading != name]
        return {number: cells.pop(name) for number, cells in self.rows.items() if name in cells}

    def put(self, name: str, cells: Mapping[int, Any], written: str = "") -> None:
        """Fill cells of a column, which may be new; ``written`` is the heading they stood under."""
        if name not in self.headings:
            self.headings = [*self.headings, name]
        if written:
            self.written.setdefault(name, written)
        for number, cell in cells.items():
            self.rows[number][name] = cell


def _void(cell: Any) -> bool:
    """Whether a cell of a frame holds nothing."""
    return cell is None or cell != cell


def known_in(cells: Sequence[Any], schema: type[Row] | None) -> int:
    """How many headings of the schema stand in a row."""
    if schema is None:
        return 0
    return len({found for cell in cells if cell and (found := matched(schema, str(cell)))})


def scores_of(grid: pd.DataFrame, schema: type[Row] | None) -> list[int]:
    """How many headings of the schema stand in each of the first rows."""
    return [known_in(row, schema) for row in grid.head(HEADINGS_WITHIN).to_numpy().tolist()]


def normal_heading(written: str) -> str:
    """A heading as it is matched: "Width (cm)" -> "width_cm"."""
    return re.sub(r"[\W_]+", "_", written.strip().casefold().translate(_SIGNS)).strip("_")


def matched(schema: type[Row], written: str) -> str | None:
    """The schema's heading that is meant: ``height_in`` for "Ht. (inches)"; None for an unknown. A
    measure without a unit in its heading comes as its stem (``height``)."""
    name = normal_heading(written)
    if name in schema.keys or name in schema.stems:
        return name
    if name in schema.also:
        return schema.also[name]
    head, _, last = name.rpartition("_")
    if head and last in measures.COMMON_MONEY:
        return matched(schema, head.removesuffix("_in"))
    suffix = measures.SUFFIX_OF.get(last)
    if not head or suffix is None:
        return None
    for stem in (head, head.removesuffix("_in")):
        meant = f"{schema.also.get(stem, stem)}_{suffix}"
        if meant in schema.keys:
            return meant
    return None


def table_of(
    file: str, grid: pd.DataFrame, findings: Findings, schema: type[Row] | None = None
) -> Table | None:
    """A table from a sheet of cells, indexed by row number: headings found, comments dropped."""
    grid = grid.astype(object).map(
        lambda cell: (measures.clean(cell).strip() or None) if isinstance(cell, str) else cell
    )
    scores = scores_of(grid, schema)
    known = pd.Series(scores, grid.index[: len(scores)]).reindex(grid.index, fill_value=0)
    first = grid.iloc[:, 0].map(lambda cell: str(cell or "")) if grid.shape[1] else known.map(str)
    comment = first.str.match(r"#.|(?i:sep=)") & (known < 2)
    body = grid[grid.notna().any(axis=1) & ~comment]
    if body.empty:
        findings.at(file).problem("no rows", "a row of headings")
        return None
    at = int(known[body.index].to_numpy().argmax())
    lines = [*body.iloc[: at + 1].itertuples(name=None)]
    (before, *above), (row, *heads) = lines[max(at - 1, 0)], lines[at]
    if at and _is_parted(above, heads, schema):
        findings.at(file, row).problem(
            f"headings that stand over two rows, {before} and {row}",
            "one row of headings, each once and with its unit",
            f"Write all of each heading into row {row}, as in Pot width (in), and delete the row"
            " above it.",
        )
        return None
    for number, row in body.iloc[:at].iterrows():
        words = " ".join(str(cell) for cell in row if not _void(cell))
        findings.assume(f"{file}: row {number} ('{words[:40]}') is a title, not a tree.")
    return _headed(file, body.iloc[at:], findings, schema)


def _is_parted(above: Sequence[Any], heads: Sequence[Any], schema: type[Row] | None) -> bool:
    """Whether a row above the headings groups them, and holds what tells two apart or a unit."""
    said = [str(cell) for cell in heads if not _void(cell)]
    more = [str(cell) for cell in above if not _void(cell)]
    groups, names = [cell for cell in more if cell not in said], _names(said, schema)
    units = any(normal_heading(one).split("_")[-1] in measures.SUFFIX_OF for one in groups)
    unitless = schema is not None and not schema.stems.keys().isdisjoint(names)
    lacks = len(set(names)) < len(names) or (units and unitless)
    return len(more) > 1 and bool(groups) and lacks


def _headed(
    file: str, body: pd.DataFrame, findings: Findings, schema: type[Row] | None
) -> Table | None:
    """The table whose first row holds the headings."""
    (heading_row, *heads), *below = body.itertuples(name=None)
    written = ["" if _void(cell) else str(cell) for cell in heads]
    names = _names(written, schema)
    for name in sorted({name for name in names if name and names.count(name) > 1}):
        findings.at(file, heading_row, name).problem(
            "the heading twice", "each heading once", "Delete one."
        )
    width = max((i for i, name in enumerate(names, 1) if name), default=0)
    keep = [i for i, name in enumerate(names) if name and name not in names[:i]]
    rows = {}
    for number, *cells in below:
        if extra := [str(cell) for cell in cells[width:] if not _void(cell)]:
            findings.at(file, number).problem(
                f"cells beyond the headings: {listed(extra, most=3)}",
                f"at most {width} cells",
                "Give them a heading in the one row of headings, or empty them; in a CSV file put a"
                ' cell that holds its separator in double quotes: "40,5".',
            )
        elif filled := {names[i]: cells[i] for i in keep if not _void(cells[i])}:
            rows[number] = filled
    said = {names[i]: written[i] for i in keep}
    table = Table(file, list(said), rows, heading_row, said)
    _in_one_habit(table)
    return table


def _names(written: Sequence[str], schema: type[Row] | None) -> list[str]:
    """Headings as they are matched; of several that mean the same all but the plainest are own."""
    plain = [normal_heading(cell) for cell in written]
    if schema is None:
        return plain
    meant = [matched(schema, cell) for cell in written]
    ranks = [*schema.keys, *schema.stems, *schema.also]
    names = []
    for own, name in zip(plain, meant, strict=True):
        rivals = [p for p, m in zip(plain, meant, strict=True) if m == name]
        best = min(rivals, key=lambda p: ranks.index(p) if p in ranks else len(ranks))
        names.append(name if name and own == best else own)
    return names


def _in_one_habit(table: Table) -> None:
    """Numbers and days that could be read two ways, as the clear ones of the file are written."""
    columns = {
        name: {n: cell for n, cell in table.column(name).items() if isinstance(cell, str)}
        for name in table.headings
    }
    texts = [cell.lstrip(MONEY) for cells in columns.values() for cell in cells.values()]
    comma = any(measures.DECIMAL_COMMA.fullmatch(text) for text in texts)
    point = any(
        measures.PLAIN.fullmatch(t) and "." in t and not measures.ONE_POINT.fullmatch(t)
        for t in texts
    )
    for name, cells in columns.items():
        day = measures.one_order(cells.values())
        for number, cell in cells.items():
            bare = cell.lstrip(MONEY)
            if comma != point and measures.ONE_COMMA.fullmatch(bare):
                cell = bare.replace(",", "." if comma else "")
            elif comma and not point and measures.ONE_POINT.fullmatch(bare):
                cell = bare.replace(".", "")
            table.rows[number][name] = (day(cell) if cell[:1] < ":" else None) or cell


def own_columns(table: Table, schema: type[Row]) -> tuple[str, ...]:
    """Headings that are none of the schema's: the grower's own."""
    return tuple(n for n in table.headings if n not in schema.keys and n not in schema.stems)


def whole_rows(table: Table, schema: type[R], findings: Findings) -> dict[int, R]:
    """The rows without mistakes; see ``parse_rows``."""
    rows = parse_rows(table, schema, findings)
    return {number: row for number, row in rows.items() if row.whole}


def parse_rows(table: Table, schema: type[R], findings: Findings) -> dict[int, R]:
    """Every row of a table by its number; what is wrong is reported and left out. Columns whose
    heading starts with ``OWN`` are the grower's and are not looked at; a schema that keeps other
    columns is asked about those alone that are nearly spelled like a missing one."""
    keys = {**schema.keys, **schema.stems}
    missing = _check_headings(table, schema, findings)
    unitless = _check_units(table, schema, findings)
    doubled = _check_doubled(table, schema, findings)
    known = missing | {schema.stems[name].fills for name in unitless}
    rows = {}
    for number, cells in table.rows.items():
        at = replace(findings.at(table.file, number), heads=table.written)
        written, quiet = dict[str, Any](), known
        for name, cell in cells.items():
            if name not in doubled or any(other in cells for other in doubled[name]):
                continue
            if fault := _fault(cell):
                at.of(name).problem(fault[0], "a value", fault[1])
                quiet |= {keys[name].fills}
            elif name not in unitless or not _alone(cell):
                written[name] = cell
        rows[number] = parse(schema, written, at, quiet)
    return rows


def _fault(cell: Any) -> tuple[str, str] | None:
    """What is wrong with a formula, and the fix; None where the cell is a value."""
    if cell in SHEET_ERRORS:
        return f"the formula error '{cell}'", "Mend the formula, or type the value."
    if isinstance(cell, str) and cell.startswith("="):
        fix = "Open it in your spreadsheet program and save it, or type the value."
        return f"a formula without its value ({cell[:40]})", fix
    return None


def _alone(cell: Any) -> bool:
    """Whether a cell is a number without a unit."""
    return not isinstance(cell, str) or bool(
        measures.PLAIN.fullmatch(cell) or measures.DECIMAL_COMMA.fullmatch(cell)
    )


def _check_units(table: Table, schema: type[Row], findings: Findings) -> frozenset[str]:
    """Measures that have a unit neither in the heading nor in the cells, told once a column."""
    unitless = []
    for name in table.headings:
        if name not in schema.stems:
            continue
        alone = {number: cell for number, cell in table.column(name).items() if _alone(cell)}
        if alone:
            unitless.append(name)
            first, cell = next(iter(alone.items()))
            ways = schema.headings_of(schema.stems[name].fills)
            findings.at(table.file, table.heading_row, table.head(name)).problem(
                f"no unit, and numbers alone in {len(alone)} cell{'s' * (len(alone) > 1)}"
                f" (row {first}: '{cell}')",
                "the unit in the heading, or in each cell",
                f"Name the column {listed(ways, most=6)}.",
            )
    return frozenset(unitless)


def _check_doubled(table: Table, schema: type[Row], findings: Findings) -> Mapping[str, set[str]]:
    """Cells of one field in two units, told once for each pair of columns, not once a row. Returns,
    for a heading, the earlier ones beside which it is not looked at."""
    keys = {**schema.keys, **schema.stems}
    earlier: dict[str, set[str]] = {}
    for heading in (name for name in table.headings if name in keys):
        fills = keys[heading].fills
        earlier[heading] = {other for other in earlier if keys[other].fills == fills}
        for other in sorted(earlier[heading]):
            rows = [number for number in table.column(heading) if other in table.rows[number]]
            if rows:
                findings.at(table.file, table.heading_row, table.head(heading)).problem(
                    f"values beside {table.head(other)} in {rows_listed(rows)}",
                    "one of the two in a row",
                    "Is one of the headings another column's? Else empty or delete one.",
                )
    return earlier


def _check_headings(table: Table, schema: type[Row], findings: Findings) -> frozenset[str]:
    """Report unknown headings and required columns that are not there; return the latter."""
    known = {name: key.fills for name, key in {**schema.keys, **schema.stems}.items()}
    present = {known[name] for name in table.headings if name in known}
    missing = frozenset(
        name
        for name, given in schema.model_fields.items()
        if (given.is_required() or name in schema.needed_columns) and name not in present
    )
    unknown = [name for name in own_columns(table, schema) if not name.startswith(OWN)]
    words = schema.words_for(missing)
    absent = [*words, *(name for name, target in known.items() if target not in present)]
    near = {name: _nearest(name, absent) for name in unknown}
    if schema.keeps_own_columns:
        # Nobody misspells a heading by a word more: "last repotted" is another column.
        unknown = [
            n for n, one in near.items() if one and not set(one.split("_")) <= set(n.split("_"))
        ]
    if not present and missing and not any(near.values()):
        wanted = [schema.headings_of(name)[0] for name in schema.model_fields if name in missing]
        findings.at(table.file, table.heading_row).problem(
            f"{listed(map(quoted, table.written.values()), most=3)}, no heading among them",
            f"a row of headings: {', '.join(wanted)}",
            "Put one above the rows. A file of another kind is saved as CSV or .xlsx.",
        )
        return missing
    for name in unknown:
        keep = f"A column of your own may start with '{OWN}'."
        one = near[name]
        fix = (
            f"Did you mean '{one.replace('_', ' ')}'?" if one in words else schema.heading_fix(name)
        )
        findings.at(table.file, table.heading_row, table.head(name)).problem(
            "an unknown heading",
            "a heading of the data dictionary (docs/files.md)",
            f"{fix} {keep}" if fix and schema.keeps_own_columns else fix or keep,
        )
    # A heading that is only misspelt is not missing as well.
    misspelt = schema.misspelt(unknown).union(*(words.get(near[n] or "", ()) for n in unknown))
    for name in schema.model_fields:
        if name in missing - misspelt:
            wanted = schema.headings_of(name)
            about = schema.model_fields[name].description or "a value"
            findings.at(table.file, table.heading_row, wanted[0]).problem(
                "no such column", about, f"Add a column {listed(wanted, most=6)}."
            )
    return missing


def _nearest(heading: str, known: Sequence[str]) -> str | None:
    """The heading that is nearly spelled so, with its unit or without."""
    bare, _, unit = heading.rpartition("_")
    ways = [heading, bare] if unit in measures.SUFFIX_OF else [heading]
    return next(filter(None, (closest(way, known, cutoff=MISSPELT) for way in ways)), None)
