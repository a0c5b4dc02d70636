"""A re-plan beside the plan it replaces, as plain values for ``--json``. Units are in the names."""

from dataclasses import fields

from overwinter.model.plan import Carry, Costs, LeftOut
from overwinter.planning.compare import Comparison, TreeChange
from overwinter.planning.last_safe_date import LastSafeDate
from overwinter.render.replan_report import ReplanAnswer, carry_days
from overwinter.render.replan_words import change_words, why_words


def replan_json(answer: ReplanAnswer) -> dict[str, object]:
    """Everything ``replan_report`` tells."""
    found = answer.comparison
    season = found.after.season
    return {
        "before": answer.names[0],
        "after": answer.names[1],
        "from": found.first.isoformat(),
        "because": list(change_words(season, answer.changes[1], answer.changes[0])),
        "notes": list(answer.notes),
        "currency": season.site.currency,
        "carries": _pair(found.carries),
        "carry_days": _pair(carry_days(found)),
        "extra_carries": found.extra_carries,
        "heat_bought_kwh": _pair(found.heat_kwh),
        "costs": _pair(tuple(map(_costs, found.costs))),
        "whole_winter": _pair(answer.whole_winter),
        "undisturbed": list(found.undisturbed),
        "gone": list(found.gone),
        "left_out": [left.tree_id for left in found.after.plan.left_out],
        "trees": [_tree(found, change) for change in found.changed],
        "heaters": [
            {
                "shelter": change.shelter_id,
                "before": [{"from": d.isoformat(), "setting": key} for d, key in change.before],
                "after": [{"from": d.isoformat(), "setting": key} for d, key in change.after],
            }
            for change in found.heaters
        ],
        "margins_shrink": [
            {
                "tree": change.tree_id,
                "before_k": change.before_k,
                "after_k": change.after.nearest_k,
                "day": change.after.nearest_when.isoformat(),
            }
            for change in found.margins
        ],
        "last_safe_dates": [_last_safe(one) for one in answer.last_safe],
        "past": [
            {
                "rule": one.rule.value,
                "subject": one.subject,
                "where": one.where,
                "day": None if one.when is None else one.when.isoformat(),
                "by": one.by_how_much,
                "unit": one.unit,
                "text": one.text,
            }
            for one in answer.past
        ],
    }


def _pair(values: tuple[object, ...]) -> dict[str, object]:
    return dict(zip(("before", "after"), values, strict=True))


def _costs(costs: Costs) -> dict[str, float]:
    parts = {part.name: float(getattr(costs, part.name)) for part in fields(costs)}
    return {**parts, "total": costs.total}


def _tree(found: Comparison, change: TreeChange) -> dict[str, object]:
    why = change.why
    return {
        "tree": change.tree_id,
        "before": [_carry(carry) for carry in change.before],
        "after": [_carry(carry) for carry in change.after],
        "extra_carries": change.extra,
        "only_days": change.only_days,
        "cause": why.cause.value,
        "why": why_words(found.after.season, why),
        "place": why.place_id,
        "day": None if why.day is None else why.day.isoformat(),
        "reason": None if why.reason is None else why.reason.value,
        "shortfall": why.shortfall,
        "unit": why.unit,
        "setting": why.setting,
        "makes_room_for": list(why.others),
    }


def _carry(carry: Carry) -> dict[str, object]:
    return {"day": carry.day.isoformat(), "from": carry.source, "to": carry.target}


def _last_safe(found: LastSafeDate) -> dict[str, object]:
    return {
        "shelter": found.shelter_id,
        "opens": found.asked.isoformat(),
        "last_safe": None if found.never_needed else found.last.isoformat(),
        "may_stay_shut": found.never_needed,
        "fails_on": None if found.fails_on is None else found.fails_on.isoformat(),
        "fails": [_fails(one) for one in found.fails],
        "lacks": None if found.fails_on is None else found.lacks.value,
        "settled": found.settled,
        "dates_tried": found.tries,
    }


def _fails(left: LeftOut) -> dict[str, object]:
    return {
        "tree": left.tree_id,
        "lacks": [
            {
                "place": lack.place_id,
                "reason": lack.reason.value,
                "shortfall": lack.shortfall,
                "unit": lack.unit,
                "setting": lack.setting,
            }
            for lack in left.lacks
        ],
    }
