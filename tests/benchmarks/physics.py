"""How fast a winter's physics is, against the plain loop run in the same session.

Run ``python tests/benchmarks/physics.py``. It prints processor seconds and their ratio, and
the largest difference between the two in K and W; it asserts nothing about time.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))

from event_walk import walk_all
from season_maker import make_season, make_shelters

from overwinter.model.shelter import Heater, Shelter
from overwinter.shelters.conditions import compute_conditions
from overwinter.shelters.heat_balance import Control, Node, Trace, step

HOURS, COLUMNS = 4400, 50
REPEATS = 5


def winter(
    columns: int, power_w: float, vents: bool
) -> tuple[Node, np.ndarray, np.ndarray, Control]:
    """Columns of one house with rising hold temperatures in a made-up winter."""
    rng = np.random.default_rng(0)
    hour = np.arange(HOURS)
    outdoor = -2 - 9 * np.cos(2 * np.pi * (hour - 2500) / 8760) + 5 * np.sin(2 * np.pi * hour / 24)
    outdoor += np.convolve(rng.normal(0, 3, HOURS + 47), np.ones(48) / 48**0.5, "valid")
    sun = np.maximum(0, 400 * np.sin(2 * np.pi * (hour - 6) / 24)) * rng.random(HOURS)
    conductance = np.full(columns, 150.0)
    node = Node(
        conductance,
        np.full(columns, 1.2e6),
        np.full(columns, 200.0 if vents else 0.0),
        np.full(columns, 18.0 if vents else np.inf),
    )
    control = Control(np.zeros(columns), np.linspace(-3, 12, columns), np.full(columns, power_w))
    drive = np.repeat((150 * outdoor + 4 * sun)[:, None], columns, axis=1)
    return node, drive, np.repeat(outdoor[:, None], columns, axis=1), control


def best(work: Callable[[], Trace], repeats: int) -> tuple[float, Trace]:
    """Least processor seconds of a few runs, and the result."""
    least = np.inf
    for _ in range(repeats):
        begun = time.process_time()
        result = work()
        least = min(least, time.process_time() - begun)
    return float(least), result


def compare(name: str, power_w: float, vents: bool) -> None:
    """One line: ours, the loop, the ratio, the differences."""
    node, drive, outdoor, control = winter(COLUMNS, power_w, vents)
    start = np.full(COLUMNS, 8.0)
    fast_s, fast = best(lambda: step(node, drive, outdoor, control, start), REPEATS)
    slow_s, slow = best(lambda: walk_all(node, drive, outdoor, control, start), 1)
    print(
        f"{name}: {HOURS} h x {COLUMNS} columns {fast_s:.3f} s, loop {slow_s:.2f} s, "
        f"{slow_s / fast_s:.0f} times; differences {np.abs(fast.air_c - slow.air_c).max():.1e} K, "
        f"{np.abs(fast.heat_w - slow.heat_w).max():.1e} W"
    )


def site() -> None:
    """A whole site with all its root zones."""
    garden, glass, cellar, shed = make_shelters()
    rows: list[Shelter] = [garden, cellar, shed]
    for i in range(4):
        holds = tuple(float(c) for c in range(10))
        heater = Heater("h", glass.heaters[0].carrier, 1.0, 3000, hold_c=holds, breaker="shed")
        name = f"glass{i}"
        places = tuple(replace(p, id=f"{name}/{p.name}", shelter_id=name) for p in glass.places)
        rows.append(replace(glass, id=name, places=places, heaters=(heater,)))
    season = make_season(tuple(rows))
    compute_conditions(season)
    begun = time.process_time()
    got = compute_conditions(season)
    seconds = time.process_time() - begun
    columns = sum(len(s.settings) for s in got.shelters.values())
    print(
        f"whole site: {season.hours} h, {len(got.shelters)} shelters, {columns} settings, "
        f"each also 5 K colder, {len(got.places)} places, 9 pot classes: {seconds:.2f} s"
    )


if __name__ == "__main__":
    compare("enough power", 6000.0, vents=False)
    compare("too little power", 1500.0, vents=False)
    compare("too little power and vents", 1500.0, vents=True)
    site()
