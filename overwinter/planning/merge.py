"""One plan of the whole winter from its past and a new future; and the future of a plan alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Costs, Layout, LeftOut, Plan, Proof
from overwinter.model.season import Season, Spell
from overwinter.model.start import Start, start_of_season
from overwinter.planning.past import NO_PROOF, Past, past_costs, spell_on, start_after


def merged_plan(
    season: Season,
    conditions: Conditions,
    past: Past,
    future: Plan,
    first: date,
    old: Plan | None = None,
) -> Plan:
    """The past and the future as one plan, with costs of the whole winter.

    Parameters
    ----------
    past
        Up to ``first``.
    future
        From ``first`` on, spells numbered from 0, costs those of the future.
    old
        The plan in force until now; its drawings stay where the same trees really stood.
    """
    behind = len(past.spells)
    spells = (*past.spells, *_numbered(future.spells, behind))
    stays = {tree_id: (*past.stays[tree_id], *path) for tree_id, path in future.stays.items()}
    settings = {
        shelter_id: (*past.settings[shelter_id], *keys)
        for shelter_id, keys in future.settings.items()
    }
    carries = tuple(c for c in past.carries if c.tree_id in stays) + future.carries
    plan = Plan(
        spells=spells,
        settings=settings,
        stays=stays,
        carries=carries,
        left_out=tuple(_shifted(left, behind) for left in future.left_out),
        costs=Costs(),
        proof=future.proof,
        layouts=_layouts(past, stays, future, old),
        fixed_until=first,
    )
    behind_us = past_costs(season, conditions, past, first, plan.stays)
    costs = _sum(behind_us, future.costs)
    return replace(plan, costs=costs, proof=_proof(future, costs))


def _numbered(spells: Sequence[Spell], behind: int) -> tuple[Spell, ...]:
    return tuple(replace(spell, index=spell.index + behind) for spell in spells)


def _shifted(left: LeftOut, behind: int) -> LeftOut:
    return replace(
        left, lacks=tuple(replace(lack, spell=lack.spell + behind) for lack in left.lacks)
    )


def _layouts(
    past: Past, stays: Mapping[str, tuple[str | None, ...]], future: Plan, old: Plan | None
) -> dict[str, dict[int, tuple[Layout, ...]]]:
    behind = len(past.spells)
    found = {
        place_id: {number + behind: drawn for number, drawn in by_spell.items()}
        for place_id, by_spell in future.layouts.items()
    }
    if old is None:
        return found
    for spell in past.spells:
        number = spell_on(old, spell.start)
        if number is None:
            continue
        for place_id, by_spell in old.layouts.items():
            there = {tree for tree, path in stays.items() if path[spell.index] == place_id}
            drawn = by_spell.get(number, ())
            if drawn and there == {layout.tree_id for layout in drawn}:
                found.setdefault(place_id, {})[spell.index] = drawn
    return found


def _sum(past: Costs, future: Costs) -> Costs:
    """Both together; what a carry costs for being unplanned is told beside, not in the winter's."""
    parts = {
        part.name: getattr(past, part.name) + getattr(future, part.name) for part in fields(Costs)
    }
    return replace(Costs(**parts), disturbance=0.0)


def _proof(future: Plan, whole: Costs) -> Proof:
    """The proof of the future, told on the costs of the whole winter."""
    proof = future.proof
    if proof.bound is None:
        return replace(proof, objective=whole.total)
    apart = max(proof.objective - proof.bound, 0.0)
    gap = apart / max(abs(whole.total), 1e-9)
    return replace(proof, objective=whole.total, bound=whole.total - apart, gap=gap)


@dataclass(frozen=True)
class View:
    """A plan from a day on, audited: what still lies ahead by it."""

    season: Season
    conditions: Conditions
    plan: Plan
    start: Start
    report: AuditReport


def view_from(
    season: Season,
    conditions: Conditions,
    plan: Plan,
    first: date,
    known_targets: Mapping[str, frozenset[str] | None] | None = None,
    carry_days_left: int | None = None,
) -> View:
    """What lies ahead by ``plan`` from ``first``, trees as it has them on that morning.

    Trees that are not in the season any more, and trees the plan does not know, are left aside.
    """
    named = {*plan.stays, *(left.tree_id for left in plan.left_out)}
    season = replace(season, trees=tuple(t for t in season.trees if t.id in named))
    behind = _until(season, plan, first)
    left = season.site.carry_days_max if carry_days_left is None else carry_days_left
    start = start_after(season, conditions, behind, first, known_targets or {}, left)
    ahead = _ahead(season, plan, first)
    report = audit(season, conditions, ahead, start)
    return View(season, conditions, ahead, start, report)


def _until(season: Season, plan: Plan, first: date) -> Past:
    """A plan's own stretch before ``first``; trees it leaves out stand still."""
    spells = [
        s if s.end <= first else replace(s, end=first) for s in plan.spells if s.start < first
    ]
    begin = start_of_season(season).trees
    return Past(
        spells=tuple(spells),
        settings={key: keys[: len(spells)] for key, keys in plan.settings.items()},
        stays={
            tree.id: plan.stays[tree.id][: len(spells)]
            if tree.id in plan.stays
            else (begin[tree.id].place,) * len(spells)
            for tree in season.trees
        },
        carries=tuple(carry for carry in plan.carries if carry.day < first),
    )


def _ahead(season: Season, plan: Plan, first: date) -> Plan:
    kept = [spell for spell in plan.spells if spell.end > first]
    if not kept:
        return replace(plan, spells=(), carries=())
    behind = kept[0].index
    spells = [replace(s, index=s.index - behind, start=max(s.start, first)) for s in kept]
    there = season.tree_by_id
    stays = {key: path[behind:] for key, path in plan.stays.items() if key in there}
    carries = tuple(c for c in plan.carries if c.day >= first and c.tree_id in there)
    return Plan(
        spells=tuple(spells),
        settings={key: keys[behind:] for key, keys in plan.settings.items()},
        stays=stays,
        carries=carries,
        left_out=tuple(
            LeftOut(left.tree_id, ()) for left in plan.left_out if left.tree_id in there
        ),
        costs=Costs(),
        proof=NO_PROOF,
    )


def carries_by_tree(carries: Sequence[Carry]) -> dict[str, tuple[Carry, ...]]:
    """Carries of each tree, in their order."""
    found: dict[str, list[Carry]] = {}
    for carry in carries:
        found.setdefault(carry.tree_id, []).append(carry)
    return {tree_id: tuple(mine) for tree_id, mine in found.items()}
