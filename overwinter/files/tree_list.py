"""trees.csv or trees.xlsx: one row a tree, or a row for several alike."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

from overwinter.files.findings import Findings, did_you_mean, listed, rows_listed
from overwinter.files.measures import degrees
from overwinter.files.pydantic_problems import nothing_of
from overwinter.files.sheets import read_csv, read_xlsx
from overwinter.files.species_table import OF_ONE_TREE
from overwinter.files.tables import Table, normal_heading, own_columns, parse_rows
from overwinter.files.tree_columns import LISTS, TreeRow, simplify
from overwinter.model.species import Assumption, Limits, Species
from overwinter.model.tree import Tree, numbered
from overwinter.packaged import packaged_toml
from overwinter.plants.lookup import Match, NameBook, plain, resolve, split_cultivar

DEFAULT_VALUE = 50.0
SHIFTED = 3  # with so many wrong cells a row is taken to be shifted, as by a comma without quotes
MOST_ROWS = 10_000
MUCH_HARDIER_K = 8.0  # than the kind's roots: so much more is mostly a slip (a judgement)
NOTES = tuple(LISTS["notes"])
SHOWN = frozenset(["repotted", "stands_at"])  # listed as well under a grower's own heading
KG_PER_LITRE = 1.65
"""Pot, moist mix and tree for each litre of pot: 1.2 kg of moist gritty mix, a quarter more for a
fired pot, a tenth for trunk and crown; the shares are judgements. Mixes of 0.15 to 1.3 kg a litre
dry are advised (University of Arkansas, Greenhouse Management Online, unit 7, read); water adds 0.3
to 0.5 (memory)."""
LITRES_PER_M2 = 32.0
"""Where nothing is known of the pot: it takes 40 % of what the tree covers and holds 8 cm of mix,
as the shallow pots of dwarfed trees do. A judgement; a nursery pot holds two to four times that."""
ROUND_SHARE = 0.5
"""Volume of a round pot over the cube of its diameter: 0.8 as deep as wide, sides that taper to
0.8 (a frustum: pi / 12 x 0.8 x (1 + 0.8 + 0.64) = 0.51). A 20 cm pot holds 4 l."""
PER_LITRE = f"{KG_PER_LITRE:g} kg for each litre of pot (14 lb for a US gallon)"
NAMES = packaged_toml("sentences.toml")["filled"]
GUESSED = "note: guessed"  # heading of the column that names the guesses of a row; on no list


@dataclass(frozen=True)
class TreeList:
    """Trees as written, before places are checked; ``rows`` are all, ``trees`` of good rows."""

    file: str
    trees: tuple[Tree, ...]
    rows: Mapping[int, TreeRow]  # as far as they are right; of one that seems shifted nothing
    assumptions: tuple[Assumption, ...]
    guesses: tuple[tuple[int, str, float | str], ...]  # row, field, value (SI) of what was blank
    location: str = ""  # a grower's own heading of where trees stand, maybe not our places


def read_trees(
    folder: Path,
    names: NameBook,
    starts: date | None,
    findings: Findings,
    unread: frozenset[str] = frozenset(),
    usual_value: float | None = None,
) -> TreeList | None:
    """Read the tree list of a folder; rows with mistakes make no trees and are reported. ``starts``
    is the first day of the plan; None while it is not known. ``unread`` are names, in their plain
    form, of kinds whose row in species.csv could not be read. ``usual_value`` is what a tree
    without a value is worth, where the site says so."""
    table = tree_table(folder, findings)
    if table is None:
        return None
    if len(table.rows) > MOST_ROWS:
        found, fix = f"{len(table.rows):,} rows", "Is it the right file?"
        findings.at(table.file).problem(found, f"at most {MOST_ROWS:,} rows", fix)
        return None
    simplify(table, findings, lambda name: isinstance(resolve(name, names, near=False), Match))
    rows = _named_kinds(parse_rows(table, TreeRow, findings), table, findings)
    if not table.rows and all(one.file != table.file for one in findings.problems):
        findings.at(table.file).problem("no trees", "at least one row")
    whole = {number: row for number, row in rows.items() if row.whole}
    guesses = _guesses(whole, table.file, usual_value, findings)
    trees: list[Tree] = []
    assumptions: list[Assumption] = []
    own = [
        name
        for name in table.headings
        if name in own_columns(table, TreeRow) or (name in SHOWN and _otherwise(table, name))
        if name != normal_heading(GUESSED)
    ]
    kept = [table.head(one) for one in own if one not in SHOWN and not one.startswith(NOTES)]
    if kept:
        findings.assume(f"{table.file}: listed as yours and not used: {', '.join(kept)}.")
    for number, cells in table.rows.items():
        row = _unshifted(rows[number], cells)
        row = rows[number] = row.model_copy(update=guesses.get(number))
        meant = _species(row, names, unread)
        if meant is None or number not in guesses:
            continue
        kind, why = meant
        if why is not None:
            assumptions.append(Assumption(str(row.tree), row.species, kind.key, why))
        limits = _limits(row, kind)
        if limits is not None:
            yours = _own(cells, own, table.written)
            trees += _trees(row, number, kind.key, limits, starts, yours)
    _check_names(table.file, trees, findings)
    guessed = tuple((row, *one) for row, filled in guesses.items() for one in filled.items())
    location = table.written["stands_at"] if _otherwise(table, "stands_at") else ""
    return TreeList(table.file, tuple(trees), rows, tuple(assumptions), guessed, location)


def _named_kinds(rows: dict[int, TreeRow], table: Table, findings: Findings) -> dict[int, TreeRow]:
    """The rows; a name that is only a number stands behind its kind, for it says nothing alone."""
    named = {
        number: row.model_copy(update={"tree": numbered(row.species, row.tree)})
        for number, row in rows.items()
        if row.species is not None and row.tree is not None and row.tree.isdecimal()
    }
    if named:
        findings.assume(
            f"{table.file}: '{table.head('tree')}' holds only numbers in {rows_listed([*named])}:"
            f" the kind is put before them, as in '{next(iter(named.values())).tree}'."
        )
    return rows | named


def _otherwise(table: Table, name: str) -> bool:
    """Whether a column is headed by another word than ours."""
    return normal_heading(table.head(name)) != name


def _own(cells: Mapping[str, Any], own: Iterable[str], heads: Mapping[str, str]) -> dict[str, Any]:
    """The note of a row, and the grower's other columns as they were written."""
    given = {name: _shown(cells[name]) for name in own if name in cells}
    notes = {name: text for name, text in given.items() if name.startswith(NOTES)}
    more = ((heads.get(name, name), given[name]) for name in given if name not in notes)
    return {"note": "; ".join(notes.values()), "own": tuple(more)}


