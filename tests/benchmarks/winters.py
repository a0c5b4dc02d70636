"""Invented winters of any size, made from a seed, in the tool's own files.

``write_winter(folder, trees=300, places=12, seed=1)`` writes site.toml, shelters.toml, trees.csv
and a copy of the demo's measured weather: 26 weeks from 1 October, and nobody asks that the trees
be home again on the last day. Species are drawn from the tool's own table, pots from a few sizes,
and benches are made as large as the collection asks for, so that a winter of 30,000 trees is as
full as one of 60. Every grower, shelter and price in them is invented.
"""

import csv
import shutil
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from overwinter.model.species import LeafHabit, Species
from overwinter.files.findings import Findings
from overwinter.files.species_table import read_species

WEATHER = Path(__file__).parents[2] / "scenarios" / "cottonwood-yard" / "weather.csv"


@dataclass(frozen=True)
class Pot:
    """A pot and the tree that stands in it."""

    litres: float
    width_cm: int
    depth_cm: int
    height_cm: int
    weight_kg: float
    share: float
    """Of the collection."""
    value: int


POTS = (
    Pot(1.2, 18, 16, 24, 2.0, 0.25, 30),
    Pot(2.8, 24, 22, 30, 4.2, 0.30, 60),
    Pot(5.0, 32, 28, 40, 8.0, 0.25, 120),
    Pot(8.5, 42, 36, 52, 13.0, 0.14, 250),
    Pot(14.0, 52, 44, 66, 22.0, 0.06, 450),
)

HEADINGS = (
    *("tree", "species", "quantity", "width_cm", "depth_cm"),
    *("height_cm", "weight_kg", "pot_l", "value"),
)

Row = tuple[Species, Pot, int]
"""Species, pot and how many."""

TENDER_ROOTS_C = -4.0
"""Trees whose roots die above this are wanted under glass, as are evergreens; the others in a
cellar, a barn or outdoors."""


@dataclass(frozen=True)
class Kind:
    """A kind of shelter for a floor of 1 m2; what it is, as TOML with room for numbers."""

    name: str
    wanted_by: str
    benches_deep_m: float
    toml: str


