"""From what a grower wrote to a row of the species table; in doubt the grower is asked.

In this order: a name that means several kinds in the trade is asked about; the very name; a
cultivar known by its name alone; a known name with a cultivar or a word like "forest" beside it; a
latin name with a variety or an unquoted cultivar behind it; a group; the group the grower hinted
at; the genus, where one row was made to stand for it (the tenderest member that is grown). For
anything else names spelled alike, or groups, are offered. A hardier kind never stands in unasked.
"""

import difflib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property, lru_cache

from overwinter.model.species import Species
from overwinter.packaged import packaged_toml

_QUOTED = re.compile(r"[\"“„«‹]([^\"”“»›]+)[\"”“»›]|(?<!\w)['‘’‚]([^'’‘]+)['’‘]")
_OF_TWO = re.compile(r"\S+ \S+ [x×] ")  # a hybrid written by its parents: neither stands for it
_MARKS = re.compile(r"\b(?:cv|sp|spp|x|var|subsp|ssp|f|forma)\b\.?")
NEAR_EPITHET, NEAR_NAME = 0.75, 0.84  # near enough to ask about (`difflib`): a slip or two
FILLERS = frozenset(packaged_toml("words.toml")["kinds"]["fillers"].split())
SHORT = packaged_toml("words.toml")["short"]
_IN_BRACKETS = re.compile(r"(.+)\(([^()]+)\)\s*")


class Means(StrEnum):
    """What a name of ``names.csv`` stands for."""

    KIND = "kind"
    CULTIVAR = "cultivar"  # a cultivar known by its name alone
    GENUS = "genus"
    """A genus or a plain word; several rows of one name: the grower is asked. Of a genus without a
    kind in the table the rows are the two likeliest groups."""


@dataclass(frozen=True, slots=True)
class Name:
    """One row of ``names.csv``."""

    name: str
    means: Means
    key: str


@dataclass(frozen=True, slots=True)
class Match:
    """A row that stands for what was written; ``why`` says what was assumed, None if nothing."""

    species: Species
    why: str | None = None


@dataclass(frozen=True, slots=True)
class NoMatch:
    """The grower is asked: latin names or genera it may mean, or groups, likeliest first."""

    written: str
    close: tuple[str, ...]
    groups: tuple[str, ...]
    reason: str  # what keeps the name from being resolved, a clause without a full stop
    bad_group: bool = False  # it is the group that is none
    may_be_another: bool = False  # spelled like a known kind, though it may be another one
    means_several: bool = False  # each of `close` is meant by this name in the trade


@lru_cache(maxsize=16384)
def plain(name: str) -> str:
    """Lower case, no accents, hyphens, quotes, multiplication signs or botanical marks."""
    text = unicodedata.normalize("NFKD", name.casefold().replace("×", " "))
    text = "".join(c for c in text if not unicodedata.combining(c))
    text = re.sub(r"['’`]", "", text)
    text = _MARKS.sub(" ", re.sub(r"[-_,;/()]", " ", text))
    return " ".join(SHORT.get(word, word) for word in text.replace(".", " ").split())


def split_cultivar(name: str) -> tuple[str, str | None]:
    """Name without a cultivar in quotes, and the cultivar; ``Acer palmatum 'Deshojo'``."""
    match = _QUOTED.search(name)
    if match is None:
        return name.strip(), None
    cultivar = next(part for part in match.groups() if part is not None)
    rest = " ".join((name[: match.start()] + " " + name[match.end() :]).split())
    return rest, cultivar.strip()


