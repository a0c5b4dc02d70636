"""The species table: the shipped one, and what the grower adds or overrides."""

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from overwinter.files.findings import Findings, Where, did_you_mean, listed
from overwinter.files.measures import degrees
from overwinter.files.schema import Names, Number, Row, S, Text, Word, YesNo, widened
from overwinter.files.sheets import csv_table, read_csv
from overwinter.files.tables import parse_rows, whole_rows
from overwinter.model.species import (
    BLANK,
    LIMITS,
    ChillModel,
    LeafHabit,
    Limits,
    Source,
    Species,
    Standing,
)
from overwinter.packaged import packaged, packaged_rows
from overwinter.plants.lookup import Means, Name, NameBook, plain

LIMIT_FIELDS = tuple(field.name for field in fields(Limits))
OPTIONAL_LIMITS = tuple(name for name, limit in LIMITS.items() if limit.if_none is not None)
"""Limits a species may not have; a grower writes ``none`` to take one away."""
OF_ONE_TREE = tuple(name for name, limit in LIMITS.items() if limit.of_one_tree)
"""Limits that a grower may set for one tree."""
_SOURCE = re.compile(
    r"(?P<standing>\w+)(?:\s*(?:±|\+-|\+/-)\s*(?P<off_by>\d+(?:\.\d+)?))?\s*:\s*(?P<text>.*)", re.S
)
GROWER = Source(Standing.GROWER, "the grower's own figure")


def with_limits(names: Collection[str], none: bool = False) -> Callable[[type[S]], type[S]]:
    """Give a row a column for each limit, which may be blank; ``none`` to take one away."""

    def column(name: str) -> Any:
        limit = LIMITS[name]
        number = Annotated[Number, Field(ge=limit.low, le=limit.high)]
        if none and name in OPTIONAL_LIMITS:
            return number | Annotated[Literal["none"], Word] | None, None
        return number | None, None

    return widened({name: column(name) for name in names})


@widened({f"{name}_source": (str | None, None) for name in LIMIT_FIELDS})
@with_limits(tuple(LIMITS), none=True)
class SpeciesRow(Row):
    """All fields but the key may be blank: the grower fills in what differs."""

    key: Text = Field(description="a short, unique key of the species")
    latin: str | None = None
    common: str | None = None
    group: Text | None = None
    is_group: YesNo | None = None
    synonyms: Names | None = None
    leaf: Annotated[LeafHabit, Word] | None = None
    chill_model: Annotated[ChillModel, Word] | None = None

    TOLD: ClassVar = ("key", "latin", "common", "group", "is_group", "synonyms")  # what is no limit


@cache
def shipped_species() -> Mapping[str, Species]:
    """The table that comes with the package, by key."""
    findings = Findings()
    table = csv_table(packaged("species.csv"), "species.csv (shipped)", findings, SpeciesRow)
    rows = {} if table is None else whole_rows(table, SpeciesRow, findings)
    species = [one for row in rows.values() if (one := _merged(None, row)) is not None]
    findings.raise_if_any()
    return {one.key: one for one in species}


@cache
def shipped_names() -> tuple[Name, ...]:
    """The names that come with the package beside those in the species table. Raises ``KeyError``
    or ``ValueError``: When the shipped file is damaged."""
    known = shipped_species()
    rows = packaged_rows("names.csv")
    names = [Name(row["name"], Means(row["means"]), row["key"]) for row in rows]
    for name in names:
        known[name.key]  # a name of no row is a damaged file
    return tuple(names)


@dataclass(frozen=True)
class SpeciesFile:
    """The table, and the names of kinds whose rows could not be read, in their plain form."""

    species: Mapping[str, Species]
    unread: frozenset[str] = frozenset()

    @cached_property
    def names(self) -> NameBook:
        """Every name the kinds are found under."""
        return NameBook(self.species, shipped_names())


