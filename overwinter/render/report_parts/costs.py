"""The bill, and what the plan reckons for worry and work."""

from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, html_table, paragraph
from overwinter.render.tables import COST_PARTS, costs_table
from overwinter.render.terminal import bill_words
from overwinter.render.words import money, percent, sentence


def costs_part(book: WinterBook) -> Part:
    """Bars and a table; figures of the audit."""
    costs, total = book.report.costs, book.report.costs.total
    parts = [(name, float(getattr(costs, field)), why) for field, name, why in COST_PARTS]
    bars = [
        BarRow(
            sentence(name),
            amount,
            f"{money(amount, book.currency)}, {_share(amount, total)}: {why}",
        )
        for name, amount, why in parts
        if abs(amount) >= 0.005
    ]
    words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
    html = paragraph(f"The bill: {bill_words(book.season, book.report)}.")
    html += paragraph(
        f"The plan was judged by {money(total, book.currency)} a winter in all. Only the bill is "
        f"paid at a counter. The other {money(costs.worry, book.currency)} are what this site's "
        "weights make of risk and work, so that they can be weighed against heat."
    )
    if bars:
        title = "What the plan costs in a winter, part by part"
        html += figure(
            lambda width, size: draw_bars(bars, title, f"{words}.", width, f"costs-{size}")
        )
    table = costs_table(book.season, book.plan, book.report)
    return Part("costs", "What it costs", html + folded("Costs in figures", html_table(table)))


def _share(amount: float, total: float) -> str:
    return percent(amount / total) if amount > 0 and total > 0 else "nothing"
