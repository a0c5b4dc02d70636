"""Reads a winter's folder into one ``Season``, or says everything that is wrong with it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from overwinter.files.findings import Findings, KeyGuess, Where, closest, did_you_mean, listed
from overwinter.files.measures import COMMON_MONEY
from overwinter.files.shelter_file import ShelterFile, read_shelters
from overwinter.files.site_file import SiteFile
from overwinter.files.species_table import read_species
from overwinter.files.text_files import PLAN, SHELTERS, SITE, read_toml
from overwinter.files.tree_columns import TreeRow
from overwinter.files.tree_list import TreeList, read_trees
from overwinter.files.weather import read_weather
from overwinter.model.season import Season
from overwinter.model.shelter import Carrier, Place, PlaceKind, Shelter, Towards
from overwinter.model.site import CONTINUOUS_SHARE, Site
from overwinter.model.tree import Tree
from overwinter.shelters.fit import fit_readings
from overwinter.shelters.network import floor_m2
from overwinter.units import METRIC, Display

SPECIES = "species.csv"
LONGEST_QUARANTINE_D = 366


@dataclass(frozen=True)
class WinterFolder:
    """A winter's folder without mistakes, with every guess that its files may be given."""

    season: Season
    listing: TreeList
    guesses: tuple[KeyGuess, ...]


def read_season(folder: Path) -> Season:
    """The season of ``read_folder``; the same errors."""
    return read_folder(folder).season


def read_folder(folder: Path) -> WinterFolder:
    """Read and check all files of a winter's folder. It holds site.toml, shelters.toml, trees.csv
    or trees.xlsx, perhaps species.csv and a weather file; docs/files.md describes each."""
    findings = Findings()
    if not folder.is_dir():
        found = "a file" if folder.exists() else "no such folder"
        findings.at(str(folder)).problem(found, "a folder with the files of one winter")
    elif (folder / PLAN).is_file() and not any((folder / one).exists() for one in (SITE, SHELTERS)):
        findings.at(str(folder)).problem(
            f"{PLAN} alone, as `plan --out` writes it",
            "a folder with the files of one winter",
            "Plan that folder without --out, and name it here.",
        )
    findings.raise_if_any()
    site = read_toml(folder / SITE, SiteFile, findings)
    tables, shelters = read_shelters(folder / SHELTERS, findings)
    kinds = read_species(folder / SPECIES, findings)
    starts = site.season and site.season[0]
    listing = read_trees(folder, kinds.names, starts, findings, kinds.unread, site.tree_value)
    weather = read_weather(folder, site, findings)
    summer_place = check_summer_place(site, tables, findings)
    check_heaters(site, tables, findings)
    check_opening_dates(site, tables)
    trees = () if listing is None else check_trees(listing, site, tables, shelters, findings)
    findings.raise_if_any()
    if shelters is None or listing is None or weather is None:
        raise AssertionError("a file could not be read, yet no problem was noted")
    winters, recipe, ground, design_min_c = weather
    made = site.site(ground, design_min_c, summer_place)
    season = Season(
        site=made,
        winters=winters,
        species=kinds.species,
        trees=trees,
        shelters=within_season(made.starts, made.ends, shelters),
        assumptions=listing.assumptions,
        assumed=tuple(findings.assumed),
        warnings=tuple(findings.warnings),
        recipe=recipe,
    )
    season = replace(season, warnings=(*season.warnings, *oddities(season)))
    return WinterFolder(season, listing, tuple(findings.guesses))


def full_id(written: str, places: Iterable[str]) -> str | None:
    """The place meant by ``shelter/place``, or by the place alone where only one has that name."""
    known = list(places)
    if written in known:
        return written
    ends = [place for place in known if place.split("/", 1)[1] == written]
    return ends[0] if len(ends) == 1 else None


def check_summer_place(site: SiteFile, shelters: ShelterFile, findings: Findings) -> str:
    """The full id of the summer place, which must lie in the open air; empty: not known."""
    if site.summer_place is None:
        return ""
    places = shelters.places
    found = full_id(site.summer_place, places)
    under_cover = found is not None and places[found].lies_open is False
    if not under_cover and (found is not None or not shelters.all_named):
        return found or ""
    outdoors = [place for place, shelter in places.items() if shelter.lies_open]
    doubtful = any(shelter.lies_open is None for shelter in shelters.shelter)
    expected = f"a place in the open air: {listed(outdoors)}"
    if not outdoors:
        expected = "a place of a shelter with open_air = true"
        expected += "" if doubtful else ", of which shelters.toml has none"
    findings.at("site.toml", None, "summer_place").problem(
        f"'{site.summer_place}'" + (", which is under cover" if under_cover else ""),
        expected,
        did_you_mean(site.summer_place, outdoors),
    )
    return ""


