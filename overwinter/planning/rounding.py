"""Whole heater settings and carry days from the shares that a relaxation gives them."""

from collections.abc import Mapping
from math import ceil, inf

from overwinter.planning.winters import Winters
from overwinter.program.model import Model, Variable
from overwinter.program.objective import LEFT_OUT_EACH, left_out_price

HALF = 0.5
ANY = 1e-4
"""A share from which on something is chosen a little."""


def value(variable: Variable | None) -> float:
    """The value of a variable; 1 for a choice that is none."""
    return 1.0 if variable is None else variable.varValue or 0.0


def _indecision(model: Model, shelter: str) -> float:
    """How far a shelter's settings are from being chosen, summed over spells."""
    return sum(
        1.0 - max((value(v) for v in found.values()), default=1.0)
        for (one, _), found in model.settings.items()
        if one == shelter and len(found) > 1
    )


def _rounded(model: Model, shelter: str, warm: bool) -> dict[int, float]:
    """Settings of a shelter, by ``id`` of variable: largest share, or the warmest with any."""
    chosen: dict[int, float] = {}
    for (one, spell), found in model.settings.items():
        if one != shelter or len(found) < 2:
            continue
        shares = {s: value(v) for s, v in found.items()}
        money = model.data.heat_money[shelter][:, spell]
        fitting = [s for s in shares if _breakers_carry(model, shelter, spell, s)] or list(shares)
        some = [s for s in fitting if shares[s] > ANY] or fitting
        best = max(some, key=lambda s: (money[s], s) if warm else (shares[s], -s))
        chosen |= {id(v): float(s == best) for s, v in found.items()}
    return chosen


def _breakers_carry(model: Model, shelter: str, spell: int, setting: int) -> bool:
    """Whether a setting leaves every breaker enough for the other shelters.

    Shelters decided draw what they draw, the others no more than the least they could.
    """
    drawn = model.data.breaker_w
    for breaker, limit_w in model.data.season.site.breakers_w.items():
        total = drawn[shelter][setting].get(breaker, 0.0)
        for (other, k), found in model.settings.items():
            if k == spell and other != shelter:
                decided = [s for s, v in found.items() if value(v) > 1.0 - ANY]
                total += min(drawn[other][s].get(breaker, 0.0) for s in decided or found)
        if total > limit_w:
            return False
    return True


def fix_settings(winters: Winters, tolerance: float, most: float = inf) -> bool:
    """Fix the settings of one shelter after the other, the most decided first.

    Where the settings with the largest shares leave trees out, the warmest with a share are taken.
    False as soon as what is fixed is known to cost more than ``most``, money.

    Raises
    ------
    NoPoint
        The settings left for a shelter break a row, such as a breaker's.
    """
    model = winters.model
    rest = {shelter for (shelter, _), found in model.settings.items() if len(found) > 1}
    while rest:
        shelter = min(sorted(rest), key=lambda one: _indecision(model, one))
        rest.discard(shelter)
        before = out_money(model)
        likely, warmest = (_rounded(model, shelter, warm) for warm in (False, True))
        money = _fix(winters, likely, tolerance)
        if out_money(model) >= before + LEFT_OUT_EACH / 2 and warmest != likely:
            money = _fix(winters, warmest, tolerance)
        if money > most:
            return False
    return True


def fix_days(winters: Winters, tolerance: float) -> float:
    """Fix the carry days; the relaxation then.

    Those with any share, as far as there are days, where what they cost beyond that does not count;
    otherwise one after the other, the largest share first.

    Raises
    ------
    NoPoint
        As ``fix_settings``.
    """
    model = winters.model
    days = sorted(model.carry_day.values(), key=lambda v: -value(v))
    used = [v for v in days if value(v) > ANY][: model.data.start.carry_days_left]
    beyond = model.weights.carry_day * sum(1.0 - value(v) for v in used)
    if beyond > tolerance * abs(winters.objective):
        _fix_in_turn(winters, days, tolerance)
        used = [v for v in days if value(v) > HALF]
    return _fix(winters, {id(v): float(any(v is day for day in used)) for v in days}, tolerance)


def _fix_in_turn(winters: Winters, days: list[Variable], tolerance: float) -> None:
    """Fix the carry day with the largest share, then that of the others with the largest then, ...

    Carries are shared out among days while all of them are to be had in part: one that is paid for
    as a whole takes over those of others. Until the others have no share any more.
    """
    while open_ := [v for v in days if ANY < value(v) < 1.0 - ANY]:
        _fix(winters, {id(max(open_, key=value)): 1.0}, tolerance)


def _fix(winters: Winters, chosen: Mapping[int, float], tolerance: float) -> float:
    """Fix columns, by ``id`` of variable; the relaxation then, as it was if they were so."""
    values = {winters.column_of[key]: share for key, share in chosen.items()}
    winters.fix(values)
    variables = winters.arrays.variables
    if winters.money is None or any(abs(value(variables[c]) - s) > ANY for c, s in values.items()):
        return winters.relax(tolerance)
    return winters.money


def chosen_settings(model: Model) -> dict[str, tuple[int, ...]]:
    """By shelter: the setting in each spell at a point where settings are decided."""
    settings: dict[str, tuple[int, ...]] = {}
    for (shelter, _spell), found in model.settings.items():
        best = next(s for s, v in found.items() if v is None or value(v) > HALF)
        settings[shelter] = (*settings.get(shelter, ()), best)
    return settings


def out_money(model: Model) -> float:
    """What the objective counts for trees left out at the point in the variables, in pieces."""
    return sum(left_out_price(model, g) * value(v) for g, v in model.left_out.items())


def whole_out_money(model: Model) -> float:
    """The same with every piece taken as a whole tree."""
    return sum(left_out_price(model, g) * ceil(value(v) - ANY) for g, v in model.left_out.items())
