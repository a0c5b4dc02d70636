"""What a row of the tree list may hold, under which headings, and how big a pot is."""

import math
import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from overwinter.files import schema
from overwinter.files.findings import Findings, rows_listed
from overwinter.files.measures import (
    LENGTH,
    MASS,
    ONE_COMMA,
    ONE_POINT,
    POT,
    SUFFIX_OF,
    measure_of,
    number_of,
)
from overwinter.files.species_table import OF_ONE_TREE, with_limits
from overwinter.files.tables import Table, matched, normal_heading
from overwinter.model.tree import Condition
from overwinter.packaged import packaged_toml

QUARANTINE_DAYS = 28  # length of a quarantine given as "yes": common practice, no source
TRAY_SHARE = 0.8  # of length x width x depth outside: less walls, feet and a rim
TRADE_GALLON_L = 2.8
"""A number 1 container holds 2.8 l (HortScience 59(10), 1477, read); that a number n holds n times
as much is from memory, and within a fifth."""
NAMED_L: Mapping[str, float] = packaged_toml("words.toml")["pots_l"]
_NUMBERED = re.compile(r"(?:#|no\.?\s*|nr\.?\s*|number\s+)(\d+(?:\.\d)?)", re.I)
_LITRES = re.compile(r"c(\d+(?:[.,]\d+)?)", re.I)
_YEAR = re.compile(r"\b(?:19|20)\d\d\b")
HEADINGS = packaged_toml("words.toml")["headings"]
WORDS = {word: meant for meant, several in HEADINGS.items() for word in several.split()}
"""Headings as people write them, and ours."""
LISTS = {name: words.split() for name, words in packaged_toml("words.toml")["lists"].items()}
TOTALS = "|".join(LISTS["totals"]).replace("_", " ")
TOTAL = re.compile(rf"(\d+ )?(grand |sub)?({TOTALS})\b.*", re.I)
_TIMES = re.compile(r"\s*(?:x|×|\*|by)\s*", re.I)
_SIDES = {"w": "width", "d": "depth", "l": "depth", "h": "height", "t": "height"}
TELLS_SHAPE = 3  # letters from which a word that is no unit tells a pot's shape or make
SHALLOW_M = 0.1  # outside depth of a pot known by length and width, 8 cm of mix: a judgement
_TAIL = re.compile(r"[^\d\s.,/½¼¾]+$")
NOT_KNOWN_IN = frozenset(["weight", "pot", "pot_diameter", "depth", "value", "condition"])
"""Columns whose blank cells a rule fills in, and in which "?" is one."""
LENGTH_OR_MASS = {**LENGTH, **MASS}
_OF_ONE_UNIT = ("width", "depth", "height")
GERMAN_SIDES = {"b": "width", "h": "height", "t": "depth"}
USUAL_SIDES = ["width", "depth", "height"]
SIDE_WORDS = "w d l h ht width wide depth deep length long height high tall across spread"
_WORD = re.compile(r"[^\W\d_]+")


def litres_of_name(name: str) -> float | None:
    """Litres of a size by name: ``P9``, ``C3`` (litres), ``#5`` or ``No. 5`` (trade gallons)."""
    bare = name.strip().casefold()
    if found := _NUMBERED.fullmatch(bare):
        return float(found[1]) * TRADE_GALLON_L
    if found := _LITRES.fullmatch(bare):
        return float(found[1].replace(",", "."))
    return NAMED_L.get(bare)


def _quarantine(value: Any) -> Any:
    """A date, or yes for the usual length."""
    if isinstance(value, (bool, str)):
        answer = str(value).strip().lower()
        if answer in schema.YES | schema.NO:
            return "yes" if answer in schema.YES else "no"
    if isinstance(value, str) and not any(character.isdigit() for character in value):
        raise schema.wrong("yes, or the date it ends as YYYY-MM-DD")
    return schema.iso_date(value)


Quarantine = Annotated[date | Literal["yes", "no"], BeforeValidator(_quarantine)]


def _money(value: Any) -> Any:
    """A value with its sign or word of money taken off; nobody gives thousandths of it."""
    if not isinstance(value, str):
        return value
    bare = re.sub(r"^[^\d.,+-]+|[^\d.,]+$", "", value)
    return (
        re.sub(r"[.,]", "", bare)
        if ONE_COMMA.fullmatch(bare) or ONE_POINT.fullmatch(bare)
        else bare
    )


