"""What the winters of the sample do to every tree on its true path, and what heat costs in each."""

import numpy as np

from overwinter.audit.ledger import IntArray, Ledger
from overwinter.audit.report import Bill, HeatUse, TreeRisk
from overwinter.model.plan import Harm
from overwinter.model.shelter import FloatArray
from overwinter.simulate.follow import HARMS
from overwinter.simulate.harm_table import Follower
from overwinter.simulate.kinds import kind_of

BARELY = 1e-6


def tree_risks(ledger: Ledger, follower: Follower) -> dict[str, TreeRisk]:
    """Chance of every harm to every placed tree."""
    trees = ledger.placed
    if not trees:
        return {}
    options, there = _paths(ledger, follower)
    owed = np.array([1.0 if t.joins is None else _left_after(ledger, t.joins) for t in trees])
    kinds = np.array([follower.kind_index[kind_of(tree)] for tree in trees], dtype=np.intp)
    rows = np.column_stack([kinds, np.round(owed * 1000).astype(np.intp), options, there])
    unique, back = np.unique(rows, axis=0, return_inverse=True)
    stages = len(ledger.stages)
    hazards, short, missing = follower.along(
        unique[:, 0].tolist(), unique[:, 2 : 2 + stages], ledger.stage_days, unique[:, 1] / 1000
    )
    hazards = hazards * unique[:, None, 2 + stages :, None]
    found = {}
    for tree, i in zip(trees, back.reshape(-1).tolist(), strict=True):
        by_stage = 1.0 - np.exp(-hazards[i].sum(axis=-1, dtype=np.float64))
        whole = 1.0 - np.exp(-(hazards[i].sum(axis=(1, 2), dtype=np.float64) + short[i]))
        by_harm = {
            harm: float((1.0 - np.exp(-hazards[i, :, :, h].sum(axis=1))).mean())
            for h, harm in enumerate(HARMS)
        }
        by_harm[Harm.SHORT_CHILL] = float((1.0 - np.exp(-short[i])).mean())
        chance = float(whole.mean())
        found[tree.id] = TreeRisk(
            tree_id=tree.id,
            chance=chance,
            by_harm={h: c for h, c in by_harm.items() if c > BARELY},
            by_stage=tuple(by_stage.mean(axis=0).tolist()),
            loss=tree.value * chance,
            coldest_root_c=_coldest_root_c(ledger, follower, tree.id, tree.pot_litres),
            chill_share=float(1.0 - missing[i].mean()) if tree.limits.chill_need > 0 else None,
            light_share=None,
        )
    return found


def _paths(ledger: Ledger, follower: Follower) -> tuple[IntArray, IntArray]:
    """Option of each placed tree by stage, and whether it has joined, ``(tree, stage)``."""
    index = follower.exposures.index
    home = index[ledger.season.site.summer_place, 0]
    options, there = [], []
    for tree in ledger.placed:
        path = ledger.plan.stays[tree.id]
        options.append(
            [
                home
                if place is None
                else index[place, ledger.setting[ledger.season.places[place].shelter_id][k]]
                for k, place in enumerate(path)
            ]
        )
        there.append([place is not None for place in path])
    return np.array(options, dtype=np.intp), np.array(there, dtype=np.intp)


def _left_after(ledger: Ledger, joins: object) -> float:
    day = ledger.season.day_index(joins)  # type: ignore[arg-type]
    return max(0.0, 1.0 - day / ledger.days)


def _coldest_root_c(ledger: Ledger, follower: Follower, tree_id: str, litres: float) -> float:
    """Coldest day of the core along the path, median of the winters."""
    from overwinter.shelters.root_zone import pot_class

    path = ledger.plan.stays[tree_id]
    stage_of_day = ledger.stage_days.stage_of_day
    lows = np.full(ledger.winters, np.inf)
    for k, place in enumerate(path):
        if place is None:
            continue
        setting = ledger.setting[ledger.season.places[place].shelter_id][k]
        core = ledger.conditions.places[place].root[pot_class(litres)].core_min_c[setting]
        lows = np.minimum(lows, np.where(stage_of_day == k, core, np.inf).min(axis=1))
    return float(np.median(lows))


def heat_of(ledger: Ledger) -> tuple[tuple[HeatUse, ...], Bill]:
    """Heat by shelter and stage, and the bill over the winters."""
    stage_of_day = ledger.stage_days.stage_of_day
    uses = []
    bill: FloatArray = np.zeros(ledger.winters)
    for shelter_id, settings in ledger.setting.items():
        conditions = ledger.conditions.shelters[shelter_id]
        for k in ledger.stages:
            if conditions.settings[settings[k]].is_off:
                continue
            in_stage = stage_of_day == k
            kwh = (conditions.purchased_kwh[settings[k]] * in_stage).sum(axis=1)
            money = (conditions.money[settings[k]] * in_stage).sum(axis=1)
            bill += money
            uses.append(HeatUse(shelter_id, k, float(kwh.mean()), float(money.mean())))
    low, high = np.percentile(bill, (10, 90))
    return tuple(uses), Bill(float(bill.mean()), float(low), float(high))
