"""One number for all inputs of a plan: two seasons with the same fingerprint plan alike."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date

import numpy as np

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
