"""``overwinter init``: a commented starter folder that plans as it stands."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.cli.arguments import Json

WINTER_FILES = ("site.toml", "shelters.toml", "trees.csv", "trees.xlsx", "species.csv", "plan.json")
"""A folder that holds any of these is someone's winter already."""


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make or to fill.")],
    as_json: Json = False,
) -> None:
    """Write a commented starter folder that plans as it stands."""
    from overwinter.cli.guard import print_json
    from overwinter.files.starter import write_starter

    _check_folder(folder)
    written = sorted(path.name for path in write_starter(folder))
    if as_json:
        print_json({"folder": str(folder), "written": written})
        return
    print(f"Wrote {', '.join(written)} into {folder}.")
    print(f"The grower in them is invented. Try `overwinter plan {folder}`, then put in your own.")


def _check_folder(folder: Path) -> None:
    """Refuse a file, and a folder that already holds a winter (also one read from a workbook)."""
    from overwinter.problems import UserError

    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file, not a folder; give the name of a new folder.")
    there = [name for name in WINTER_FILES if (folder / name).exists()]
    if there:
        raise UserError(
            f"{folder} already holds {', '.join(there)}; init writes over nothing. "
            "Give the name of a new folder."
        )