class NameBook:
    """All names of a species table and of ``names.csv``, plain, and the keys they may mean."""

    def __init__(self, table: Mapping[str, Species], names: Iterable[Name]) -> None:
        self.table = table
        self.kinds: dict[str, set[str]] = defaultdict(set)
        self.cultivars: dict[str, set[str]] = defaultdict(set)
        self.genera: dict[str, list[str]] = defaultdict(list)
        """Of a plain word or genus; the likeliest first."""
        self.groups: dict[str, Species] = {}
        self.joined: dict[str, str] = {}
        """The table's spelling of a name without its spaces: "yama zakura" is "yamazakura"."""
        for one in table.values():
            for written in (one.key, one.latin, one.common, *one.synonyms):
                if written.strip() and one.is_group:
                    self.groups.setdefault(self._noted(written), one)
                elif written.strip():
                    self.kinds[self._noted(written)].add(one.key)
        for name in names:
            wanted = self._noted(name.name)
            if name.means is not Means.GENUS:
                (self.kinds if name.means is Means.KIND else self.cultivars)[wanted].add(name.key)
            elif name.key not in self.genera[wanted]:
                self.genera[wanted].append(name.key)

    def _noted(self, written: str) -> str:
        wanted = plain(written)
        return self.joined.setdefault(wanted.replace(" ", ""), wanted)

    def spelled(self, written: str) -> str:
        """The plain form of a name, in the spelling of the table where only spaces differ."""
        wanted = plain(written)
        return self.joined.get(wanted.replace(" ", ""), wanted)

    def the_one(self, keys: Collection[str]) -> Species | None:
        """The row of a key that stands alone."""
        return self.table[next(iter(keys))] if len(keys) == 1 else None

    @cached_property
    def latin(self) -> Mapping[str, frozenset[str]]:
        """Keys by Latin genus, in its plain form."""
        found: dict[str, frozenset[str]] = defaultdict(frozenset)
        for key, kind in self.table.items():
            if kind.latin:
                found[_genus(kind)] |= {key}
        return found


def resolve(
    name: str, book: NameBook, group_hint: str | None = None, near: bool = True
) -> Match | NoMatch:
    """Find the row that stands for ``name``.

    name : key, latin, common name or synonym, in any case, hyphens free, cultivar in quotes.
    group_hint : key, name or synonym of a group, used when the name alone does not decide.
    near : look for names spelled alike where nothing stands for it.
    """
    bare, cultivar = split_cultivar(name)
    hint = book.groups.get(book.spelled(group_hint)) if group_hint and group_hint.strip() else None
    found = _named(bare, cultivar, book, hint)
    for shorter in () if _OF_TWO.match(bare) else _shorter(bare, book):
        if found is None and (shorter or cultivar):
            bare = shorter
            found = _named(bare, cultivar, book, hint)
    if found is None and cultivar:
        found = _named(bare, None, book, hint) or _latin_kind(cultivar, book)
    if isinstance(found, Match):
        return found
    if group_hint and group_hint.strip() and hint is None:
        reason = f"'{group_hint.strip()}' is not a group"
        return NoMatch(name.strip(), (), _groups(book), reason, bad_group=True)
    if hint is not None:
        why = f"'{name.strip()}' is not in the species table; the group '{hint.key}' stands for it"
        return Match(hint, f"{why}, as you wrote")
    return found or _by_genus(bare, book) or _no_match(name, bare, book, near)


def _latin_kind(quoted: str, book: NameBook) -> Match | None:
    """A kind written where its cultivar belongs, as where the name is the tree's own."""
    one = book.the_one(book.kinds.get(book.spelled(quoted), ()))
    latin = plain(quoted).split(" ")[0] in book.latin and " " in quoted.strip()
    return Match(one) if latin and one is not None else None


def _shorter(bare: str, book: NameBook) -> Iterator[str]:
    """What is in brackets before the name; the name without words that do not change the kind."""
    beside = _IN_BRACKETS.fullmatch(bare)
    if beside:
        yield f"{beside[2]} {beside[1]}"
    words = plain(bare).split(" ")
    if book.spelled(bare) in book.genera:
        return
    while len(words) > 1 and (words[-1] in FILLERS or words[-1].isdigit()):
        words.pop()
        yield " ".join(words)
    yield " ".join(word for word in words if word not in FILLERS)


