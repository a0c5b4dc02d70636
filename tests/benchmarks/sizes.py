"""How long a plan takes and how near to the best it is, from 60 trees to 30,000.

Run ``python tests/benchmarks/sizes.py`` (Linux or macOS). For each size an invented winter is made
from a seed (``winters.py``), the whole command ``overwinter plan`` is run on it, and then, in the
same session, the textbook model of the same winter (``textbook.py``) is asked for a plan proven as
nearly. Seconds are this machine's; compare the ratios. It asserts nothing about time.

``--same-twice`` plans each size twice instead, and ``--both-solvers`` plans the folders of
``scenarios/`` with HiGHS and with CBC; both end with exit code 1 if the two do not agree.
"""

import argparse
import importlib.metadata
import json
import os
import platform
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sizes_page import number, page, percent, seconds_text, table
from sizes_picture import picture

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
USUAL = "60x8,300x12,3000x20,30000x40"
MANY_TREES = 30_000
KINDS_OF_MANY = 500
"""Rows of the tree list from ``MANY_TREES`` trees up: nobody has 30,000 all different."""
MOST_BINARIES = 3_000_000
"""Textbook models beyond this are not tried: PuLP and the solver need kilobytes for each."""
STARTS = 5
GRACE_S = 600.0
"""What a process may take beyond its own limit before it is ended."""
BYTES_OF_MAXRSS = 1 if sys.platform == "darwin" else 1024

Values = dict[str, Any]


@dataclass(frozen=True)
class Size:
    """A winter to be made."""

    trees: int
    places: int
    seed: int

    @property
    def kinds(self) -> int:
        """Rows of its tree list; 0: one a tree."""
        return KINDS_OF_MANY if self.trees >= MANY_TREES else 0


@dataclass(frozen=True)
class Ended:
    """A process that has ended."""

    seconds: float
    peak_mb: float
    """Most memory it (or the largest of its own children) had at a time, MB of 10^6 bytes."""
    code: int
    """Exit code; below 0 the signal that ended it."""
    output: str
    errors: str

    @property
    def why(self) -> str:
        """How it failed, in a few words."""
        last = self.errors.strip().splitlines()[-1:] or ["no message"]
        return f"exit code {self.code}: {last[0][:120]}"


def run(command: Sequence[str | Path], timeout_s: float | None = None, **variables: str) -> Ended:
    """Run a command as a process of its own and measure it.

    The memory is that of this one child, whatever else has run before.
    """
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **variables}
    with tempfile.TemporaryFile("w+") as output, tempfile.TemporaryFile("w+") as errors:
        begun = time.perf_counter()
        child = subprocess.Popen(
            command, stdout=output, stderr=errors, env=environment, start_new_session=True
        )
        # its own group, so that a solver it started ends with it
        clock = threading.Timer(timeout_s or threading.TIMEOUT_MAX, _end, [child.pid])
        clock.daemon = True
        clock.start()
        try:
            _, status, usage = os.wait4(child.pid, 0)
        except KeyboardInterrupt:
            _end(child.pid)
            raise
        finally:
            clock.cancel()
        seconds = time.perf_counter() - begun
        child.returncode = os.waitstatus_to_exitcode(status)
        output.seek(0)
        errors.seek(0)
        peak_mb = usage.ru_maxrss * BYTES_OF_MAXRSS / 1e6
        return Ended(seconds, peak_mb, child.returncode, output.read(), errors.read())


def _end(group: int) -> None:
    os.killpg(group, signal.SIGKILL)


def python(*arguments: str | Path) -> list[str | Path]:
    """A command of this interpreter."""
    return [sys.executable, *arguments]


def tell(text: str) -> None:
    """Progress, apart from the result."""
    print(text, file=sys.stderr, flush=True)


# --- one size ---------------------------------------------------------------------------------


def write(folder: Path, size: Size) -> None:
    """Make the winter, in a process of its own: a large parent shows in its children's peak."""
    made = run(python(__file__, "--write", folder, *map(str, (size.trees, size.places, size.seed))))
    if made.code:
        raise SystemExit(f"The winter of {size.trees} trees could not be made: {made.errors}")


def write_here(folder: str, trees: str, places: str, seed: str) -> None:
    """What ``write`` runs."""
    from winters import write_winter

    size = Size(int(trees), int(places), int(seed))
    write_winter(
        Path(folder), trees=size.trees, places=size.places, seed=size.seed, kinds=size.kinds
    )


