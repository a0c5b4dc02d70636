"""What a placement costs, by the program's own numbers and on every tree's true path."""

from dataclasses import replace

from overwinter.model.plan import Carry, Costs
from overwinter.model.season import Season
from overwinter.model.start import Start
from overwinter.planning.histories import true_risk
from overwinter.program.data import ProgramData
from overwinter.program.read_back import Placement
from overwinter.suitability.compute import Workshop


def carries_of(season: Season, data: ProgramData, placement: Placement) -> tuple[Carry, ...]:
    """Every carry of a placement, by day, then in the order of the tree list."""
    carries = []
    for index, spell in enumerate(data.spells):
        for tree in season.trees:
            path = placement.stays.get(tree.id)
            if path is None:
                continue
            target = path[index]
            source = _before(data.start, tree.id, path, index)
            if target is not None and target != source:
                carries.append(Carry(spell.start, tree.id, source, target))
    return tuple(carries)


def _before(start: Start, tree_id: str, path: tuple[str | None, ...], index: int) -> str | None:
    return path[index - 1] if index > 0 else start.trees[tree_id].place


def placement_costs(data: ProgramData, placement: Placement, carries: tuple[Carry, ...]) -> Costs:
    """All parts of the objective, in the site's money."""
    season = data.season
    weights = season.site.weights
    heat = sum(
        float(data.heat_money[shelter][setting, spell])
        for shelter, chosen in placement.settings.items()
        for spell, setting in enumerate(chosen)
    )
    carry_money = disturbance = 0.0
    for carry in carries:
        heavy = season.tree_by_id[carry.tree_id].weight_kg >= weights.two_person_kg
        carry_money += weights.two_person_carry if heavy else weights.carry
        known = data.start.trees[carry.tree_id].known_targets
        if known is not None and carry.target not in known:
            disturbance += weights.extra_carry
    risk, rodents = _losses(data, placement)
    return Costs(
        heat=heat,
        crowding=_crowding(data, placement),
        rodents=rodents,
        carries=carry_money,
        carry_days=weights.carry_day * len({carry.day for carry in carries}),
        risk=risk,
        disturbance=disturbance,
        not_home=weights.not_home
        * sum(
            path[-1] not in (None, season.site.summer_place) for path in placement.stays.values()
        ),
    )


def true_costs(
    data: ProgramData, workshop: Workshop, placement: Placement, carries: tuple[Carry, ...]
) -> Costs:
    """The same with the risk on true paths, never below the program's: a bound stays a bound."""
    costs = placement_costs(data, placement, carries)
    return replace(costs, risk=true_risk(data, workshop, placement))


def _losses(data: ProgramData, placement: Placement) -> tuple[float, float]:
    table = data.suitability
    index = table.option_at
    risk = rodents = 0.0
    for group in data.groups:
        for tree_id in group.tree_ids:
            for spell, place in enumerate(placement.stays.get(tree_id, ())):
                if place is None:
                    continue
                shelter = data.season.places[place].shelter_id
                option = index[place, placement.settings[shelter][spell]]
                risk += float(table.risk_money[group.index, option, spell])
                rodents += float(table.rodent_money[group.index, option, spell])
    return risk, rodents


def _crowding(data: ProgramData, placement: Placement) -> float:
    season = data.season
    weights = season.site.weights
    filled: dict[tuple[str, int], float] = {}
    for tree_id, path in placement.stays.items():
        for spell, place in enumerate(path):
            if place is not None:
                area = season.tree_by_id[tree_id].footprint_m2
                filled[place, spell] = filled.get((place, spell), 0.0) + area
    return sum(
        weights.crowding_per_m2_day
        * data.spells[spell].days
        * max(0.0, area - weights.comfortable_share * season.places[place].area_m2)
        for (place, spell), area in filled.items()
    )
