"""What every place lacks for a tree that has no safe place, nearest first."""

import numpy as np

from overwinter.model.plan import Lack, Reason
from overwinter.suitability.compute import TOLERANCE, Workshop
from overwinter.suitability.fixed_rules import UNITS
from overwinter.suitability.groups import Group

SCALE: dict[Reason, float] = {
    Reason.ROOTS_TOO_COLD: 1.0,
    Reason.AIR_TOO_COLD: 1.0,
    Reason.TOO_WARM_TO_REST: 1.0,
    Reason.TOO_DARK: 1.0,
    Reason.TOO_TALL: 0.1,
    Reason.TOO_WIDE: 0.1,
    Reason.TOO_HEAVY: 5.0,
    Reason.RODENTS: 0.1,
    Reason.CLOSED: 7.0,
    Reason.HEATER_TOO_SMALL: 100.0,
    Reason.FORBIDDEN: 0.01,
    Reason.PINNED_ELSEWHERE: 0.01,
}
"""One step of each unit: 1 K weighs as much as 0.1 m, 5 kg or 1 mol. Only the order shown hangs
on it; the grower's own word weighs most, since no remedy mends it. A judgement, no source."""


def lacks(workshop: Workshop, group: Group) -> tuple[Lack, ...]:
    """One lack for each place, its best heater setting taken, nearest first.

    Only spells are judged in which no place at all would do; where each spell has some place,
    what is missing is room, or a way from one place to the next.
    """
    table = workshop.shortfalls(group)
    reasons = list(table)
    shortfalls = np.stack([table[reason] for reason in reasons])
    present = np.array(
        [group.tree.joins is None or spell.start >= group.tree.joins for spell in workshop.spells]
    )
    refused = shortfalls.max(axis=0) > TOLERANCE
    critical = present & refused.all(axis=0)
    judged = np.flatnonzero(critical if critical.any() else present)
    scales = np.array([SCALE[reason] for reason in reasons])[:, None, None]
    severity = np.where(shortfalls > TOLERANCE, shortfalls / scales, 0.0)[:, :, judged]
    found: list[tuple[float, int, Lack]] = []
    for order, place_id in enumerate(workshop.season.places):
        mine = [o.index for o in workshop.options if o.place_id == place_id]
        worst = severity[:, mine, :].max(axis=(0, 2))
        best = mine[int(np.argmin(worst))]
        found.append(
            (
                float(worst.min()),
                order,
                _lack(workshop, group, reasons, shortfalls, severity, best, judged),
            )
        )
    found.sort(key=lambda entry: entry[:2])
    return tuple(lack for _severity, _order, lack in found)


def _lack(
    workshop: Workshop,
    group: Group,
    reasons: list[Reason],
    shortfalls: np.ndarray,
    severity: np.ndarray,
    option: int,
    judged: np.ndarray,
) -> Lack:
    chosen = workshop.options[option]
    settings = workshop.conditions.shelters[chosen.shelter_id].settings
    reason_index, column = np.unravel_index(
        int(np.argmax(severity[:, option, :])), severity[:, option, :].shape
    )
    spell = int(judged[int(column)])
    if severity[int(reason_index), option, int(column)] <= 0:
        reason, shortfall, unit = Reason.NO_ROOM, group.tree.footprint_m2, "m²"
    else:
        reason = reasons[int(reason_index)]
        shortfall, unit = float(shortfalls[int(reason_index), option, spell]), UNITS[reason]
    return Lack(
        place_id=chosen.place_id,
        setting=settings[chosen.setting].key,
        spell=spell,
        reason=reason,
        shortfall=shortfall,
        unit=unit,
    )
