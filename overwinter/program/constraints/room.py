"""What stands on a place fits on it and does not break it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from math import isfinite

import pulp

from overwinter.program.data import RoomCut
from overwinter.program.expression import weighted
from overwinter.program.model import Model, Stay
from overwinter.suitability.groups import Group


def area(model: Model) -> Iterator[pulp.LpConstraint]:
    """Footprints fill no more than the fullest share of a place, and none where the setting that
    the trees need is not chosen.

    sum over g, c within I of a[g] y[g,p,c,k] <= f A[p] sum over s in I of z[h(p),s,k]
                                                  for all p, k and each class of settings I at p, k

    Writing the room once for each class of settings ties the trees to the setting more tightly
    than a row for each tree could.
    """
    for place in model.data.season.places.values():
        share = model.data.room_share.get(place.id, 1.0)
        full = share * model.weights.fullest_share * place.area_m2
        for spell in range(len(model.data.spells)):
            stays = model.stays_at(place.id, spell)
            everything = frozenset(model.settings[place.shelter_id, spell])
            for settings in sorted(
                {frozenset(stay.settings) for stay in stays} | {everything}, key=sorted
            ):
                inside = _within(stays, settings)
                if inside:
                    used = weighted(
                        (stay.variable, model.data.groups[stay.group].tree.footprint_m2)
                        for stay in inside
                    )
                    if settings == everything:
                        yield used <= full
                    else:
                        yield used <= full * model.chosen(place.shelter_id, spell, sorted(settings))


def _within(stays: list[Stay], settings: frozenset[int]) -> list[Stay]:
    return [stay for stay in stays if settings.issuperset(stay.settings)]


def load(model: Model) -> Iterator[pulp.LpConstraint]:
    """A bench carries no more than its load limit.

    sum over g, c of m[g] y[g,p,c,k] <= L[p]        for all p with a load limit, k
    """
    for place in model.data.season.places.values():
        if not isfinite(place.load_limit_kg):
            continue
        for spell in range(len(model.data.spells)):
            if stays := model.stays_at(place.id, spell):
                yield (
                    weighted(
                        (stay.variable, model.data.groups[stay.group].tree.weight_kg)
                        for stay in stays
                    )
                    <= place.load_limit_kg
                )


def crowding(model: Model) -> Iterator[pulp.LpConstraint]:
    """Room taken beyond the comfortable share counts as crowding.

    crowd[p,k] >= sum over g, c of a[g] y[g,p,c,k] - f' A[p]        for all p, k
    """
    for (place_id, spell), crowd in model.crowd.items():
        place = model.data.season.places[place_id]
        used = weighted(
            [
                (crowd, -1.0),
                *(
                    (stay.variable, model.data.groups[stay.group].tree.footprint_m2)
                    for stay in model.stays_at(place_id, spell)
                ),
            ]
        )
        yield used <= model.weights.comfortable_share * place.area_m2


def layouts(model: Model) -> Iterator[pulp.LpConstraint]:
    """Sets that could not be laid out to scale, or larger ones, are not tried again.

    sum over g of min(c[g], sum over c of y[g,p,c,k]) <= limit    for each set found, all k

    c[g] trees of group g are in the set. Which of a group of alike trees they are does not matter,
    so any c[g] of them count; where that is not the whole group, binaries b do the counting:
    sum over c of y[g,p,c,k] <= i - 1 + (n[g] - i + 1) b[g,i,p,k]    for i = 1 to c[g]
    """
    for cut in model.data.cuts.room:
        for spell in range(len(model.data.spells)):
            by_group: dict[int, list[pulp.LpVariable]] = {}
            for stay in model.stays_at(cut.place_id, spell):
                by_group.setdefault(stay.group, []).append(stay.variable)
            yield from not_again(
                cut, by_group, model.data.groups, lambda: model.variable(0, 1, integer=True)
            )


def not_again(
    cut: RoomCut,
    by_group: Mapping[int, list[pulp.LpVariable]],
    groups: Sequence[Group],
    binary: Callable[[], pulp.LpVariable],
) -> Iterator[pulp.LpConstraint]:
    """Rows for one set and spell; ``by_group`` has the variables that count trees at the place."""
    counted: list[pulp.LpVariable] = []
    for group, variables in by_group.items():
        of_group = groups[group]
        members = len(cut.tree_ids.intersection(of_group.tree_ids))
        if members == of_group.count:
            counted += variables
            continue
        for i in range(1, members + 1):
            more = binary()
            yield pulp.lpSum(variables) <= i - 1 + (of_group.count - i + 1) * more
            counted.append(more)
    if counted:
        yield pulp.lpSum(counted) <= cut.limit


def nested(model: Model) -> Iterator[pulp.LpConstraint]:
    """Where several benches count as one place, trees that may use only some fill only these.

    sum over g in the nest, c of a[g] y[g,p,c,k] <= f A[nest], and of m[g] y[g,p,c,k] <= L[nest]
                                                                        for each nest of p, k
    """
    full = model.weights.fullest_share
    for nest in model.data.nests:
        inside = [
            (stay.variable, model.data.groups[stay.group].tree)
            for stay in model.stays_at(nest.place_id, nest.spell)
            if stay.group in nest.groups
        ]
        if not inside:
            continue
        yield weighted((v, tree.footprint_m2) for v, tree in inside) <= full * nest.area_m2
        if isfinite(nest.load_limit_kg):
            yield weighted((v, tree.weight_kg) for v, tree in inside) <= nest.load_limit_kg