def timed_command(file: str, *arguments: str) -> None:
    """``python -m overwinter ARGUMENTS``, with the seconds spent in PuLP written to ``file``."""
    import runpy

    import overwinter.program.build as module

    plain, seconds = module.build, []

    def timed(*given: Any, **named: Any) -> Any:
        begun = time.perf_counter()
        try:
            return plain(*given, **named)
        finally:
            seconds.append(time.perf_counter() - begun)

    module.build = timed  # before anything else imports it by name
    sys.argv = ["overwinter", *arguments]
    try:
        runpy.run_module("overwinter", run_name="__main__", alter_sys=True)
    finally:
        Path(file).write_text(json.dumps(seconds), encoding="utf-8")


def measure_plan(folder: Path, out: Path, options: Sequence[str]) -> Values:
    """The whole command: reading, physics, program, layouts, audit, writing."""
    builds = folder / "builds.json"
    command = ["plan", folder, "--out", out, "--json", *options]
    ended = run(python(__file__, "--timed", builds, *command))
    found: Values = {"seconds": ended.seconds, "peak_mb": ended.peak_mb, "code": ended.code}
    if not ended.output:
        return found | {"failed": ended.why}
    shown = json.loads(ended.output)
    built = json.loads(builds.read_text(encoding="utf-8"))
    return found | {
        "placed": shown["trees_placed"],
        "left_out": len(shown["trees_left_out"]),
        "audit_passed": shown["audit_passed"],
        "currency": shown["currency"],
        "money": shown["proof"]["objective"],
        "bound": shown["proof"]["bound"],
        "gap": shown["proof"]["gap"],
        "solver": shown["proof"]["solver"],
        "rounds": shown["proof"]["rounds"],
        "build_s": sum(built),
        "builds": len(built),
    }


def measure_textbook(folder: Path, plan: Path, limit_s: float, most: int) -> Values:
    """The textbook model, asked for the gap that the plan was proven to."""
    options = ["--time-limit", str(limit_s), "--most-binaries", str(most), "--plan", plan]
    patience_s = 2 * limit_s + GRACE_S
    ended = run(python(HERE / "textbook.py", folder, *options), timeout_s=patience_s)
    found: Values = {"whole_s": ended.seconds, "peak_mb": ended.peak_mb, "code": ended.code}
    for line in ended.output.splitlines():
        found |= json.loads(line)
    ran_on = ended.seconds >= patience_s
    if ended.code:
        found["failed"] = "ended from outside" if ran_on else ended.why
    if "build_s" in found and ("solve_s" in found or ran_on):
        # what was ended from outside has taken at least this long
        solving = found.get("solve_s", ended.seconds - found["build_s"])
        found["seconds"] = found["build_s"] + solving
    return found


def measure(size: Size, asked: argparse.Namespace) -> Values:
    """Both, on the same winter, one after the other."""
    with tempfile.TemporaryDirectory() as made:
        folder, out = Path(made) / "winter", Path(made) / "plan"
        write(folder, size)
        tell(f"{size.trees} trees, {size.places} places: overwinter plan ...")
        ours = measure_plan(folder, out, plan_options(asked))
        tell(f"  {ours['seconds']:.1f} s {ours.get('failed', '')}; textbook model ...")
        textbook: Values = {}
        if "failed" not in ours and asked.textbook_limit > 0:
            plan = out / "plan.json"
            textbook = measure_textbook(folder, plan, asked.textbook_limit, asked.textbook_most)
            tell(f"  {textbook.get('seconds', 0.0):.1f} s {textbook.get('failed', '')}")
    return {"trees": size.trees, "places": size.places, "ours": ours, "textbook": textbook}


def plan_options(asked: argparse.Namespace) -> list[str]:
    """Options handed on to ``overwinter plan``."""
    options = ["--gap", str(asked.gap)]
    if asked.time_limit is not None:
        options += ["--time-limit", str(asked.time_limit)]
    return options


# --- the machine and the start ----------------------------------------------------------------


def machine() -> Values:
    """What ran it."""
    processor = platform.processor() or platform.machine()
    information = Path("/proc/cpuinfo")
    if information.exists():
        named = re.search(r"model name\s*:\s*(.+)", information.read_text(encoding="utf-8"))
        processor = named[1].strip() if named else processor
    return {
        "processor": processor,
        "cores": os.cpu_count(),
        "memory_gb": os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9,
        "system": platform.system(),
        "python": platform.python_version(),
        "highs": importlib.metadata.version("highspy"),
        "pulp": importlib.metadata.version("pulp"),
        "load": os.getloadavg()[0],
    }


