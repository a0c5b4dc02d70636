"""The whole winter as one HTML page: opens from a disk, on a phone, and prints."""

from collections.abc import Sequence

from overwinter.audit.report import AuditReport
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.render.pictures import palette
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part
from overwinter.render.report_parts.benches import benches_part
from overwinter.render.report_parts.cautions import cautions_part
from overwinter.render.report_parts.costs import costs_part
from overwinter.render.report_parts.head import head_html
from overwinter.render.report_parts.heat import heat_part
from overwinter.render.report_parts.knowledge import knowledge_part
from overwinter.render.report_parts.left_out import left_out_part
from overwinter.render.report_parts.risks import risks_part
from overwinter.render.report_parts.stages import stages_part
from overwinter.render.report_parts.stays import stays_part
from overwinter.render.templates import page, template, text

PARTS = (
    left_out_part,
    stages_part,
    risks_part,
    heat_part,
    benches_part,
    costs_part,
    stays_part,
    knowledge_part,
    cautions_part,
)
"""The sections in their order. A new one is a file in ``report_parts`` and a line here."""


def report_page(
    season: Season, plan: Plan, report: AuditReport, *, notices: Sequence[str] = ()
) -> str:
    """One self-contained HTML page of a plan of sound structure; ``notices`` stand at the top."""
    book = WinterBook(season, plan, report)
    parts = [part for part in (make(book) for make in PARTS) if part is not None]
    body = (
        '<a class="skip" href="#main">Skip to the report</a>'
        f"{head_html(book, notices)}{_contents(parts)}"
        f'<main id="main" tabindex="-1">{"".join(map(_section, parts))}</main>'
    )
    css = f"{_colours()}{template('report.css')}"
    return page(f"Winter plan: {season.site.name}", css, body, template("report.js"))


def _contents(parts: Sequence[Part]) -> str:
    links = "".join(f'<li><a href="#{p.key}">{text(p.title)}</a></li>' for p in parts)
    return (
        f'<nav aria-label="Contents"><ul>{links}</ul>'
        '<p><button type="button" id="open-all" hidden>Open all</button> '
        "What is folded is not printed.</p></nav>"
    )


def _section(part: Part) -> str:
    return (
        f'<section aria-labelledby="{part.key}"><h2 id="{part.key}" tabindex="-1">'
        f"{text(part.title)}</h2>{part.html}</section>"
    )


def _colours() -> str:
    named = {
        "paper": palette.PAPER,
        "ink": palette.INK,
        "quiet": palette.QUIET,
        "link": palette.LINK,
        "tint": palette.TINT,
        "alarm": palette.ALARM,
        "bar": palette.BAR,
        "grid": palette.GRID,
    }
    return ":root{" + "".join(f"--{name}:{value};" for name, value in named.items()) + "}\n"
