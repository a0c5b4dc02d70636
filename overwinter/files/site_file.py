"""site.toml: where and when, what things cost, and what the weather is read from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from overwinter.files.findings import Findings, Where, closest, did_you_mean, listed
from overwinter.files.pydantic_problems import known_fields, parse
from overwinter.files.quantities import UNITS_KWH
from overwinter.files.schemas_site import (
    BreakerTable,
    GroundTable,
    HeatingTable,
    HouseholdTable,
    HouseTable,
    KnownSite,
    MonthTable,
    PriceTable,
    SiteTable,
    WeatherTable,
    WeightsTable,
    take_retired_keys,
)
from overwinter.files.toml_file import read_toml, sub_table, sub_tables
from overwinter.model.shelter import Carrier
from overwinter.model.site import CONTINUOUS_SHARE, ONE_PERSON_KG, Ground, Weights
from overwinter.units import Display

SHORTEST_SEASON_D, LONGEST_SEASON_D = 28, 366
SITE_TABLES = (
    *("weather", "heating", "ground", "house"),
    *("prices", "breakers", "household", "weights"),
)


@dataclass(frozen=True)
class WrittenSite:
    """What site.toml says, checked, before the weather completes it."""

    site: SiteTable
    weather: WeatherTable
    months: tuple[MonthTable, ...]
    design_min_c: float | None
    ground: Ground | None
    house_c: float
    money_per_kwh: Mapping[Carrier, float]
    breakers_w: Mapping[str, float]
    household: HouseholdTable
    weights: Weights

    @property
    def display(self) -> Display:
        """How numbers are shown to the grower."""
        return Display(us=self.site.units == "us")

    @property
    def utc_offset_h(self) -> float:
        """Local standard time minus UTC, h; from the longitude when not given."""
        given = self.site.utc_offset_h
        return given if given is not None else float(round(self.site.longitude / 15))


@dataclass(frozen=True)
class SiteFile:
    """What site.toml says: all of it, if there is no mistake in it, and what is known anyway."""

    written: WrittenSite | None = None
    known: KnownSite = field(default_factory=KnownSite)


def read_site(path: Path, findings: Findings) -> SiteFile:
    """Read site.toml; everything that is wrong with it is reported."""
    written = read_toml(path, findings)
    if written is None:
        return SiteFile()
    where = findings.at(path.name)
    before = len(findings.problems)
    take_retired_keys(written, where)
    no_tables = {name for name in SITE_TABLES if not isinstance(written.get(name, {}), dict)}
    given = {name: sub_table(written, name, where.under(name)) for name in SITE_TABLES}
    parts = {name: table or {} for name, table in given.items()}
    weights = _weights(parts["weights"], where.under("weights"))
    # Of a table that is misspelt or none, nothing can be said to be missing.
    hidden = no_tables | {name for name in _check_top(written, where) if given.get(name) is None}
    given_site = known_fields(SiteTable, written)
    site = parse(SiteTable, written, where)
    weather, months, numbers = _weather(parts["weather"], where.under("weather"))
    heating = parse(HeatingTable, parts["heating"], where.under("heating"))
    house = parse(HouseTable, parts["house"], where.under("house"))
    ground = None
    if given["ground"] is not None:
        ground = parse(GroundTable, given["ground"], where.under("ground"))
    prices = _prices(parts["prices"], where.under("prices"))
    breakers = _breakers(parts["breakers"], where.under("breakers"))
    household = parse(HouseholdTable, parts["household"], where.under("household"))
    starts, ends = _season(given_site, where.of("ends")) or (None, None)
    known = KnownSite(
        starts=starts,
        ends=ends,
        summer_place=given_site.get("summer_place"),
        tree_value=given_site.get("tree_value"),
        carriers=None if "prices" in hidden else _carriers(parts["prices"]),
        breakers=None if "breakers" in hidden else tuple(parts["breakers"]),
        weather=None if "weather" in hidden else weather,
        months=None if "weather" in hidden else numbers,
    )
    if len(findings.problems) > before or not (
        site and weather and heating and house and household
    ):
        return SiteFile(known=known)
    full = WrittenSite(
        site=site,
        weather=weather,
        months=months,
        design_min_c=heating.design_min_c,
        ground=Ground(**ground.model_dump()) if ground else None,
        house_c=house.temperature_c,
        money_per_kwh=prices,
        breakers_w=breakers,
        household=household,
        weights=weights,
    )
    return SiteFile(full, known)


def _check_top(written: dict[str, Any], where: Where) -> set[str]:
    """Tables nobody reads are misspelt ones; returns which they were probably meant to be."""
    meant = set()
    for name in [name for name, value in written.items() if isinstance(value, dict)]:
        del written[name]
        where.under(name).problem(
            "an unknown table",
            f"one of [{'], ['.join(SITE_TABLES)}]",
            did_you_mean(name, SITE_TABLES),
        )
        meant.add(closest(name, SITE_TABLES) or "")
    return meant


def _season(known: Mapping[str, Any], where: Where) -> tuple[date, date] | None:
    """First and last day of the plan; None where they are not known or do not agree."""
    starts, ends = known.get("starts"), known.get("ends")
    if starts is None or ends is None:
        return None
    days = (ends - starts).days
    if days <= 0:
        where.problem(
            f"'{ends}', not after starts '{starts}'",
            "the last day of the plan, in the spring after starts",
            "Are the two dates the wrong way round, or a year off?",
        )
        return None
    if not SHORTEST_SEASON_D <= days + 1 <= LONGEST_SEASON_D:
        where.problem(
            f"a season of {days + 1} days",
            f"{SHORTEST_SEASON_D} to {LONGEST_SEASON_D} days from starts to ends",
            "Check the years of the two dates.",
        )
        return None
    return starts, ends


def _weather(
    written: dict[str, Any], where: Where
) -> tuple[WeatherTable | None, tuple[MonthTable, ...], frozenset[int] | None]:
    """The table, its months, and which months there are; None where a slip may hide one."""
    formed = not isinstance(written.get("month", []), str | int | float)
    rows = sub_tables(written, "month", where)
    if known_fields(WeatherTable, written).keys() >= {"hardiness_zone", "coldest_night_mean_c"}:
        where.of("hardiness_zone").problem(
            "coldest_night_mean beside it",
            "one of the two: a zone is a mean of coldest nights",
            "Keep the one you trust more.",
        )
    table = parse(WeatherTable, written, where)
    places = [where.under(f"month.{row.get('month', n)}") for n, row in enumerate(rows, 1)]
    parsed = [parse(MonthTable, row, at) for row, at in zip(rows, places, strict=True)]
    months = tuple(sorted((m for m in parsed if m), key=lambda m: m.month))
    known = [known_fields(MonthTable, row) for row in rows]
    numbers = sorted(one["month"] for one in known if "month" in one)
    for number in sorted({number for number in numbers if numbers.count(number) > 1}):
        where.under(f"month.{number}").of("month").problem(
            f"month {number} twice", "each month once"
        )
    for at, one in zip(places, known, strict=True):
        _check_month(one, at)
    all_known = table is not None and formed and len(set(numbers)) == len(rows)
    return table, months, frozenset(numbers) if all_known else None


def _check_month(known: Mapping[str, Any], where: Where) -> None:
    low, high = known.get("mean_min_c"), known.get("mean_max_c")
    if low is not None and high is not None and low >= high:
        where.of("mean_min").problem(
            "a mean minimum not below the mean maximum",
            "the mean of the nights below the mean of the days",
            "Are the two the wrong way round?",
        )


def _prices(written: dict[str, Any], where: Where) -> dict[Carrier, float]:
    prices = {}
    names = {carrier.value: carrier for carrier in Carrier}
    for name, value in written.items():
        at, carrier = where.under(name), _carrier(name)
        if carrier is None:
            at.problem("an unknown carrier", listed(names), did_you_mean(name, names))
            continue
        if not isinstance(value, dict):
            value = {"per_kwh": value}
        table = parse(PriceTable, value, at)
        price = None if table is None else _money_per_kwh(table, carrier, at)
        if price is not None:
            prices[carrier] = price
    return prices


def _carrier(name: str) -> Carrier | None:
    names = {carrier.value: carrier for carrier in Carrier}
    return names.get(name.lower().replace("_", " ").replace("-", " "))


def _carriers(written: dict[str, Any]) -> frozenset[Carrier] | None:
    """What there is a price of, right or wrong; None where a slip may hide one."""
    found = [_carrier(name) for name in written]
    return None if None in found else frozenset(one for one in found if one is not None)


def _money_per_kwh(table: PriceTable, carrier: Carrier, where: Where) -> float | None:
    if (table.per_kwh is None) == (table.per_unit is None):
        found = "neither price" if table.per_kwh is None else "per_kwh and per_unit"
        where.problem(found, "either per_kwh, or per_unit with its unit")
        return None
    if table.per_kwh is not None:
        return table.per_kwh
    units = UNITS_KWH[carrier]
    content = units.get(table.unit or "")
    if content is None or table.per_unit is None:
        where.of("unit").problem(
            f"'{table.unit}'" if table.unit else "nothing",
            f"what one unit of sale is: {listed(units)}",
            did_you_mean(table.unit or "", units),
        )
        return None
    return table.per_unit / content


def _breakers(written: dict[str, Any], where: Where) -> dict[str, float]:
    loads = {}
    for name, value in written.items():
        at = where.under(name)
        if not isinstance(value, dict):
            value = {"watts": value}
        table = parse(BreakerTable, value, at)
        if table is None:
            continue
        if table.watts is not None and table.volts is None and table.amps is None:
            loads[name] = table.watts
        elif table.watts is None and table.volts is not None and table.amps is not None:
            loads[name] = table.volts * table.amps * CONTINUOUS_SHARE
        else:
            at.problem(
                listed(sorted(value)) or "nothing",
                "volts and amps of the breaker, or the watts it may carry all day",
                "Write for example {volts = 230, amps = 16}.",
            )
    return loads


def _weights(written: dict[str, Any], where: Where) -> Weights:
    table = parse(WeightsTable, written, where)
    if table is None:
        return Weights()
    given = table.model_dump(exclude_none=True)
    weights = Weights(**given)
    if "not_home" not in given:
        weights = weights.with_own_not_home()
    _warn_of_weights(weights, where)
    if weights.comfortable_share > weights.fullest_share:
        where.of("comfortable_share").problem(
            f"'{weights.comfortable_share:g}', more than fullest_share '{weights.fullest_share:g}'",
            "a comfortable share no larger than the fullest",
        )
    return weights


def _warn_of_weights(weights: Weights, where: Where) -> None:
    if weights.two_person_kg > ONE_PERSON_KG:
        where.findings.warn(
            f"{where.file}, [weights]: two_person_kg is {_kg_lb(weights.two_person_kg)}, so one"
            f" person is asked to lift trees heavier than {_kg_lb(ONE_PERSON_KG)}, the most one"
            " person should lift now and then, and less from the floor or many times over."
        )
    if 0.0 < weights.not_home <= weights.dearest_way_home:
        where.findings.warn(
            f"{where.file}, [weights]: not_home is {weights.not_home:g}, no more than taking one"
            f" tree home can cost ({weights.dearest_way_home:g}: the dearest carry and "
            "extra_carry), so trees may be left under cover at the end although it is safe "
            "outdoors. Leave it out, or make it higher."
        )


def _kg_lb(mass_kg: float) -> str:
    return f"{Display(us=False).weight(mass_kg)} ({Display(us=True).weight(mass_kg)})"
