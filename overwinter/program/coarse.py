"""A coarser program that can only be cheaper: the places of each closed shelter as one.

Whoever stands anywhere in a shelter breathes its air, so heat, hardening and chilling are decided
by shelters; which bench comes after. The merged place has the area and load of all of them, is open
to a tree that any of them is open to, and costs what the cheapest costs; carries within a shelter
are free. Every plan of the fine program is a plan of the coarse one and costs no more there (the
sum of what is over the comfortable share is at least the share of the sum), so whoever has no room
here has none anywhere.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Place, Shelter
from overwinter.program.data import Cuts, Nest, ProgramData
from overwinter.suitability.options import Option
from overwinter.suitability.table import Suitability


def merged_place(shelter: Shelter) -> Place:
    """One place with the room of all places of a shelter."""
    first = shelter.places[0]
    return replace(
        first,
        id=shelter.id,
        name=shelter.name,
        width_m=sum(place.area_m2 for place in shelter.places),
        depth_m=1.0,
        headroom_m=max(place.headroom_m for place in shelter.places),
        load_limit_kg=sum(place.load_limit_kg for place in shelter.places),
    )


def merged_shelters(season: Season) -> tuple[Shelter, ...]:
    """Shelters with one place each, the open ones as they are."""
    return tuple(
        shelter
        if shelter.open_air or len(shelter.places) < 2
        else replace(shelter, places=(merged_place(shelter),))
        for shelter in season.shelters
    )


def fine_to_coarse(season: Season) -> Mapping[str, str]:
    """Coarse place id of each place."""
    return {
        place.id: place.id if shelter.open_air or len(shelter.places) < 2 else shelter.id
        for shelter in season.shelters
        for place in shelter.places
    }


def coarse_data(data: ProgramData) -> ProgramData:
    """The coarse program's input; it knows hardening from above only.

    Cuts on rooms are dropped; of histories those options are kept that the coarse program can name.
    """
    season = replace(data.season, shelters=merged_shelters(data.season))
    coarse_of = fine_to_coarse(data.season)
    table = data.suitability
    cells: dict[tuple[str, int], list[int]] = {}
    shelter_of: dict[str, str] = {}
    for option in table.options:
        coarse = coarse_of[option.place_id]
        cells.setdefault((coarse, option.setting), []).append(option.index)
        shelter_of[coarse] = option.shelter_id
    options = tuple(
        Option(index, place, shelter_of[place], setting)
        for index, (place, setting) in enumerate(cells)
    )
    members = list(cells.values())
    merged = Suitability(
        spells=table.spells,
        groups=tuple(
            replace(
                group,
                start=replace(
                    group.start,
                    place=coarse_of.get(group.start.place or "", group.start.place),
                    known_targets=None
                    if group.start.known_targets is None
                    else frozenset(coarse_of[p] for p in group.start.known_targets),
                ),
            )
            for group in table.groups
        ),
        options=options,
        allowed=np.stack([table.allowed[:, some].any(axis=1) for some in members], axis=1),
        risk_money=_least(table, table.risk_money, members),
        rodent_money=_least(table, table.rodent_money, members),
        chill=-_least(table, -table.chill, members),
        entry_least=_least(table, table.entry_least, members),
        exit_most=-_least(table, -table.exit_most, members),
        present=table.present,
    )
    return replace(
        data,
        season=season,
        suitability=merged,
        cuts=_coarse_cuts(data.cuts, members),
        nests=_nests(data),
    )


def _nests(data: ProgramData) -> tuple[Nest, ...]:
    """For each merged place and spell, the groups that only some of its places would take.

    Every set of places that is the union of what some groups may use gives a nest; together they
    say that the trees could be spread over the places if trees could be cut into pieces.
    """
    nests = []
    for shelter in data.season.shelters:
        if shelter.open_air or len(shelter.places) < 2:
            continue
        usable = np.stack(
            [
                data.suitability.allowed[:, [o.index for o in data.options_of_place[place.id]]].any(
                    axis=1
                )
                for place in shelter.places
            ]
        )
        areas = np.array([place.area_m2 for place in shelter.places])
        loads = np.array([place.load_limit_kg for place in shelter.places])
        bits = 1 << np.arange(len(shelter.places))
        masks = (usable * bits[:, None, None]).sum(axis=0)
        for spell in range(len(data.spells)):
            for union in _unions({int(mask) for mask in masks[:, spell]} - {0}):
                inside = (masks[:, spell] > 0) & ((masks[:, spell] & ~union) == 0)
                if union != bits.sum() and inside.any():
                    some = (union & bits) > 0
                    groups = frozenset(int(g) for g in np.flatnonzero(inside))
                    area, load = float(areas[some].sum()), float(loads[some].sum())
                    nests.append(Nest(shelter.id, spell, groups, area, load))
    return tuple(nests)


def _unions(masks: set[int]) -> list[int]:
    found = set(masks)
    for mask in sorted(masks):
        found |= {mask | other for other in found}
    return sorted(found)


def _coarse_cuts(cuts: Cuts, members: list[list[int]]) -> Cuts:
    together = tuple(
        replace(
            cut,
            stays=tuple(
                (spell, frozenset(i for i, some in enumerate(members) if options.issuperset(some)))
                for spell, options in cut.stays
            ),
        )
        for cut in cuts.together
    )
    return Cuts(together=together, apart=cuts.apart)


def _least(table: Suitability, values: FloatArray, members: list[list[int]]) -> FloatArray:
    """Least value over the members a group is allowed at, any member where it is at none."""
    merged = []
    for some in members:
        allowed = table.allowed[:, some]
        least = np.where(allowed, values[:, some], np.inf).min(axis=1)
        merged.append(np.where(np.isfinite(least), least, values[:, some].min(axis=1)))
    return np.stack(merged, axis=1)
