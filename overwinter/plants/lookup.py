"""From what a grower wrote to a row of the species table, on the safe side.

In this order: the very name; the species without its cultivar or variety; a row of the same genus
in the group the grower hinted at; that group; the genus, if its rows agree on leaf and rest and
none is spelled nearly so; a plain word ("maple") that only one genus answers to. A name that fits
none of these is refused with suggestions: never is a limit guessed in silence.
"""

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from overwinter.model.species import Species

_QUOTED = re.compile(r"[\"“„«‹]([^\"”“»›]+)[\"”“»›]|(?<!\w)['‘’‚]([^'’‘]+)['’‘]")
NEAR_EPITHET = 0.75
"""Alike enough to ask (``difflib`` ratio): one wrong letter in four, ours."""
_MARKS = re.compile(r"\b(?:cv|sp|spp|x|var|subsp|ssp|f|forma)\b\.?")


@dataclass(frozen=True, slots=True)
class Match:
    """A row that stands for what was written; ``why`` says what was assumed, None if nothing."""

    species: Species
    cultivar: str | None = None
    why: str | None = None


@dataclass(frozen=True, slots=True)
class NoMatch:
    """Nothing safe to assume: names spelled alike, and groups the grower may choose from."""

    written: str
    close: tuple[str, ...]
    groups: tuple[str, ...]
    reason: str
    """What keeps the name from being resolved, a clause without a full stop."""
    bad_group: bool = False
    """It is the group that is none."""
    may_be_another: bool = False
    """Spelled like a known kind, though it may be another one of the same genus."""


@lru_cache(maxsize=8192)
def plain(name: str) -> str:
    """Lower case, no accents, hyphens, quotes, multiplication signs or botanical marks."""
    text = unicodedata.normalize("NFKD", name.casefold().replace("×", " "))
    text = "".join(c for c in text if not unicodedata.combining(c))
    text = re.sub(r"['’`]", "", text)
    text = _MARKS.sub(" ", re.sub(r"[-_,;/()]", " ", text))
    return " ".join(text.replace(".", " ").split())


def split_cultivar(name: str) -> tuple[str, str | None]:
    """Name without a cultivar in quotes, and the cultivar; ``Acer palmatum 'Deshojo'``."""
    match = _QUOTED.search(name)
    if match is None:
        return name.strip(), None
    cultivar = next(part for part in match.groups() if part is not None)
    rest = " ".join((name[: match.start()] + " " + name[match.end() :]).split())
    return rest, cultivar.strip()


def resolve(
    name: str, table: Mapping[str, Species], group_hint: str | None = None
) -> Match | NoMatch:
    """Find the row that stands for ``name``.

    Parameters
    ----------
    name : key, latin, common name or synonym, in any case, hyphens free, cultivar in quotes.
    table : species by key, groups included.
    group_hint : key, name or synonym of a group, used when the name itself is unknown.

    Returns
    -------
    ``Match``, with ``why`` set whenever something was assumed, or ``NoMatch``.
    """
    bare, cultivar = split_cultivar(name)
    names = _names(table.values())
    hint = None
    if group_hint and group_hint.strip():
        hint = names.get(plain(group_hint))
        if hint is None or not hint.is_group:
            found = names.get(plain(bare))
            if found is None:
                reason = f"'{group_hint.strip()}' is not a group"
                return NoMatch(name.strip(), (), _groups(table), reason, bad_group=True)
            hint = None
    return _resolve(name, bare, cultivar, hint, table, names)


def _resolve(
    name: str,
    bare: str,
    cultivar: str | None,
    hint: Species | None,
    table: Mapping[str, Species],
    names: Mapping[str, Species],
) -> Match | NoMatch:
    wanted = plain(bare)
    found = names.get(wanted)
    if found is not None:
        return Match(found, cultivar, _why_group(found) if found.is_group else None)
    within = _species_within(wanted, names)
    if within is not None:
        return Match(within, cultivar, f"'{bare}' is taken as the species {within.latin}")
    genus = wanted.split(" ")[0]
    kin = [s for s in table.values() if not s.is_group and plain(s.latin).split(" ")[0] == genus]
    if hint is not None:
        return _by_hint(bare, cultivar, hint, kin)
    close = _near_spellings(wanted, kin)
    if close:
        reason = "the name is not in the species table"
        return NoMatch(name.strip(), close, _groups(table), reason, may_be_another=True)
    what = f"the genus {genus.capitalize()}" if kin else f"'{bare}'"
    kin = kin or _of_plain_word(wanted, table)
    if not kin:
        return _no_match(name, bare, table, names, "the name is not in the species table")
    if not _agree(kin):
        latin = ", ".join(s.latin for s in sorted(kin, key=lambda s: s.key))
        groups = tuple(sorted({s.group for s in kin}))
        return NoMatch(name.strip(), (), groups, f"{what} has tender and hardy kinds: {latin}")
    tender = tenderest(kin)
    why = f"'{bare}' is not in the species table; {tender.latin}, the tenderest row of {what}"
    return Match(tender, cultivar, f"{why}, stands for it")


