"""The top of the page: what was planned, for whom, how it came out, how far it is proven."""

from collections.abc import Sequence

from overwinter.model.fingerprint import plan_fingerprint
from overwinter.render.alike import tree_names
from overwinter.render.report_book import WinterBook
from overwinter.render.report_html import tied
from overwinter.render.templates import element, text
from overwinter.render.terminal import at_risk, bill_words
from overwinter.render.words import count, long_date, money, proven, sentence

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
        ("Trees", f"{_placed(book)} {_risky(book)}"),
        ("Bill", f"{sentence(bill_words(book.season, book.report))}."),
        ("Carrying", _carrying(book)),
        ("How good it is", _proof(book)),
        ("Audit", _audit(book)),
        ("Winters", _winters(book)),
    ]


def _placed(book: WinterBook) -> str:
    placed, total = len(book.plan.stays), len(book.season.trees)
    if not book.plan.left_out:
        return f"All {count(total, 'tree')} have a place all winter."
    names = [book.season.tree_by_id[left.tree_id].name for left in book.plan.left_out]
    who = tree_names(names) if len(names) <= NAMED else "they are listed first below"
    return (
        f"{placed} of {count(total, 'tree')} have a place; {count(len(names), 'has', 'have')} "
        f"none: {who}."
    )


def _risky(book: WinterBook) -> str:
    risky = len(at_risk(book.report))
    loss = money(book.report.expected_loss, book.currency)
    lost = "is lost" if risky == 1 else "are lost"
    many = f"{risky} {lost} in one winter of a hundred or more; " if risky else ""
    return sentence(f"{many}expected loss {loss} a winter.")


def _carrying(book: WinterBook) -> str:
    carries = book.plan.carries
    if not carries:
        return "Nothing is carried."
    stages = len({carry.stage for carry in carries})
    mean = len(carries) / max(len(book.plan.stays), 1)
    return f"{len(carries)} carries at {count(stages, 'sign')}, {mean:.1f} a tree."


def _proof(book: WinterBook) -> str:
    words = proven(book.plan.proof, book.currency)
    return f"{sentence(words)}, over the winters of the sample. Weather itself is not proven."


def _audit(book: WinterBook) -> str:
    report = book.report
    if report.passed:
        rules = f"all {len(report.rules_checked)} rules hold"
        return f"Passed: {rules}, recomputed day by day through every winter."
    return f"REFUSED: {count(len(report.findings), 'finding')}. Do not use this plan."


def _winters(book: WinterBook) -> str:
    winters = book.season.winters
    coldest = book.display.temperature(float(winters.air_c.min()))
    return (
        f"{winters.origin.rstrip('.')}. Coldest hour of {count(winters.count, 'winter')}: "
        f"{coldest}."
    )
