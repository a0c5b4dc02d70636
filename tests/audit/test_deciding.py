"""Which limits decide, by hand-made risks on a real starter winter's trees."""

from dataclasses import replace
from pathlib import Path

import pytest

from overwinter.audit.report import KNOWN, AuditReport, Known, TreeRisk, deciding_limits
from overwinter.files.season import read_season
from overwinter.model.plan import Costs
from overwinter.model.season import Season
from overwinter.model.species import Harm, Source, Standing

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"


@pytest.fixture(scope="module")
def season() -> Season:
    """Larch, olive and two elms (invented)."""
    return read_season(TINY)


def report(risks: dict[str, dict[Harm, float]]) -> AuditReport:
    """An audit that found these chances by harm."""
    found = {
        tree_id: TreeRisk(tree_id, sum(by.values()), 0.0, by, (), 0.0, 0.0, None, None)
        for tree_id, by in risks.items()
    }
    return AuditReport((), Costs(), risks=found)


def sourced(season: Season, key: str, name: str, source: Source) -> Season:
    """The season with another source for one number."""
    kind = season.species[key]
    changed = replace(kind, sources={**kind.sources, name: source})
    return replace(season, species={**season.species, key: changed})


def test_the_likeliest_harm_of_each_tree_decides(season: Season) -> None:
    elm = season.tree_by_id["Elm 1/2"]
    season = sourced(
        season, elm.species_key, "root_kill_c", Source(Standing.JUDGEMENT, "so", off_by=2.0)
    )
    found = deciding_limits(
        season,
        report(
            {
                "Elm 1/2": {Harm.OLD_ROOTS: 0.02, Harm.RODENTS: 0.01},
                "Elm 2/2": {Harm.OLD_ROOTS: 0.01},
                "Larch": {Harm.RODENTS: 0.005},
                "Olive": {Harm.TOP: 0.00005},  # hardly any: nothing decides
            }
        ),
    )
    assert [(one.species_key, one.name, one.trees) for one in found] == [
        (elm.species_key, "root_kill_c", 2),
        ("larix-decidua", "rodent_appeal", 1),
    ]
    roots = found[0]
    assert roots.loss == pytest.approx(elm.value * 0.03)
    # a factor e each 3 / ln 99 K (the curve of docs/risk.md), as a straight line
    assert roots.at_stake == pytest.approx(roots.loss * 2.0 / (3.0 / 4.59512), rel=1e-4)
    assert roots.known is Known.GUESSED


def test_what_was_measured_need_not_be_found_out(season: Season) -> None:
    key = season.tree_by_id["Larch"].species_key
    risks = report({"Larch": {Harm.TOP: 0.02}, "Olive": {Harm.TOP: 0.001}})
    read = sourced(season, key, "top_kill_c", Source(Standing.READ, "read", off_by=1.0))
    found = deciding_limits(read, risks)
    assert found[-1].species_key == key
    assert found[-1].at_stake == 0.0
    # the grower's own figure counts as measured, whatever the table's cell says
    larch = season.tree_by_id["Larch"]
    own = replace(larch, limits=replace(larch.limits, top_kill_c=-30.0))
    trees = tuple(own if tree.id == "Larch" else tree for tree in season.trees)
    found = deciding_limits(replace(season, trees=trees), risks)
    assert {one.known for one in found if one.species_key == key} == {Known.MEASURED}


def test_every_harm_and_every_standing_has_its_word(season: Season) -> None:
    assert set(KNOWN) == set(Standing)
    for harm in Harm:
        found = deciding_limits(season, report({"Olive": {harm: 0.02}}))
        assert len(found) <= 1
        if harm is not Harm.CHILLING:
            value = getattr(season.tree_by_id["Olive"].limits, found[0].name) if found else None
            assert value is None or found[0].value == value
