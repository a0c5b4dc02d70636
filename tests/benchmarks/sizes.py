"""How long a plan of 60, 120 and 300 trees takes, and how near to the best it is.

Run ``python tests/benchmarks/sizes.py [TREES ...]``, or ``--collections 40`` for so many random
collections of 20 to 300 trees in milder and colder climates, half of them with too little room.
Trees and winters are drawn from a seed; the shelters are those of the physics tests, as large as
the collection asks for. It prints processor seconds, the proven gap and the trees left out; it
asserts nothing about time.
"""

import argparse
import gc
import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))

import numpy as np
from season_maker import RECIPE, make_season, make_shelters

from overwinter.cli.app import SMALL_OBJECTS
from overwinter.climate.generator import fresh_winters
from overwinter.files.species_table import shipped_species
from overwinter.model.season import Season
from overwinter.model.shelter import Shelter
from overwinter.model.site import Household
from overwinter.model.species import Species
from overwinter.model.tree import Condition, Tree
from overwinter.search.plan_winter import plan_winter

SIZES = (60, 120, 300)
SEED, WINTERS = 1, 30
PLACE_M2 = 2.0
"""Area of each place as the physics tests make it."""
GARDEN_SHARE, COVERED_SHARE = 0.6, 0.12
"""Area of a place in the garden and under cover, in footprints of the whole collection."""
POTS = (
    # litres, width m, depth m, height m, mass kg, share of a collection, value: invented
    (1.2, 0.18, 0.16, 0.24, 2.0, 0.25, 30.0),
    (2.8, 0.24, 0.22, 0.30, 4.2, 0.30, 60.0),
    (5.0, 0.32, 0.28, 0.40, 8.0, 0.25, 120.0),
    (8.5, 0.42, 0.36, 0.52, 13.0, 0.14, 250.0),
    (14.0, 0.52, 0.44, 0.66, 22.0, 0.06, 450.0),
)


def random_trees(count: int, random: np.random.Generator) -> tuple[Tree, ...]:
    """Kinds of the shipped table in pots of a few sizes."""
    kinds = [kind for kind in shipped_species().values() if not kind.is_group]
    pots = random.choice(len(POTS), count, p=[pot[5] for pot in POTS])
    who = random.integers(len(kinds), size=count)
    return tuple(_tree(n, kinds[k], int(p)) for n, (k, p) in enumerate(zip(who, pots, strict=True)))


def _tree(number: int, kind: Species, pot: int) -> Tree:
    litres, width, depth, height, mass, _, value = POTS[pot]
    return Tree(
        id=f"tree {number}",
        name=f"Tree {number}",
        species_key=kind.key,
        limits=kind.limits,
        width_m=width,
        depth_m=depth,
        height_m=height,
        weight_kg=mass,
        pot_litres=litres,
        condition=Condition.ORDINARY,
        value=value,
    )


def _roomy(shelter: Shelter, footprint_m2: float, room: float) -> Shelter:
    share = GARDEN_SHARE if shelter.open_air else room * COVERED_SHARE
    wider = max(1.0, share * footprint_m2 / PLACE_M2)
    places = tuple(replace(p, width_m=p.width_m * wider) for p in shelter.places)
    return replace(shelter, places=places)


def make_winter(count: int, seed: int = SEED, room: float = 1.0, warmer_k: float = 0.0) -> Season:
    """A season of ``count`` random trees; everyone may carry as many a day as there are.

    Parameters
    ----------
    room : under cover, as a share of the usual.
    warmer_k : than the climate of the physics tests, all year.
    """
    trees = random_trees(count, np.random.default_rng(seed))
    footprint = sum(tree.footprint_m2 for tree in trees)
    shelters = [_roomy(shelter, footprint, room) for shelter in make_shelters()]
    # The summer stand holds the whole collection.
    garden = shelters[0]
    stand, *others = garden.places
    stand = replace(stand, width_m=max(stand.width_m, 2.0 * footprint / stand.depth_m))
    shelters[0] = replace(garden, places=(stand, *others))
    season = make_season(tuple(shelters), winters=WINTERS, seed=SEED)
    site = replace(season.site, summer_place=stand.id, household=Household(people=count))
    used = {tree.species_key for tree in trees}
    species = {key: kind for key, kind in shipped_species().items() if key in used}
    season = replace(season, site=site, trees=trees, species=species)
    if not warmer_k:
        return season
    recipe = replace(
        RECIPE,
        mean_min_c=tuple(c + warmer_k for c in RECIPE.mean_min_c),
        mean_max_c=tuple(c + warmer_k for c in RECIPE.mean_max_c),
        coldest_mean_c=RECIPE.coldest_mean_c + warmer_k,
    )
    season = replace(season, recipe=recipe)
    return replace(season, winters=fresh_winters(season, WINTERS, seed))


def show(name: str, season: Season) -> None:
    """One line."""
    begun = time.process_time()
    outcome = plan_winter(season)
    plan, seconds = outcome.plan, time.process_time() - begun
    gap = "not known" if plan.proof.gap is None else f"{100 * plan.proof.gap:.1f} %"
    print(
        f"{name}{len(season.trees)} trees, {len(season.places)} places: {seconds:.1f} s of "
        f"processor time, gap {gap}, {len(plan.left_out)} trees left out, "
        f"audit {'passed' if outcome.report.passed else 'failed'}",
        flush=True,
    )


def main() -> None:
    """The sizes asked for, or the random collections."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trees", nargs="*", type=int, help="sizes of collections")
    parser.add_argument("--collections", type=int, default=0, help="random collections instead")
    asked = parser.parse_args()
    gc.set_threshold(SMALL_OBJECTS)
    for number in range(asked.collections):
        random = np.random.default_rng(1000 + number)
        count, warmer_k = int(random.integers(20, 301)), float(random.uniform(-6.0, 8.0))
        room = 0.5 if number % 2 else 1.3
        season = make_winter(count, 1000 + number, room, warmer_k)
        show(f"{number + 1}: {warmer_k:+.1f} K, room {room:.1f}: ", season)
    for count in () if asked.collections else asked.trees or SIZES:
        show("", make_winter(count))


if __name__ == "__main__":
    main()