def check_heaters(site: SiteFile, shelters: ShelterFile, findings: Findings) -> None:
    """Every heater has a breaker that is there and a price for what it uses."""
    priced, breakers = site.carriers, None if site.hides("breakers") else site.breakers
    for heater in (heater for shelter in shelters.shelter for heater in shelter.heater):
        carrier, breaker = heater.carrier, heater.breaker
        if carrier is not None and priced is not None and carrier not in priced:
            table = f"prices.{carrier.value.replace(' ', '_')}"
            name = heater.name or str(heater.where.row).rpartition(".")[2]
            findings.at("site.toml", table).problem(
                f"no price of {carrier.value}, which heater '{name}' uses",
                "per_kwh, or per_unit and unit",
                f"Add [{table}] with per_kwh = ... to site.toml.",
            )
        if breaker is not None and breakers is not None and breaker not in breakers:
            heater.where.of("breaker").problem(
                f"'{breaker}'",
                f"a breaker of site.toml: {listed(breakers) or 'it names none'}",
                did_you_mean(breaker, breakers),
            )


def check_opening_dates(site: SiteFile, shelters: ShelterFile) -> None:
    """Shelters open and close within the season, in order."""
    starts, ends = site.season or (date.min, date.max)
    for shelter in shelters.shelter:
        where, opens, closes = shelter.where, shelter.opens, shelter.closes
        if opens and starts < opens + timedelta(days=365) <= ends < date.max:
            where.findings.warn(
                f"[{where.row}] opens on {opens}, long before the plan begins on {starts}, so it is"
                " open all along. Is it the year before?"
            )
        if opens and opens > ends:
            _bad_date(where.of("opens"), f"'{opens}', after the plan ends on {ends}", site)
        if closes and closes <= starts:
            found = f"'{closes}', before the plan begins on {starts}"
            _bad_date(where.of("closes"), found, site)
        if opens and closes and opens >= closes:
            _bad_date(where.of("opens"), f"'{opens}', not before closes '{closes}'", site)


def within_season(starts: date, ends: date, shelters: Iterable[Shelter]) -> tuple[Shelter, ...]:
    """Shelters with their dates within the season; those that open by its start are always open."""
    return tuple(
        replace(
            shelter,
            opens=shelter.opens if shelter.opens and shelter.opens > starts else None,
            closes=shelter.closes if shelter.closes and shelter.closes <= ends else None,
        )
        for shelter in shelters
    )


def _bad_date(where: Where, found: str, site: SiteFile) -> None:
    season = site.season
    where.problem(
        found,
        f"a day from {season[0]} to {season[1]}, in order" if season else "the two days in order",
        "Check the year.",
    )


def check_trees(
    listing: TreeList,
    site: SiteFile,
    shelters: ShelterFile,
    whole: tuple[Shelter, ...] | None,
    findings: Findings,
) -> tuple[Tree, ...]:
    """Trees with full place ids, their dates and sizes checked against site and shelters. ``whole``
    are the shelters where all of them could be read, else None."""
    stands: dict[int, dict[str, Any]] = {}
    elsewhere: list[str] = []
    for number, row in listing.rows.items():
        _check_tree_dates(row, site)
        stands[number] = _places(row, shelters)
        begins = row.stands_at
        if begins is not None and not full_id(begins, shelters.places):
            if listing.location:
                elsewhere.append(begins)
            else:
                _known(begins, shelters, (), row.where.of("stands_at"))
    if elsewhere and shelters.all_named:
        findings.assume(
            f"{listing.file}: '{listing.location}' names no places of shelters.toml"
            f" ({listed(dict.fromkeys(elsewhere), most=4)}): those trees begin at the summer place."
        )
    if whole is not None:
        places = {place.id: place for shelter in whole for place in shelter.places}
        for tree in {tree.row: tree for tree in reversed(listing.trees)}.values():
            display = METRIC if site is None else site.display
            _check_size(tree, places, display, findings.at(listing.file, tree.row))
    return tuple(replace(tree, **stands[tree.row]) for tree in listing.trees)


def _check_tree_dates(row: TreeRow, site: SiteFile) -> None:
    first, last = site.season or (None, None)
    joins, until, where = row.joins_after(first), row.quarantined(first), row.where
    if last is not None and joins is not None and joins > last:
        _bad_date(where.of("joins"), f"'{joins}', after the plan ends on {last}", site)
    if last is not None and until and until > last + timedelta(days=LONGEST_QUARANTINE_D):
        _bad_date(where.of("quarantine_until"), f"'{until}'", site)
    if until is not None and joins is not None and until <= joins:
        found = f"'{until}', not after it joins on {joins}"
        _bad_date(where.of("quarantine_until"), found, site)