def _condition(value: Any) -> Any:
    word = str(value).strip().casefold()
    health = packaged_toml("words.toml")["health"]
    return next((meant for meant, said in health.items() if word in said.split()), word)


def _repotted(value: Any) -> Any:
    """Yes or no, or the year that a day or a month names."""
    found = _YEAR.search(str(value))
    return int(found[0]) if found else schema.yes_or_no(value, "yes, no, or a day, month or year")


@with_limits(OF_ONE_TREE)
class TreeRow(schema.Row):
    """One row of trees.csv; SI."""

    also: ClassVar = WORDS
    apart: ClassVar = dict.fromkeys(LISTS["sizes"], ("width_m", "height_m"))
    keeps_own_columns: ClassVar = True

    tree: schema.Text | None = None
    genus: schema.Text | None = None
    cultivar: schema.Text | None = None
    species: schema.Text = Field(description="a species, cultivar or common name")
    quantity: schema.Whole = Field(1, ge=1, le=10_000)
    width_m: schema.Number = Field(ge=0.02, le=8, description="width of pot or crown, the larger")
    depth_m: schema.Number | None = Field(None, ge=0.02, le=8)
    height_m: schema.Number = Field(
        ge=0.03, le=15, description="height from the foot of the pot to the top"
    )
    weight_kg: schema.Number | None = Field(None, gt=0, le=3000)
    pot_litres: schema.Number | None = Field(None, ge=0.02, le=2000)
    pot_diameter_m: schema.Number | None = Field(None, ge=0.02, le=3)
    condition: Annotated[Condition, BeforeValidator(_condition)] = Condition.ORDINARY
    value: Annotated[schema.Number | None, BeforeValidator(_money)] = Field(None, ge=0, le=1e7)
    repotted: Annotated[bool | int, BeforeValidator(_repotted)] = False
    stands_at: schema.Text | None = None
    joins: schema.Day | None = None
    quarantine_until: Quarantine = "no"
    only: schema.Names = ()
    never: schema.Names = ()
    group: schema.Text | None = None

    def joins_after(self, starts: date | None) -> date | None:
        """The day it joins; None for one that is there when the plan begins."""
        before = starts is not None and self.joins is not None and self.joins <= starts
        return None if before else self.joins

    def quarantined(self, starts: date | None) -> date | None:
        """The day quarantine ends; None when there is none or it is over before the plan begins."""
        until, begins = self.quarantine_until, self.joins or starts
        if until == "yes" and begins is not None:
            until = begins + timedelta(days=QUARANTINE_DAYS)
        if not isinstance(until, date) or (starts is not None and until <= starts):
            return None
        return until


def simplify(table: Table, findings: Findings, is_kind: Callable[[str], bool]) -> None:
    """Take out rows that are no trees; each column holds one thing. ``is_kind``: of a name."""
    _drop_other_rows(table, findings)
    _kinds_in_place(table, findings, is_kind)
    for name in table.headings:
        if normal_heading(name).split("_")[0] in LISTS["sizes"]:
            _sizes_apart(table, name, findings)
        elif {name, name.rpartition("_")[0]} & NOT_KNOWN_IN:
            cells = table.take(name).items()
            table.put(name, {n: c for n, c in cells if str(c).casefold() not in LISTS["not_known"]})
    _units_told(table, findings)
    _boxes_under_diameters(table)
    _pots_apart(table)
    if {"genus", "cultivar"} & set(table.headings):
        kinds = {number: _kind(cells) for number, cells in table.rows.items()}
        table.take("species")
        table.put("species", {number: kind for number, kind in kinds.items() if kind})


def _kinds_in_place(table: Table, findings: Findings, is_kind: Callable[[str], bool]) -> None:
    """Kinds that stand under "Tree" or "Name", beside a column of varieties or none."""

    def known(name: str) -> int:
        return sum(isinstance(cell, str) and is_kind(cell) for cell in table.column(name).values())

    if "genus" in table.headings or known("tree") <= known("species"):
        return
    heads = {name: table.head(name) for name in ("tree", "species")}
    findings.assume(
        f"{table.file}: '{heads['tree']}' holds the kinds of tree, so it names them too."
    )
    if "species" in table.headings and "cultivar" not in table.headings:
        findings.assume(f"{table.file}: '{heads['species']}' holds their cultivars.")
        table.put("cultivar", table.take("species"))
    table.take("species")
    table.written["species"] = heads["tree"]
    table.put("species", table.take("tree"))