def tenderest(species: Iterable[Species]) -> Species:
    """The one whose roots die first; ties by unhardened roots, air, then key."""

    def rank(one: Species) -> tuple[float, float, float, str]:
        limits = one.limits
        air = limits.air_floor_c if limits.air_floor_c is not None else float("-inf")
        return limits.root_kill_c, limits.root_kill_unhardened_c, air, one.key

    return max(species, key=rank)


def _names(species: Iterable[Species]) -> dict[str, Species]:
    """Every name by its plain form; species win over groups, earlier rows over later ones."""
    names: dict[str, Species] = {}
    ordered = sorted(species, key=lambda s: s.is_group)
    for one in ordered:
        for written in (one.key, one.latin, one.common, *one.synonyms):
            if written.strip():
                names.setdefault(plain(written), one)
    return names


def _species_within(wanted: str, names: Mapping[str, Species]) -> Species | None:
    """The species whose latin name begins what was written: varieties, unquoted cultivars."""
    words = wanted.split(" ")
    for count in range(len(words) - 1, 1, -1):
        start = " ".join(words[:count])
        found = names.get(start)
        if found is not None and not found.is_group and _is_latin(start, found):
            return found
    return None


def _near_spellings(wanted: str, kin: Iterable[Species]) -> tuple[str, ...]:
    """Species of the genus that a second word is nearly spelled like: a slip of the pen, mostly.

    Taken for an unknown kind, it would get the limits of another one.
    """
    epithets: dict[str, str] = {}
    for one in kin:
        for written in (one.latin, *(s for s in one.synonyms if s[:1].isupper())):
            words = plain(written).split(" ")
            if len(words) == 2:  # not a subspecies, whose second word is another kind's name
                epithets.setdefault(words[1], one.latin)
    second = " ".join(wanted.split(" ")[1:2])
    near = difflib.get_close_matches(second, epithets, n=3, cutoff=NEAR_EPITHET)
    return tuple(dict.fromkeys(epithets[epithet] for epithet in near))


def _is_latin(start: str, species: Species) -> bool:
    latin = [species.latin, *(s for s in species.synonyms if s[:1].isupper())]
    return any(plain(written) == start for written in latin)


def _by_hint(bare: str, cultivar: str | None, hint: Species, kin: list[Species]) -> Match:
    inside = [s for s in kin if s.group == hint.key]
    said = f"'{bare}' is not in the species table"
    if inside:
        tender = tenderest(inside)
        why = f"{said}; {tender.latin}, the tenderest row of its genus in '{hint.key}', stands"
        return Match(tender, cultivar, f"{why} for it")
    return Match(hint, cultivar, f"{said}; the group '{hint.key}' stands for it, as you wrote")


def _of_plain_word(wanted: str, table: Mapping[str, Species]) -> list[Species]:
    """Species whose common name ends with the word, if they are all of one genus."""
    kin = [s for s in table.values() if not s.is_group and plain(s.common).split(" ")[-1] == wanted]
    return kin if len({s.latin.split(" ")[0] for s in kin}) == 1 else []


def _agree(kin: list[Species]) -> bool:
    """Whether rows ask for the same kind of winter, so that one may stand for another."""
    return len({(s.limits.leaf, s.limits.rest_ceiling_c is None) for s in kin}) == 1


def _why_group(group: Species) -> str:
    return f"only the group is known; '{group.key}' has the strictest limits of its members"


def _no_match(
    name: str, bare: str, table: Mapping[str, Species], names: Mapping[str, Species], reason: str
) -> NoMatch:
    near = difflib.get_close_matches(plain(bare), list(names), n=8, cutoff=0.7)
    close = dict.fromkeys(names[n].latin or names[n].key for n in near)
    return NoMatch(name.strip(), tuple(close)[:5], _groups(table), reason)


def _groups(table: Mapping[str, Species]) -> tuple[str, ...]:
    return tuple(sorted(s.key for s in table.values() if s.is_group))
