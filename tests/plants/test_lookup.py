"""From what growers write to rows of the table: nothing resolved wrongly, doubt asked about."""

from pathlib import Path

import pytest

from overwinter.files.findings import Findings
from overwinter.files.species_table import read_species, shipped_names, shipped_species
from overwinter.plants.lookup import Match, Means, NameBook, NoMatch, plain, resolve, split_cultivar

WRITTEN = Path(__file__).with_name("written_names.txt")


@pytest.fixture(scope="module")
def book() -> NameBook:
    return read_species(Path("none"), Findings()).names


def written_names() -> list[tuple[str, str]]:
    """(name, key or "?") of the list, which says where it comes from."""
    pairs = []
    for line in WRITTEN.read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            key, _, names = line.partition(": ")
            pairs += [(name, key) for name in names.split("; ")]
    return pairs


def test_no_name_is_resolved_wrongly(book: NameBook) -> None:
    pairs = written_names()
    assert len(pairs) >= 400
    for name, key in pairs:
        found = resolve(name, book)
        got = found.species.key if isinstance(found, Match) else "?"
        assert got == key, name


@pytest.mark.parametrize(
    ("written", "kinds"),
    [
        ("lime", {"Citrus × aurantiifolia", "Tilia cordata"}),
        ("rain tree", {"Albizia saman", "Koelreuteria elegans"}),
        ("red cedar", {"Juniperus virginiana", "Thuja plicata", "Cryptomeria japonica"}),
        ("white pine", {"Pinus flexilis", "Pinus parviflora", "Pinus strobus"}),
        ("black pine", {"Pinus nigra", "Pinus thunbergii"}),
    ],
)
def test_a_name_of_several_kinds_says_which(book: NameBook, written: str, kinds: set[str]) -> None:
    # Common practice: these words are used for each of the kinds.
    found = resolve(written, book)
    assert isinstance(found, NoMatch)
    assert found.means_several
    assert set(found.close) == kinds
    assert all(latin in found.reason for latin in kinds)


def test_a_group_decides_between_several_kinds(book: NameBook) -> None:
    found = resolve("lime", book, "hardy-deciduous")
    assert isinstance(found, Match)
    assert found.species.key == "tilia-cordata"
    assert found.why is not None


def test_a_row_for_a_genus_is_its_tenderest(book: NameBook) -> None:
    # Nothing hardier stands in: of every genus with one row, no known kind dies sooner.
    for name, keys in book.genera.items():
        if len(keys) != 1 or name in book.kinds:
            continue
        one = book.table[keys[0]]
        genus = one.latin.split(" ")[0]
        if plain(genus) != name:
            continue
        for other in book.table.values():
            if other.latin.split(" ")[0] == genus:
                assert other.limits.root_kill_c <= one.limits.root_kill_c, (name, other.key)
                assert other.limits.root_kill_young_c <= one.limits.root_kill_young_c
                assert other.limits.top_kill_c <= one.limits.top_kill_c, (name, other.key)
                assert other.limits.leaf == one.limits.leaf, (name, other.key)


def test_an_unknown_species_of_a_genus_is_said(book: NameBook) -> None:
    found = resolve("Larix sibirica", book)
    assert isinstance(found, Match)
    assert found.why is not None
    assert "Larix kaempferi" in found.why


def test_a_genus_whose_kinds_differ_asks_for_the_likeliest_groups(book: NameBook) -> None:
    found = resolve("Quercus garryana", book)
    assert isinstance(found, NoMatch)
    assert found.groups == ("hardy-deciduous", "mediterranean-evergreen")


@pytest.mark.parametrize(
    ("written", "groups"),
    [
        ("Metrosideros excelsa", ("mediterranean-evergreen", "subtropical-citrus")),
        ("walnut", ("hardy-deciduous", "tender-deciduous")),
        ("conifer", ("hardy-conifer", "tender-conifer")),
    ],
)
def test_a_genus_without_a_kind_asks_for_the_two_likeliest_groups(
    book: NameBook, written: str, groups: tuple[str, str]
) -> None:
    # "Conifer" alone may be a podocarpus: the hardy group must not stand in unasked.
    found = resolve(written, book)
    assert isinstance(found, NoMatch)
    assert found.groups == groups


def test_the_one_kind_known_of_a_genus_stands_for_no_other(book: NameBook) -> None:
    # No row was made for these genera: the group is asked for, the known kind is named.
    for written, latin, group in (
        ("Platanus occidentalis", "Platanus × hispanica", "hardy-deciduous"),
        ("Podocarpus", "Podocarpus macrophyllus", "tender-conifer"),
    ):
        found = resolve(written, book)
        assert isinstance(found, NoMatch)
        assert found.groups == (group,)
        assert latin in found.reason


