"""What the plan rests on: assumed species, and how well its numbers are backed."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import fields

from overwinter.model.season import Season
from overwinter.model.species import Limits, Standing
from overwinter.model.tree import Tree
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
PUBLISHED = (Standing.READ, Standing.DERIVED)


def standing_words(standing: Standing) -> str:
    """A standing for people."""
    return WORDS[standing]


def standing_of(season: Season, tree: Tree, name: str) -> Standing:
    """How well one limit of one tree is backed."""
    species = season.species.get(tree.species_key)
    if species is None or getattr(species.limits, name) != getattr(tree.limits, name):
        return Standing.GROWER
    source = species.sources.get(name)
    return Standing.JUDGEMENT if source is None else source.standing


def standings_used(season: Season) -> Counter[Standing]:
    """Different numbers behind the trees' limits, by how well they are backed.

    A number counts once for each species that uses it, however many trees there are, and once more
    for each value a grower put in its place.
    """
    used: dict[tuple[str, str, object], Standing] = {}
    for tree in season.trees:
        for field in fields(Limits):
            value = getattr(tree.limits, field.name)
            key = (tree.species_key, field.name, value)
            if key not in used:
                used[key] = standing_of(season, tree, field.name)
    return Counter(used.values())


def knowledge_part(book: WinterBook) -> Part:
    """Assumptions, counts, and the sources species by species."""
    season = book.season
    counts = standings_used(season)
    total = sum(counts.values())
    published = sum(counts[standing] for standing in PUBLISHED)
    share = 100 * published / total if total else 0.0
    html = ""
    if season.assumptions:
        html += heading(3, "Assumed for names not in the species table")
        html += items([f"{a.tree} ({a.written}): {a.why}" for a in season.assumptions])
    html += heading(3, "How well the limits are backed")
    html += paragraph(
        f"{published} of {total} numbers ({share:.0f} %) behind the trees' limits were read in a "
        "published source or worked out from one. The others are practice, memory, or best "
        "estimates."
    )
    bars = [
        BarRow(sentence(WORDS[s]), counts[s], count(counts[s], "number"))
        for s in WORDS
        if counts[s]
    ]
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    title = "How well the numbers are backed"
    html += figure(lambda width, size: draw_bars(bars, title, f"{words}.", width, f"known-{size}"))
    html += folded("Killing temperatures and their sources", html_table(_table(book)))
    html += heading(3, "Winters") + paragraph(season.winters.origin.rstrip(".") + ".")
    if season.warnings:
        html += heading(3, "Noted in the inputs") + items(season.warnings)
    return Part("knowledge", "What this rests on", html)


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
