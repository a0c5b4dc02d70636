"""Dates, amounts and names as they are shown."""

from collections.abc import Callable, Mapping
from datetime import date

from overwinter.model.plan import Proof
from overwinter.model.season import Season
from overwinter.units import Display

NOTHING_PROVEN = 0.99
"""A gap that rounds up to 100 % or passes it: that no plan costs less than nothing is no proof."""
FULL_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
MONTHS = tuple(month[:3] for month in FULL_MONTHS)


def short_date(day: date) -> str:
    """``7 Jan``: the same in every locale."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def long_date(day: date) -> str:
    """``7 Jan 2027``."""
    return f"{short_date(day)} {day.year}"


def full_date(day: date) -> str:
    """``7 January``."""
    return f"{day.day} {FULL_MONTHS[day.month - 1]}"


def money(amount: float, currency: str, digits: int = 2) -> str:
    """An amount with its currency; never a minus zero."""
    return f"{round(amount, digits) + 0.0:.{digits}f} {currency}"


def count(number: int, one: str, many: str | None = None) -> str:
    """``1 tree``, ``2 trees``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def amount_words(amount: float, unit: str, display: Display) -> str:
    """By how much a rule is missed, in the site's units; empty where nothing measures it."""
    shown: Mapping[str, Callable[[float], str]] = {
        "share": chance,
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
    none_cheaper = "as the program reckons, no plan costs less"
    if apart < 0.005:
        return f"at the bound, to within a hundredth of a {currency}: {none_cheaper}"
    if proof.gap > NOTHING_PROVEN:
        bound = money(max(proof.bound, 0.0), currency)
        return f"nothing is proven about how good this plan is: the bound found is only {bound}"
    return (
        f"within {percent(max(proof.gap, 0.0))} of the bound, as a share of the whole: "
        f"{none_cheaper} than {money(proof.bound, currency)}"
    )


def chance(share: float) -> str:
    """A chance in percent of winters: one figure below 10 %; never "0 %" for what can happen."""
    if 0 < share < 0.001:
        return "< 0.1 %"
    return f"{share * 100:.{0 if share >= 0.1 else 1}f} %"


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


def clock(hours: float) -> str:
    """ "16:52" from hours after midnight."""
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"
