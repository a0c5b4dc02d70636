"""``overwinter init``: a commented starter folder that plans as it stands."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from overwinter.cli.arguments import Json


def command(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make; new or empty.")],
    as_json: Json = False,
) -> None:
    """Write a commented starter folder that plans as it stands."""
    from overwinter.cli.guard import print_json
    from overwinter.files.starter import starter_files

    files = starter_files()
    _check_folder(folder)
    written = _write_all(folder, files)
    if as_json:
        print_json({"folder": str(folder), "written": written})
        return
    print(f"Wrote {len(written)} files into {folder}: {', '.join(written)}.")
    print(f"The grower in them is invented. Try `overwinter plan {folder}`, then put in your own.")


def _check_folder(folder: Path) -> None:
    from overwinter.problems import UserError

    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file, not a folder; give the name of a new folder.")
    if folder.is_dir() and any(folder.iterdir()):
        raise UserError(
            f"{folder} already holds something; init writes only into a new or an empty folder."
        )
    if not folder.absolute().parent.is_dir():
        raise UserError(f"There is no folder {folder.absolute().parent} to make {folder.name} in.")


def _write_all(folder: Path, files: Mapping[str, bytes]) -> list[str]:
    """Write into a hidden neighbour first, so that a killed run leaves no half-filled folder."""
    import os
    import shutil
    import tempfile

    target = folder.absolute()
    stage = Path(tempfile.mkdtemp(prefix=".overwinter-", dir=target.parent))
    try:
        for name, content in files.items():
            (stage / name).parent.mkdir(parents=True, exist_ok=True)
            (stage / name).write_bytes(content)
        stage.chmod(0o777 & ~_umask())
        if target.is_dir():  # empty, and perhaps the one the user stands in: keep it, fill it
            for made in sorted(stage.iterdir()):
                os.replace(made, target / made.name)
            stage.rmdir()
        else:
            os.replace(stage, target)
    except BaseException:
        shutil.rmtree(stage, ignore_errors=True)
        raise
    return sorted(files)


def _umask() -> int:
    """The user's mask for new files; it can only be read by setting it."""
    import os

    mask = os.umask(0o022)
    os.umask(mask)
    return mask