def _shown(cell: Any) -> str:
    """A cell of the grower's own as text; a day without its clock, a whole number without .0."""
    if isinstance(cell, date):
        return cell.isoformat()[:10]
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


def _guesses(
    rows: Mapping[int, TreeRow], file: str, usual: float | None, findings: Findings
) -> dict[int, dict[str, float | str]]:
    """What rules tell of the fields that rows leave blank; each rule is said in a line."""
    given = [row.value for row in rows.values() if row.value is not None]
    value, whence = DEFAULT_VALUE, "a guess; write tree_value in site.toml"
    if usual is not None:
        value, whence = usual, "tree_value of site.toml"
    elif given:
        value, whence = float(median(given)), "the middle one of the others"
    named = Counter(row.tree or row.species for row in rows.values())
    count: Counter[str] = Counter()
    said: dict[tuple[str, str], list[int]] = {}
    guesses = {}
    for number, row in rows.items():
        name = row.species
        if row.tree is None and named[name] > 1:
            count[name] += 1
            name = numbered(name, count[name])
        filled = _filled(row, name, value, whence)
        for field, (_, rule) in filled.items():
            said.setdefault((NAMES[field], rule), []).append(number)
        guesses[number] = {field: value for field, (value, _) in filled.items()}
    for (what, rule), numbers in said.items():
        trees = sum(rows[number].quantity for number in numbers)
        which = "all rows" if len(numbers) == len(rows) else rows_listed(numbers)
        plural = "" if trees == 1 else "s"
        findings.assume(f"{file}: no {what} for {trees} tree{plural} in {which}: {rule}.")
    return guesses


def _filled(
    row: TreeRow, name: str, value: float, whence: str
) -> dict[str, tuple[float | str, str]]:
    """What a rule tells of the fields a row leaves blank, each with its rule."""
    depth_m = row.width_m if row.depth_m is None else row.depth_m
    if row.pot_litres is not None:
        litres, of_pot = row.pot_litres, ""
    elif row.pot_diameter_m is not None:
        litres, of_pot = 1000 * ROUND_SHARE * row.pot_diameter_m**3, "half the cube of its diameter"
    elif row.weight_kg is not None:
        litres, of_pot = row.weight_kg / KG_PER_LITRE, PER_LITRE
    else:
        litres = max(0.1, LITRES_PER_M2 * row.width_m * depth_m)
        of_pot = (
            f"{LITRES_PER_M2:g} l for each m² of width x depth (0.8 US gallons a ft²), as shallow"
            " pots have"
        )
    by_pot = f"{PER_LITRE}; weigh the large ones before lifting"
    rules: dict[str, tuple[float | str, str]] = {
        "tree": (name, "named as their kind"),
        "depth_m": (depth_m, "as deep as wide"),
        "pot_litres": (litres, of_pot),
        "weight_kg": (KG_PER_LITRE * litres, by_pot),
        "value": (value, f"{value:g} each, {whence}"),
    }
    return {field: rule for field, rule in rules.items() if getattr(row, field) is None}


