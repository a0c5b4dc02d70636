"""The rules a plan must hold to, each checked from the plan and the season alone."""

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule, TreeRisk
from overwinter.model.plan import Costs, Layout
from overwinter.model.tree import Tree

SLACK = 1e-6
CHANCE_SLACK = 0.005
COST_SHARE = 0.01
"""Plan and audit agree within this share of the total."""
DAYS_TO_CARRY = 3
"""Days before a stage over which its carries may be spread."""


def structure(ledger: Ledger) -> Iterator[Finding]:
    """Stages in order, every tree accounted for, one known place each, known settings."""
    plan, season = ledger.plan, ledger.season
    falls = (ledger.stage_days.first_day[1:] < ledger.stage_days.first_day[:-1]).any()
    if falls or [s.index for s in plan.stages] != list(ledger.stages) or not plan.stages:
        yield _found(Rule.STAGES, None, None, None, 1, "", "The stages are not in order")
    if len(plan.stages) != ledger.stage_days.first_day.shape[0]:
        yield _found(Rule.STAGES, None, None, None, 1, "", "The plan has other stages")
    named = Counter([*plan.stays, *(left.tree_id for left in plan.left_out)])
    for tree_id in {t.id for t in season.trees} ^ set(named):
        yield _found(Rule.ACCOUNTED, tree_id, None, None, 1, "tree", f"{tree_id} is not placed")
    for tree_id, count in named.items():
        if count > 1:
            yield _found(Rule.ACCOUNTED, tree_id, None, None, 1, "tree", f"{tree_id} stands twice")
    for tree_id, path in plan.stays.items():
        if len(path) != len(plan.stages) or None in path[_joined(path) :]:
            yield _found(Rule.STAYS, tree_id, None, None, 1, "stage", f"{tree_id} has no place")
        for place in set(path) - {None} - set(season.places):
            yield _found(Rule.KNOWN_PLACE, tree_id, place, None, 1, "", f"{place} is not known")
    for shelter in season.shelters:
        chosen = plan.settings.get(shelter.id, ())
        known = ledger.conditions.shelters[shelter.id].settings
        if len(chosen) != len(plan.stages) or any(s not in known for s in chosen):
            text = f"{shelter.name} has settings that are not known"
            yield _found(Rule.SETTING, shelter.id, shelter.id, None, 1, "", text)


def _joined(path: tuple[str | None, ...]) -> int:
    return next((k for k, place in enumerate(path) if place is not None), len(path))


def opened(ledger: Ledger) -> Iterator[Finding]:
    """No tree stands in a shelter that is closed in any winter of the sample."""
    first = ledger.stage_days.first_day
    end = ledger.stage_days.end_day
    for place, k, trees in ledger.occupied():
        shelter = ledger.season.shelter_by_id[place.shelter_id]
        lasts = end[k] > first[k]
        opens, closes = shelter.opens, shelter.closes
        early = opens is not None and (first[k][lasts] < ledger.season.day_index(opens)).any()
        late = closes is not None and (end[k][lasts] > ledger.season.day_index(closes)).any()
        if k in ledger.free_stages and (early or late):
            text = f"{shelter.name} is closed"
            yield _found(Rule.OPEN, trees[0].id, place.id, k, 1, "d", text)


def standing(ledger: Ledger) -> Iterator[Finding]:
    """Headroom, width, pins and the grower's word."""
    for place, k, trees in ledger.occupied():
        if k not in ledger.free_stages:
            continue
        sides = sorted((place.width_m, place.depth_m))
        for tree in trees:
            own = sorted((tree.width_m, tree.depth_m))
            wide = max(own[0] - sides[0], own[1] - sides[1])
            names = {place.id, place.shelter_id}
            yield from _when(
                tree.height_m - place.headroom_m, Rule.HEADROOM, tree, place.id, k, "m"
            )
            yield from _when(wide, Rule.WIDTH, tree, place.id, k, "m")
            if names & tree.forbidden:
                yield from _when(1.0, Rule.FORBIDDEN, tree, place.id, k, "")
            if tree.pinned and place.id != ledger.home(tree) and not names & tree.pinned:
                yield from _when(1.0, Rule.PINNED, tree, place.id, k, "")


