"""The shipped species table: complete, ordered, and honest about where each number comes from."""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path

import pytest
from species_rows import table_rows, table_text

from overwinter.model.species import LeafHabit, Limits, Species, Standing

LIMIT_FIELDS = tuple(field.name for field in fields(Limits))
HEAD = ["key", "latin", "common", "group", "is_group", "synonyms"]
Table = Mapping[str, Species]
DOCS = Path(__file__).parents[2] / "docs"


def kinds(table: Table) -> list[Species]:
    return [one for one in table.values() if not one.is_group]


def cited(text: str) -> set[str]:
    return set(re.findall(r"\[([a-z0-9-]+)\]", text))


def test_every_limit_has_a_column_and_a_source_column() -> None:
    head = table_text("species.csv").splitlines()[0].split(",")
    assert set(head) == {*HEAD, *LIMIT_FIELDS, *(f"{name}_source" for name in LIMIT_FIELDS)}


def test_at_least_220_kinds_each_in_a_group(table: Table) -> None:
    # The number asked for; the kinds named were once refused.
    groups = {one.key for one in table.values() if one.is_group}
    assert len(kinds(table)) >= 220
    assert {one.group for one in kinds(table)} == groups
    assert len(table) == len(table_rows("species.csv")), "no key twice"
    asked = (
        "pinus-ponderosa pinus-nigra pinus-banksiana pinus-resinosa pinus-rigida pinus-aristata"
        " pinus-cembra pseudotsuga-menziesii sequoiadendron-giganteum calocedrus-decurrens"
        " cupressus-macrocarpa thujopsis-dolabrata platycladus-orientalis salix-babylonica"
        " alnus-glutinosa populus-tremuloides berberis-thunbergii lonicera-nitida syringa-vulgaris"
        " pseudocydonia-sinensis parrotia-persica amelanchier-canadensis quercus-macrocarpa"
        " rhododendron-kiusianum enkianthus-perulatus ostrya-virginiana cercidiphyllum-japonicum"
        " corylus-avellana viburnum-opulus forsythia-x-intermedia"
    )
    assert set(asked.split()) <= set(table)


def test_limits_are_in_order(table: Table) -> None:
    # Young roots are 3 to 12 K tenderer (Studer 1978, memory) and gain no hardiness (Mityga &
    # Lanphear 1971, read); tops in growth stand little, new leaves least of all.
    for one in table.values():
        own = one.limits
        assert own.root_kill_c <= own.root_kill_young_c <= own.root_kill_unhardened_c, one.key
        assert own.top_kill_c <= own.top_kill_unhardened_c <= -1.0, one.key
        assert own.top_kill_c <= own.new_leaf_kill_c <= -1.0, one.key
        assert own.top_kill_c <= own.root_kill_c + 1.0, (one.key, "roots are no hardier than tops")
        assert own.chill_need == 0 or own.rest_ceiling_c is not None, one.key
        assert own.harden_below_c > 4.4, (one.key, "the cold stage of FS528 works at 4.4 degC")
        assert (own.drying == 0) == (own.leaf is LeafHabit.DECIDUOUS) or one.is_group, one.key


def test_tropical_trees_do_not_harden_and_have_a_floor(table: Table) -> None:
    # Tropicals do not harden and are chilled below 8 to 12 degC (UF/IFAS MG025, EP429, read);
    # some of the mildest are kept cooler by custom.
    for one in kinds(table):
        own = one.limits
        tropical = one.group.startswith("tropical") or one.group == "subtropical-flowering"
        assert (own.air_floor_c is not None) == tropical, one.key
        if one.group.startswith("tropical"):
            assert own.root_kill_unhardened_c - own.root_kill_c <= 0.5, one.key
            assert own.top_kill_c >= -3.5, one.key


HAVIS_F = {
    "magnolia-stellata": 23,
    "magnolia-soulangeana": 23,
    "cornus-florida": 20,
    "ilex-crenata": 20,
    "cryptomeria-japonica": 16,
    "buxus-sempervirens": 15,
    "cotoneaster-horizontalis": 15,
    "hedera-helix": 15,
    "euonymus-fortunei": 15,
    "viburnum-carlesii": 15,
    "acer-palmatum": 14,
    "rhododendron-obtusum": 10,
    "rhododendron-deciduous-azalea": 10,
    "rhododendron-catawbiense": 0,
    "picea-glauca": -10,
    "picea-omorika": -10,
    "potentilla-fruticosa": -10,
}


def test_roots_are_those_of_havis(table: Table) -> None:
    # Havis 1976 as bulletins repeat it (memory; range and number of taxa by the abstract, read).
    for key, value_f in HAVIS_F.items():
        assert table[key].limits.root_kill_c == pytest.approx((value_f - 32) / 1.8, abs=0.06), key


STUDER_C = {  # young, mature
    "cotoneaster-dammeri": (-7, -14),
    "euonymus-alatus": (-7, -14),
    "koelreuteria-paniculata": (-9, -20),
    "juniperus-conferta": (-11, -23),
    "juniperus-squamata": (-11, -18),
    "stephanandra-incisa": (-8, -18),
    "viburnum-plicatum": (-7, -14),
}


def test_roots_are_near_those_of_studer(table: Table) -> None:
    # Studer and others 1978 (memory, digits low to medium): within 3 K, which the cells admit.
    for key, (young, mature) in STUDER_C.items():
        assert table[key].limits.root_kill_young_c == young, key
        assert abs(table[key].limits.root_kill_c - mature) <= 3.0, key


