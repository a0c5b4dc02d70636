"""Short names for a plan and for a carry that do not change while what they stand for does not.

A ticked list is handed back weeks after it was made, through spreadsheets and phones. The names
must survive that: they begin with a letter so that no spreadsheet takes one for a number (a bare
``12e45678`` would come back as ``1.2E+45679``).
"""

import hashlib
import json

from overwinter.model.plan import Carry, Plan


def _digest(content: object, length: int) -> str:
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:length]


def _row(carry: Carry) -> list[str | None]:
    return [carry.day.isoformat(), carry.tree_id, carry.source, carry.target]


def carry_key(carry: Carry) -> str:
    """Name of one carry: the same in every plan that has this carry on this day."""
    return "c" + _digest(_row(carry), 11)


def plan_fingerprint(plan: Plan) -> str:
    """Name of what a plan asks to be done, carries and heater settings, not how it was found."""
    carries = sorted((_row(carry) for carry in plan.carries), key=str)
    settings = {
        shelter: [[[p.heater, p.step_w, p.hold_c] for p in setting.parts] for setting in by_stage]
        for shelter, by_stage in plan.settings.items()
    }
    stages = [[stage.sign, stage.threshold_c, stage.usual.isoformat()] for stage in plan.stages]
    return "p" + _digest([carries, settings, stages], 15)
