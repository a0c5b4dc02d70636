"""How fast the physics of a whole sample of winters is.

Run ``python tests/benchmarks/physics.py``. It prints processor seconds, settings of all shelters
and the hours that were stepped; it asserts nothing about time.
"""

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))

from season_maker import make_season, make_shelters

from overwinter.model.season import Season
from overwinter.model.shelter import Heater
from overwinter.shelters.conditions import compute_conditions

WINTERS = 30
HOUSES, HOLDS = 4, 11
REPEATS = 3


def site() -> Season:
    """Garden, cellar, shed and four glasshouses: about 50 shelter settings."""
    garden, glass, cellar, shed = make_shelters()
    rows = [garden, cellar, shed]
    for i in range(HOUSES):
        holds = tuple(float(c) for c in range(HOLDS))
        heater = Heater("h", glass.heaters[0].carrier, 1.0, 3000, hold_c=holds, breaker="shed")
        name = f"glass{i}"
        places = tuple(replace(p, id=f"{name}/{p.name}", shelter_id=name) for p in glass.places)
        rows.append(replace(glass, id=name, places=places, heaters=(heater,)))
    return make_season(tuple(rows), winters=WINTERS)


def main() -> None:
    """One line."""
    season, least = site(), float("inf")
    for _ in range(REPEATS):
        begun = time.process_time()
        found = compute_conditions(season)
        least = min(least, time.process_time() - begun)
    settings = sum(len(s.settings) for s in found.shelters.values())
    print(
        f"{season.winters.count} winters x {settings} settings x {season.days} days, "
        f"{len(found.places)} places: {least:.2f} s of processor time"
    )


if __name__ == "__main__":
    main()