def _units_told(table: Table, findings: Findings) -> None:
    """A number without a unit has the one unit of its column, or of the tree's other sides."""
    units = {
        name: {name.rpartition("_")[2]}
        if name in TreeRow.keys and TreeRow.keys[name].unit
        else {_tail(cell) or "" for cell in table.column(name).values()} & LENGTH_OR_MASS.keys()
        for name in table.headings
    }
    sides = {unit for n in units if n.split("_")[0] in _OF_ONE_UNIT for unit in units[n]}
    for name in ("width", "depth", "height", "weight", "pot", "pot_diameter"):
        bare = {row: cell for row, cell in table.column(name).items() if _tail(cell) is None}
        told = units.get(name, set())
        if name == "pot":  # a number alone may be litres or a diameter, sides are lengths
            bare = {row: cell for row, cell in bare.items() if len(_TIMES.split(str(cell))) > 1}
            told = told & set(LENGTH)
        told = told or (set() if name == "weight" else sides)
        if len(told) == 1 and bare:
            (unit,) = told
            findings.assume(
                f"{table.file}: '{table.head(name)}' says no unit in"
                f" {rows_listed(list(bare))}: taken as {LENGTH_OR_MASS[unit].word}, as elsewhere."
            )
            table.put(name, {row: f"{cell} {unit}" for row, cell in bare.items()})


def _tail(cell: Any) -> str | None:
    """The unit at the end of a cell; None for a number, or numbers, without one."""
    found = _TAIL.search(cell.strip().rstrip(".")) if isinstance(cell, str) else None
    return SUFFIX_OF.get(found[0].casefold(), "?") if found else None


def _kind(cells: Mapping[Any, Any]) -> str | None:
    """The kind in one piece, of genus, species and cultivar; None where there is none."""
    genus, species, cultivar = (
        str(cells[name]) if isinstance(cells.get(name), str) else ""
        for name in ("genus", "species", "cultivar")
    )
    if genus and not species.casefold().startswith(genus.casefold()):
        species = f"{genus} {species}".strip()
    if species and cultivar and cultivar.strip("'\"").casefold() not in species.casefold():
        species += f" '{cultivar.strip(chr(39) + chr(34))}'"
    return species or None


def _drop_other_rows(table: Table, findings: Findings) -> None:
    """Totals, headings that come again, and lines between the trees are left out, and said."""
    keep = {}
    for number, cells in table.rows.items():
        texts = [str(cell) for cell in cells.values() if isinstance(cell, str)]
        words = "; ".join(str(cell) for cell in cells.values())[:40]
        kind = str(cells.get("species", 0))
        no_kind = number_of(kind) is not None or (len(cells) < 3 and TOTAL.fullmatch(kind))
        row = f"{table.file}: row {number}"
        if no_kind and texts and TOTAL.fullmatch(texts[0]):
            findings.assume(f"{row} ('{words}') is a total, not a tree.")
        elif len(cells) > 2 and all(matched(TreeRow, text) for text in texts[:3]) and texts[2:]:
            findings.assume(f"{row} repeats the headings.")
        elif len(cells) == 1 and len(table.headings) > 3 and number_of(words) is None:
            findings.assume(f"{row} has nothing but '{words}': a line between the trees.")
        else:
            keep[number] = cells
    table.rows = keep