def test_figures_that_were_read(table: Table) -> None:
    limits = {key: one.limits for key, one in table.items()}
    # common apple rootstocks: roots LT50 -12 to -14 (Moran 2011, abstract)
    assert -14.0 <= limits["malus-domestica"].root_kill_c <= -12.0
    # Camellia japonica, Euonymus japonicus, Ilex opaca, Magnolia grandiflora: -18 to -20 (Sakai)
    for key in ("camellia-japonica", "euonymus-japonicus", "ilex-opaca", "magnolia-grandiflora"):
        assert -20.0 <= limits[key].top_kill_c <= -18.0, key
    # a week at -9 kills all roots of tender green ash, at -15 of all origins (Santamour 1979)
    assert -15.0 < limits["fraxinus-pennsylvanica"].root_kill_c < -9.0
    # half-inch green of apple: 10 % at 23 degF, 90 % at 15 degF
    assert -9.4 < limits["malus-domestica"].new_leaf_kill_c < -5.0
    # leaves of the tenderest of eight olives LT50 -9.5 (Barranco 2005), others lower
    assert -13.0 <= limits["olea-europaea"].top_kill_c <= -9.5
    # chilling: Wilson 2002-2004, Man 2017, Bailey & Harrington 2006
    assert limits["ginkgo-biloba"].chill_need == 800.0
    assert limits["pinus-contorta"].chill_need >= 1100.0
    assert limits["pseudotsuga-menziesii"].chill_need == 1200.0
    assert 300.0 <= limits["picea-glauca"].chill_need <= 500.0


def test_trees_known_to_winter_outdoors_are_hardier_than_half_hardy_ones(table: Table) -> None:
    # Common practice, no source: the order in which growers bring trees in.
    order = ["larix-laricina", "pinus-mugo", "acer-palmatum", "olea-europaea", "citrus-limon"]
    for name in ("root_kill_c", "top_kill_c"):
        values = [getattr(table[key].limits, name) for key in order]
        assert values == sorted(values), name
    assert table["larix-decidua"].limits.root_kill_c <= -18
    assert table["ulmus-parvifolia"].limits.top_kill_c <= -23.5  # 'Athena', Morton (read)


STRICTER_HIGH = (
    "root_kill_c",
    "root_kill_young_c",
    "root_kill_unhardened_c",
    "top_kill_c",
    "top_kill_unhardened_c",
    "new_leaf_kill_c",
    "drying",
    "light_floor_mol_m2_d",
    "rodent_appeal",
)
STRICTER_LOW = ("chill_injury_k_h", "bud_break_k_d", "dark_below_c")


def test_a_group_is_as_strict_as_its_strictest_member(table: Table) -> None:
    for one in kinds(table):
        group, own = table[one.group].limits, one.limits
        for name in STRICTER_HIGH:
            assert getattr(group, name) >= getattr(own, name), (one.key, name)
        for name in STRICTER_LOW:
            assert getattr(group, name) <= getattr(own, name), (one.key, name)
        if own.air_floor_c is not None:
            assert group.air_floor_c is not None
            assert group.air_floor_c >= own.air_floor_c, one.key
        if own.rest_ceiling_c is not None:
            assert group.rest_ceiling_c is not None
            assert group.rest_ceiling_c <= own.rest_ceiling_c, one.key


def test_every_number_has_a_standing_that_can_be_followed(table: Table) -> None:
    listed = {row["key"]: row["standing"] for row in table_rows("sources.csv")}
    for one in table.values():
        for name in LIMIT_FIELDS:
            source = one.sources[name]
            where = (one.key, name)
            assert len(source.text) > 8, where
            assert source.standing is not Standing.GROWER, where
            assert cited(source.text) <= set(listed), where
            if source.standing is Standing.READ:
                assert any(listed[key].startswith("read") for key in cited(source.text)), where
            if source.standing in (Standing.MEMORY, Standing.DERIVED):
                assert cited(source.text) or "relative" in source.text, where
            if source.standing in (Standing.JUDGEMENT, Standing.DERIVED) and not one.is_group:
                assert source.off_by is not None, where
                assert source.off_by > 0, where


def test_the_docs_count_by_standing(table: Table) -> None:
    # docs/species.md says how many of the killing temperatures of roots are what.
    count = Counter(one.sources["root_kill_c"].standing for one in kinds(table))
    text = (DOCS / "species.md").read_text(encoding="utf-8")
    for standing in (Standing.READ, Standing.MEMORY, Standing.DERIVED, Standing.JUDGEMENT):
        assert f"| `{standing}` | {count[standing]} |" in text, standing


def test_sources_list_is_the_one_of_the_docs() -> None:
    lines = (DOCS / "sources.md").read_text(encoding="utf-8").splitlines()
    rows = table_rows("sources.csv")
    assert len({row["key"] for row in rows}) == len(rows)
    for row in rows:
        standing = row["standing"].split(":")[0]
        assert standing in {"read", "memory"}, row["key"]
        assert row["address"] or standing == "memory", row["key"]
        (line,) = [line for line in lines if line.startswith(f"| `{row['key']}` |")]
        assert row["citation"] in line
        assert line.endswith(f"| {row['standing']} |")


def test_the_docs_explain_every_column() -> None:
    text = (DOCS / "files.md").read_text(encoding="utf-8")
    for name in (*HEAD, *LIMIT_FIELDS):
        assert f"`{name}`" in text, name