def _when(
    over: float, rule: Rule, tree: Tree, place: str, k: int, unit: str
) -> Iterator[Finding]:
    if over > SLACK:
        yield _found(rule, tree.id, place, k, over, unit, f"{tree.name} at {place}")


def room(ledger: Ledger) -> Iterator[Finding]:
    """Area and load of every place."""
    weights = ledger.season.site.weights
    for place, k, trees in ledger.occupied():
        if k not in ledger.free_stages:
            continue
        over = sum(t.footprint_m2 for t in trees) - weights.fullest_share * place.area_m2
        if over > SLACK:
            yield _found(Rule.AREA, None, place.id, k, over, "m²", f"{place.id} is too full")
        heavy = sum(t.weight_kg for t in trees) - place.load_limit_kg
        if heavy > SLACK:
            yield _found(Rule.LOAD, None, place.id, k, heavy, "kg", f"{place.id} bears too much")


def layouts(ledger: Ledger) -> Iterator[Finding]:
    """Drawings name the trees that are there, inside the place, apart from one another."""
    if not ledger.plan.layouts:
        return
    for place, k, trees in ledger.occupied():
        if ledger.open_air(place.id) or k not in ledger.free_stages:
            continue
        drawn = ledger.plan.layouts.get(place.id, {}).get(k, ())
        text = f"the drawing of {place.id}"
        if sorted(one.tree_id for one in drawn) != sorted(t.id for t in trees):
            yield _found(Rule.LAYOUT, None, place.id, k, 1, "", f"{text} has other trees")
            continue
        sizes = {t.id: sorted((t.width_m, t.depth_m)) for t in trees}
        for one in drawn:
            inside = (
                min(one.x_m, one.y_m) >= -SLACK
                and one.x_m + one.width_m <= place.width_m + SLACK
                and one.y_m + one.depth_m <= place.depth_m + SLACK
            )
            true_size = sorted((one.width_m, one.depth_m))
            same = all(abs(a - b) < 1e-3 for a, b in zip(true_size, sizes[one.tree_id], strict=True))
            if not (inside and same):
                yield _found(Rule.LAYOUT, one.tree_id, place.id, k, 1, "", f"{text} is wrong")
        for a, b in combinations(drawn, 2):
            over = _overlap(a, b)
            if over > 1e-4:
                yield _found(Rule.LAYOUT, a.tree_id, place.id, k, over, "m²", f"{text} overlaps")


def _overlap(a: Layout, b: Layout) -> float:
    across = min(a.x_m + a.width_m, b.x_m + b.width_m) - max(a.x_m, b.x_m)
    along = min(a.y_m + a.depth_m, b.y_m + b.depth_m) - max(a.y_m, b.y_m)
    return max(0.0, across) * max(0.0, along)


def quarantine(ledger: Ledger) -> Iterator[Finding]:
    """A tree in quarantine shares no closed shelter, and outdoors no place, with others."""

    def unit(place_id: str) -> str:
        return place_id if ledger.open_air(place_id) else ledger.season.places[place_id].shelter_id

    for tree in ledger.placed:
        if tree.quarantine_until is None:
            continue
        until = ledger.season.day_index(tree.quarantine_until)
        for k in ledger.free_stages:
            place = ledger.plan.stays[tree.id][k]
            first, end = ledger.stage_days.first_day[k], ledger.stage_days.end_day[k]
            if place is None or not ((first < until) & (end > first)).any():
                continue
            for other in ledger.placed:
                theirs = ledger.plan.stays[other.id][k]
                if other.id != tree.id and theirs is not None and unit(theirs) == unit(place):
                    text = f"{tree.name} is kept apart, yet {other.name} is with it"
                    yield _found(Rule.QUARANTINE, tree.id, place, k, 1, "tree", text)


def chance(ledger: Ledger, risks: Mapping[str, TreeRisk]) -> Iterator[Finding]:
    """No stage takes a tree more often than the site allows."""
    most = ledger.season.site.weights.most_chance
    for tree in ledger.placed:
        for k in ledger.free_stages:
            over = risks[tree.id].by_stage[k] - most
            if over > CHANCE_SLACK:
                place = ledger.plan.stays[tree.id][k]
                yield _found(Rule.CHANCE, tree.id, place, k, over, "of 1", f"{tree.name} at {place}")


