"""Close spellings, for "did you mean"."""

import difflib
from collections.abc import Iterable


def closest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word nearest to ``word`` by spelling, or None when none is near."""
    by_folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold().strip(), by_folded, n=1, cutoff=cutoff)
    return by_folded[near[0]] if near else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A sentence that suggests the nearest known word; empty when none is near."""
    near = closest(word, known)
    return f"Did you mean '{near}'?" if near else ""


def listed(words: Iterable[str], most: int = 12) -> str:
    """``a, b or c``, cut after ``most`` words."""
    names = list(words)
    if len(names) > most:
        return f"{', '.join(names[:most])}, ... ({len(names)} in all)"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} or {names[-1]}"