def _sizes_apart(table: Table, name: str, findings: Findings) -> None:
    """``60 x 45 x 50 cm`` as width, depth and height, unless the heading says another order. Two
    numbers are asked about unless letters in the heading tell which they are."""
    words = normal_heading(table.head(name)).split("_")
    suffix = next((SUFFIX_OF[w] for w in reversed(words) if SUFFIX_OF.get(w) in LENGTH), None)
    order = _letters(" ".join(words))[0]
    if "b" in words:  # Breite x Höhe x Tiefe
        order = [GERMAN_SIDES[w] for w in words if w in GERMAN_SIDES]
    head = table.head(name)
    table.put("width", {}, head)
    table.put("height", {}, head)
    for number, cell in table.take(name).items():
        lettered, bare = _letters(str(cell))
        texts, sides = _sides(bare, suffix)
        meant = next((o for o in (lettered, order) if len(o) == len(sides)), USUAL_SIDES)
        if len(sides) == len(meant) and None not in sides:
            keys = {**TreeRow.keys, **TreeRow.stems}
            filled = {keys[n].fills for n in table.rows[number] if n in keys}
            for side, text in zip(meant, texts, strict=True):
                if f"{side}_m" not in filled:
                    table.put(side, {number: text}, head)
            continue
        findings.at(table.file, number, head).problem(
            f"'{cell}'",
            "width x depth x height with a unit, such as 60 x 45 x 50 cm",
            "Say which numbers they are in the heading, such as Size (w x h) in cm."
            if len(sides) == 2 and None not in sides
            else "",
        )
        # What else such a row lacks follows from the size that was not understood.
        del table.rows[number]


def _letters(cell: str) -> tuple[list[str], str]:
    """Which sides the words of a cell name (``36" H x 20" W``), and the cell without them."""
    words = [word.casefold() for word in _WORD.findall(cell)]
    named = ["w" if w in ("across", "spread") else w[0] for w in words if w in SIDE_WORDS.split()]
    bare = _WORD.sub(lambda w: "" if w[0].casefold() in SIDE_WORDS.split() else w[0], cell)
    return [_SIDES[letter] for letter in named], re.sub(r"[\s.:=]+(?=x|×|$)", " ", bare)


def _sides(cell: str, suffix: str | None) -> tuple[list[str], list[float | None]]:
    """``60 x 45 x 50 cm`` in pieces, and in m; the last unit counts for all that have none."""
    parts = _TIMES.split(cell.strip())
    tail = _TAIL.search(parts[-1].strip().rstrip("."))
    unit = (SUFFIX_OF.get(tail[0].casefold(), "") if tail else suffix) or ""
    alone = [measure_of(part, LENGTH, None) is None for part in parts]
    texts = [f"{part} {unit}" if bare else part for part, bare in zip(parts, alone, strict=True)]
    return texts, [measure_of(text, LENGTH, None) for text in texts]


def _unit_alone(word: re.Match[str]) -> str:
    """A word of a pot's size, unless it tells its shape: "12 in oval" is 12 in."""
    said = word[0].casefold()
    return "" if len(said) >= TELLS_SHAPE and said not in {*SUFFIX_OF, "number"} else word[0]


def _boxes_under_diameters(table: Table) -> None:
    """``14 x 11 x 4`` under "Pot (in)" is length, width and depth of a pot, and no diameter."""
    for name in (name for name in table.headings if name.startswith("pot_diameter_")):
        for number, cell in table.column(name).items():
            text = _WORD.sub(_unit_alone, str(cell)).strip()
            texts, sides = _sides(text, name.rpartition("_")[2])
            if len(sides) in (2, 3) and None not in sides and "pot" not in table.rows[number]:
                del table.rows[number][name]
                table.put("pot", {number: " x ".join(texts)}, table.head(name))


def _pots_apart(table: Table) -> None:
    """Cells of a column "pot": a diameter, or a size by name, goes where it belongs."""
    for number, cell in table.column("pot").items():
        text = _WORD.sub(_unit_alone, str(cell)).strip("Øø⌀ ")
        (_, sides), named = _sides(text, None), litres_of_name(text)
        by_volume = measure_of(text, POT, None) is not None
        if named is not None:
            cell = f"{named:.3g} l"
        elif len(sides) in (2, 3) and None not in sides:
            litres = 1000 * TRAY_SHARE * math.prod(side or 0.0 for side in [*sides, SHALLOW_M][:3])
            cell = f"{litres:.4g} l"
        elif by_volume:
            cell = text
        elif len(sides) == 1 and sides[0] is not None:
            del table.rows[number]["pot"]
            table.put("pot_diameter", {number: text}, table.head("pot"))
            continue
        table.put("pot", {number: cell})
