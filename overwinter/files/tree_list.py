"""trees.csv or trees.xlsx: one row a tree, or a row for several alike."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import known_fields
from overwinter.files.schemas_tree import LIMIT_OVERRIDES, TreeRow
from overwinter.files.spelling import did_you_mean, listed
from overwinter.files.tables import Table, parse_rows, read_csv
from overwinter.files.workbook import read_xlsx
from overwinter.model.species import Assumption, Limits, Species
from overwinter.model.tree import Tree
from overwinter.plants.lookup import Match, NameBook, NoMatch, plain, resolve, split_cultivar

KG_PER_LITRE = 1.1
"""Moist potting soil, pot and tree per litre of pot, where no weight is given: a judgement."""
QUARANTINE_DAYS = 28
"""Length of a quarantine given as "yes": common practice, no source."""
DEFAULT_VALUE = 50.0
SHIFTED = 3
"""With so many wrong cells a row is taken to be shifted, as by a comma without quotes."""


@dataclass(frozen=True, slots=True)
class RowWords:
    """What a row says that is checked against other files, names of places as written.

    Of a row with mistakes only what can be read.
    """

    row: int
    stands_at: str | None
    only: tuple[str, ...]
    never: tuple[str, ...]
    joins: date | None
    quarantine_until: date | None


@dataclass(frozen=True)
class TreeList:
    """Trees as written, before places are checked; ``rows`` are all, ``trees`` of good rows."""

    file: str
    trees: tuple[Tree, ...]
    rows: tuple[RowWords, ...]
    assumptions: tuple[Assumption, ...]


def read_trees(
    folder: Path,
    names: NameBook,
    starts: date | None,
    findings: Findings,
    unread: frozenset[str] = frozenset(),
) -> TreeList | None:
    """Read the tree list of a folder; rows with mistakes make no trees and are reported.

    ``starts`` is the first day of the plan; None while it is not known. ``unread`` are names, in
    their plain form, of kinds whose row in species.csv could not be read.
    """
    table = _table(folder, findings)
    if table is None:
        return None
    rows = parse_rows(table, TreeRow, findings)
    if not table.rows:
        findings.problem(table.file, None, None, "no trees", "at least one row", "")
    value = _usual_value([row for _, row in rows], table.file, findings)
    trees: list[Tree] = []
    assumptions: list[Assumption] = []
    good = dict(rows)
    words = []
    for number, cells in table.rows:
        row = good.get(number)
        known = _readable(cells) if row is None else dict(row)
        words.append(_words(known, number, starts))
        found = _species(known, number, table.file, names, unread, findings)
        if row is None or found is None:
            continue
        kind, why = found
        if why is not None:
            assumptions.append(Assumption(row.tree, row.species, kind.key, why))
        limits = _limits(row, number, table.file, kind, findings)
        if limits is not None:
            trees.extend(_trees(row, number, kind.key, limits, value, starts))
    _warn_of_weights(table.file, [row for _, row in rows], findings)
    _check_names(table.file, trees, findings)
    return TreeList(table.file, tuple(trees), tuple(words), tuple(assumptions))


def _readable(cells: Mapping[str, Any]) -> dict[str, Any]:
    """What is right in a row with mistakes; nothing where cells seem to be in wrong columns."""
    fields = TreeRow.headings()
    known = known_fields(TreeRow, cells)
    wrong = {fields[heading] for heading in cells if heading in fields} - set(known)
    return known if len(wrong) < SHIFTED else {}


def _words(known: Mapping[str, Any], number: int, starts: date | None) -> RowWords:
    joins = known.get("joins")
    return RowWords(
        row=number,
        stands_at=known.get("stands_at"),
        only=known.get("only", ()),
        never=known.get("never", ()),
        joins=_joins(joins, starts),
        quarantine_until=_quarantine_until(known.get("quarantine_until", "no"), joins, starts),
    )


def _joins(written: date | None, starts: date | None) -> date | None:
    """The day it joins; None for one that is there when the plan begins."""
    return written if starts is None or written is None or written > starts else None


def _table(folder: Path, findings: Findings) -> Table | None:
    as_csv, as_xlsx = folder / "trees.csv", folder / "trees.xlsx"
    if as_csv.exists() and as_xlsx.exists():
        findings.problem(
            "trees.csv",
            None,
            None,
            "trees.csv and trees.xlsx",
            "one tree list",
            "Move the older one out of the folder.",
        )
        return None
    if as_xlsx.exists():
        return read_xlsx(as_xlsx, findings)
    return read_csv(as_csv, findings, "the tree list, trees.csv or trees.xlsx")


def _usual_value(rows: list[TreeRow], file: str, findings: Findings) -> float:
    """What a tree without a value is taken to be worth: as much as the middle one of the others."""
    given = [row.value for row in rows if row.value is not None]
    value = float(median(given)) if given else DEFAULT_VALUE
    without = sum(row.quantity for row in rows if row.value is None)
    if without:
        findings.warn(f"{file}: no value for {without} trees: taken as {value:g} each.")
    return value


def _warn_of_weights(file: str, rows: list[TreeRow], findings: Findings) -> None:
    without = sum(row.quantity for row in rows if row.weight_kg is None)
    if without:
        findings.warn(
            f"{file}: no weight for {without} trees: estimated at {KG_PER_LITRE:g} kg a litre of"
            " pot. Weigh the large ones before lifting."
        )


def _species(
    known: Mapping[str, Any],
    number: int,
    file: str,
    names: NameBook,
    unread: frozenset[str],
    findings: Findings,
) -> tuple[Species, str | None] | None:
    """The species meant, and why a group stands in for it (None when it was found)."""
    name, group = known.get("species"), known.get("group")
    if name is None:
        return None
    match = resolve(name, names, group)
    if isinstance(match, Match):
        return match.species, match.why
    if plain(split_cultivar(name)[0]) in unread:
        return None
    if match.bad_group:
        near = did_you_mean(str(group), match.groups)
        groups = f"a group of the table: {listed(match.groups, most=30)}"
        findings.problem(file, number, "group", f"'{group}'", groups, near)
        return None
    if match.means_several:
        either = " or ".join(f"'{latin}'" for latin in match.close)
        fix = f"Write {either}. If it is another kind, write a group in the column group."
    elif match.close:
        fix = f"Did you mean '{match.close[0]}'?{_or_group(match)}"
    else:
        fix = f"Write a group in the column group: {listed(match.groups, most=30)}."
    findings.problem(
        file, number, "species", f"'{name}' ({match.reason})", "a kind of the table", fix
    )
    return None


def _or_group(match: NoMatch) -> str:
    """The way out for a kind that is not the one it is spelled like."""
    return " If not, write a group in the column group." if match.may_be_another else ""


def _limits(
    row: TreeRow, number: int, file: str, kind: Species, findings: Findings
) -> Limits | None:
    """The species' limits with the tree's own laid over them.

    Roots said to be less hardy than the table has them take the young and the unhardened ones
    along, unless those are given as well.
    """
    own: dict[str, Any] = {
        name: getattr(row, name) for name in LIMIT_OVERRIDES if getattr(row, name) is not None
    }
    if not own:
        return kind.limits
    limits = replace(kind.limits, **own)
    raised = {
        name: max(getattr(limits, name), limits.root_kill_c)
        for name in ("root_kill_young_c", "root_kill_unhardened_c")
        if name not in own
    }
    raised["top_kill_unhardened_c"] = max(limits.top_kill_unhardened_c, limits.top_kill_c)
    limits = replace(limits, **raised)
    lowest = min(limits.root_kill_young_c, limits.root_kill_unhardened_c)
    if lowest < limits.root_kill_c:
        findings.problem(
            file,
            number,
            "root_kill_c",
            f"young or unhardened roots that stand {lowest:g} °C, mature ones"
            f" {limits.root_kill_c:g} °C",
            "mature hardened roots to be the hardiest",
            "Are the values in the wrong columns?",
        )
        return None
    return limits


def _trees(
    row: TreeRow, number: int, key: str, limits: Limits, usual_value: float, starts: date | None
) -> list[Tree]:
    """The trees of a row; several alike are numbered."""
    names = [row.tree]
    if row.quantity > 1:
        names = [f"{row.tree} {i}/{row.quantity}" for i in range(1, row.quantity + 1)]
    return [
        Tree(
            id=name,
            name=name,
            species_key=key,
            limits=limits,
            width_m=row.width_m,
            depth_m=row.width_m if row.depth_m is None else row.depth_m,
            height_m=row.height_m,
            weight_kg=KG_PER_LITRE * row.pot_litres if row.weight_kg is None else row.weight_kg,
            pot_litres=row.pot_litres,
            condition=row.condition,
            value=usual_value if row.value is None else row.value,
            young_roots=row.repotted,
            stands_at=row.stands_at,
            joins=_joins(row.joins, starts),
            quarantine_until=_quarantine_until(row.quarantine_until, row.joins, starts),
            pinned=frozenset(row.only),
            forbidden=frozenset(row.never),
            row=number,
            written=row.species,
        )
        for name in names
    ]


def _quarantine_until(until: date | str, joins: date | None, starts: date | None) -> date | None:
    """The day quarantine ends; None when there is none or it is over before the plan begins."""
    if until == "no":
        return None
    if isinstance(until, date):
        return until if starts is None or until > starts else None
    begins = joins or starts
    ends = begins + timedelta(days=QUARANTINE_DAYS) if begins else None
    return ends if ends is None or starts is None or ends > starts else None


def _check_names(file: str, trees: list[Tree], findings: Findings) -> None:
    """No two trees of one name: the lists people carry by name them."""
    first: dict[str, Tree] = {}
    for tree in trees:
        twin = first.setdefault(tree.id, tree)
        if twin.row != tree.row:
            findings.problem(
                file,
                tree.row,
                "tree",
                f"'{tree.id}', which is in row {twin.row} too",
                "a name of its own for each tree",
                "Number them, or use the column quantity if they are alike.",
            )
