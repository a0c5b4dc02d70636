"""How long a plan of 60, 120 and 300 trees takes, and how near to the best it is.

Run ``python tests/benchmarks/sizes.py [TREES ...]``. Trees and winters are drawn from a seed; the
shelters are those of the physics tests, as large as the collection asks for. It prints processor
seconds, the proven gap and the trees left out; it asserts nothing about time.
"""

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))

import numpy as np
from season_maker import make_season, make_shelters

from overwinter.files.species_table import shipped_species
from overwinter.model.season import Season
from overwinter.model.shelter import Shelter
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


def _roomy(shelter: Shelter, footprint_m2: float) -> Shelter:
    share = GARDEN_SHARE if shelter.open_air else COVERED_SHARE
    wider = max(1.0, share * footprint_m2 / PLACE_M2)
    places = tuple(replace(p, width_m=p.width_m * wider) for p in shelter.places)
    return replace(shelter, places=places)


def make_winter(count: int) -> Season:
    """A season of ``count`` random trees; everyone may carry as many a day as there are."""
    trees = random_trees(count, np.random.default_rng(SEED))
    footprint = sum(tree.footprint_m2 for tree in trees)
    shelters = [_roomy(shelter, footprint) for shelter in make_shelters()]
    # The summer stand holds the whole collection.
    garden = shelters[0]
    stand, *others = garden.places
    stand = replace(stand, width_m=max(stand.width_m, 2.0 * footprint / stand.depth_m))
    shelters[0] = replace(garden, places=(stand, *others))
    season = make_season(tuple(shelters), winters=WINTERS, seed=SEED)
    site = replace(season.site, summer_place=stand.id, carries_per_day=count)
    used = {tree.species_key for tree in trees}
    species = {key: kind for key, kind in shipped_species().items() if key in used}
    return replace(season, site=site, trees=trees, species=species)


def main(sizes: tuple[int, ...]) -> None:
    """One line a size."""
    for count in sizes:
        season = make_winter(count)
        begun = time.process_time()
        plan = plan_winter(season).plan
        seconds = time.process_time() - begun
        gap = "not known" if plan.proof.gap is None else f"{100 * plan.proof.gap:.1f} %"
        print(
            f"{count} trees, {len(season.places)} places, {season.winters.count} winters: "
            f"{seconds:.1f} s of processor time, gap {gap}, {len(plan.left_out)} trees left out",
            flush=True,
        )


if __name__ == "__main__":
    main(tuple(int(text) for text in sys.argv[1:]) or SIZES)