def _named(
    bare: str, cultivar: str | None, book: NameBook, hint: Species | None
) -> Match | NoMatch | None:
    """What the name says by itself; None where it is in no table."""
    known = book.cultivars.get(book.spelled(cultivar or ""))
    if not bare and known:
        return _of_several(cultivar or "", cultivar, sorted(known), book, hint)
    both = book.spelled(f"{bare} {cultivar}") if cultivar else ""
    whole = book.the_one(book.kinds.get(both, ()))
    if whole is not None:
        return Match(whole)
    bare = bare or cultivar or ""
    wanted = book.spelled(bare)
    meant = book.genera.get(wanted, ())
    if len(meant) > 1:
        return _of_several(bare, cultivar, meant, book, hint)
    for keys in (book.kinds.get(wanted), book.cultivars.get(wanted)):
        if keys:
            by_kind = keys is book.kinds.get(wanted)
            return _of_several(bare, cultivar if by_kind else bare, sorted(keys), book, hint)
    group = book.groups.get(wanted)
    if group is not None:
        why = f"only the group is known; '{group.key}' has the strictest limits of its members"
        return Match(group, why)
    beside = _with_cultivar(plain(f"{bare} {cultivar or ''}"), book) or _latin_within(wanted, book)
    if beside is not None and not _OF_TWO.match(bare):
        return Match(beside)
    return None


def _of_several(
    bare: str, cultivar: str | None, keys: Iterable[str], book: NameBook, hint: Species | None
) -> Match | NoMatch:
    """The one kind meant; of several the one whose cultivar or group was written, else asked."""
    kinds = [book.table[key] for key in keys]
    if all(kind.is_group for kind in kinds):
        return NoMatch(bare, (), tuple(keys), "the name is not in the species table")
    if len(kinds) > 1 and cultivar is not None:
        genera = {_genus(kind) for kind in kinds}
        named = [book.table[key] for key in sorted(book.cultivars.get(book.spelled(cultivar), ()))]
        inside = [kind for kind in named if _genus(kind) in genera]
        kinds = inside if len(inside) == 1 else kinds
    if len(kinds) > 1 and hint is not None:
        inside = [kind for kind in kinds if kind.group == hint.key]
        if len(inside) == 1:
            return Match(inside[0], f"'{bare}' is taken as {inside[0].latin}, by the group")
    return Match(kinds[0]) if len(kinds) == 1 else _ask_which(bare, kinds)


def _ask_which(bare: str, kinds: Sequence[Species]) -> NoMatch:
    """The grower is asked which of several kinds of one name is meant."""
    may = " or ".join(f"{kind.common} ({kind.latin})" for kind in kinds)
    groups = tuple(dict.fromkeys(kind.group for kind in kinds))
    latin_names = tuple(kind.latin for kind in kinds)
    return NoMatch(bare, latin_names, groups, f"it may be {may}", means_several=True)


def _with_cultivar(wanted: str, book: NameBook) -> Species | None:
    """The kind of a name with one of its cultivars, or another of its names, beside it.
    ``Koshobai holly``, ``sugi cedar``: the one is a kind, the other a word for its genus."""
    words = wanted.split(" ")
    for cut in range(1, len(words)):
        ends = book.spelled(" ".join(words[:cut])), book.spelled(" ".join(words[cut:]))
        for name, other in (ends, ends[::-1]):
            words_for = frozenset(book.genera.get(name, ())) or book.latin.get(name, frozenset())
            keys = book.kinds.get(name, frozenset()) | words_for
            named = book.kinds.get(other, frozenset()) | book.cultivars.get(other, frozenset())
            both = keys & named
            genera = {_genus(book.table[key]) for key in words_for}
            if not both and len(genera) == 1:
                both = frozenset(key for key in named if _genus(book.table[key]) in genera)
            if (one := book.the_one(both)) is not None:
                return one
    return None


def _genus(kind: Species) -> str:
    return plain(kind.latin).split(" ")[0]