def start_up() -> Values:
    """Median seconds until the command has shown its help, and until Python itself has ended."""
    ours, bare = [], []
    for _ in range(STARTS):
        ours.append(run(python("-m", "overwinter", "--help")).seconds)
        bare.append(run(python("-c", "pass")).seconds)
    return {"help_s": statistics.median(ours), "python_s": statistics.median(bare), "runs": STARTS}


# --- other questions --------------------------------------------------------------------------


PLAN_FILES = ("plan.json", "placements.csv", "carries.csv")


def without_times(text: str) -> str:
    """A plan file without its seconds."""
    return re.sub(r'"seconds": [-+.\de]+', '"seconds": 0', text)


def same_twice(size: Size, options: Sequence[str]) -> list[str]:
    """Files that differ between two plans of one winter, times aside.

    Python's hashes are seeded differently for the two: sets may come in another order.
    """
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "winter"
        write(folder, size)
        outs = [Path(made) / "first", Path(made) / "second"]
        for hash_seed, out in enumerate(outs):
            command = python("-m", "overwinter", "plan", folder, "--out", out, *options)
            ended = run(command, PYTHONHASHSEED=str(hash_seed))
            if not out.exists():
                return [f"no plan: {ended.why}"]
        first, second = (
            [without_times((out / name).read_text(encoding="utf-8")) for name in PLAN_FILES]
            for out in outs
        )
    pairs = zip(PLAN_FILES, first, second, strict=True)
    return [name for name, one, other in pairs if one != other]


def all_same_twice(sizes: Sequence[Size], options: Sequence[str]) -> bool:
    """Print a line for each size; whether all are the same."""
    agree = True
    for size in sizes:
        differ = same_twice(size, options)
        agree = agree and not differ
        found = (
            f"DIFFERENT: {', '.join(differ)}" if differ else "the same to the byte but for seconds"
        )
        print(f"{size.trees:,} trees, {size.places} places, planned twice: {found}", flush=True)
    return agree


def plan_with(folder: Path, solver: str, options: Sequence[str], timeout_s: float) -> Values:
    """A scenario with one solver."""
    with tempfile.TemporaryDirectory() as made:
        command = python("-m", "overwinter", "plan", folder, "--out", Path(made) / "plan", "--json")
        ended = run([*command, "--solver", solver, *options], timeout_s=timeout_s)
    if not ended.output:
        return {"seconds": ended.seconds, "failed": ended.why}
    shown = json.loads(ended.output)
    left = sorted(shown["trees_left_out"])
    return shown["proof"] | {"seconds": ended.seconds, "left_out": left}


STOPPED = ("time limit", "node limit", "interrupted")


def verdict(highs: Values, cbc: Values, gap: float) -> tuple[bool, str]:
    """Whether two plans of one winter can both be right, and in words."""
    if "failed" in highs or "failed" in cbc:
        return "failed" not in highs, f"not compared ({highs.get('failed') or cbc['failed']})"
    end = ""
    if cbc["termination"] in STOPPED:
        end = f"; CBC did not finish ({cbc['termination']})"
    elif (cbc["gap"] or 0.0) > max(gap, highs["gap"] or 0.0):
        end = "; CBC's plan is proven less nearly"
    if highs["left_out"] != cbc["left_out"]:
        return True, f"not compared: they leave out different trees{end}"
    spare = 1e-6 * max(1.0, abs(highs["objective"]))
    for one, other in ((highs, cbc), (cbc, highs)):
        if one["bound"] is not None and one["bound"] > other["objective"] + spare:
            return False, f"CONTRADICTION: a bound lies above the other's plan{end}"
    if abs(highs["objective"] - cbc["objective"]) <= spare:
        return True, f"same money{end}"
    return True, f"no contradiction: both costs lie above both bounds{end}"


