"""Random delays in a planned winter: is every limit kept, and how little is moved?

Run it:  python tests/benchmarks/delays.py [FOLDER] [--cases N] [--seed N] [--spare-days N]

FOLDER is a winter's folder (scenarios/balcony-and-cellar unless said). Each case takes the first
plan, a random day, the carries up to then as done (a few a day or two late, a few not at all), and
one thing that comes otherwise: a shelter opens later, closes early or loses its heater, or the rest
of the winter is colder. It is planned anew with the plan in force in mind, and afresh, as if there
were none. Counted are broken limits by the audit of the whole winter (must be 0), trees moved
before today (must be 0), and the share of trees that go to the places they would have gone to, in
the same order. ``--spare-days`` grants the household that many carry days more than the plan in
force still needs, for a delay mostly costs one. Exit code 1 if a limit is broken or the past was
changed.
"""

import argparse
import statistics
import sys
import time
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from overwinter.model.changes import Changes, Colder, Mark, Unmarked
from overwinter.model.fingerprint import carry_key
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.files.season import read_season
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import plan_winter
from overwinter.planning.replan import InForce, Replanned, Request, replan
from overwinter.planning.solving import NoPlan

BALCONY = Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar"
KINDS = ("late", "late", "late", "closes", "broken", "colder")


@dataclass(frozen=True)
class Delay:
    """One random case."""

    kind: str
    today: date
    changes: Changes
    marks: tuple[Mark, ...]


def random_delay(season: Season, plan: Plan, random: np.random.Generator) -> Delay:
    """A day in the winter and something that comes otherwise."""
    days = season.days
    today = season.date_of(int(random.integers(1, days - 14)))
    kind = str(random.choice(KINDS))
    roofed = [shelter for shelter in season.shelters if not shelter.open_air]
    heated = [shelter for shelter in roofed if shelter.heaters]
    if kind == "broken" and not heated:
        kind = "late"
    when = today + timedelta(days=int(random.integers(1, 40)))
    when = min(when, season.site.ends)
    if kind == "colder":
        changes = Changes(colder=(Colder(today, float(random.choice([1.0, 2.0, 3.0]))),))
    elif kind == "broken":
        shelter = heated[int(random.integers(len(heated)))]
        heater = shelter.heaters[int(random.integers(len(shelter.heaters)))]
        changes = Changes(broken={(shelter.id, heater.name): today})
    else:
        shelter = roofed[int(random.integers(len(roofed)))]
        if kind == "late" and (shelter.closes is None or when < shelter.closes):
            changes = Changes(opens={shelter.id: when})
        elif shelter.opens is None or shelter.opens < when:
            kind, changes = "closes", Changes(closes={shelter.id: when})
        else:
            changes = Changes(opens={shelter.id: when})
    return Delay(kind, today, changes, tuple(_marks(plan, today, random)))


def _marks(plan: Plan, today: date, random: np.random.Generator) -> list[Mark]:
    marks = []
    for carry in plan.carries:
        if carry.day >= today:
            continue
        luck = random.random()
        if luck < 0.03:
            continue
        late = timedelta(days=int(random.integers(1, 3))) if luck < 0.10 else timedelta(0)
        day = min(carry.day + late, today - timedelta(days=1))
        marks.append(Mark(day, carry.tree_id, carry.target, carry_key(carry)))
    return sorted(marks, key=lambda mark: mark.day)


@dataclass
class Tally:
    """What was counted."""

    cases: int = 0
    broken: int = 0
    past_moved: int = 0
    no_plan: int = 0
    left_out: int = 0
    undisturbed: list[float] = field(default_factory=list)
    extra: list[int] = field(default_factory=list)
    carries: list[int] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def count(self, anew: Replanned, marks: tuple[Mark, ...], seconds: float) -> None:
        """Add one re-plan."""
        self.cases += 1
        self.broken += len(anew.report.findings)
        self.past_moved += past_moved(anew, marks)
        self.left_out += len(anew.plan.left_out)
        found = anew.comparison
        total = len(found.changed) + len(found.unchanged)
        self.undisturbed.append(len(found.undisturbed) / max(total, 1))
        self.extra.append(found.extra_carries)
        self.carries.append(found.carries[1])
        self.seconds.append(seconds)


def past_moved(anew: Replanned, marks: tuple[Mark, ...]) -> int:
    """Carries before the first free day that nobody marked."""
    done = {(mark.day, mark.tree_id, mark.target) for mark in marks}
    first = anew.truth.first
    return sum(
        c.day < first and (c.day, c.tree_id, c.target) not in done for c in anew.plan.carries
    )


