"""``[[shelter.heater]]``: steps or a thermostat, what it burns, where it is plugged in."""

import math
from collections.abc import Mapping
from typing import Any

from overwinter.files.findings import Findings
from overwinter.files.known import KnownHeater
from overwinter.files.pydantic_problems import Where, known_fields, parse
from overwinter.files.schemas_shelter import HeaterTable
from overwinter.model.shelter import Carrier, Heater

EFFICIENCY = {
    Carrier.ELECTRICITY: 1.0,
    Carrier.NATURAL_GAS: 0.8,
    Carrier.PROPANE: 0.8,
    Carrier.HEATING_OIL: 0.8,
    Carrier.KEROSENE: 0.8,
}
"""Heat delivered per energy bought: resistance heat by definition; vented burners 0.78 to 0.82,
from memory, unverified."""
STEP_TOLERANCE = 1.001


def read_heater(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> Heater | None:
    """Read one heater table; None when something in it is wrong."""
    before = len(findings.problems)
    table = parse(HeaterTable, written, Where(file, dotted, cells=False), findings)
    _check_heater(known_fields(HeaterTable, written), table is not None, file, dotted, findings)
    if table is None or len(findings.problems) > before:
        return None
    efficiency = table.efficiency
    if efficiency is None:
        efficiency = EFFICIENCY[table.carrier]
        if not table.vented:
            efficiency = 1.0
    if not table.vented and table.carrier is not Carrier.ELECTRICITY:
        findings.warn(
            f"[{dotted}] burns {table.carrier.value} without a flue: its fumes hold carbon"
            " monoxide and water and can kill people and plants. Fit an alarm, give it fresh air,"
            " and ask a licensed person."
        )
    return Heater(
        name=table.name,
        carrier=table.carrier,
        efficiency=efficiency,
        power_w=table.power_w,
        steps_w=tuple(sorted(set(table.steps_w))),
        hold_c=tuple(sorted(set(table.hold_c))),
        breaker=table.breaker,
        vented=table.vented,
    )


def known_heater(written: dict[str, Any], dotted: str) -> KnownHeater:
    """What of a heater table is right."""
    known = known_fields(HeaterTable, written)
    name = str(known.get("name", dotted.rpartition(".")[2]))
    return KnownHeater(dotted, name, known.get("carrier"), known.get("breaker"))


def _check_heater(
    known: Mapping[str, Any], whole: bool, file: str, dotted: str, findings: Findings
) -> None:
    """Checks between keys; that there is no setting can be told only of a ``whole`` table."""
    steps_w, power_w = known.get("steps_w", ()), known.get("power_w", math.inf)
    if whole and not steps_w and not known.get("hold_c"):
        findings.problem(
            file,
            dotted,
            None,
            "neither steps nor hold temperatures",
            "steps_w (heat of each fixed step) or hold_c (temperatures its thermostat may keep)",
            "Write for example hold_c = [2, 5, 8], or steps_w = [1000] for a plain heater.",
        )
    if steps_w and max(steps_w) > power_w * STEP_TOLERANCE:
        findings.problem(
            file,
            dotted,
            "steps_w",
            f"a step of {max(steps_w):g} W",
            f"at most its full power of {power_w:g} W",
            "",
        )
    efficiency = known.get("efficiency") or 0.0
    if known.get("carrier", Carrier.ELECTRICITY) is not Carrier.ELECTRICITY and efficiency > 1:
        findings.problem(
            file,
            dotted,
            "efficiency",
            f"'{efficiency:g}'",
            "at most 1 for a burner (heat delivered per energy bought)",
            "A percentage is written as a share: 80 % is 0.8.",
        )
