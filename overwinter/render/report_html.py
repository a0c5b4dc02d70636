"""Pieces of the report's page: tables that a phone can show, pictures in two sizes, sections."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from overwinter.render.table import Column, Table, alike_joined
from overwinter.render.templates import text
from overwinter.render.words import MONTHS

WIDE_PX, NARROW_PX = 720.0, 350.0
"""Widths pictures are drawn at: for a page or A4, and for a phone or half a page."""


@dataclass(frozen=True, slots=True)
class Part:
    """A section of the report with its heading."""

    key: str
    title: str
    html: str


_TIED = re.compile(
    rf"(?<=\d) (?=(?:{'|'.join(MONTHS)}|°C|°F|K|cm|in|m²|ft²|kg|lb|kWh|W|%|mol/)(?![a-z]))"
)


def tied(words: str) -> str:
    """Words as HTML text in which no line ends between a number and its unit or month."""
    return text(_TIED.sub("\u00a0", words))


def paragraph(words: str, css: str = "") -> str:
    """A paragraph of plain text."""
    return f'<p class="{css}">{tied(words)}</p>' if css else f"<p>{tied(words)}</p>"


def heading(level: int, words: str, key: str = "") -> str:
    """A heading of plain text."""
    anchor = f' id="{text(key)}"' if key else ""
    return f"<h{level}{anchor}>{text(words)}</h{level}>"


def html_table(table: Table) -> str:
    """A table, alike trees in one row; on a phone each row is a card, its cells with headings.

    Roles are written out because cards would lose those of table elements.
    """
    table = alike_joined(table)
    head = "".join(
        f'<th role="columnheader" scope="col"{_number_css(column)}>{text(column.heading)}</th>'
        for column in table.columns
    )
    rows = "".join(_table_row(table.columns, row) for row in table.rows)
    return (
        f'<table role="table"><caption>{text(table.title)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{rows}</tbody></table>'
    )


def _table_row(columns: Sequence[Column], row: Sequence[str | int | float | None]) -> str:
    first, rest = row[0], row[1:]
    cells = f'<th role="rowheader" scope="row">{tied(columns[0].show(first))}</th>'
    for column, cell in zip(columns[1:], rest, strict=True):
        shown = tied(column.show(cell))
        cells += (
            f'<td role="cell"{_number_css(column)} data-of="{text(column.heading)}">'
            f"<span>{shown}</span></td>"
        )
    return f'<tr role="row">{cells}</tr>'


def _number_css(column: Column) -> str:
    return ' class="number"' if column.digits is not None else ""


def folded(summary: str, html: str, unfold: bool = False) -> str:
    """Something to open; empty content leaves nothing."""
    if not html:
        return ""
    state = " open" if unfold else ""
    return f"<details{state}><summary>{text(summary)}</summary>{html}</details>"


def figure(draw: Callable[[float, str], str], caption: str = "") -> str:
    """A picture drawn for a page and for a phone; only the one that fits is shown and read out.

    ``draw`` takes the width in px and a word that keeps the ids of the two apart.
    """
    said = f"<figcaption>{text(caption)}</figcaption>" if caption else ""
    wide, narrow = draw(WIDE_PX, "wide"), draw(NARROW_PX, "narrow")
    return (
        f'<figure><div class="wide">{wide}</div><div class="narrow">{narrow}</div>{said}</figure>'
    )


def together(html: str) -> str:
    """What no page break should part, such as a heading and its picture."""
    return f'<div class="together">{html}</div>'


def half_figure(svg: str) -> str:
    """A picture of phone width, two beside each other on a page."""
    return f'<figure class="half">{svg}</figure>'


def side_by_side(figures: Sequence[str]) -> str:
    """Half figures in rows of two where there is room."""
    return f'<div class="pairs">{"".join(figures)}</div>' if figures else ""


def items(lines: Sequence[str]) -> str:
    """A list of plain texts."""
    return f"<ul>{''.join(f'<li>{tied(line)}</li>' for line in lines)}</ul>" if lines else ""
