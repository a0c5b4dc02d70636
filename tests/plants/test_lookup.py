"""From what growers write to rows of the table, on the safe side."""

import pytest

from overwinter.plants.lookup import Match, NoMatch, plain, resolve, split_cultivar, tenderest


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("acer-palmatum", "acer-palmatum"),
        ("ACER PALMATUM", "acer-palmatum"),
        ("  Acer   palmatum ", "acer-palmatum"),
        ("Japanese maple", "acer-palmatum"),
        ("japanese-maple", "acer-palmatum"),
        ("Ficus retusa", "ficus-microcarpa"),
        ("Carmona", "ehretia-microphylla"),
        ("Taxus x media", "taxus-media"),
        ("Taxus × media", "taxus-media"),
        ("Taxus media", "taxus-media"),
        ("Siebold’s beech", "fagus-crenata"),
        ("Sieboldʼs beech".replace("ʼ", "'"), "fagus-crenata"),
        ("shimpaku", "juniperus-chinensis"),
        ("hardy conifer", "hardy-conifer"),
    ],
)
def test_names_are_found_in_any_guise(table, written, key):
    """Case, hyphens, apostrophes and the sign of a hybrid do not matter."""
    found = resolve(written, table)
    assert isinstance(found, Match)
    assert found.species.key == key
    assert (found.why is not None) == found.species.is_group


@pytest.mark.parametrize(
    ("written", "name", "cultivar"),
    [
        ("Acer palmatum 'Deshojo'", "Acer palmatum", "Deshojo"),
        ('Acer palmatum "Deshojo"', "Acer palmatum", "Deshojo"),
        ("Acer palmatum ‘Seiryu’", "Acer palmatum", "Seiryu"),
        ("Acer palmatum „Seiryu“", "Acer palmatum", "Seiryu"),
        ("'Kotohime' maple", "maple", "Kotohime"),
        ("Siebold's beech", "Siebold's beech", None),
    ],
)
def test_a_cultivar_in_quotes_is_kept_apart(written, name, cultivar):
    """Straight and curly quotes; an apostrophe is none."""
    assert split_cultivar(written) == (name, cultivar)


def test_a_cultivar_is_kept_as_said(table):
    """The row is the species', the cultivar stays for the lists."""
    found = resolve("Pinus thunbergii 'Kotobuki'", table)
    assert isinstance(found, Match)
    assert (found.species.key, found.cultivar, found.why) == ("pinus-thunbergii", "Kotobuki", None)


@pytest.mark.parametrize("written", ["Acer palmatum var. dissectum", "acer palmatum deshojo"])
def test_varieties_are_taken_as_their_species_and_it_is_said(table, written):
    """Below the species the table knows nothing; the grower is told."""
    found = resolve(written, table)
    assert isinstance(found, Match)
    assert found.species.key == "acer-palmatum"
    assert "Acer palmatum" in found.why


@pytest.mark.parametrize(
    ("written", "genus"), [("Acer griseum", "Acer"), ("maple", "Acer"), ("juniper", "Juniperus")]
)
def test_an_unknown_kind_of_a_known_genus_gets_its_tenderest(table, written, genus):
    """On the safe side: no row of the genus dies sooner than the one that stands in."""
    found = resolve(written, table)
    assert isinstance(found, Match)
    assert found.why is not None
    kin = [s for s in table.values() if s.latin.startswith(genus + " ")]
    if not found.species.is_group:
        assert found.species in kin
    assert all(found.species.limits.root_kill_c >= s.limits.root_kill_c for s in kin)


@pytest.mark.parametrize("written", ["Ficus sycomorus", "Quercus palustris", "Rhododendron luteum"])
def test_a_genus_with_tender_and_hardy_kinds_is_not_guessed(table, written):
    """A fig may be tropical or rest in the cold: the wrong one of the two kills it."""
    found = resolve(written, table)
    assert isinstance(found, NoMatch)
    assert len(found.groups) > 1
    assert "tender and hardy" in found.reason
    assert written.split()[0] in found.reason
    assert found.close == (), "no slip of the pen, so nothing to suggest"


