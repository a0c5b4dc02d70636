"""All that is to say of a limit is said where it is declared; each that decides does so."""

import ast
import inspect
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from audit_season import OUTDOORS, STAGE_DAYS, make_conditions, make_plan, make_season, make_tree

from overwinter.audit.audit import audit
from overwinter.model.species import DECIDES, LIMITS, Harm, LeafHabit, Limits

DOCS = Path(__file__).parents[2] / "docs/files.md"
FLOOR_C = 10.0
#: A tree in the garden of the hand-made season, at -12 or 6 degC, that hardly anything hurts ...
UNHURT = {
    **dict.fromkeys(("root_kill_c", "root_kill_young_c", "root_kill_unhardened_c"), -60),
    **dict.fromkeys(("top_kill_c", "top_kill_unhardened_c", "new_leaf_kill_c"), -80),
    **dict.fromkeys(("chill_need", "drying", "light_floor_mol_m2_d", "rodent_appeal"), 0),
    "air_floor_c": FLOOR_C,
    "chill_injury_k_h": 20_000,
    "rest_ceiling_c": 35,
    "bud_break_k_d": 10,
    "dark_below_c": -40,
    "leaf": LeafHabit.EVERGREEN,
}
#: ... and the end of the range of each limit at which it is hurt.
HURTS_AT = {name: LIMITS[name].high for name in DECIDES.values()} | {
    "chill_injury_k_h": LIMITS["chill_injury_k_h"].low,
    "rest_ceiling_c": LIMITS["rest_ceiling_c"].low,
    "bud_break_k_d": 10,  # a degree a day: not before the tree is in the shed
}
ROOFED = {Harm.RESTLESS, Harm.SOFT}
"""Harms of a roof."""


def chance(harm: Harm, **limits: object) -> float:
    """Chance of a harm along a winter outdoors, where mice run, or in the shed."""
    asleep = {"bud_break_k_d": 1000} if harm is Harm.SOFT else {}
    tree = make_tree("ash", **{**UNHURT, **asleep, **limits})
    season = make_season(tree)
    garden, shed = season.shelters
    places = tuple(replace(place, rodent_exposure=1.0) for place in garden.places)
    season = replace(season, shelters=(replace(garden, places=places), shed))
    conditions = make_conditions(season)
    dose = {
        key: {FLOOR_C: np.maximum(FLOOR_C - one.air_mean_c, 0.0) * 24.0}
        for key, one in conditions.places.items()
    }
    places_of = {k: replace(p, cold_dose_k_h=dose[k]) for k, p in conditions.places.items()}
    conditions = replace(conditions, places=places_of)
    stays = ("garden/bench", "shed/bench", "shed/bench") if harm in ROOFED else OUTDOORS
    plan = make_plan(make_season(make_tree("ash")), {"ash": stays})
    return audit(season, conditions, STAGE_DAYS, plan).risks["ash"].by_harm[harm]


@pytest.mark.parametrize("harm", Harm)
def test_a_limit_that_decides_about_a_harm_does(harm: Harm) -> None:
    name = DECIDES[harm]
    assert chance(harm) < 0.03
    assert chance(harm, **{name: HURTS_AT[name]}) > chance(harm) + 0.002


def docs_with_limits() -> tuple[str, str]:
    """docs/files.md as it is, and with the rows of limits as they are declared."""
    rows, name = [], ""
    (limits,) = ast.parse(inspect.getsource(Limits)).body
    assert isinstance(limits, ast.ClassDef)
    for node in limits.body:
        if isinstance(node, ast.AnnAssign):
            name = ast.unparse(node.target)
        elif name and isinstance(node, ast.Expr):
            words = " ".join(str(ast.literal_eval(node.value)).split()).removesuffix(".")
            rows.append(f"| `{name}` | {words[0].lower()}{words[1:]} |\n")
            name = ""
    text = DOCS.read_text(encoding="utf-8")
    begin = text.index("\n", text.index("| `group`, `is_group` |")) + 1
    end = text.index("| `leaf_source`, ")
    return text, text[:begin] + "".join(rows) + text[end:]


def test_the_docs_say_what_the_limits_say() -> None:
    # Written anew by `python tests/rules/test_limits.py`.
    before, after = docs_with_limits()
    assert before == after


if __name__ == "__main__":
    DOCS.write_text(docs_with_limits()[1], encoding="utf-8")
