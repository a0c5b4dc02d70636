"""The top of the page: what was planned, for whom, how it came out, how far it is proven."""

from collections import Counter
from collections.abc import Sequence

from overwinter.model.fingerprint import plan_fingerprint
from overwinter.render.alike import tree_names
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import tied
from overwinter.render.templates import element, text
from overwinter.render.words import (
    away_words,
    count,
    long_date,
    money,
    proven,
    sentence,
    short_date,
)

NAMED = 6
"""Up to so many trees without a place are named at the top."""


def head_html(book: WinterBook, notices: Sequence[str]) -> str:
    """Title, warnings, and the six facts that matter first."""
    site = book.season.site
    invented = (
        '<p class="badge">INVENTED: no such grower, collection or site exists.</p>'
        if site.invented
        else ""
    )
    warned = "".join(element("p", tied(notice), "notice") for notice in notices)
    facts = "".join(
        f"<div><dt>{text(name)}</dt><dd>{tied(said)}</dd></div>" for name, said in _facts(book)
    )
    dates = f"{long_date(site.starts)} to {long_date(site.ends)}"
    return (
        f"<header><h1>Winter plan: {text(site.name)}</h1>"
        f'<p class="dates">{text(dates)}. Plan {text(plan_fingerprint(book.plan))}.</p>'
        f'{invented}{warned}<dl class="facts">{facts}</dl></header>'
    )


def _facts(book: WinterBook) -> list[tuple[str, str]]:
    return [
        ("Trees", _trees(book)),
        ("Heat", _heat(book)),
        ("Carrying", _carrying(book)),
        ("How good it is", _proof(book)),
        ("Audit", _audit(book)),
        ("Weather used", _weather(book)),
    ]


def _trees(book: WinterBook) -> str:
    away = book.report.away
    home = f" {away_words(book.season, away)}." if away else ""
    return _placed(book) + home


def _placed(book: WinterBook) -> str:
    placed, total = len(book.plan.stays), len(book.season.trees)
    if not book.plan.left_out:
        return f"All {count(total, 'tree')} have a safe place all winter."
    names = [book.season.tree_by_id[left.tree_id].name for left in book.plan.left_out]
    who = tree_names(names) if len(names) <= NAMED else "they are listed first below"
    return (
        f"{placed} of {count(total, 'tree')} have a safe place; "
        f"{count(len(names), 'has', 'have')} none: {who}."
    )


def _heat(book: WinterBook) -> str:
    bought = sum(use.purchased_kwh for use in book.report.heat)
    if bought <= 0:
        return "No heater is needed."
    spent = sum(use.money for use in book.report.heat)
    return f"{bought:.0f} kWh bought, {money(spent, book.currency)}."


def _carrying(book: WinterBook) -> str:
    per_day = Counter(carry.day for carry in book.plan.carries)
    if not per_day:
        return "Nothing is carried."
    days = ", ".join(f"{short_date(day)} ({number})" for day, number in sorted(per_day.items()))
    return f"{count(len(per_day), 'day')} with {sum(per_day.values())} carries: {days}."


def _proof(book: WinterBook) -> str:
    words = proven(book.plan.proof, book.currency)
    return (
        f"{sentence(words)}, counting heat, crowding, mice, work and risk as this "
        "site weighs them. Nothing is proven about the weather."
    )


def _audit(book: WinterBook) -> str:
    report = book.report
    if report.passed:
        return f"Passed: all {len(report.rules_checked)} rules hold, recomputed hour by hour."
    return f"REFUSED: {count(len(report.findings), 'finding')}. Do not use this plan."


def _weather(book: WinterBook) -> str:
    coldest = book.display.temperature(float(book.season.weather.air_c.min()))
    return f"{book.season.weather.origin.rstrip('.')}. Coldest hour {coldest}."
