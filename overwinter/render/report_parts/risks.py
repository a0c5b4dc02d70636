"""What a winter may do to each tree: value times chance, and what is behind the worst."""

from overwinter.audit.report import TreeRisk
from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import Part, figure, folded, html_table, paragraph
from overwinter.render.stage_words import stage_number
from overwinter.render.tables import risks_table, worst_stage
from overwinter.render.words import chance, count, money, place_name

SHOWN = 20


def risks_part(book: WinterBook) -> Part:
    """Bars for the dearest, a table for all."""
    title = "Risk, tree by tree"
    dearest = sorted(book.report.risks.values(), key=lambda one: (-one.loss, one.tree_id))
    if not dearest:
        return Part("risks", title, paragraph("No tree is placed."))
    shown = [risk for risk in dearest if risk.loss >= 0.005][:SHOWN]
    html = paragraph(
        f"Expected loss: {money(book.report.expected_loss, book.currency)} in a mean winter, over "
        f"{count(len(dearest), 'tree')}. A bar is a tree's value times the chance that a winter "
        "takes it. The chances are best estimates from published killing temperatures, not "
        "measured losses."
    )
    if shown:
        bars = [_bar(book, risk) for risk in shown]
        words = "; ".join(f"{bar.name}: {bar.words}" for bar in bars)
        name = f"The {count(len(bars), 'tree')} with the largest expected loss"
        html += figure(
            lambda width, size: draw_bars(bars, name, f"{words}.", width, f"risks-{size}")
        )
    table = risks_table(book.season, book.plan, book.report)
    return Part("risks", title, html + folded("Every tree's risk", html_table(table)))


def _bar(book: WinterBook, risk: TreeRisk) -> BarRow:
    words = f"{money(risk.loss, book.currency)} at {chance(risk.chance)}"
    if risk.worst is not None:
        words += f": mostly {risk.worst.value}"
    at = worst_stage(risk.by_stage)
    place_id = None if at is None else book.plan.stays[risk.tree_id][at]
    if at is not None and place_id is not None:
        stage = stage_number(book.plan.stages[at])
        words += f", {place_name(book.season, place_id)}, stage {stage}"
    return BarRow(book.season.tree_by_id[risk.tree_id].name, risk.loss, words)
