"""The limits that decide in a plan, in words."""

from collections import Counter
from collections.abc import Sequence

from overwinter.audit.deciding import DecidingLimit, Known
from overwinter.model.season import Season
from overwinter.model.species import LIMITS
from overwinter.render.words import count


def known_words(limits: Sequence[DecidingLimit]) -> str:
    """``23 limits decide: 2 measured, 4 estimated, 17 guessed``."""
    counts = Counter(one.known for one in limits)
    parts = ", ".join(f"{counts[known]} {known}" for known in Known)
    return f"{count(len(limits), 'limit decides', 'limits decide')}: {parts}"


def kind_words(season: Season, limit: DecidingLimit) -> str:
    """The kind that a limit is of."""
    species = season.species.get(limit.species_key)
    return limit.species_key if species is None else species.common or species.latin


def worth_words(season: Season, limits: Sequence[DecidingLimit]) -> str:
    """Which one is most worth finding out; empty where all are known."""
    best = next((one for one in limits if one.at_stake > 0.0), None)
    if best is None:
        return ""
    return f"most worth finding out: {kind_words(season, best)}, {LIMITS[best.name].words}"