def read_species(path: Path, findings: Findings) -> SpeciesFile:
    """The shipped table with the grower's ``species.csv`` laid over it: a known key replaces what
    its row fills in, a new one adds a species, whose blank limits come from its group."""
    species = dict(shipped_species())
    if not path.exists():
        return SpeciesFile(species)
    table = read_csv(path, findings, SpeciesRow)
    rows = {} if table is None else parse_rows(table, SpeciesRow, findings)
    failed: list[SpeciesRow] = []
    seen: set[str] = set()
    for row in rows.values():
        key, before = row.key, len(findings.problems)
        if row.whole and key in seen:
            row.where.of("key").problem(f"'{key}' twice", "each key once", "Merge the two rows.")
        elif row.whole:
            seen.add(key)
            base = species.get(key) or _group_of(row, species)
            one = None if len(findings.problems) > before else _merged(base, row)
            if one is not None:
                species[key] = one
        if not row.whole or len(findings.problems) > before:
            failed.append(row)
    names = [n for row in failed for n in (row.key, row.latin, row.common, *(row.synonyms or ()))]
    return SpeciesFile(species, frozenset(plain(name) for name in names if name))


def _group_of(row: SpeciesRow, species: Mapping[str, Species]) -> Species | None:
    """The group whose limits fill what a new row leaves blank."""
    group = row.group
    if group is None:
        return None
    groups = {s.group: s for s in species.values() if s.is_group}
    if group not in groups and not row.is_group:
        row.where.of("group").problem(
            f"'{group}'",
            f"a group of the table: {listed(groups, most=30)}",
            did_you_mean(group, groups),
        )
    base = groups.get(group)
    if base is None:
        return None
    sources = {
        name: Source(source.standing, f"{source.text} (of the group {group})")
        for name, source in base.sources.items()
    }
    return replace(base, is_group=False, synonyms=(), latin="", common="", sources=sources)


def _merged(base: Species | None, row: SpeciesRow) -> Species | None:
    """``base`` with what the row fills in; without a base every limit must be there."""
    given = {name: value for name, value in row if value is not None}
    limits: dict[str, Any] = dict(BLANK)
    if base is not None:
        limits = {name: getattr(base.limits, name) for name in LIMIT_FIELDS}
    sources = {} if base is None else dict(base.sources)
    for name in LIMIT_FIELDS:
        text = given.get(f"{name}_source")
        if name in given:
            limits[name] = None if given[name] == "none" else given[name]
        if name in given or text or name not in sources:
            sources[name] = _source(text)
    missing = [name for name in LIMIT_FIELDS if name not in limits]
    if missing:
        row.where.of(missing[0]).problem(
            f"a new species without {listed(missing, most=30)}",
            "every limit, or a group whose limits fill the blanks",
            "Fill in group, or the limits named.",
        )
        return None
    made = Limits(**limits)
    if not _in_order(made, row.where):
        return None
    told = {name: given[name] for name in SpeciesRow.TOLD if name in given}
    if base is None:
        base = Species("", "", "", "", made, sources)
    return replace(base, limits=made, sources=sources, **told)


def _source(text: str | None) -> Source:
    """A source cell, ``standing: text`` or ``standing ±3: text``; a grower need not fill it in."""
    if not text:
        return GROWER
    found = _SOURCE.fullmatch(text.strip())
    if found is None or found["standing"].lower() not in set(Standing):
        return Source(Standing.GROWER, text)
    off_by = None if found["off_by"] is None else float(found["off_by"])
    return Source(Standing(found["standing"].lower()), found["text"], off_by)


def _in_order(limits: Limits, where: Where) -> bool:
    """Hardened parts stand at least what young ones and parts in growth do."""
    young, unhardened = limits.root_kill_young_c, limits.root_kill_unhardened_c
    top, soft_top = limits.top_kill_c, limits.top_kill_unhardened_c
    roots_in_order = limits.root_kill_c <= min(young, unhardened)
    if not roots_in_order:
        where.of("root_kill_c").problem(
            f"roots killed at {degrees(limits.root_kill_c)} mature, {degrees(young)} young,"
            f" {degrees(unhardened)} unhardened",
            "young and unhardened roots no hardier than mature hardened ones",
            "Raise the other two as well.",
        )
    if top > soft_top:
        where.of("top_kill_c").problem(
            f"a top killed at {degrees(top)} hardened, {degrees(soft_top)} unhardened",
            "the unhardened top no hardier than the hardened one",
            "Raise top_kill_unhardened_c as well.",
        )
    return roots_in_order and top <= soft_top