def run(
    folder: Path,
    cases: int,
    seed: int,
    spare_days: int,
    options: PlanOptions,
    *,
    afresh: bool,
    longest_s: float,
) -> int:
    """Print the table; the exit code. After ``longest_s`` no case is begun any more."""
    season = read_season(folder)
    began = time.perf_counter()
    outcome = plan_winter(season, options)
    print(
        f"{season.site.name}: {len(season.trees)} trees, {len(season.places)} places, "
        f"{len(outcome.plan.carries)} carries; planned in {time.perf_counter() - began:.1f} s"
    )
    random = np.random.default_rng(seed)
    tallies = {"with the plan in force": Tally()} | ({"afresh": Tally()} if afresh else {})
    kinds: dict[str, int] = {}
    for number in range(cases):
        if time.perf_counter() - began > longest_s:
            cases = number
            break
        delay = random_delay(season, outcome.plan, random)
        kinds[delay.kind] = kinds.get(delay.kind, 0) + 1
        in_force = InForce(outcome.plan, Changes(), delay.marks)
        allowed = _carry_days(season, outcome.plan, delay) + spare_days
        changes = replace(delay.changes, carry_days=allowed)
        request = Request(delay.today, changes, Unmarked.NOT_DONE, last_safe_dates=False)
        for name, tally in tallies.items():
            asked = replace(request, afresh=name == "afresh")
            start = time.perf_counter()
            try:
                anew = replan(season, in_force, asked, options)
            except NoPlan as error:
                tally.no_plan += 1
                print(f"case {number}, {delay}: {error}", file=sys.stderr)
                continue
            tally.count(anew, delay.marks, time.perf_counter() - start)
            for finding in anew.report.findings:
                print(f"case {number}, {name}, {delay.kind} {delay.today}: {finding}")
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {cases}", end="", file=sys.stderr)
    print(
        f"{cases} delays, seed {seed}, {spare_days} spare carry days: "
        + ", ".join(f"{n} {k}" for k, n in sorted(kinds.items()))
    )
    _print_table(tallies)
    return int(any(t.broken or t.past_moved for t in tallies.values()))


def _carry_days(season: Season, plan: Plan, delay: Delay) -> int:
    """Carry days of the whole winter with which the plan in force could just be finished."""
    used = len({mark.day for mark in delay.marks})
    ahead = len({carry.day for carry in plan.carries if carry.day >= delay.today})
    return max(season.site.carry_days_max, used + ahead)


def _print_table(tallies: dict[str, Tally]) -> None:
    print(f"\n{'':<44}" + "".join(f"{name:>24}" for name in tallies))
    rows = {
        "limits broken by the audit": lambda t: f"{t.broken}",
        "trees moved before today": lambda t: f"{t.past_moved}",
        "winters in which no tree has a safe place": lambda t: f"{t.no_plan}",
        "trees left without a safe place": lambda t: f"{t.left_out}",
        "trees undisturbed, mean share": lambda t: f"{statistics.fmean(t.undisturbed):.1%}",
        "trees undisturbed, worst case": lambda t: f"{min(t.undisturbed):.1%}",
        "carries that were in no plan, mean": lambda t: f"{statistics.fmean(t.extra):.2f}",
        "carries still ahead, mean": lambda t: f"{statistics.fmean(t.carries):.2f}",
        "seconds, median": lambda t: f"{statistics.median(t.seconds):.1f}",
        "seconds, longest": lambda t: f"{max(t.seconds):.1f}",
    }
    for label, tell in rows.items():
        print(f"{label:<44}" + "".join(f"{tell(t):>24}" for t in tallies.values()))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=BALCONY)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--spare-days", type=int, default=2)
    parser.add_argument("--gap", type=float, default=1e-3)
    parser.add_argument("--no-layouts", action="store_true")
    parser.add_argument("--no-afresh", action="store_true", help="plan anew only, for speed")
    parser.add_argument("--longest-s", type=float, default=float("inf"), help="begin no case after")
    given = parser.parse_args()
    chosen = PlanOptions(gap=given.gap, layouts=not given.no_layouts)
    sys.exit(
        run(
            given.folder,
            given.cases,
            given.seed,
            given.spare_days,
            chosen,
            afresh=not given.no_afresh,
            longest_s=given.longest_s,
        )
    )
