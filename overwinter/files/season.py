"""Reads a winter's folder into one ``Season``, or says everything that is wrong with it."""

from dataclasses import dataclass, replace
from pathlib import Path

from overwinter.files.cross_checks import (
    check_heaters,
    check_opening_dates,
    check_season_dates,
    check_summer_place,
    check_trees,
    oddities,
    warn_of_breakers,
    within_season,
)
from overwinter.files.findings import Findings, KeyGuess
from overwinter.files.shelter_file import read_shelters
from overwinter.files.site_file import WrittenSite, read_site
from overwinter.files.species_table import read_species
from overwinter.files.toml_file import SHELTERS, SITE
from overwinter.files.tree_list import TreeList, read_trees
from overwinter.files.weather import SeasonWeather, read_weather
from overwinter.model.season import Season
from overwinter.model.site import Household, Site
from overwinter.model.tree import Tree

SPECIES = "species.csv"


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
    """Read and check all files of a winter's folder.

    Parameters
    ----------
    folder : Path
        Holds site.toml, shelters.toml, trees.csv or trees.xlsx, perhaps species.csv and a weather
        file; docs/files.md describes each.

    Returns
    -------
    WinterFolder
        All inputs, typed, in SI, with what was assumed and what is odd.

    Raises ``InputProblems``: Every problem of every file at once.
    """
    findings = Findings()
    if not folder.is_dir():
        found = "a file" if folder.exists() else "no such folder"
        findings.at(str(folder)).problem(found, "a folder with the files of one winter")
        findings.raise_if_any()
    site = read_site(folder / SITE, findings)
    shelters = read_shelters(folder / SHELTERS, findings)
    kinds = read_species(folder / SPECIES, findings)
    listing = read_trees(
        folder, kinds.names, site.known.starts, findings, kinds.unread, site.known.tree_value
    )
    weather = read_weather(folder, site, findings)
    summer_place = check_summer_place(site.known, shelters.known, findings)
    check_heaters(site.known, shelters.known, findings)
    check_opening_dates(site.known, shelters.known, findings)
    trees: tuple[Tree, ...] = ()
    if listing is not None:
        whole = shelters.shelters if shelters.complete else None
        trees = check_trees(listing, site.known, shelters.known, whole, findings)
    findings.raise_if_any()
    written = site.written
    if written is None or listing is None or weather is None or summer_place is None:
        raise AssertionError("a file could not be read, yet no problem was noted")
    warn_of_breakers(written.breakers_w, shelters.shelters, findings)
    check_season_dates(written.site.starts, written.site.latitude, findings)
    season = Season(
        site=_site(written, weather, summer_place),
        winters=weather.winters,
        species=kinds.species,
        trees=trees,
        shelters=within_season(written.site.starts, written.site.ends, shelters.shelters),
        assumptions=listing.assumptions,
        assumed=tuple(findings.assumed),
        warnings=tuple(findings.warnings),
        recipe=weather.recipe,
    )
    season = replace(season, warnings=(*season.warnings, *oddities(season)))
    return WinterFolder(season, listing, tuple(findings.guesses))


def _site(written: WrittenSite, weather: SeasonWeather, summer_place: str) -> Site:
    site = written.site
    return Site(
        name=site.name,
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=site.elevation_m,
        utc_offset_h=written.utc_offset_h,
        starts=site.starts,
        ends=site.ends,
        design_min_c=weather.design_min_c,
        ground=weather.ground,
        house_c=written.house_c,
        summer_place=summer_place,
        currency=site.currency,
        money_per_kwh=written.money_per_kwh,
        breakers_w=written.breakers_w,
        household=Household(**written.household.model_dump(exclude={"thermostat_changes"})),
        thermostat_changes=written.household.thermostat_changes,
        winters=site.winters,
        seed=site.seed,
        weights=written.weights,
        display=written.display,
        invented=site.invented,
    )
