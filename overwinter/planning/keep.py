"""The plan in force, simply gone on with: kept where nothing better was found."""

from dataclasses import replace

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.start import Start
from overwinter.planning.changes import working_heaters
from overwinter.planning.costs import carries_of, true_costs
from overwinter.planning.fit import Drawer, LayoutsBySpell
from overwinter.planning.idle_heaters import settled_heaters
from overwinter.planning.past import place_on, setting_on
from overwinter.planning.plan_winter import setting_keys
from overwinter.planning.search import Found
from overwinter.planning.told_costs import judged
from overwinter.program.read_back import Placement

SAME_MONEY = 1e-6


def kept_or(
    new: Plan, old: Plan, season: Season, conditions: Conditions, start: Start, found: Found
) -> Plan:
    """The old plan's future where it still holds and costs no more than proven; else ``new``.

    Between plans of one price the search chooses as it happens; trees should not be carried on
    other days for that.

    Parameters
    ----------
    new
        What the search found, from ``start.day`` on.
    old
        The plan in force; its spells are among those of ``new``.
    conditions
        With the settings of broken heaters, which are not used.
    """
    working = working_heaters(season, conditions, start.day)
    placement = _gone_on_with(new, old, season, working)
    if placement is None:
        return new
    settled = settled_heaters(found.data, found.workshop, placement)
    for one in [placement] if settled is placement else [settled, placement]:
        kept = _kept(new, one, season, found)
        if kept is not None and judged(season, conditions, kept, start)[1].passed:
            return kept
    return new


def _kept(new: Plan, placement: Placement, season: Season, found: Found) -> Plan | None:
    """A placement of the old plan as the new one; None where it is dearer or has no room."""
    carries = carries_of(season, found.data, placement)
    costs = true_costs(found.data, found.workshop, placement, carries)
    bound = new.proof.bound
    most = new.costs.total + (0.0 if bound is None else max(new.costs.total - bound, 0.0))
    if costs.total > most + SAME_MONEY:
        return None
    layouts: LayoutsBySpell = {}
    if new.layouts:
        layouts, misfits = Drawer(season).draw(placement)
        if misfits:
            return None
    gap = None if bound is None else (costs.total - bound) / max(abs(costs.total), 1e-9)
    return replace(
        new,
        settings=setting_keys(found.workshop.conditions, placement),
        stays=dict(placement.stays),
        carries=carries,
        costs=costs,
        proof=replace(new.proof, objective=costs.total, gap=gap),
        layouts=layouts,
    )


def _gone_on_with(new: Plan, old: Plan, season: Season, conditions: Conditions) -> Placement | None:
    """Where the old plan has every tree in the new spells; None where it knows other trees."""
    if set(new.stays) != {tree_id for tree_id in old.stays if tree_id in season.tree_by_id}:
        return None
    settings = {}
    for shelter_id, found in conditions.shelters.items():
        keys = [setting.key for setting in found.settings]
        chosen = [setting_on(old, shelter_id, s.start) or keys[0] for s in new.spells]
        if not set(chosen) <= set(keys):
            return None
        settings[shelter_id] = tuple(keys.index(key) for key in chosen)
    stays = {
        tree_id: tuple(place_on(old, tree_id, s.start) for s in new.spells) for tree_id in new.stays
    }
    if any(place not in season.places for path in stays.values() for place in path if place):
        return None
    return Placement(settings, stays, frozenset(left.tree_id for left in new.left_out))
