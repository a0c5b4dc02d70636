"""The command as a process of its own: start-up, streams, pipes."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from cli_winter import names, tiny_winter

ROOT = Path(__file__).parents[2]


def run(*arguments: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """One command in its own process."""
    return subprocess.run(
        [sys.executable, "-m", "overwinter", *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
        check=False,
    )


def test_help_loads_nothing_heavy() -> None:
    """``--help`` must stay fast: no solver, no table library, no arrays are loaded for it."""
    code = (
        "import sys\n"
        "from overwinter.cli.app import app\n"
        "app(['--help'], standalone_mode=False)\n"
        "heavy = {'numpy', 'pandas', 'pulp', 'highspy', 'pydantic', 'openpyxl', 'rich'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert done.stderr == "[]\n"


def test_help_in_a_process() -> None:
    """The command runs as ``python -m overwinter``."""
    done = run("--help")
    assert done.returncode == 0
    assert done.stderr == ""
    assert "Plan where every potted tree spends the winter" in done.stdout


def test_bad_folder_in_a_process(tmp_path: Path) -> None:
    """Exit code 2 and one clear message reach the shell; no traceback."""
    done = run("plan", tmp_path / "none")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "found no such folder" in done.stderr
    assert "Traceback" not in done.stderr


def test_unknown_command_in_a_process() -> None:
    """A misspelt command is a wrong request."""
    done = run("plam")
    assert done.returncode == 2
    assert "plam" in done.stderr


def test_a_planned_winter_in_a_process(tmp_path: Path) -> None:
    """Check, plan and show, one process each; ``overwinter show ... | head -1`` ends quietly."""
    winter = tiny_winter(tmp_path)
    assert run("check", winter).returncode == 0
    planned = run("plan", winter)
    assert planned.returncode == 0, planned.stderr
    assert "\x1b" not in planned.stdout
    assert "plan.json" in names(winter)
    shown = run("show", winter)
    assert shown.returncode == 0
    assert shown.stdout == planned.stdout
    if sys.platform == "win32":  # pipes end in another way there
        return
    command = f"{sys.executable} -m overwinter show {winter} --table all | head -n 1"
    done = subprocess.run(
        command, shell=True, capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.stdout == "Stages of the winter\n"
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("terminal", "term", "no_color", "bold"),
    [
        (True, "xterm", "", True),
        (True, "xterm", "1", False),
        (True, "dumb", "", False),
        (False, "xterm", "", False),
    ],
)
def test_bold_only_on_a_terminal(
    terminal: bool, term: str, no_color: str, bold: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Headings are bold on a terminal, unless NO_COLOR is set or the terminal is dumb."""
    from overwinter.cli.guard import tell

    screen = io.StringIO()
    monkeypatch.setattr(screen, "isatty", lambda: terminal)
    monkeypatch.setattr("sys.stdout", screen)
    monkeypatch.setenv("TERM", term)
    monkeypatch.setenv("NO_COLOR", no_color)
    tell(False, dict, lambda: "\x1b[1mHeading\x1b[0m\n")
    assert screen.getvalue() == ("\x1b[1mHeading\x1b[0m\n" if bold else "Heading\n")
