"""``[[shelter.heater]]``: steps or a thermostat, what it burns, where it is plugged in."""

from typing import Any

from overwinter.domain.shelter import Carrier, Heater
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import Where, parse
from overwinter.files.schemas_shelter import HeaterTable

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
    table = parse(HeaterTable, written, Where(file, dotted, cells=False), findings)
    if table is None or not _consistent(table, file, dotted, findings):
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


def _consistent(table: HeaterTable, file: str, dotted: str, findings: Findings) -> bool:
    before = len(findings.problems)
    if not table.steps_w and not table.hold_c:
        findings.problem(
            file,
            dotted,
            None,
            "neither steps nor hold temperatures",
            "steps_w (heat of each fixed step) or hold_c (temperatures its thermostat may keep)",
            "Write for example hold_c = [2, 5, 8], or steps_w = [1000] for a plain heater.",
        )
    if table.steps_w and max(table.steps_w) > table.power_w * STEP_TOLERANCE:
        findings.problem(
            file,
            dotted,
            "steps_w",
            f"a step of {max(table.steps_w):g} W",
            f"at most its full power of {table.power_w:g} W",
            "",
        )
    if table.carrier is not Carrier.ELECTRICITY and (table.efficiency or 0) > 1:
        findings.problem(
            file,
            dotted,
            "efficiency",
            f"'{table.efficiency:g}'",
            "at most 1 for a burner (heat delivered per energy bought)",
            "A percentage is written as a share: 80 % is 0.8.",
        )
    return len(findings.problems) == before