WARM_ROOM = Kind(
    "Warm room",
    "warm",
    0.9,
    """transmission = 0.15
lamp_mol_m2_d = 5.0
  [shelter.envelope]
  volume_m3 = {2.4}
  air_changes_per_h = 0.4
  heat_capacity_kj_k = {270}
  solar_aperture_m2 = {0.03}
    [[shelter.envelope.surface]]
    name = "walls"
    area_m2 = {1.0}
    u_w_m2k = 0.6
    towards = "outdoors"
    [[shelter.envelope.surface]]
    name = "floor"
    area_m2 = {1.8}
    u_w_m2k = 0.45
    towards = "ground"
    [[shelter.envelope.surface]]
    name = "ceiling"
    area_m2 = {1.0}
    u_w_m2k = 0.7
    towards = "house"
  [[shelter.heater]]
  name = "heater"
  carrier = "electricity"
  power_w = {110}
  hold_c = [8, 12, 16]
  efficiency = 1.0
""",
)
FILM_HOUSE = Kind(
    "Film house",
    "tender",
    1.4,
    """transmission = 0.5
  [shelter.envelope]
  volume_m3 = {1.7}
  air_changes_per_h = 0.8
  heat_capacity_kj_k = {83}
  solar_aperture_m2 = {0.17}
  vent_above_c = 4
  vent_air_changes_per_h = 60
    [[shelter.envelope.surface]]
    name = "double film"
    area_m2 = {2.3}
    u_w_m2k = 4.0
    towards = "outdoors"
    glazed = true
    [[shelter.envelope.surface]]
    name = "gravel"
    area_m2 = {1.0}
    u_w_m2k = 0.8
    towards = "ground"
  [[shelter.heater]]
  name = "heater"
  carrier = "propane"
  power_w = {360}
  hold_c = [-3, 0, 3]
  efficiency = 0.8
  vented = true
""",
)
GLASSHOUSE = Kind(
    "Glasshouse",
    "tender",
    1.4,
    """transmission = 0.65
  [shelter.envelope]
  volume_m3 = {2.2}
  air_changes_per_h = 1.2
  heat_capacity_kj_k = {250}
  solar_aperture_m2 = {0.4}
  vent_above_c = 10
  vent_air_changes_per_h = 25
    [[shelter.envelope.surface]]
    name = "glass with bubble film"
    area_m2 = {2.6}
    u_w_m2k = 3.4
    towards = "outdoors"
    glazed = true
    [[shelter.envelope.surface]]
    name = "slab"
    area_m2 = {1.0}
    u_w_m2k = 0.8
    towards = "ground"
  [[shelter.heater]]
  name = "heater"
  carrier = "natural gas"
  power_w = {460}
  hold_c = [2, 6, 10]
  efficiency = 0.8
  vented = true
""",
)
CELLAR = Kind(
    "Cellar",
    "hardy",
    1.0,
    """transmission = 0.0
  [shelter.thermometer]
  coldest_c = 1
  warmest_c = 13
  outdoor_at_coldest_c = -21
  outdoor_at_warmest_c = 34
  smoothing_h = 240
""",
)
BARN = Kind(
    "Barn",
    "hardy",
    1.0,
    """transmission = 0.2
  [shelter.thermometer]
  coldest_c = -6
  warmest_c = 20
  outdoor_at_coldest_c = -16
  outdoor_at_warmest_c = 33
  smoothing_h = 36
""",
)
KINDS = (WARM_ROOM, CELLAR, FILM_HOUSE, BARN, GLASSHOUSE)
ROOM = {"warm": 2.4, "tender": 1.7, "hardy": 1.6}
"""Room by who wants it, in footprints of those trees."""

SITE = """name = "Invented winter of {trees} trees"
invented = true
latitude = 40.70
longitude = -96.85
elevation_m = 418
utc_offset_h = -6
starts = 2026-10-01
ends = 2027-03-31
summer_place = "yard/stands"
currency = "USD"
units = "metric"
[weather]
file = "weather.csv"
kind = "daily"
origin = "Copy of the demo's measured weather"
licence = "as there"
hardiness_zone = "5b"
[ground]
mean_c = 11.5
amplitude_k = 13.5
coldest_day = 32
diffusivity_m2_d = 0.05
[house]
temperature_c = 18
[prices.electricity]
per_kwh = 0.14
[prices.propane]
per_unit = 2.60
unit = "us gallon propane"
[prices."natural gas"]
per_kwh = 0.05
[household]
carries_per_day = {trees}
[weights]
fullest_share = 0.8
not_home = 0
"""

YARD = """[[shelter]]
id = "yard"
name = "Open yard"
open_air = true
  [[shelter.place]]
  id = "stands"
  name = "Summer stands"
  kind = "ground"
  width_m = {stands}
  depth_m = {stands}
  light_share = 1.0
  rodent_exposure = 0.2
  open_sides = ["front", "back"]
  [[shelter.place]]
  id = "bed"
  name = "Bed of bark lined with mesh"
  kind = "sunk"
  cover_cm = 25
  width_m = {bed}
  depth_m = 1.2
  light_share = 0.8
  rodent_exposure = 0.9
  guarded = true
  open_sides = ["front", "back"]
"""


