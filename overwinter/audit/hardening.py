"""Each tree's hardening and root margins, day by day on its true path.

A tree that joins in the course of the winter is taken as unhardened on that day unless the start
says otherwise: where it was before is not known, and a heated shop hardens nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overwinter.audit.ledger import Ledger
from overwinter.audit.roots import PathKey, RootPath, path_key
from overwinter.model.shelter import FloatArray
from overwinter.model.species import Limits
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import hardening, kill_temperature_c, margin_k

LEAST_DROP_K = 0.1
"""Roots that fall less than this in the colder winter are taken to fall this much."""


@dataclass(frozen=True)
class TreeCourse:
    """One tree's days from the one it is there on; shapes ``(day,)``."""

    first_day: int
    """Counted from the first planned day."""
    root_min_c: FloatArray
    kill_c: FloatArray
    """Killing temperature of its roots at that day's hardening, degC."""
    margin_k: float
    """What must stand between, K."""
    cold_drop_k: FloatArray
    """How much lower the day's minimum would be in the colder winter, K."""

    @property
    def floor_c(self) -> FloatArray:
        """Working floor, degC."""
        return self.kill_c + self.margin_k

    @property
    def spare_k(self) -> FloatArray:
        """Distance of the roots above the working floor, K."""
        return self.root_min_c - self.floor_c


def tree_courses(
    ledger: Ledger, paths: Mapping[PathKey, RootPath], day_length_h: FloatArray
) -> Mapping[str, TreeCourse]:
    """By tree, where it is there on any day. ``day_length_h`` counts from the planned days."""
    known: dict[object, FloatArray] = {}
    courses = {}
    for tree in ledger.trees:
        key = path_key(ledger, tree)
        path = paths[key]
        there = np.flatnonzero(np.isfinite(path.min_c))
        if there.size == 0:
            continue
        first = int(there[0])
        start = ledger.start.trees[tree.id].hardening
        alike = (key, _hardening_key(tree.limits), start)
        if alike not in known:
            known[alike] = hardening(path.mean_c[first:], tree.limits, day_length_h[first:], start)
        courses[tree.id] = _course(ledger, tree, path, first, known[alike])
    return courses


def _hardening_key(limits: Limits) -> tuple[float, ...]:
    return (
        limits.harden_below_c,
        limits.harden_days,
        limits.deharden_above_c,
        limits.deharden_per_degree_day,
    )


def _course(
    ledger: Ledger, tree: Tree, path: RootPath, first: int, state: FloatArray
) -> TreeCourse:
    unhardened = tree.limits.root_kill_unhardened_c
    return TreeCourse(
        first_day=first,
        root_min_c=path.min_c[first:],
        kill_c=kill_temperature_c(state, tree.root_kill_hardened_c, unhardened),
        margin_k=margin_k(ledger.season.site.margins, tree.condition),
        cold_drop_k=np.maximum(path.min_c[first:] - path.cold_min_c[first:], LEAST_DROP_K),
    )


def cold_tail_loss(ledger: Ledger, courses: Mapping[str, TreeCourse]) -> float:
    """Expected loss of all trees in a winter colder than the weather used, money.

    By tree and spell: value x tail_chance x exp(-m / tail_scale_k), m being the least distance of
    the roots from the killing temperature in kelvins of outdoor air, not below 0.
    """
    weights = ledger.season.site.weights
    loss = 0.0
    for tree in ledger.trees:
        course = courses.get(tree.id)
        if course is None:
            continue
        apart_k = course.root_min_c - course.kill_c
        outdoor_k = apart_k * ledger.conditions.colder_by_k / course.cold_drop_k
        for spell in ledger.spells:
            days = ledger.days(spell)
            here = outdoor_k[max(days.start - course.first_day, 0) : days.stop - course.first_day]
            if days.stop > course.first_day:
                least = max(float(here.min()), 0.0)
                loss += tree.value * weights.tail_chance * np.exp(-least / weights.tail_scale_k)
    return float(loss)