def test_the_word_fig_is_not_guessed_either(table):
    """Common figs and tropical figs answer to it."""
    found = resolve("fig", table)
    assert isinstance(found, NoMatch)
    assert "Ficus carica" in found.reason
    assert "Ficus benjamina" in found.reason
    assert {"tender-deciduous", "tropical-foliage"} <= set(found.groups)


def test_a_hint_decides_within_the_genus(table):
    """Pin oak, said to be a hardy deciduous tree: the tenderest oak of that group."""
    found = resolve("Quercus palustris", table, "hardy-deciduous")
    assert isinstance(found, Match)
    oaks = [s for s in table.values() if s.group == "hardy-deciduous" and s.latin[:8] == "Quercus "]
    assert found.species == tenderest(oaks)
    assert "hardy-deciduous" in found.why


def test_a_hint_stands_in_for_an_unknown_genus(table):
    """The group row, and it is said that it does."""
    found = resolve("Nothofagus dombeyi", table, "Mediterranean")
    assert isinstance(found, Match)
    assert found.species.key == "mediterranean-evergreen"
    assert "Nothofagus dombeyi" in found.why


def test_a_known_name_does_not_heed_the_hint(table):
    """The table knows better than a group."""
    found = resolve("olive", table, "hardy-conifer")
    assert isinstance(found, Match)
    assert (found.species.key, found.why) == ("olea-europaea", None)


def test_an_unknown_name_without_a_hint_is_refused_with_suggestions(table):
    """No safe limit can be assumed; a near spelling is suggested, never taken."""
    found = resolve("Acre palmatum", table)
    assert isinstance(found, NoMatch)
    assert "Acer palmatum" in found.close
    assert set(found.groups) == {s.key for s in table.values() if s.is_group}
    nothing = resolve("quxyzzy", table)
    assert isinstance(nothing, NoMatch)
    assert nothing.close == ()


def test_a_wrong_hint_is_told(table):
    """An unknown tree with a group that does not exist: it is the group that is wrong."""
    found = resolve("Nothofagus dombeyi", table, "beechy")
    assert isinstance(found, NoMatch)
    assert "beechy" in found.reason
    assert found.bad_group
    assert found.close == ()


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Acer buergerianium", "Acer buergerianum"),
        ("Malus domestika", "Malus domestica"),
        ("Pinus muga", "Pinus mugo"),
        ("Acer palmatun 'Deshojo'", "Acer palmatum"),
        ("acer palmatun deshojo", "Acer palmatum"),
        ("Ficus carico", "Ficus carica"),
    ],
)
def test_a_near_spelling_of_a_known_species_is_asked_about(table, written, meant):
    """Taken for an unknown kind of its genus it would get another species' limits in silence."""
    found = resolve(written, table)
    assert isinstance(found, NoMatch)
    assert found.close[0] == meant
    assert found.may_be_another
    # A group says that it is no slip: there really is another kind of that name.
    said = resolve(written, table, "hardy-deciduous")
    assert isinstance(said, Match)
    assert said.why is not None


@pytest.mark.parametrize(
    "written", ["Acer griseum", "Acer tataricum", "Quercus palustris", "Pinus peuce", "Acer sp."]
)
def test_another_species_of_a_genus_is_no_slip(table, written):
    """Names of real kinds that the table does not have are not taken for misspelt ones."""
    found = resolve(written, table)
    assert isinstance(found, Match) or not found.may_be_another


@pytest.mark.parametrize("written", ["", "   ", "'Deshojo'", "×"])
def test_nothing_written_is_nothing_found(table, written):
    """No crash and no guess on an empty cell."""
    assert isinstance(resolve(written, table), NoMatch)


def test_every_name_of_the_table_finds_its_own_row(table):
    """No two rows share a name, so that no name is taken for another's."""
    for species in table.values():
        for written in (species.key, species.latin, species.common, *species.synonyms):
            if written:
                found = resolve(written, table)
                assert isinstance(found, Match)
                assert found.species.key == species.key, written


def test_plain_drops_botanical_marks():
    """Marks that growers put or leave out."""
    assert plain("Acer palmatum var. dissectum f. atropurpureum") == (
        "acer palmatum dissectum atropurpureum"
    )
    assert plain("Crème-brûlée × 'x'") == "creme brulee"