def both_solvers(gap: float, cbc_limit_s: float) -> bool:
    """Plan every scenario with both solvers and print a table; whether none contradicts."""
    agree, rows = True, []
    for folder in sorted(path.parent for path in (ROOT / "scenarios").glob("*/site.toml")):
        tell(f"{folder.name} ...")
        asked = ["--gap", str(gap)]
        limited = [*asked, "--time-limit", str(cbc_limit_s)]
        patience_s = 4 * cbc_limit_s + GRACE_S
        highs = plan_with(folder, "highs", asked, patience_s)
        cbc = plan_with(folder, "cbc", limited, patience_s)
        fine, said = verdict(highs, cbc, gap)
        agree = agree and fine
        for name, one in (("HiGHS", highs), ("CBC", cbc)):
            cells = [folder.name, name, seconds_text(one["seconds"])]
            cells += [number(one.get(key), 2) for key in ("objective", "bound")]
            cells += [percent(one.get("gap")), str(len(one.get("left_out", ()))), said]
            rows.append("| " + " | ".join(cells) + " |")
    print(f"CBC had a time limit of {cbc_limit_s:g} s, HiGHS none.\n")
    heads = "| winter | solver | time, s | cost | bound | gap | left out | both |"
    print(table(heads, rows))
    return agree


# --- the command ------------------------------------------------------------------------------


def sizes_of(text: str, seed: int) -> list[Size]:
    """``60x8,300x12``: trees x places."""
    found = []
    for part in text.split(","):
        trees, _, places = part.partition("x")
        if not (trees.isdigit() and places.isdigit() and int(places) >= 8):
            raise SystemExit(f"'{part}' is not TREESxPLACES with at least 8 places, such as 60x8.")
        found.append(Size(int(trees), int(places), seed))
    return found


def measure_all(sizes: Sequence[Size], asked: argparse.Namespace) -> Iterator[Values]:
    """The results so far, after each size."""
    results: Values = {
        "machine": machine(),
        "start_up": start_up(),
        "seed": asked.seed,
        "gap": asked.gap,
        "textbook_limit": asked.textbook_limit,
        "sizes": [],
    }
    for size in sizes:
        results["sizes"].append(measure(size, asked))
        yield results


def put(file: Path | None, text: str) -> None:
    """Write a file, if one was asked for."""
    if file is not None:
        file.write_text(text, encoding="utf-8")


def arguments() -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--sizes", default=USUAL, help=f"TREESxPLACES, by commas ({USUAL})")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--gap", type=float, default=0.01, help="asked of overwinter plan")
    parser.add_argument("--time-limit", type=float, help="of overwinter plan, s; none unless said")
    parser.add_argument(
        "--textbook-limit", type=float, default=300.0, help="s of solving; 0: do not try"
    )
    parser.add_argument("--textbook-most", type=int, default=MOST_BINARIES, help="binaries")
    parser.add_argument("--out", type=Path, help="write the Markdown there instead of showing it")
    parser.add_argument("--plot", type=Path, metavar="SVG", help="write a picture, too")
    parser.add_argument("--keep", type=Path, metavar="JSON", help="keep the numbers, size by size")
    parser.add_argument("--kept", type=Path, metavar="JSON", help="show kept numbers, run nothing")
    parser.add_argument("--same-twice", action="store_true")
    parser.add_argument("--both-solvers", action="store_true")
    parser.add_argument("--cbc-limit", type=float, default=60.0, help="s, with --both-solvers")
    return parser.parse_args()


def show(asked: argparse.Namespace, sizes: Sequence[Size]) -> None:
    """Measure, or read what was measured; then the page and the picture."""
    results: Values = {}
    if asked.kept is not None:
        results = json.loads(asked.kept.read_text(encoding="utf-8"))
    else:
        for results in measure_all(sizes, asked):
            # after each size: a long run that is stopped has not been in vain
            put(asked.keep, json.dumps(results, indent=1) + "\n")
    put(asked.plot, picture(results["sizes"], results["textbook_limit"]))
    put(asked.out, page(results))
    if asked.out is None:
        print(page(results), end="")


def main() -> int:
    """Run what was asked for."""
    asked = arguments()
    sizes = sizes_of(asked.sizes, asked.seed)
    if asked.same_twice:
        return 0 if all_same_twice(sizes, plan_options(asked)) else 1
    if asked.both_solvers:
        return 0 if both_solvers(asked.gap, asked.cbc_limit) else 1
    show(asked, sizes)
    return 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--write"]:
        write_here(*sys.argv[2:])
    elif sys.argv[1:2] == ["--timed"]:
        timed_command(*sys.argv[2:])
    else:
        sys.exit(main())