def _latin_within(wanted: str, book: NameBook) -> Species | None:
    """The kind whose latin name begins what was written: varieties, unquoted cultivars."""
    words = wanted.split(" ")
    for count in range(len(words) - 1, 1, -1):
        one = book.the_one(book.kinds.get(book.spelled(" ".join(words[:count])), ()))
        if one is not None and words[0] in book.latin:
            return one
    return None


def _by_genus(bare: str, book: NameBook) -> Match | NoMatch | None:
    """The row made for a genus; asked where a known kind is spelled nearly so, or none was made."""
    words = plain(bare).split(" ")
    genus = words[0]
    keys = book.genera.get(book.spelled(bare), ())
    by_word = bool(keys)
    of_first = book.genera.get(genus, ())
    if genus in book.latin or all(book.table[key].is_group for key in of_first):
        keys = keys or of_first
    close = () if by_word else _near_epithets(words, book)
    if close:
        reason = "the name is not in the species table"
        return NoMatch(bare, close, _groups(book), reason, may_be_another=True)
    if (one := book.the_one(keys)) is not None:
        why = f"'{bare}' is no one kind of the species table"
        why += f"; {one.latin}, the tenderest known of the genus, stands for it"
        return Match(one, why)
    kinds = [book.table[key] for key in keys or sorted(book.latin.get(genus, ()))]
    if not kinds:
        return None
    reason = "the name is not in the species table"
    if len(kinds) == 1:
        reason += f", which knows no {genus.capitalize()} but {kinds[0].latin}"
    elif not all(kind.is_group for kind in kinds):
        reason += f", and kinds of {genus.capitalize()} differ"
    return NoMatch(bare, (), tuple(dict.fromkeys(kind.group for kind in kinds)), reason)


def _near_epithets(words: list[str], book: NameBook) -> tuple[str, ...]:
    """Kinds of the genus, perhaps written by its first letter, with nearly that second word."""
    of_letter = len(words[0]) == 1
    epithets: dict[str, str] = {}
    for name, keys in book.kinds.items():
        parts = name.split(" ")
        genus = parts[0][:1] if of_letter else parts[0]
        if len(parts) == 2 and genus == words[0]:
            for key in sorted(keys):
                epithets.setdefault(parts[1], book.table[key].latin)
    near = difflib.get_close_matches(" ".join(words[1:2]), epithets, n=3, cutoff=NEAR_EPITHET)
    return tuple(dict.fromkeys(epithets[epithet] for epithet in near))


def _no_match(name: str, bare: str, book: NameBook, near: bool) -> NoMatch:
    """Kinds that end so ("Japanese white pine"), else names spelled alike, and all groups."""
    wanted, names = plain(bare), {**book.genera, **book.cultivars, **book.kinds} if near else {}
    alike = [other for other in names if " " in wanted and other.endswith(f" {wanted}")]
    ending = {key for other in alike for key in book.kinds.get(other, ())}
    if len(ending) > 1:
        return _ask_which(bare, [book.table[key] for key in sorted(ending)])
    if not alike:
        found = difflib.get_close_matches(wanted, names, 8, NEAR_NAME)
        alike = [name for name in found if _words_alike(wanted, name)]
    meant = [
        one
        for n in alike
        for one in (
            [n] if n in book.genera else [book.table[k].latin or k for k in sorted(names[n])]
        )
    ]
    close = tuple(dict.fromkeys(meant))[:3]
    reason = "the name is not in the species table"
    return NoMatch(name.strip(), close, _groups(book), reason, may_be_another=bool(close))


def _words_alike(written: str, name: str) -> bool:
    """No word of the one stands for quite another: "gemeine Buche" is no "gemeine Esche"."""
    pairs = zip(written.split(" "), name.split(" "), strict=False)
    return all(difflib.SequenceMatcher(None, *pair).ratio() >= NEAR_EPITHET for pair in pairs)


def _groups(book: NameBook) -> tuple[str, ...]:
    return tuple(sorted(s.key for s in book.table.values() if s.is_group))