def _places(row: TreeRow, shelters: ShelterFile) -> dict[str, Any]:
    """Where a row's trees stand and may be, by full ids; unknown names are problems."""
    ids = tuple(shelter.key for shelter in shelters.shelter)

    def full(column: str, names: Iterable[str]) -> frozenset[str]:
        found = (_known(name, shelters, ids, row.where.of(column)) for name in names)
        return frozenset(name for name in found if name)

    only, never = full("only", row.only), full("never", row.never)
    names = [{place, shelter.key} for place, shelter in shelters.places.items()]
    left = any(not one & never and (not only or one & only) for one in names)
    if (row.only or row.never) and not left and shelters.all_named:
        column, told = (
            ("only", "all of it forbidden in the column never")
            if row.only
            else ("never", "which is every place")
        )
        found = f"{listed(sorted(row.only or row.never))}, {told}"
        row.where.of(column).problem(found, "at least one place left")
    begins = full_id(row.stands_at, shelters.places) if row.stands_at else None
    return {"stands_at": begins, "pinned": only, "forbidden": never}


def _known(written: str, shelters: ShelterFile, ids: tuple[str, ...], where: Where) -> str | None:
    """The full id meant, or None; a problem where all names are known."""
    places = shelters.places
    found = written if written in ids else full_id(written, places)
    if found is not None or not shelters.all_named:
        return found
    several = [place for place in places if place.split("/", 1)[1] == written]
    near = closest(written, [*places, *ids, *(p.split("/", 1)[1] for p in places)])
    where.problem(
        f"'{written}'",
        f"one of {listed(several or [*ids, *places], most=40)}",
        f"Did you mean '{near}'?" if near and not several else "",
    )
    return None


def _check_size(tree: Tree, places: Mapping[str, Place], display: Display, where: Where) -> None:
    """A tree larger than every place is mostly a slip of units."""
    sides = sorted((tree.width_m, tree.depth_m))
    for place in places.values():
        room = sorted((place.width_m, place.depth_m))
        borne = tree.height_m <= place.headroom_m and tree.weight_kg <= place.load_limit_kg
        if borne and sides[0] <= room[0] and sides[1] <= room[1]:
            return
    roomiest = max(places.values(), key=lambda place: (place.headroom_m, place.area_m2))
    where.of("height, width, depth, weight").problem(
        f"{display.length(tree.height_m)} tall, {display.length(tree.width_m)} x"
        f" {display.length(tree.depth_m)} wide, {display.weight(tree.weight_kg)}: too large or"
        " heavy for every place",
        f"a tree that some place can hold (the roomiest is {roomiest.id})",
        "Is the unit of the heading right?",
    )


DEGREES_PER_HOUR = 15.0
TROPIC_DEG, MOUNTAIN_M, HARD_FROST_C = 23.4, 1000.0, -5.0  # no such frost nearer or lower (memory)
FURTHEST_FROM_SUN_H = 3.0  # of standard time, where a country keeps one (western China)
DEAREST_PER_KWH, CHEAPEST_PER_KWH = 1.5, 0.005
HEAVIEST_KG_PER_L, LIGHTEST_KG_PER_L = 6.0, 0.3
"""Pot, moist mix and tree a litre of pot: about 1.5 as a rule, 3 with rock (judgement)."""
HEAVY_KG = 40.0
LONGEST_OVER_SQUARE = 4.0  # longest floor over a square of its area: 16 times as long as wide
LOWEST_M = 0.3  # no shelter is lower inside: a judgement
VAGUE_K = 2.0  # standard deviation of a foretold coldest night that is said
OVERFULL = 1.3  # of the floor; shelves may hang over it, and U-values name no inside


def oddities(season: Season) -> list[str]:
    """Each in a sentence with what was found, what is usual and the likely slip."""
    return [
        *(text for shelter in season.shelters for text in _breakers(shelter, season.site)),
        *_site(season.site),
        *(text for shelter in season.shelters for text in _shelter(shelter, season.site)),
        *_trees(season),
    ]


def _breakers(shelter: Shelter, site: Site) -> Iterator[str]:
    """A heater that draws more than its breaker may carry for hours is said, not refused."""
    for heater in shelter.heaters:
        load = site.breakers_w.get(heater.breaker or "")
        drawn = heater.power_w / heater.efficiency
        if load is not None and heater.carrier is Carrier.ELECTRICITY and drawn > load:
            yield (
                f"[shelter.{shelter.id}.heater.{heater.name}] draws {drawn:.0f} W; its breaker"
                f" {heater.breaker} may carry {load:.0f} W for hours ({CONTINUOUS_SHARE:.0%} of"
                " its rating), so the plan leaves it off. A smaller heater or a larger circuit, or"
                " watts in [breakers] of site.toml if an electrician allows more."
            )


