"""plan.json: all that is needed to show, audit and change a plan (docs/files.md has its format).
Numbers read back to the last bit; infinite ones are the texts "inf" and "-inf"."""

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from itertools import pairwise
from typing import Annotated, Any, Literal, TypeVar

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from overwinter import __version__
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import document_problems
from overwinter.model.plan import Plan
from overwinter.model.season import Season

HOURLY_DECIMALS = 6  # estimated hours may differ in their last bits between machines
UNCOUNTED = ("origin", "note", "own", "row")
M = TypeVar("M", bound=BaseModel)

FORMAT = "overwinter plan"
FORMAT_VERSION = 2
FIRST_EDITION = 1  # which planned for dates instead of stages; none of it can be used


def season_fingerprint(season: Season) -> str:
    """SHA-256 (hex) of everything a plan is computed from; notes and warnings do not count."""
    counted = _counted((season.site, season.winters, season.trees, season.shelters))
    return hashlib.sha256(json.dumps(counted, sort_keys=True).encode()).hexdigest()


def _counted(value: Any) -> Any:
    """A value as JSON has it without what does not count: the same on every machine."""
    if isinstance(value, np.ndarray):
        rounded = np.round(np.asarray(value, dtype="<f8"), HOURLY_DECIMALS) + 0.0
        return [value.shape, hashlib.sha256(rounded.tobytes()).hexdigest()]
    if is_dataclass(value):
        names = [field.name for field in fields(value) if field.name not in UNCOUNTED]
        return {name: _counted(getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {str(key): _counted(item) for key, item in value.items()}
    if isinstance(value, frozenset):
        return sorted(map(str, value))
    if isinstance(value, tuple):
        return [_counted(item) for item in value]
    return f"{value:.9g}" if isinstance(value, float) else str(value)


class Strict(BaseModel):
    """Base of what a file of ours holds."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class PlanDocument(Strict):
    """A plan read back, and where it comes from."""

    format: Literal["overwinter plan"]
    format_version: Annotated[int, Field(ge=1)]
    tool_version: str
    inputs_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    site: str
    starts: date
    ends: date
    winters: str
    trees: dict[str, dict[str, str | int]]  # name, species and row, for readers without the list
    places: dict[str, str]
    plan: Plan


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


def plan_document_of(content: object, file: str) -> PlanDocument:
    """The document in the parsed JSON ``content``; ``file`` is where problems say it is from."""
    document = checked_document(PlanDocument, content, file, "plan", "Run `overwinter plan` again.")
    findings = Findings()
    for table, key, found, expected in _faults(document.plan):
        findings.at(file, table, key).problem(found, expected)
    findings.raise_if_any()
    return document


def inputs_changed(document: PlanDocument, season: Season) -> bool:
    """Whether the plan was made from other inputs than ``season`` (or by another version)."""
    return document.inputs_sha256 != season_fingerprint(season)


def checked_document(kind: type[M], content: object, file: str, name: str, again: str) -> M:
    """The parsed JSON of a plan or history; ``again``: what to do about a first edition's."""
    findings = Findings()
    whole = content if isinstance(content, dict) else {}
    version, at = whole.get("format_version"), findings.at(file, None, "format_version")
    if whole.get("format") != f"overwinter {name}":
        at.of("format").problem("another kind of file", f"'overwinter {name}'")
    elif version == FIRST_EDITION:
        at.problem(f"a {name} made by the first edition", f"a {name} of this edition", again)
    elif isinstance(version, int) and version > FORMAT_VERSION:
        maker = whole.get("tool_version")
        newer = f"'{version}', of a newer overwinter{f' ({maker})' if maker else ''}"
        at.problem(newer, f"at most {FORMAT_VERSION}", "Use the newer version.")
    findings.raise_if_any()
    try:
        return kind.model_validate(content)
    except ValidationError as error:
        raise document_problems(error, file, "Was the file edited by hand? Plan again.") from None


def _faults(plan: Plan) -> Iterator[tuple[str, str | None, str, str]]:
    """Stages that do not follow each other, lists by stage of another length, odd carries: the
    dotted key, the key in it, what was found and what is expected."""
    count = len(plan.stages)
    for number, stage in enumerate(plan.stages):
        if stage.index != number:
            yield f"plan.stages.{number}", "index", f"'{stage.index}'", f"{number}"
    for number, (before, after) in enumerate(pairwise(plan.stages), 1):
        if before.until != after.usual:
            expected = f"the end of the stage before, {before.until}"
            yield f"plan.stages.{number}", "usual", f"'{after.usual}'", expected
    for what, lists in (("settings", plan.settings), ("stays", plan.stays)):
        for key, values in lists.items():
            if len(values) != count:
                expected = f"one for each of the {count} stages"
                yield f"plan.{what}.{key}", None, f"{len(values)} entries", expected
    if not 0 <= plan.fixed_stages < max(count, 1):
        yield "plan", "fixed_stages", f"'{plan.fixed_stages}'", f"0 to {count - 1}"
    yield from _odd_carries(plan)


def _odd_carries(plan: Plan) -> Iterator[tuple[str, str, str, str]]:
    """Of trees without a place, or to no stage of the plan; as ``_faults``."""
    for number, carry in enumerate(plan.carries):
        where = f"plan.carries.{number}"
        if carry.tree_id not in plan.stays:
            yield where, "tree_id", f"'{carry.tree_id}'", "a tree that has a place in the plan"
        last = len(plan.stages) - 1
        if not 0 <= carry.stage <= last:
            yield where, "stage", f"'{carry.stage}'", f"a stage from 0 to {last}"
