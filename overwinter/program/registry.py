"""All constraint families, in the order in which they are built and documented."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pulp

from overwinter.program.constraints import (
    carries,
    heater_settings,
    one_place,
    plants,
    quarantine,
    room,
)
from overwinter.program.model import Model


@dataclass(frozen=True, slots=True)
class Family:
    """One rule of the grower as rows of the program."""

    name: str
    rows: Callable[[Model], Iterator[pulp.LpConstraint]]

    @property
    def says(self) -> str:
        """The rule and its line of mathematics."""
        return self.rows.__doc__ or ""


FAMILIES: tuple[Family, ...] = (
    Family("one place", one_place.one_place),
    Family("together", one_place.stays_together),
    Family("one setting", heater_settings.one_setting),
    Family("suits the setting", heater_settings.suits_setting),
    Family("area", room.area),
    Family("load", room.load),
    Family("crowding", room.crowding),
    Family("breakers", heater_settings.breakers),
    Family("carried in", carries.carried_in),
    Family("only on carry days", carries.only_on_carry_days),
    Family("carries a day", carries.a_day),
    Family("carry days", carries.days),
    Family("chilling", plants.chilling),
    Family("cold after warm", plants.cold_after_warm),
    Family("quarantine", quarantine.kept_apart),
    Family("histories", plants.histories),
    Family("layouts", room.layouts),
    Family("nested", room.nested),
)
