"""Is it a plan at all: stages, trees, places and settings that exist and fit together."""

from collections import Counter
from collections.abc import Iterator

from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule, excess


def stages_in_order(ledger: Ledger) -> Iterator[Fault]:
    """The stages are those of the season, in order, with its days, signs and calendar; at least one
    has not begun."""

    def fault(stage: int | None, by: float, unit: str, text: str) -> Fault:
        return None, None, stage, by, unit, text

    stages, known = ledger.plan.stages, ledger.stage_days.stages
    if len(stages) != len(known):
        text = f"the plan has {len(stages)} stages, its season {len(known)}"
        yield fault(None, abs(len(stages) - len(known)), "stages", text)
        return
    for number, (stage, real) in enumerate(zip(stages, known, strict=True)):
        if stage.index != number:
            yield fault(number, abs(stage.index - number), "stages", "the stage is out of order")
        a, b = stage.threshold_c, real.threshold_c
        same = a == b or (a is not None and b is not None and not excess(abs(a - b)))
        if stage.sign is not real.sign or not same:
            text = "the stage begins by another sign than the season's"
            yield fault(number, 1, "stage", text)
        elif stage.happenings != real.happenings:
            yield fault(number, 1, "stage", "the calendar has something else on that day")
        told = ((s.early, s.usual, s.late, s.until) for s in (stage, real))
        if off := max(abs((said - true).days) for said, true in zip(*told, strict=True)):
            yield fault(number, off, "days", "the stage lies on other days than it is told")
    if not 0 <= ledger.plan.fixed_stages < len(stages):
        text = f"{ledger.plan.fixed_stages} of {len(stages)} stages are told to have begun"
        yield fault(None, 1, "stages", text)


def every_tree_once(ledger: Ledger) -> Iterator[Fault]:
    """Each tree of the season has a place or is left out; none is unknown, or unsafe elsewhere.
    What is said of trees without a place is of places and stages that exist."""
    plan, known = ledger.plan, ledger.season.tree_by_id
    told = Counter(plan.tree_ids)
    for tree_id in dict.fromkeys([*known, *told]):
        times = told[tree_id]
        if tree_id not in known:
            text = f"{tree_id} is no tree of the season"
        elif times != 1:
            found = f"is told of {times} times instead of once" if times else "is not in the plan"
            text = f"{known[tree_id].name} {found}"
        else:
            continue
        yield tree_id, None, None, max(1, times - 1), "trees", text
    for tree_id, times in Counter(plan.unsafe).items():
        if tree_id not in plan.stays or times != 1:
            text = f"{tree_id} is told {times} times to be in a place that is not safe"
            yield tree_id, None, None, 1, "trees", text
    for left in plan.left_out:
        named = [left.cure_place, *(lack.place_id for lack in left.lacks)]
        odd = [p for p in named if p is not None and p not in ledger.season.places]
        odd += [f"stage {lack.stage}" for lack in left.lacks if lack.stage not in ledger.stages]
        for what in odd:
            text = f"{left.tree_id} is left out because of {what}, which there is not"
            yield left.tree_id, None, None, 1, "reason", text


def one_place_a_stage(ledger: Ledger) -> Iterator[Fault]:
    """A tree has a place in every stage from the one in which it joins, and none before; before
    the winter a plan begins where the trees stand."""
    for tree in ledger.placed:
        path = ledger.plan.stays[tree.id]
        if off := abs(len(path) - len(ledger.stages)):
            text = f"{tree.name} has {len(path)} stays for {len(ledger.stages)} stages"
            yield tree.id, None, None, off, "stages", text
        for stage, place_id in zip(ledger.stages, path, strict=False):
            fault = _stay_fault(ledger, tree, stage, place_id)
            if fault is not None:
                yield tree.id, place_id, stage, 1, "stage", f"{tree.name} {fault}"


def _stay_fault(ledger: Ledger, tree: Tree, stage: int, place_id: str | None) -> str | None:
    if ledger.start is not None and stage < ledger.start.fixed_stages:
        was = ledger.start.stays.get(tree.id, ())
        if stage < len(was) and was[stage] != place_id:
            return "is told to have been elsewhere than it was"
        return None
    if stage < ledger.free_stages.start and ledger.plan.fixed_stages > 0:
        return None
    joined = _joined(ledger, tree, stage)
    if joined and place_id is None:
        return "has no place"
    if not joined and place_id is not None:
        return "has a place before it joins"
    if stage == 0 and joined and place_id != ledger.season.home(tree):
        return "does not begin where it stands"
    return None


def _joined(ledger: Ledger, tree: Tree, stage: int) -> bool:
    """Whether a tree is there in a stage: it has joined in every winter when the stage begins,
    and a tree that joins does so after the first stage began."""
    if tree.joins is None:
        return True
    day = ledger.season.day_index(tree.joins)
    return stage > 0 and bool((ledger.stage_days.first_day[stage] >= day).all())


def known_places(ledger: Ledger) -> Iterator[Fault]:
    """Every place exists."""
    for tree_id, path in ledger.plan.stays.items():
        for stage, place_id in enumerate(path):
            if place_id is not None and place_id not in ledger.season.places:
                text = f"{tree_id} is at {place_id}, which is no place"
                yield tree_id, place_id, stage, 1, "place", text


STAGES = Rule("stages in order", stages_in_order, first=True)
ACCOUNTED = Rule("every tree placed or left out", every_tree_once, first=True)
STAYS = Rule("one place per tree and stage", one_place_a_stage, first=True)
KNOWN_PLACE = Rule("known place", known_places, first=True)
RULES = (STAGES, ACCOUNTED, STAYS, KNOWN_PLACE)
