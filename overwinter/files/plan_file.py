"""plan.json: a plan with all that is needed to show, audit and change it later.

The format has its own version; docs/files.md describes it. Numbers are written so that they read
back to the last bit; infinite ones as the texts "inf" and "-inf".
"""

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from overwinter import __version__
from overwinter.files.csv_text import read_json
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import report_document_errors
from overwinter.model.plan import Plan
from overwinter.model.season import Season

HOURLY_DECIMALS = 6
"""Estimated hours may differ in their last bits between machines; millionths count as equal."""


def season_fingerprint(season: Season) -> str:
    """SHA-256 (hex) of everything a plan is computed from; notes and warnings do not count."""
    digest = hashlib.sha256()
    for name in ("site", "winters", "trees", "shelters"):
        digest.update(name.encode())
        for piece in _pieces(getattr(season, name)):
            digest.update(piece)
    return digest.hexdigest()


UNCOUNTED = ("origin", "note", "own", "row")


def _pieces(value: object) -> Iterator[bytes]:
    """A value as bytes that differ when it differs, in an order that does not depend on chance."""
    if isinstance(value, np.ndarray):
        rounded = np.round(np.asarray(value, dtype="<f8"), HOURLY_DECIMALS) + 0.0
        yield f"[{value.shape}]".encode()
        yield rounded.tobytes()
    elif is_dataclass(value) and not isinstance(value, type):
        yield f"({type(value).__name__}".encode()
        for field in fields(value):
            if field.name not in UNCOUNTED:
                yield f",{field.name}=".encode()
                yield from _pieces(getattr(value, field.name))
        yield b")"
    else:
        yield from _plain_pieces(value)


def _plain_pieces(value: object) -> Iterator[bytes]:
    if isinstance(value, Mapping):
        yield b"{"
        for key in sorted(value, key=str):
            yield f",{key}:".encode()
            yield from _pieces(value[key])
        yield b"}"
    elif isinstance(value, (frozenset, set)):
        yield from _pieces(tuple(sorted(map(str, value))))
    elif isinstance(value, (tuple, list)):
        yield b"["
        for item in value:
            yield b","
            yield from _pieces(item)
        yield b"]"
    elif isinstance(value, float):
        yield f"{value:.9g}".encode()
    elif isinstance(value, date):
        yield value.isoformat().encode()
    else:
        yield repr(str(value)).encode()


M = TypeVar("M", bound=BaseModel)

FORMAT = "overwinter plan"
FORMAT_VERSION = 2
FIRST_EDITION = 1
"""Format of the edition that planned for dates instead of stages; nothing of it can be used."""


class _TreeNote(BaseModel):
    """What a reader of the plan wants to know of a tree without the tree list at hand."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    species: str
    row: int


class _Document(BaseModel):
    """The file without the plan itself."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    format: Literal["overwinter plan"]
    format_version: Annotated[int, Field(ge=1)]
    tool_version: str
    inputs_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    site: str
    starts: date
    ends: date
    winters: str
    trees: dict[str, _TreeNote]
    places: dict[str, str]
    plan: dict[str, Any]


@dataclass(frozen=True)
class PlanDocument:
    """A plan read back, and where it comes from."""

    plan: Plan
    inputs_sha256: str


