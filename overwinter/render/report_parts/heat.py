"""Heat by shelter and month, in kWh and money."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import (
    NARROW_PX,
    Part,
    half_figure,
    heading,
    html_table,
    paragraph,
    side_by_side,
)
from overwinter.render.tables import Column, Table
from overwinter.render.words import MONTHS, money
from overwinter.units import HOURS_PER_DAY


@dataclass(frozen=True, slots=True)
class MonthHeat:
    """What one shelter's heaters deliver and cost in one calendar month."""

    shelter_id: str
    month: date
    """Its first day."""
    delivered_kwh: float
    purchased_kwh: float
    money: float

    @property
    def name(self) -> str:
        """``Jan 2027``."""
        return f"{MONTHS[self.month.month - 1]} {self.month.year}"


def heat_by_month(book: WinterBook) -> tuple[MonthHeat, ...]:
    """Every shelter with heaters in every month of the plan, from the hours."""
    ledger = book.ledger
    first = book.season.site.starts + timedelta(days=ledger.first_day)
    months = [(first + timedelta(days=day)).replace(day=1) for day in range(book.days)]
    month_of_hour = np.repeat(np.array([m.toordinal() for m in months]), HOURS_PER_DAY)
    hours = ledger.first_day * HOURS_PER_DAY + np.arange(month_of_hour.size)
    found = []
    for shelter in book.season.shelters:
        if not shelter.heaters:
            continue
        series = ledger.conditions.shelters[shelter.id]
        columns = ledger.setting_index[shelter.id][ledger.spell_of_hour]

        for month in dict.fromkeys(months):
            of_month = month_of_hour == month.toordinal()
            found.append(
                MonthHeat(
                    shelter.id,
                    month,
                    float(series.heat_w[columns, hours][of_month].sum()) / 1000.0,
                    float(series.purchased_kwh[columns, hours][of_month].sum()),
                    float(series.money[columns, hours][of_month].sum()),
                )
            )
    return tuple(found)


def heat_part(book: WinterBook) -> Part:
    """Bars and one table."""
    rows = heat_by_month(book)
    heated = [s for s in book.season.shelters if _sum(rows, s.id) > 0]
    unused = [s.name for s in book.season.shelters if s.heaters and s not in heated]
    if not heated:
        html = paragraph("Nothing is heated: every heater stays off all winter.")
        return Part("heat", "Heat, by shelter and month", html)
    bought = sum(row.purchased_kwh for row in rows)
    spent = money(sum(row.money for row in rows), book.currency)
    html = paragraph(
        f"{bought:.0f} kWh bought for {spent} in the weather used. Bars show energy bought; each "
        "winter will differ."
    )
    html += '<p><a href="#cautions">Read the cautions before anything is heated.</a></p>'
    if unused:
        html += paragraph(f"Heaters that stay off all winter: {', '.join(unused)}.")
    html += side_by_side([_bars(book, rows, s.id, n) for n, s in enumerate(heated)])
    html += html_table(heat_table(book, rows))
    return Part("heat", "Heat, by shelter and month", html)


def _sum(rows: Sequence[MonthHeat], shelter_id: str) -> float:
    return sum(row.purchased_kwh for row in rows if row.shelter_id == shelter_id)


def _bars(book: WinterBook, rows: Sequence[MonthHeat], shelter_id: str, number: int) -> str:
    shelter = book.season.shelter_by_id[shelter_id]
    mine = [row for row in rows if row.shelter_id == shelter_id]
    most = max(row.purchased_kwh for row in rows)
    bars = [
        BarRow(
            row.name,
            row.purchased_kwh,
            f"{row.purchased_kwh:.0f} kWh, {money(row.money, book.currency)}"
            if row.purchased_kwh > 0
            else "none",
        )
        for row in mine
    ]
    title = f"{shelter.name}: energy bought by month"
    words = "; ".join(f"{bar.name} {bar.words}" for bar in bars)
    svg = draw_bars(bars, title, f"{words}.", NARROW_PX, f"heat-{number}", full=most)
    return half_figure(heading(3, shelter.name) + svg)


def heat_table(book: WinterBook, rows: Sequence[MonthHeat]) -> Table:
    """Months in which a shelter is heated, its total, and the total of all."""
    lines: list[tuple[str | float, ...]] = []
    for shelter in book.season.shelters:
        mine = [r for r in rows if r.shelter_id == shelter.id and r.purchased_kwh > 0]
        lines += [
            (f"{shelter.name}, {r.name}", r.delivered_kwh, r.purchased_kwh, r.money) for r in mine
        ]
        if len(mine) > 1:
            lines.append((f"{shelter.name}, all months", *_totals(mine)))
    lines.append(("All shelters, all months", *_totals(rows)))
    columns = (
        Column("shelter and month"),
        Column("delivered", "kWh", 1),
        Column("bought", "kWh", 1),
        Column("cost", book.currency, 2),
    )
    return Table("heat-by-month", "Heat by shelter and month", columns, tuple(lines))


def _totals(rows: Sequence[MonthHeat]) -> tuple[float, float, float]:
    return (
        sum(row.delivered_kwh for row in rows),
        sum(row.purchased_kwh for row in rows),
        sum(row.money for row in rows),
    )
