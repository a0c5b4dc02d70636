"""What a row of species.csv may hold, shipped or the grower's, and the columns of limits."""

from collections.abc import Callable, Collection
from dataclasses import fields
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, create_model

from overwinter.files.quantities import temperatures
from overwinter.files.schema import Names, Number, Schema, Text, Word, YesNo
from overwinter.model.species import LIMITS, ChillModel, LeafHabit, Limits

LIMIT_FIELDS = tuple(field.name for field in fields(Limits))
OPTIONAL_LIMITS = tuple(name for name, limit in LIMITS.items() if limit.if_none is not None)
"""Limits a species may not have; a grower writes ``none`` to take one away."""
OF_ONE_TREE = tuple(name for name, limit in LIMITS.items() if limit.of_one_tree)
"""Limits that a grower may set for one tree."""
Row = TypeVar("Row", bound=Schema)


def with_limits(names: Collection[str], none: bool = False) -> Callable[[type[Row]], type[Row]]:
    """Give a row a column for each limit, which may be blank; ``none`` to take one away."""

    def column(name: str) -> Any:
        limit = LIMITS[name]
        number = Annotated[Number, Field(ge=limit.low, le=limit.high)]
        if none and name in OPTIONAL_LIMITS:
            return number | Annotated[Literal["none"], Word] | None, None
        return number | None, None

    def widened(row: type[Row]) -> type[Row]:
        degrees = temperatures(*(n.removesuffix("_c") for n in names if n.endswith("_c")))
        row.quantities = {**row.quantities, **degrees}
        columns: dict[str, Any] = {name: column(name) for name in names}
        return create_model(
            row.__name__, __base__=row, __module__=row.__module__, __doc__=row.__doc__, **columns
        )

    return widened


_SOURCES: dict[str, Any] = {f"{name}_source": (str | None, None) for name in LIMIT_FIELDS}


@with_limits(tuple(LIMITS), none=True)
class _SpeciesBase(Schema):
    """All fields but the key may be blank: the grower fills in what differs."""

    key: Text = Field(description="a short, unique key of the species")
    latin: str | None = None
    common: str | None = None
    group: Text | None = None
    is_group: YesNo | None = None
    synonyms: Names | None = None
    leaf: Annotated[LeafHabit, Word] | None = None
    chill_model: Annotated[ChillModel, Word] | None = None


SpeciesRow = create_model("SpeciesRow", __base__=_SpeciesBase, **_SOURCES)
"""The row with a source column for each limit."""
