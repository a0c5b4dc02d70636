"""The limits that decide in a plan, in words."""

from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from overwinter.audit.deciding import DecidingLimit, Known
from overwinter.model.season import Season
from overwinter.render.words import count

LIMIT_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "root_kill_c": "the cold that its old roots stand",
        "root_kill_young_c": "the cold that its young roots stand",
        "top_kill_c": "the cold that its top stands",
        "new_leaf_kill_c": "the cold that its new leaves stand",
        "chill_injury_k_h": "the chilling above freezing that it stands",
        "rest_ceiling_c": "the warmth in which it still rests",
        "chill_need": "the chilling that it needs",
        "light_floor_mol_m2_d": "the light that it needs",
        "drying": "how fast it dries",
        "rodent_appeal": "how much mice like it",
    }
)


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
    return f"most worth finding out: {kind_words(season, best)}, {LIMIT_WORDS[best.name]}"
