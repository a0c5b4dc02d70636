"""The costs, part by part."""

from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, html_table, paragraph
from overwinter.render.tables import costs_table
from overwinter.render.words import money, percent, sentence

MEANINGS = {
    "heat": "energy bought",
    "crowding": "filled beyond the comfortable share",
    "rodents": "expected loss to mice",
    "carries": "each tree carried once",
    "carry days": "each day on which anything is carried",
    "cold-tail risk": "expected loss in a winter colder than the weather used",
    "not home when the plan ends": "still to be carried home, each dearer than any carry",
    "disturbance": "carries the plan in force did not have",
}


def costs_part(book: WinterBook) -> Part:
    """Bars and a table; figures of the audit."""
    table = costs_table(book.season, book.plan, book.report)
    total = book.report.costs.total
    parts = [(str(row[0]), float(row[1] or 0.0)) for row in table.rows[:-1]]
    bars = [
        BarRow(
            sentence(name),
            amount,
            f"{money(amount, book.currency)}, {_share(amount, total)}: {MEANINGS[name]}",
        )
        for name, amount in sorted(parts, key=lambda part: -part[1])
        if abs(amount) >= 0.005
    ]
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    html = paragraph(
        f"{money(total, book.currency)} in all. Only heat is paid at a counter; the other parts "
        "are what this site's weights make of crowding, mice, work and risk, so that they can be "
        "weighed against heat."
    )
    if bars:
        title = "What the plan costs, part by part"
        html += figure(
            lambda width, size: draw_bars(bars, title, f"{words}.", width, f"costs-{size}")
        )
    return Part("costs", "What it costs", html + folded("Costs in figures", html_table(table)))


def _share(amount: float, total: float) -> str:
    return percent(amount / total) if amount > 0 and total > 0 else "nothing"
