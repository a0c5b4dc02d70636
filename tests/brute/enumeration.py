"""Every plan of a tiny winter, priced from the definitions of docs/program.md and docs/audit.md.

Shares nothing with ``overwinter.search`` or ``overwinter.rules``: heater programmes, paths, rooms,
carries, breakers, quarantine and prices are written here a second time, in the plainest way.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise, permutations, product

import numpy as np
from tiny_winters import Tiny

from overwinter.climate.sun import carrying_minutes
from overwinter.model.plan import Plan
from overwinter.model.shelter import PlaceKind
from overwinter.model.species import Harm
from overwinter.model.stage import Sign
from overwinter.model.tree import Tree
from overwinter.plants.harm import SHORT_CHILL_SHARE
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.follow import HARMS

Path = tuple[str | None, ...]
Met = tuple[int | None, ...]
"""Option in each stage."""
Way = tuple[int, ...]
"""Index of the setting in each stage."""
House = dict[tuple[str, int], tuple[Tree, ...]]
"""Who is at a place, in an air or being carried in each stage."""
MOST_LOOKED_AT = 30_000
AWAY_OUTDOORS, DAYS, OFTEN = 0.25, 3, 10.0
TINY = 1e-9

MENDED = {Harm.YOUNG_ROOTS, Harm.NEW_LEAVES, Harm.SOFT}
"""What a tree mends in a season; not its young roots in the spring in which it was repotted."""


class TooMany(Exception):
    """Not to be counted within a second."""


@dataclass(frozen=True)
class Option:
    """One path of one tree and what it costs by itself."""

    money: float
    path: Path | None
    """None: left out."""


@dataclass
class Best:
    """The cheapest plan there is."""

    money: float = float("inf")
    ways: Mapping[str, Way] = field(default_factory=dict)
    paths: Mapping[str, Path | None] = field(default_factory=dict)


class Enumeration:
    """All plans of one winter.

    Parameters
    ----------
    true_paths : price losses along the trees' true paths, as the audit does, instead of by the
        table of stages, in which every tree comes from its summer stand.
    layouts : only plans whose places under cover can be drawn to scale.
    """

    def __init__(self, tiny: Tiny, true_paths: bool = False, layouts: bool = False) -> None:
        self.tiny, self.season, self.days = tiny, tiny.season, tiny.stage_days
        self.true_paths, self.layouts = true_paths, layouts
        self.stages = range(len(self.days.stages))
        self.first = tiny.start.fixed_stages
        self.free = range(self.first, len(self.stages))
        self.weights = self.season.site.weights
        self.table = tiny.follower.table(self.days)
        self.mean_days = (self.days.end_day - self.days.first_day).mean(axis=1)
        self.looked_at = 0
        self._closed: dict[tuple[str, int], bool] = {}
        self._true: dict[object, tuple[float, np.ndarray]] = {}
        self._fits: dict[object, bool] = {}
        self._options: dict[object, list[Option]] = {}
        self.heat = {
            h: np.array(
                [
                    [
                        float((m * (self.days.stage_of_day == k)).sum(axis=1).mean())
                        for k in self.stages
                    ]
                    for m in tiny.conditions.shelters[h].money
                ]
            )
            for h in self.season.shelter_by_id
        }
        self.ways = {h: self._ways(h) for h in self.season.shelter_by_id}
        dearest = sum(max(self.heat_of(h, way) for way in ways) for h, ways in self.ways.items())
        self.left_out = {
            t.id: self.weights.caution * t.value
            + dearest
            + 10 * self.weights.two_person_carry
            - self._sunk(t)
            for t in self.season.trees
        }

    def _sunk(self, tree: Tree) -> float:
        """What was paid for a tree in stages that have begun, and is not where it is left out."""
        past = self.tiny.start.stays[tree.id][: self.first]
        carried = [to for was, to in pairwise(past) if to is not None and was not in (None, to)]
        return self._cover(tree, past, range(self.first)) + sum(
            self.work(tree, to) * self.weights.carry_of(tree.weight_kg) for to in carried
        )

    # heaters

    def heat_of(self, shelter_id: str, way: Way) -> float:
        """Mean money a winter."""
        return sum(float(self.heat[shelter_id][s, k]) for k, s in enumerate(way))

    def _ways(self, shelter_id: str) -> list[Way]:
        """Off; one hold from a stage to another with deep winter between; a higher one within."""
        heat, n = self.heat[shelter_id], len(self.stages)
        spring = [k for k in self.stages if self.days.stages[k].sign is Sign.MILD_WEEK]
        deep = min(spring, default=n) - 1
        deep_is_free = deep >= self.first
        found = {(0,) * n}
        for on, off in combinations(range(self.first, n + 1), 2):
            if deep_is_free and not on <= deep < off:
                continue
            for low in range(1, len(heat)):
                way = [low if on <= k < off else 0 for k in self.stages]
                found.add(tuple(way))
                if self.season.site.thermostat_changes < 2 or not deep_is_free:
                    continue
                for high in range(1, len(heat)):
                    if heat[high].sum() <= heat[low].sum() or high == low:
                        continue
                    for a, b in ((deep, deep + 1), (deep - 1, deep + 1), (deep - 1, deep + 2)):
                        if on <= a and b <= off and (a, b) != (on, off):
                            found.add(tuple(high if a <= k < b else s for k, s in enumerate(way)))
        return sorted(
            way for way in found if all(self._works(shelter_id, way[k], k) for k in self.free)
        )

    def _works(self, shelter_id: str, setting: int, stage: int) -> bool:
        shelter = self.season.shelter_by_id[shelter_id]
        if setting == 0:
            return True
        broken = [h.broken_from for h in shelter.heaters if h.broken_from]
        last = int(self.days.end_day[stage].max())
        return not self.closed(shelter_id, stage) and all(
            last <= self.season.day_index(day) for day in broken
        )

    def closed(self, shelter_id: str, stage: int) -> bool:
        """Whether on any day of the stage, in any winter."""
        if (shelter_id, stage) not in self._closed:
            self._closed[shelter_id, stage] = self._is_closed(shelter_id, stage)
        return self._closed[shelter_id, stage]

    def _is_closed(self, shelter_id: str, stage: int) -> bool:
        shelter = self.season.shelter_by_id[shelter_id]
        for winter in range(self.days.first_day.shape[1]):
            for day in range(self.days.first_day[stage, winter], self.days.end_day[stage, winter]):
                date = self.season.date_of(day)
                if (shelter.opens and date < shelter.opens) or (
                    shelter.closes and date >= shelter.closes
                ):
                    return True
        return False

    def _choices(self) -> Iterator[dict[str, Way]]:
        for ways in product(*self.ways.values()):
            chosen = dict(zip(self.ways, ways, strict=True))
            if all(self._breakers_hold(chosen, k) for k in self.free):
                yield chosen

    def _breakers_hold(self, chosen: Mapping[str, Way], stage: int) -> bool:
        drawn: dict[str, float] = {}
        for h, way in chosen.items():
            for breaker, watts in self.tiny.conditions.shelters[h].settings[way[stage]].breaker_w:
                drawn[breaker] = drawn.get(breaker, 0.0) + watts
        return all(w <= self.season.site.breakers_w[b] for b, w in drawn.items())

    # one tree

    def home(self, tree: Tree) -> str:
        """Its summer stand."""
        return tree.stands_at or self.season.site.summer_place

    def is_there(self, tree: Tree, stage: int) -> bool:
        """Whether it has joined in every winter."""
        if tree.joins is None:
            return True
        day = self.season.day_index(tree.joins)
        return all(int(f) >= day for f in self.days.first_day[stage])

    def apart(self, tree: Tree, stage: int) -> bool:
        """Whether any day of the stage, in any winter, is before the end of its quarantine."""
        if tree.quarantine_until is None:
            return False
        until = self.season.day_index(tree.quarantine_until)
        return any(int(f) < until for f in self.days.first_day[stage])

    def may_stand(self, tree: Tree, place_id: str) -> bool:
        """Size, weight, pins and bans."""
        place = self.season.places[place_id]
        names = {place_id, place.shelter_id}
        if names & tree.forbidden:
            return False
        if tree.pinned and not names & tree.pinned and place_id != self.home(tree):
            return False
        straight = tree.width_m <= place.width_m + TINY and tree.depth_m <= place.depth_m + TINY
        turned = tree.depth_m <= place.width_m + TINY and tree.width_m <= place.depth_m + TINY
        return (
            (straight or turned)
            and tree.height_m <= place.headroom_m + TINY
            and tree.weight_kg <= place.load_limit_kg + TINY
        )

    def option(self, place_id: str, setting: int) -> int:
        """Index of a place with a setting in the arrays of the physics."""
        return self.tiny.follower.exposures.index[place_id, setting]

    def paths(self, tree: Tree) -> Iterator[Path]:
        """Every path, whatever the harm."""
        past = self.tiny.start.stays[tree.id][: self.first]
        choices: list[list[str | None]] = []
        for k in self.free:
            if not self.is_there(tree, k):
                choices.append([None])
                continue
            choices.append(
                [
                    p
                    for p, place in self.season.places.items()
                    if self.may_stand(tree, p) and not self.closed(place.shelter_id, k)
                ]
            )
        for rest in product(*choices):
            yield (*past, *rest)

    def is_day_for(self, tree: Tree, stage: int) -> bool:
        """Whether it may be carried then: not on a day of another tree alone."""
        happenings = self.days.stages[stage].happenings
        own = {"joins", "quarantine ends"}
        alone = happenings and all(one.kind.value in own for one in happenings)
        return not alone or tree.id in [one.subject for one in happenings]

    def carried(self, path: Path) -> list[int]:
        """Free stages at whose beginning it is carried."""
        return [k for k in self.free if path[k - 1] is not None and path[k] != path[k - 1]]

    def work(self, tree: Tree, place_id: str | None) -> int:
        """Carries that bringing a tree to a place is worth: sinking it counts as two."""
        sunk = place_id is not None and self.season.places[place_id].kind is PlaceKind.SUNK
        return 2 if sunk and place_id != self.home(tree) else 1

    def price(self, tree: Tree, path: Path, ways: Mapping[str, Way]) -> float:
        """Money of a path but for crowding and what lies before the plan; infinite if refused."""
        weights = self.weights
        met = self._met(path, ways)
        losses = self._true_losses(tree, met) if self.true_paths else self._losses(tree, met)
        money = losses + self._cover(tree, path, self.free)
        if path[-1] not in (None, self.home(tree)):
            money += weights.not_home
        moved = self.carried(path)
        if not all(self.is_day_for(tree, k) for k in moved):
            return float("inf")
        heavy = tree.weight_kg >= weights.two_person_kg
        one = weights.two_person_carry if heavy else weights.carry
        money += sum(self.work(tree, path[k]) for k in moved) * one
        known = self.tiny.start.known_targets
        if known is not None:
            targets = known.get(tree.id, frozenset())
            money += weights.extra_carry * sum(path[k] not in targets for k in moved)
        if not self.true_paths:
            often = max(0.0, len(moved) - weights.most_carries)
            borne = weights.caution * weights.most_chance * tree.value
            money += often * max(borne, OFTEN * one)
        return money

    def _met(self, path: Path, ways: Mapping[str, Way]) -> Met:
        """Option in each stage."""
        return tuple(
            None if p is None else self.option(p, ways[self.season.places[p].shelter_id][k])
            for k, p in enumerate(path)
        )

    def _cover(self, tree: Tree, path: Path, stages: range) -> float:
        kind, days = self.tiny.follower.kind_index[kind_of(tree)], 0.0
        for k in stages:
            place_id = path[k]
            if place_id not in (None, self.home(tree)):
                place = self.season.places[str(place_id)]
                open_air = self.season.shelter_by_id[place.shelter_id].open_air
                share = AWAY_OUTDOORS if open_air else 1.0
                days += share * float(self.table.spare_days[kind, k])
        return self.weights.cover_day * days

    def _owed(self, tree: Tree) -> float:
        """Share of its chilling that it owes."""
        if not self.is_there(tree, self.stages[-1]):
            return 0.0
        if tree.joins is None:
            return 1.0
        return max(0.0, 1.0 - self.season.day_index(tree.joins) / self.season.days)

    def _losses(self, tree: Tree, met: Met) -> float:
        """Caution x value x chance of loss, by the table of stages."""
        kind, total = self.tiny.follower.kind_index[kind_of(tree)], 0.0
        for k in self.free:
            if met[k] is not None:
                if self.table.lost[kind, met[k], k] > self.weights.most_chance:
                    return float("inf")
                total += float(self.table.chance[kind, met[k], k])
        chills = self.table.chill_share[kind]
        if chills.any():
            earned = sum(float(chills[m, k]) for k, m in enumerate(met) if m is not None)
            total += SHORT_CHILL_SHARE * max(0.0, self._owed(tree) - earned)
        return self.weights.caution * tree.value * total

    def _true_losses(self, tree: Tree, met: Met) -> float:
        kind = self.tiny.follower.kind_index[kind_of(tree)]
        loss, by_stage = self._along(kind, self._owed(tree), met)
        if any(by_stage[k] > self.weights.most_chance for k in self.free):
            return float("inf")
        return self.weights.caution * tree.value * loss

    def _along(self, kind: int, owed: float, met: Met) -> tuple[float, np.ndarray]:
        key = kind, owed, met
        if key not in self._true:
            outdoors = self.option(self.season.site.summer_place, 0)
            there = np.array([m is not None for m in met])
            path = np.array([[outdoors if m is None else m for m in met]])
            owing = np.array([round(owed, 3)])
            hazards, short, _ = self.tiny.follower.along([kind], path, self.days, owing)
            by_stage = hazards[0].sum(axis=-1).astype(float) * there
            loss = float((1.0 - np.exp(-(by_stage.sum(axis=-1) + short[0]))).mean())
            mended = MENDED - {Harm.YOUNG_ROOTS} if self.young_roots(kind) else MENDED
            lasts = hazards[0][..., [harm not in mended for harm in HARMS]].sum(axis=-1) * there
            self._true[key] = loss, (1.0 - np.exp(-lasts.astype(float))).mean(axis=0)
        return self._true[key]

    def young_roots(self, kind: int) -> bool:
        """Whether trees of a kind were repotted since they last grew."""
        return self.tiny.follower.kinds[kind].young_roots

    def options(self, tree: Tree, ways: Mapping[str, Way]) -> list[Option]:
        """Every way to have or to leave out a tree, cheapest first."""
        key = (tree.id, tuple(sorted(ways.items())))
        if key not in self._options:
            found = [Option(self.price(tree, path, ways), path) for path in self.paths(tree)]
            found = [option for option in found if np.isfinite(option.money)]
            found.append(Option(self.left_out[tree.id], None))
            self._options[key] = sorted(found, key=lambda option: option.money)
        return self._options[key]

    # all trees

    def best(self) -> Best:
        """The cheapest plan there is."""
        best = Best()
        begun = []
        for ways in self._choices():
            heat = sum(self.heat_of(h, way) for h, way in ways.items())
            least = heat + sum(self.options(t, ways)[0].money for t in self.season.trees)
            begun.append((least, heat, ways))
        for least, heat, ways in sorted(begun, key=lambda one: one[0]):
            if least >= best.money - TINY:
                break
            self._place(best, ways, heat)
        return best

    def _place(self, best: Best, ways: Mapping[str, Way], heat: float) -> None:
        trees = sorted(self.season.trees, key=lambda t: (-t.footprint_m2, t.id))
        options = [self.options(tree, ways) for tree in trees]
        rest = np.cumsum([0.0, *(o[0].money for o in reversed(options))])[::-1].tolist()
        alike = [
            n > 0 and self._like(trees[n]) == self._like(trees[n - 1]) for n in range(len(trees))
        ]
        taken = [0] * len(trees)

        def go(number: int, money: float, house: House) -> None:
            if number == len(trees):
                paths = {t.id: options[n][taken[n]].path for n, t in enumerate(trees)}
                best.money, best.ways, best.paths = money, ways, paths
                return
            for at in range(taken[number - 1] if alike[number] else 0, len(options[number])):
                option, taken[number] = options[number][at], at
                if money + option.money + rest[number + 1] >= best.money - TINY:
                    break
                self.looked_at += 1
                if self.looked_at > MOST_LOOKED_AT:
                    raise TooMany
                fuller = house.copy()
                total = money + option.money + self._join(fuller, trees[number], option.path)
                if total + rest[number + 1] < best.money - TINY:
                    go(number + 1, total, fuller)

        go(0, heat, {})

    def _like(self, tree: Tree) -> object:
        targets = (self.tiny.start.known_targets or {}).get(tree.id)
        return replace(tree, id="", name=""), targets, self.tiny.start.stays[tree.id]

    def _join(self, house: House, tree: Tree, path: Path | None) -> float:
        """Put a tree among others: what it adds to the crowding, infinite where it may not be."""
        if path is None:
            return 0.0
        for k in self.carried(path):
            times = self.work(tree, path[k])
            house["carried", k] = (*house.get(("carried", k), ()), *[tree] * times)
            site = self.season.site
            by_two = [t.weight_kg >= self.weights.two_person_kg for t in house["carried", k]]
            needed = sum(site.household.minutes(two) for two in by_two)
            most = DAYS * carrying_minutes(site, self.days.stages[k].usual)
            if needed > most + TINY:
                return float("inf")
        return sum(self._stand(house, tree, p, k) for k in self.free if (p := path[k]) is not None)

    def _stand(self, house: House, tree: Tree, place_id: str, k: int) -> float:
        place, weights = self.season.places[place_id], self.weights
        open_air = self.season.shelter_by_id[place.shelter_id].open_air
        air = "air of " + (place_id if open_air else place.shelter_id)
        others = house.get((air, k), ())
        house[air, k] = (*others, tree)
        here = house[place_id, k] = (*house.get((place_id, k), ()), tree)
        area = sum(t.footprint_m2 for t in here)
        if (
            any(self.apart(other, k) != self.apart(tree, k) for other in others)
            or area > weights.fullest_share * place.area_m2 + TINY
            or sum(t.weight_kg for t in here) > place.load_limit_kg + TINY
        ):
            return float("inf")
        if open_air:
            return 0.0
        if self.layouts and not self._fit(place_id, here):
            return float("inf")
        ease = weights.comfortable_share * place.area_m2
        over = max(0.0, area - ease) - max(0.0, area - tree.footprint_m2 - ease)
        return weights.crowding_per_m2_day * over * float(self.mean_days[k])

    def _fit(self, place_id: str, trees: tuple[Tree, ...]) -> bool:
        """Whether rectangles can lie on a place, found by trying every corner in every order."""
        key = (place_id, frozenset(tree.id for tree in trees))
        if key not in self._fits:
            place = self.season.places[place_id]
            sides = [(round(t.width_m * 1000), round(t.depth_m * 1000)) for t in trees]
            wide, deep = round(place.width_m * 1000), round(place.depth_m * 1000)
            self._fits[key] = any(
                _corners(order, wide, deep, []) for order in set(permutations(sides))
            )
        return self._fits[key]

    def money_of(self, plan: Plan) -> float:
        """What a plan of the tool costs by this reckoning; infinite if it breaks a rule."""
        ways = {
            h: tuple(self.tiny.conditions.shelters[h].settings.index(s) for s in settings)
            for h, settings in plan.settings.items()
        }
        return self.money_under(ways, plan.stays)

    def money_under(self, ways: Mapping[str, Way], paths: Mapping[str, Path | None]) -> float:
        """Money of all trees on paths under heater programmes; a tree without one is left out."""
        if not all(self._breakers_hold(ways, k) for k in self.free):
            return float("inf")
        money, house = sum(self.heat_of(h, way) for h, way in ways.items()), House()
        for tree in self.season.trees:
            path = paths.get(tree.id)
            money += self._join(house, tree, path)
            if path is None:
                money += self.left_out[tree.id]
            else:
                money += self.price(tree, path, ways)
        return money


_Rectangle = tuple[int, int, int, int]


def _corners(
    order: tuple[tuple[int, int], ...], wide: int, deep: int, laid: list[_Rectangle]
) -> bool:
    """Lay rectangles one after another, each against the left and front of what lies."""
    if not order:
        return True
    sides = order[0]
    xs = sorted({0, *(x + w for x, _, w, _ in laid)})
    ys = sorted({0, *(y + d for _, y, _, d in laid)})
    for w, d in {sides, sides[::-1]}:
        for x, y in product(xs, ys):
            if x + w > wide or y + d > deep:
                continue
            if any(x < a + c and a < x + w and y < b + e and b < y + d for a, b, c, e in laid):
                continue
            if _corners(order[1:], wide, deep, [*laid, (x, y, w, d)]):
                return True
    return False
