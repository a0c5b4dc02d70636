"""Exchanges of warmth between shelters, on a winter small enough to be reckoned by hand."""

from math import inf

import numpy as np
import pytest
from tiny import place, site, spells, tree

from overwinter.model.season import Season, Weather
from overwinter.model.shelter import Shelter
from overwinter.model.site import Weights
from overwinter.model.start import start_of_season
from overwinter.planning.branching import Branching, Effort
from overwinter.planning.exchanges import exchanges
from overwinter.planning.rounding import chosen_settings
from overwinter.planning.winters import Winters
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.suitability.groups import group_trees
from overwinter.suitability.options import Option
from overwinter.suitability.table import Suitability

HEAT = {"left": 10.0, "right": 10.0, "big": 12.0}
"""What each shelter costs warm, money a spell; cold costs nothing."""
SPELLS = 2


def winter() -> ProgramData:
    """Two trees that need warmth, one that does not; either both small shelters, or the big one.

    Without exchange both small shelters are 20 a spell, the big one 12; the tree that needs none
    may stand anywhere, and nothing else costs anything but carries.
    """
    shelters = (
        Shelter("garden", "garden", (place("garden", "stand", 5.0),), open_air=True),
        *(
            Shelter(name, name, (place(name, "a", area),))
            for name, area in (("left", 0.5), ("right", 0.5), ("big", 1.2))
        ),
    )
    stock = (tree("warm1", 0.4), tree("warm2", 0.41), tree("cold", 0.3))
    season = Season(
        site=site(
            14 * SPELLS, carry_days_max=2, weights=Weights(crowding_per_m2_day=0.0, not_home=0.0)
        ),
        weather=Weather(np.zeros(1), np.zeros(1), "none"),
        species={},
        trees=stock,
        shelters=shelters,
    )
    start = start_of_season(season)
    groups = group_trees(season, start)
    settings = {"garden": 1, **dict.fromkeys(HEAT, 2)}
    options = tuple(
        Option(number, f"{shelter}/{bench}", shelter, setting)
        for number, (shelter, bench, setting) in enumerate(
            (one.id, one.places[0].name, setting)
            for one in shelters
            for setting in range(settings[one.id])
        )
    )
    shape = (len(groups), len(options), SPELLS)
    allowed = np.ones(shape, dtype=np.bool_)
    for group in groups:
        if group.tree.id != "cold":
            for option in options:
                allowed[group.index, option.index] = option.setting == 1
    nothing = np.zeros(shape)
    table = Suitability(
        spells=spells(SPELLS),
        groups=groups,
        options=options,
        allowed=allowed,
        risk_money=nothing,
        rodent_money=nothing,
        chill=nothing,
        entry_least=nothing,
        exit_most=np.ones(shape),
        present=np.ones((len(groups), SPELLS), dtype=np.bool_),
    )
    heat = {"garden": np.zeros((1, SPELLS))}
    heat |= {name: np.array([[0.0] * SPELLS, [money] * SPELLS]) for name, money in HEAT.items()}
    every = {name: np.ones((count, SPELLS), dtype=np.bool_) for name, count in settings.items()}
    draws = {name: tuple({} for _ in range(count)) for name, count in settings.items()}
    return ProgramData(season, start, table, heat, every, draws)


def both_small_ones_warm(branching: Branching) -> None:
    """Take that for the best decision."""
    held = np.zeros(branching.columns.size)
    held[branching.days] = [1.0] + [0.0] * (branching.days.size - 1)
    for choice in branching.choices:
        held[choice.at] = choice.settings == (0 if choice.shelter_id == "big" else 1)
    branching.take(held)


def searched(effort: Effort) -> Branching:
    """Ready to be searched, for the best there is."""
    return Branching(
        Winters(build(winter(), may_leave_out=True)),
        0.0,
        lambda _money, _bound: None,
        lambda: False,
        effort,
    )


def test_what_an_exchange_saves() -> None:
    """Both small shelters cold for the big one: 2 x (10 + 10 - 12); and that only."""
    branching = searched(Effort(0, rounds_once=True))
    both_small_ones_warm(branching)
    settings = chosen_settings(branching.winters.model)
    found = exchanges(branching.winters.model, settings, 0.0)
    assert [(one.shelter_id, one.by_spell, one.colder) for one in found] == [
        ("big", (1,) * SPELLS, ("left", "right"))
    ]
    assert found[0].saved_money == pytest.approx(SPELLS * (20.0 - 12.0))


def test_room_limits_what_is_saved() -> None:
    """Where too little fits into the shelter made warmer, nothing is promised for the rest."""
    branching = searched(Effort(0, rounds_once=True))
    both_small_ones_warm(branching)
    model = branching.winters.model
    cheap = exchanges(model, chosen_settings(model), SPELLS * (20.0 - 12.0) + 1.0)
    assert cheap == []
    assert exchanges(model, chosen_settings(model), -inf)[0].shelter_id == "big"


def test_the_better_decision_is_taken() -> None:
    """From both small shelters warm to the big one: the costs reckoned by hand, then the best."""
    branching = searched(Effort(0, rounds_once=True))
    branching._begin()
    both_small_ones_warm(branching)
    assert branching.best is not None
    before = branching.best.money
    branching._exchange()
    assert before - branching.best.money == pytest.approx(SPELLS * (20.0 - 12.0))
    assert branching.best.settings["big"] == (1,) * SPELLS
    assert branching.best.settings["left"] == branching.best.settings["right"] == (0,) * SPELLS
    thorough = searched(Effort(40, rounds_once=False))
    best = thorough.run()
    assert best is not None
    assert branching.best.money == pytest.approx(best.money)