def _unshifted(row: TreeRow, cells: Mapping[str, Any]) -> TreeRow:
    """The row, or nothing of it where cells seem to be in wrong columns."""
    given = {key.fills for name in cells if (key := TreeRow.keys.get(name))}
    wrong = given - row.model_fields_set
    return row if len(wrong) < SHIFTED else nothing_of(TreeRow, row.where)


def tree_table(folder: Path, findings: Findings) -> Table | None:
    """The table of trees.csv or trees.xlsx; None when there is none, or two."""
    as_csv, as_xlsx = folder / "trees.csv", folder / "trees.xlsx"
    if as_csv.exists() and as_xlsx.exists():
        findings.at("trees.csv").problem(
            "trees.csv and trees.xlsx", "one tree list", "Move the older one out of the folder."
        )
        return None
    if as_xlsx.exists():
        return read_xlsx(as_xlsx, findings, TreeRow)
    return read_csv(as_csv, findings, TreeRow, "the tree list, trees.csv or trees.xlsx")


def _species(
    row: TreeRow, names: NameBook, unread: frozenset[str]
) -> tuple[Species, str | None] | None:
    """The species meant, and why a group stands in for it (None when it was found)."""
    name, group, where = row.species, row.group, row.where
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
        where.of("group").problem(f"'{group}'", groups, near)
        return None
    if match.means_several:
        either = " or ".join(f"'{latin}'" for latin in match.close)
        fix = f"Write {either}. If it is another kind, write a group in the column group."
    elif match.close:
        fix = f"Did you mean '{match.close[0]}'?"
        meant = resolve(match.close[0], names, group)
        if not isinstance(meant, Match) and not meant.close:  # a name whose limits nobody knows
            groups = listed(meant.groups, most=30)
            fix += f" Either way write a group in the column group; for it {groups}."
        elif match.may_be_another:
            fix += " If not, write a group in the column group."
    else:
        fix = f"Write a group in the column group: {listed(match.groups, most=30)}."
    where.of("species").problem(f"'{name}' ({match.reason})", "a kind of the table", fix)
    return None


def _limits(row: TreeRow, kind: Species) -> Limits | None:
    """The species' limits with the tree's own laid over them. Roots said to be less hardy than the
    table has them take the young and the unhardened ones along, unless those are given as well."""
    where = row.where
    own: dict[str, Any] = {
        name: getattr(row, name) for name in OF_ONE_TREE if getattr(row, name) is not None
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
    if kind.limits.root_kill_c - limits.root_kill_c > MUCH_HARDIER_K:
        where.findings.warn(
            f"{where.file}, row {where.row}: roots that stand {degrees(limits.root_kill_c)};"
            f" those of the kind stand {degrees(kind.limits.root_kill_c)}. Is it the whole tree's"
            " limit, or is the unit another?"
        )
    lowest = min(limits.root_kill_young_c, limits.root_kill_unhardened_c)
    if lowest < limits.root_kill_c:
        where.of("root_kill_c").problem(
            f"young or unhardened roots that stand {degrees(lowest)}, mature ones"
            f" {degrees(limits.root_kill_c)}",
            "mature hardened roots to be the hardiest",
            "Are the values in the wrong columns?",
        )
        return None
    return limits


def _trees(
    row: TreeRow, number: int, key: str, limits: Limits, starts: date | None, yours: dict[str, Any]
) -> list[Tree]:
    """The trees of a complete row, with what is the grower's own; several alike are numbered."""
    several = range(1, row.quantity + 1) if row.quantity > 1 else ()
    names = [f"{row.tree} {i}/{row.quantity}" for i in several] or [str(row.tree)]
    same = ("width_m", "depth_m", "height_m", "weight_kg", "pot_litres", "value", "condition")
    # The last spring: south of the equator, where winters start by June, of the year before.
    spring = None if starts is None else starts.year - (starts.month < 7)
    tree = Tree(
        id="",
        name="",
        species_key=key,
        limits=limits,
        **{name: getattr(row, name) for name in same} | yours,
        young_roots=row.repotted is True or (spring is not None and row.repotted >= spring),
        stands_at=row.stands_at,
        joins=row.joins_after(starts),
        quarantine_until=row.quarantined(starts),
        pinned=frozenset(row.only),
        forbidden=frozenset(row.never),
        row=number,
        written=row.species,
    )
    return [replace(tree, id=name, name=name) for name in names]


def _check_names(file: str, trees: list[Tree], findings: Findings) -> None:
    """No two trees of one name: the lists people carry by name them."""
    first: dict[str, Tree] = {}
    for tree in trees:
        twin = first.setdefault(tree.id, tree)
        if twin.row != tree.row:
            findings.at(file, tree.row, "tree").problem(
                f"'{tree.id}', which is in row {twin.row} too",
                "a name of its own for each tree",
                "Number them, or use the column quantity if they are alike.",
            )