def test_what_is_beside_a_name_that_is_enough_changes_nothing(book: NameBook) -> None:
    # A number of trees, the group as well.
    for written, group in (("Feldahorn 3", None), ("Feldahorn", "hardy-deciduous")):
        found = resolve(written, book, group)
        assert isinstance(found, Match)
        assert (found.species.key, found.why) == ("acer-campestre", None)


def test_a_hybrid_of_two_kinds_is_neither(book: NameBook) -> None:
    assert isinstance(resolve("Quercus robur x ilex", book), NoMatch)
    named = resolve("Forsythia x intermedia Lynwood", book)
    assert isinstance(named, Match)
    assert named.species.key == "forsythia-x-intermedia"


def test_a_genus_by_its_letter_is_asked_about(book: NameBook) -> None:
    # Letters say too little to decide: Acer or Pieris (once Andromeda) japonica.
    for written, latin in (("A. palmatum", "Acer palmatum"), ("A. japonica", "Acer japonicum")):
        found = resolve(written, book)
        assert isinstance(found, NoMatch)
        assert latin in found.close


def test_a_group_stands_for_an_unknown_name_and_it_is_said(book: NameBook) -> None:
    found = resolve("Metrosideros excelsa", book, "mediterranean evergreen")
    assert isinstance(found, Match)
    assert found.species.key == "mediterranean-evergreen"
    assert found.why is not None
    wrong = resolve("Metrosideros excelsa", book, "no such group")
    assert isinstance(wrong, NoMatch)
    assert wrong.bad_group
    known = resolve("Acer palmatum", book, "no such group")
    assert isinstance(known, Match)  # a name that is known does not need the group


@pytest.mark.parametrize(
    ("written", "near"),
    [
        ("Oela europaea", "Olea europaea"),
        ("Pinus thunbergi", "Pinus thunbergii"),
        ("Cottoneaster", "cotoneaster"),
        ("Cotonaster 'Nana'", "cotoneaster"),
        ("Boxwod", "boxwood"),
        ("Walnutt", "walnut"),
    ],
)
def test_a_slip_is_asked_about(book: NameBook, written: str, near: str) -> None:
    found = resolve(written, book)
    assert isinstance(found, NoMatch)
    assert near in found.close
    assert found.may_be_another


@pytest.mark.parametrize(
    ("written", "close"),
    [
        ("tsubaki azalea", ()),
        ("Berberis thunbergi", ("Berberis thunbergii",)),
        ("Nothofagus pumilio", ()),
    ],
)
def test_no_suggestion_of_another_genus(
    book: NameBook, written: str, close: tuple[str, ...]
) -> None:
    # A suggestion that only shares its second word would do harm.
    found = resolve(written, book)
    assert isinstance(found, NoMatch)
    assert found.close == close


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("Pinus thunbergii 'Kotobuki'", "pinus-thunbergii"),
        ("'Itoigawa'", "juniperus-chinensis"),
        ("Juniperus 'Blue Star'", "juniperus-squamata"),
        ("Acer palmatum 'Katsura'", "acer-palmatum"),
        ("Acer palmatum „Seiryu“", "acer-palmatum"),
    ],
)
def test_cultivars_decide(book: NameBook, written: str, key: str) -> None:
    found = resolve(written, book)
    assert isinstance(found, Match)
    assert (found.species.key, found.why) == (key, None)


def test_an_apostrophe_is_no_quote() -> None:
    assert split_cultivar("Siebold's beech") == ("Siebold's beech", None)
    assert plain("Taxus × media") == plain("taxus x media") == "taxus media"


def test_every_name_finds_its_own_kind(book: NameBook) -> None:
    # Each name of the two tables leads to its kind, or asks about it among others.
    for name in shipped_names():
        found = resolve(name.name, book)
        if isinstance(found, NoMatch):
            assert {book.table[name.key].latin, name.key} & {*found.close, *found.groups}, name
        elif name.means is Means.KIND:
            assert found.species.key == name.key, name
    for kind in shipped_species().values():
        found = resolve(kind.latin or kind.key, book)
        assert isinstance(found, Match)
        assert found.species.key == kind.key


def test_a_trees_own_name_in_quotes_hides_no_kind(book: NameBook) -> None:
    """As lists have it: an own name beside the kind, or the kind where its form belongs."""
    for written, key in (
        ("Fächerahorn \"Old friend\" 'Deshojo'", "acer-palmatum"),
        ("Window 'Ficus microcarpa'", "ficus-microcarpa"),
    ):
        found = resolve(written, book)
        assert isinstance(found, Match)
        assert found.species.key == key
    olive = resolve("Gardenia 'Olive'", book)  # a form that sounds like another kind
    assert isinstance(olive, Match)
    assert olive.species.key == "gardenia-jasminoides"