def plan_text(season: Season, plan: Plan) -> str:
    """The text of plan.json."""
    document = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "tool_version": __version__,
        "inputs_sha256": season_fingerprint(season),
        "site": season.site.name,
        "starts": season.site.starts.isoformat(),
        "ends": season.site.ends.isoformat(),
        "winters": season.winters.origin,
        "trees": {
            tree.id: {"name": tree.name, "species": tree.species_key, "row": tree.row}
            for tree in season.trees
        },
        "places": {place.id: place.name for place in season.places.values()},
        "plan": jsonable(plan),
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def jsonable(value: Any) -> Any:
    """Dataclasses, dates and infinite numbers as JSON has them."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: jsonable(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): jsonable(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [jsonable(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else str(value)
    return value


def read_plan_document(path: Path) -> PlanDocument:
    """Read plan.json back, with what it says of its origin.

    Raises ``InputProblems``: The file is missing, damaged, or of a format this version does not
    know.
    """
    findings = Findings()
    content = read_json(path, findings, "a whole plan file", "Plan again.")
    findings.raise_if_any()
    return plan_document_of(content, path.name)


def plan_document_of(content: object, file: str) -> PlanDocument:
    """The document in the parsed JSON ``content``; ``file`` is where problems say it is from.

    Raises ``InputProblems``: It is damaged, or of a format this version does not know.
    """
    findings = Findings()
    document = checked_document(
        _Document, content, file, "plan", "Run `overwinter plan` again.", findings
    )
    findings.raise_if_any()
    if document is None:
        raise AssertionError("the plan could not be read, yet no problem was noted")
    try:
        plan = TypeAdapter(Plan).validate_python(document.plan)
    except ValidationError as error:
        report_document_errors(error, file, "plan", findings)
        findings.raise_if_any()
        raise
    _report_unknown(document.plan, jsonable(plan), file, "plan", findings)
    _check_agreement(plan, file, findings)
    findings.raise_if_any()
    return PlanDocument(plan, document.inputs_sha256)


def inputs_changed(document: PlanDocument, season: Season) -> bool:
    """Whether the plan was made from other inputs than ``season`` (or by another version)."""
    return document.inputs_sha256 != season_fingerprint(season)


def checked_document(
    kind: type[M], content: object, file: str, name: str, again: str, findings: Findings
) -> M | None:
    """The parsed JSON of a plan or history (``name``); None after a problem.

    ``again`` says what to do about a file of the first edition.
    """
    if not isinstance(content, dict) or content.get("format") != f"overwinter {name}":
        findings.at(file, None, "format").problem("another kind of file", f"'overwinter {name}'")
        return None
    version, at = content.get("format_version"), findings.at(file, None, "format_version")
    if version == FIRST_EDITION:
        at.problem(f"a {name} made by the first edition", f"a {name} of this edition", again)
        return None
    if isinstance(version, int) and version > FORMAT_VERSION:
        maker = content.get("tool_version")
        newer = f"'{version}', of a newer overwinter{f' ({maker})' if maker else ''}"
        at.problem(newer, f"at most {FORMAT_VERSION}", "Use the newer version.")
        return None
    try:
        return kind.model_validate(content)
    except ValidationError as error:
        report_document_errors(error, file, "", findings)
        return None


def _report_unknown(
    written: Any, understood: Any, file: str, dotted: str, findings: Findings
) -> None:
    """Keys that were in the file but mean nothing to this version."""
    if isinstance(written, dict) and isinstance(understood, dict):
        for key, value in written.items():
            if key in understood:
                _report_unknown(value, understood[key], file, f"{dotted}.{key}", findings)
            else:
                findings.at(file, dotted, key).problem("an unknown key", "a key of the format")
    elif isinstance(written, list) and isinstance(understood, list):
        for number, (one, other) in enumerate(zip(written, understood, strict=False)):
            _report_unknown(one, other, file, f"{dotted}.{number}", findings)


def _check_agreement(plan: Plan, file: str, findings: Findings) -> None:
    """Stages follow each other, and every list by stage is as long as there are stages."""
    count = len(plan.stages)
    for number, stage in enumerate(plan.stages):
        if stage.index != number:
            findings.at(file, f"plan.stages.{number}", "index").problem(
                f"'{stage.index}'", f"{number}"
            )
    for number, (before, after) in enumerate(pairwise(plan.stages), 1):
        if before.until != after.usual:
            findings.at(file, f"plan.stages.{number}", "usual").problem(
                f"'{after.usual}'", f"the end of the stage before, {before.until}"
            )
    for what, lists in (("settings", plan.settings), ("stays", plan.stays)):
        for key, values in lists.items():
            if len(values) != count:
                findings.at(file, f"plan.{what}.{key}").problem(
                    f"{len(values)} entries", f"one for each of the {count} stages"
                )
    if not 0 <= plan.fixed_stages < max(count, 1):
        findings.at(file, "plan", "fixed_stages").problem(
            f"'{plan.fixed_stages}'", f"0 to {count - 1}"
        )
    _check_carries(plan, file, findings)


def _check_carries(plan: Plan, file: str, findings: Findings) -> None:
    """Carries are of trees with a place and belong to a stage of the plan."""
    count = len(plan.stages)
    for number, carry in enumerate(plan.carries):
        where = f"plan.carries.{number}"
        if carry.tree_id not in plan.stays:
            findings.at(file, where, "tree_id").problem(
                f"'{carry.tree_id}'", "a tree that has a place in the plan"
            )
        if not 0 <= carry.stage < count:
            findings.at(file, where, "stage").problem(
                f"'{carry.stage}'", f"a stage from 0 to {count - 1}"
            )
