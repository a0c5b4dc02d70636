"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

Folder = Annotated[
    Path,
    typer.Argument(metavar="DIR", help="Folder of one winter: trees, shelters, site, weather."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]