def _site(site: Site) -> Iterator[str]:
    # A plan that begins in spring is mostly a slip.
    autumn = (8, 9, 10, 11, 12) if site.latitude_deg >= 0 else (2, 3, 4, 5, 6)
    if site.starts.month not in autumn:
        yield (
            f"The plan begins on {site.starts}; that is no autumn day at {site.latitude_deg:g}° of"
            " latitude."
        )
    tropical = abs(site.latitude_deg) < TROPIC_DEG and site.elevation_m < MOUNTAIN_M
    if tropical and site.design_min_c < HARD_FROST_C:
        yield (
            f"site.toml: the latitude is {site.latitude_deg:g}°, in the tropics, but a night of"
            f" {site.display.temperature(site.design_min_c, 0)} comes in 20 winters. Are latitude"
            " and longitude swapped?"
        )
    by_sun_h = site.longitude_deg / DEGREES_PER_HOUR
    if abs(site.utc_offset_h - by_sun_h) > FURTHEST_FROM_SUN_H:
        yield (
            f"site.toml: utc_offset_h is {site.utc_offset_h:g}, but at longitude"
            f" {site.longitude_deg:g} the sun is {by_sun_h:+.1f} h from UTC. Is a sign wrong?"
            " West is negative in both."
        )
    for carrier, price in site.money_per_kwh.items():
        odd = price > DEAREST_PER_KWH or 0 < price < CHEAPEST_PER_KWH
        if site.currency.lower() in COMMON_MONEY and odd:
            yield (
                f"site.toml: a kWh of {carrier.value} costs {price:.3g} {site.currency}; from"
                f" {CHEAPEST_PER_KWH:g} to {DEAREST_PER_KWH:g} is usual. Are these cents, or is"
                " the unit another?"
            )


def _shelter(shelter: Shelter, site: Site) -> Iterator[str]:
    if shelter.readings is not None:
        fit = fit_readings(shelter.readings, site)
        if fit.unsure_k > VAGUE_K:
            yield (
                f"{shelter.name}: {fit.days} days of readings foretell a design night no better"
                f" than within {site.display.kelvin(fit.unsure_k, 1)}, and the plan counts that as"
                " risk. A log through colder nights tells more."
            )
    if shelter.envelope is None:
        return
    surfaces = shelter.envelope.surfaces
    told = any(surface.towards is Towards.GROUND for surface in surfaces)
    volume_m3, high_m = shelter.envelope.volume_m3, max(p.headroom_m for p in shelter.places)
    floor = max(floor_m2(shelter.envelope), volume_m3 / high_m) if told else volume_m3 / LOWEST_M
    longest_m = LONGEST_OVER_SQUARE * float(np.sqrt(floor))
    for place in shelter.places:
        side_m = max(place.width_m, place.depth_m)
        if side_m > longest_m:
            yield (
                f"[shelter.{shelter.id}.place.{_id(place)}] is {site.display.length(side_m)} long;"
                f" its shelter has a floor of {'' if told else 'at most '}"
                f"{site.display.area(floor)}. Is the unit right?"
            )
    if not told:
        return
    standing = [p for p in shelter.places if p.kind not in (PlaceKind.SHELF, PlaceKind.BENCH)]
    for places in (standing, [p for p in shelter.places if p.kind is PlaceKind.BENCH]):
        area_m2 = sum(place.area_m2 for place in places)
        if area_m2 > OVERFULL * floor:
            yield (
                f"[shelter.{shelter.id}]: {', '.join(_id(p) for p in places)} take"
                f" {site.display.area(area_m2)}, more than the floor of"
                f" {site.display.area(floor)} that its envelope tells of. Is a unit wrong?"
            )


def _id(place: Place) -> str:
    return place.id.split("/", 1)[1]


def _trees(season: Season) -> Iterator[str]:
    display = season.site.display
    odd = []
    for tree in season.trees:
        per_litre = tree.weight_kg / tree.pot_litres
        heavy = per_litre > HEAVIEST_KG_PER_L and tree.weight_kg > HEAVY_KG
        if heavy or per_litre < LIGHTEST_KG_PER_L:
            pot = display.volume(tree.pot_litres)
            odd.append(f"{tree.name} ({display.weight(tree.weight_kg)}, pot of {pot})")
    if odd:
        yield (
            f"Weight and pot do not go together: {listed(odd, most=8)}. A litre of pot"
            " weighs 1 to 3 kg with its tree (a US gallon 8 to 25 lb). Is a unit wrong?"
        )
