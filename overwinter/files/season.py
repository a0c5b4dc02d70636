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
from overwinter.files.site_file import read_site
from overwinter.files.species_table import read_species
from overwinter.files.text_files import SHELTERS, SITE
from overwinter.files.tree_list import TreeList, read_trees
from overwinter.files.weather import read_weather
from overwinter.model.season import Season

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
    made = site.site(weather.ground, weather.design_min_c, summer_place)
    warn_of_breakers(made.breakers_w, shelters, findings)
    check_season_dates(made.starts, made.latitude_deg, findings)
    season = Season(
        site=made,
        winters=weather.winters,
        species=kinds.species,
        trees=trees,
        shelters=within_season(made.starts, made.ends, shelters),
        assumptions=listing.assumptions,
        assumed=tuple(findings.assumed),
        warnings=tuple(findings.warnings),
        recipe=weather.recipe,
    )
    season = replace(season, warnings=(*season.warnings, *oddities(season)))
    return WinterFolder(season, listing, tuple(findings.guesses))