def write_winter(folder: Path, *, trees: int, places: int, seed: int, kinds: int = 0) -> None:
    """Write a winter of ``trees`` trees and ``places`` places (at least 8) into ``folder``.

    ``kinds`` is how many rows trees.csv has, each of trees alike; 0 for one row a tree, but trees
    that are drawn alike are still alike.
    """
    random = np.random.default_rng(seed)
    species = [s for s in read_species(Path("none"), Findings()).species.values() if not s.is_group]
    rows = _rows(random, species, trees, kinds)
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(WEATHER, folder / "weather.csv")
    (folder / "site.toml").write_text(SITE.format(trees=trees), encoding="utf-8")
    (folder / "shelters.toml").write_text(_shelters(random, rows, places), encoding="utf-8")
    with (folder / "trees.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADINGS)
        for number, (kind, pot, count) in enumerate(rows, 1):
            size = (pot.width_cm, pot.depth_cm, pot.height_cm, pot.weight_kg, pot.litres)
            writer.writerow([f"Lot {number}", kind.latin, count, *size, pot.value])


def _rows(random: np.random.Generator, species: list[Species], trees: int, kinds: int) -> list[Row]:
    draws = kinds or trees
    who = random.integers(len(species), size=draws)
    pots = random.choice(len(POTS), size=draws, p=[pot.share for pot in POTS])
    if not kinds:
        sizes = np.ones(draws, dtype=int)
    else:
        ends = np.sort(random.choice(np.arange(1, trees), size=draws - 1, replace=False))
        sizes = np.array([b - a for a, b in pairwise([0, *ends.tolist(), trees])])
    found: Counter[tuple[int, int]] = Counter()
    for one, pot, size in zip(who.tolist(), pots.tolist(), sizes.tolist(), strict=True):
        found[one, pot] += size
    return [(species[one], POTS[pot], count) for (one, pot), count in sorted(found.items())]


def _wanted(species: Species) -> str:
    limits = species.limits
    if limits.air_floor_c is not None and limits.air_floor_c > 0:
        return "warm"
    tender = limits.root_kill_c > TENDER_ROOTS_C or limits.leaf is LeafHabit.EVERGREEN
    return "tender" if tender else "hardy"


def _shelters(random: np.random.Generator, rows: list[Row], places: int) -> str:
    footprint: Counter[str] = Counter()
    for kind, pot, count in rows:
        footprint[_wanted(kind)] += count * pot.width_cm * pot.depth_cm / 1e4
    total = sum(footprint.values())
    stands, bed = (total / 0.4) ** 0.5, total * 0.15 / 1.2 + 2
    parts = [YARD.format(stands=round(stands, 1), bed=round(bed, 1))]
    benches = places - 2
    count = max(3, benches // 2 if benches <= 20 else benches // 3)
    kinds = [KINDS[i % len(KINDS)] for i in range(count)]
    shared = Counter(kind.wanted_by for kind in kinds)
    for number, kind in enumerate(kinds):
        mine = benches // count + (number < benches % count)
        area = ROOM[kind.wanted_by] * footprint[kind.wanted_by] / shared[kind.wanted_by]
        area = max(area * float(random.uniform(0.8, 1.2)), 1.5)
        parts.append(_shelter(random, kind, number, area, mine))
    return "\n".join(parts)


def _shelter(
    random: np.random.Generator, kind: Kind, number: int, area_m2: float, benches: int
) -> str:
    pieces = []
    for part in kind.toml.split("{"):
        number_text, closing, rest = part.partition("}")
        if closing:
            pieces.append(f"{float(number_text) * area_m2 * 1.6:.2f}{rest}")
        else:
            pieces.append(part)
    text = f'[[shelter]]\nid = "s{number}"\nname = "{kind.name} {number}"\n{"".join(pieces)}'
    shares = random.dirichlet(np.full(benches, 8.0))
    for bench, share in enumerate(shares):
        floor = bench % 2 == 1
        depth = kind.benches_deep_m
        text += f"""  [[shelter.place]]
  id = "b{bench}"
  name = "{"Floor" if floor else "Bench"} {bench}"
  kind = "{"floor" if floor else "bench"}"
  width_m = {max(area_m2 * share / depth, 0.6):.2f}
  depth_m = {depth}
  headroom_m = {1.8 if floor else 1.0}
  light_share = {0.7 if floor else 0.9}
  rodent_exposure = {0.4 if floor else 0.1}
  guarded = {"true" if floor else "false"}
  open_sides = ["front", "back"]
"""
    return text
