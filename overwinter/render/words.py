"""Dates, amounts and names as they are shown."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta

from overwinter.audit.report import Away, AwayWhy
from overwinter.model.plan import Proof
from overwinter.model.season import Season, Spell
from overwinter.units import Display

NOTHING_PROVEN = 0.99
"""A gap that rounds up to 100 % or passes it: that no plan costs less than nothing is no proof."""
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def short_date(day: date) -> str:
    """``7 Jan``: the same in every locale."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def long_date(day: date) -> str:
    """``7 Jan 2027``."""
    return f"{short_date(day)} {day.year}"


def spell_dates(spell: Spell) -> str:
    """``7 Jan to 20 Jan``, first and last day."""
    return f"{short_date(spell.start)} to {short_date(spell.end - timedelta(days=1))}"


def money(amount: float, currency: str, digits: int = 2) -> str:
    """An amount with its currency; never a minus zero."""
    return f"{round(amount, digits) + 0.0:.{digits}f} {currency}"


def count(number: int, one: str, many: str | None = None) -> str:
    """``1 tree``, ``2 trees``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def amount_words(amount: float, unit: str, display: Display) -> str:
    """By how much a rule is missed, in the site's units; empty where nothing measures it."""
    shown: Mapping[str, Callable[[float], str]] = {
        "K": display.kelvin,
        "m": display.length,
        "m²": display.area,
        "kg": display.weight,
        "days": lambda days: count(round(days), "day"),
        "": lambda _: "",
    }
    known = shown.get(unit)
    return f"{amount:.2g} {unit}" if known is None else known(amount)


def place_name(season: Season, place_id: str) -> str:
    """``Cellar, north shelf``."""
    place = season.places[place_id]
    shelter = season.shelter_by_id[place.shelter_id]
    return f"{shelter.name}, {place.name}"


def away_words(season: Season, away: Sequence[Away]) -> str:
    """``3 trees are not home on 31 May: 2 not safe outdoors yet, 1 no carry left``."""
    whys = Counter(one.why for one in away)
    one = len(whys) == 1
    parts = ", ".join(
        why.value if one else f"{whys[why]} {why.value}" for why in AwayWhy if whys[why]
    )
    trees = count(len(away), "tree is", "trees are")
    return f"{trees} not home on {short_date(season.site.ends)}: {parts}"


def sentence(text: str) -> str:
    """``text`` with a capital in front."""
    return text[:1].upper() + text[1:]


def clip(text: str, width: int) -> str:
    """``text`` in at most ``width`` characters; what is cut shows as an ellipsis."""
    return text if len(text) <= width else text[: max(width - 1, 0)].rstrip() + "…"


def proven(proof: Proof, currency: str) -> str:
    """How far the plan may be from the best one, never claiming more than the bound shows."""
    if proof.gap is None or proof.bound is None:
        return "no bound is known, so nothing is proven about how good this plan is"
    apart = max(proof.objective - proof.bound, 0.0)
    if apart < 0.005:
        return f"proven best, to within a hundredth of a {currency}"
    if proof.gap > NOTHING_PROVEN:
        bound = money(max(proof.bound, 0.0), currency)
        return f"nothing is proven about how good this plan is: the bound found is only {bound}"
    return (
        f"proven within {percent(max(proof.gap, 0.0))} of the best: "
        f"no plan can be more than {money(apart, currency)} cheaper"
    )


def percent(share: float) -> str:
    """A share in percent, two figures below one percent; rounded up so that it never flatters."""
    if share >= 0.1:
        return f"{_up(share * 100, 0):.0f} %"
    if share >= 0.01:
        return f"{_up(share * 100, 1):.1f} %"
    return f"{_up(share * 100, 2):.2f} %"


def _up(value: float, digits: int) -> float:
    scale: float = 10.0**digits
    nearest = round(value * scale)
    return float(nearest if nearest >= value * scale - 1e-9 else nearest + 1) / scale
