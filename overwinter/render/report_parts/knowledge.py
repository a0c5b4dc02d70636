"""What the plan rests on: assumed species, and how well its numbers are backed."""

from collections import Counter
from collections.abc import Mapping, Sequence

from overwinter.audit.deciding import DecidingLimit, Known, deciding_limits
from overwinter.model.species import Standing
from overwinter.render.deciding_words import LIMIT_WORDS, kind_words, known_words, worth_words
from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import (
    Part,
    figure,
    folded,
    heading,
    html_table,
    items,
    paragraph,
)
from overwinter.render.table import Column, Table
from overwinter.render.words import count, sentence

WORDS: Mapping[Standing, str] = {
    Standing.READ: "published, figure read",
    Standing.DERIVED: "worked out from published figures",
    Standing.MEMORY: "published as far as remembered, unchecked",
    Standing.CUSTOM: "common practice, no source",
    Standing.JUDGEMENT: "a judgement, nothing published",
    Standing.GROWER: "the grower's own",
}
"""A standing for people."""
SHOWN = 12
"""Rows of the table of limits."""


def knowledge_part(book: WinterBook) -> Part:
    """Assumptions, counts, and the sources species by species."""
    season = book.season
    limits = deciding_limits(season, book.report)
    html = ""
    if season.assumptions:
        html += heading(3, "Assumed for names not in the species table")
        html += items([f"{a.tree} ({a.written}): {a.why}" for a in season.assumptions])
    html += heading(3, "How well the limits that decide are known")
    worth = worth_words(season, limits)
    advice = f"{sentence(worth)}." if worth else ""
    html += paragraph(
        f"{sentence(known_words(limits))}. A limit decides where the harm that it sets is the "
        f"likeliest one for a tree on its way through this plan. {advice}"
    )
    counts = Counter(one.known for one in limits)
    bars = [BarRow(sentence(k), counts[k], count(counts[k], "limit")) for k in Known if counts[k]]
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    title = "How the limits that decide are known"
    if bars:
        html += figure(
            lambda width, size: draw_bars(bars, title, f"{words}.", width, f"known-{size}")
        )
        html += html_table(_deciding_table(book, limits))
    html += folded("Killing temperatures and their sources", html_table(_table(book)))
    html += heading(3, "Winters") + paragraph(season.winters.origin.rstrip(".") + ".")
    if season.warnings:
        html += heading(3, "Noted in the inputs") + items(season.warnings)
    return Part("knowledge", "What this rests on", html)


def _deciding_table(book: WinterBook, limits: Sequence[DecidingLimit]) -> Table:
    currency = book.season.site.currency
    rows = tuple(
        (
            sentence(kind_words(book.season, one)),
            LIMIT_WORDS[one.name],
            one.known.value,
            WORDS[one.source.standing],
            one.trees,
            one.loss,
            one.at_stake,
        )
        for one in limits[:SHOWN]
    )
    words = map(Column, ("kind", "limit", "known", "standing"))
    figures = (
        Column("trees", digits=0),
        Column("loss", currency, 2),
        Column("may be wrong by", currency, 2),
    )
    title = "Limits that decide, what is most worth finding out first"
    return Table("deciding", title, (*words, *figures), rows)


def _table(book: WinterBook) -> Table:
    rows = []
    for key in sorted({tree.species_key for tree in book.season.trees}):
        species = book.season.species.get(key)
        if species is None:
            continue
        source = species.sources.get("root_kill_c")
        rows.append(
            (
                species.latin or species.common,
                book.display.temperature(species.limits.root_kill_c),
                "-" if source is None else WORDS[source.standing],
                "-" if source is None else source.text,
            )
        )
    columns = tuple(map(Column, ("kind", "kills half of hardened roots", "standing", "source")))
    return Table("sources", "Root-killing temperatures used", columns, tuple(rows))