def heaters(ledger: Ledger) -> Iterator[Finding]:
    """Breakers, broken heaters, and how often a thermostat is set."""
    site = ledger.season.site
    for breaker, limit in site.breakers_w.items():
        for k in ledger.free_stages:
            watts = sum(dict(s[k].breaker_w).get(breaker, 0.0) for s in ledger.plan.settings.values())
            if watts > limit + SLACK:
                text = f"breaker {breaker} carries too much"
                yield _found(Rule.BREAKER, breaker, None, k, watts - limit, "W", text)
    for shelter in ledger.season.shelters:
        chosen = ledger.plan.settings[shelter.id]
        broken = {h.name: h.broken_from for h in shelter.heaters if h.broken_from is not None}
        for k in ledger.free_stages:
            for part in chosen[k].parts:
                day = broken.get(part.heater)
                last = ledger.stage_days.end_day[k].max()
                if day is not None and last > ledger.season.day_index(day):
                    text = f"{part.heater} in {shelter.name} is broken"
                    yield _found(Rule.SETTING, shelter.id, shelter.id, k, 1, "", text)
        free = chosen[ledger.free_stages.start - 1 :]
        changes = sum(a != b for a, b in zip(free, free[1:], strict=False))
        if changes > site.thermostat_changes + 1:
            text = f"the heater of {shelter.name} is set too often"
            over = changes - site.thermostat_changes - 1
            yield _found(Rule.THERMOSTAT, shelter.id, shelter.id, None, over, "times", text)


def carries(ledger: Ledger) -> Iterator[Finding]:
    """Carries are what the stays ask for, and no more than the household can do."""
    wanted = {
        (k, tree_id, path[k - 1], place)
        for tree_id, path in ledger.plan.stays.items()
        for k, place in enumerate(path)
        if k and place is not None and place != path[k - 1]
    }
    listed = [(c.stage, c.tree_id, c.source, c.target) for c in ledger.plan.carries]
    for k, tree_id, _, place in wanted ^ set(listed):
        yield _found(Rule.CARRIES, tree_id, place, k, 1, "carry", f"the carries of {tree_id}")
    if len(listed) != len(set(listed)):
        yield _found(Rule.CARRIES, None, None, None, 1, "carry", "a carry is listed twice")
    by_stage = Counter(c.stage for c in ledger.plan.carries if c.source is not None)
    most = ledger.season.site.carries_per_day * DAYS_TO_CARRY
    for k, count in by_stage.items():
        if k in ledger.free_stages and count > most:
            text = "more is carried than the household can"
            yield _found(Rule.CARRIES_PER_DAY, None, None, k, count - most, "carries", text)


def costs(ledger: Ledger, true: Costs) -> Iterator[Finding]:
    """Every part of the plan's costs is what the audit finds, within a share of the whole."""
    for name in Costs.__dataclass_fields__:
        told, found = getattr(ledger.plan.costs, name), getattr(true, name)
        over = abs(told - found)
        if over > COST_SHARE * max(abs(true.total), 1.0):
            currency = ledger.season.site.currency
            text = f"{name}: the plan says {told:.2f}, the audit finds {found:.2f}"
            yield _found(Rule.COSTS, None, None, None, over, currency, text)


def proof(ledger: Ledger) -> Iterator[Finding]:
    """Objective, bound and gap agree with one another and with the costs."""
    said, total = ledger.plan.proof, ledger.plan.costs.total
    currency = ledger.season.site.currency
    off = abs(said.objective - total)
    if off > SLACK * max(1.0, abs(total)):
        yield _found(Rule.PROOF, None, None, None, off, currency, "the objective is not the total")
    if said.bound is None:
        if said.gap is not None:
            yield _found(Rule.PROOF, None, None, None, 1, "", "a gap without a bound")
        return
    if said.bound > said.objective + SLACK * max(1.0, abs(total)):
        over = said.bound - said.objective
        yield _found(Rule.PROOF, None, None, None, over, currency, "the bound exceeds the plan")
    gap = (said.objective - said.bound) / max(abs(said.objective), 1e-9)
    if said.gap is None or abs(gap - said.gap) > SLACK:
        yield _found(Rule.PROOF, None, None, None, 1, "", "the gap is not that of the bound")


def _found(
    rule: Rule, subject: str | None, where: str | None, stage: int | None, by: float, unit: str,
    text: str,
) -> Finding:
    return Finding(rule, subject, where, stage, float(by), unit, text)
