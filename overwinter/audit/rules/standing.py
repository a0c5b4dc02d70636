"""May a tree stand there: open shelters, size, the grower's pins and bans, quarantine."""

from collections.abc import Iterator

from overwinter.audit.costs import Ledger
from overwinter.audit.report import Finding, Rule, excess
from overwinter.model.shelter import Place, Shelter
from overwinter.model.tree import Tree


def shelters_open(ledger: Ledger) -> Iterator[Finding]:
    """A shelter with a tree in it is open on every day of the stage in every winter."""
    shelters = ledger.season.shelter_by_id
    closed = {shelter_id: _days_closed(ledger, one) for shelter_id, one in shelters.items()}
    for tree, place, stages in ledger.chosen_stays():
        for stage in stages:
            if days := closed[place.shelter_id][stage]:
                text = f"{tree.name} is in {shelters[place.shelter_id].name} while it is closed"
                yield Finding(Rule.OPEN, tree.id, place.id, stage, days, "days", text)


def _days_closed(ledger: Ledger, shelter: Shelter) -> list[int]:
    """Days of each stage on which the shelter is closed, in the winter with most of them."""
    days = [ledger.season.date_of(day) for day in range(ledger.stage_days.days)]
    closed = [
        (shelter.opens is not None and day < shelter.opens)
        or (shelter.closes is not None and day >= shelter.closes)
        for day in days
    ]
    stages = ledger.stage_days.stage_of_day[:, closed]
    return [int((stages == stage).sum(axis=1).max()) for stage in ledger.stages]


def low_enough(ledger: Ledger) -> Iterator[Finding]:
    """No tree is taller than the clear height of its place."""
    for tree, place, stages in ledger.chosen_stays():
        if over := excess(tree.height_m, place.headroom_m):
            yield _size(Rule.HEADROOM, tree, place, stages[0], over, "tall")


def narrow_enough(ledger: Ledger) -> Iterator[Finding]:
    """Each tree's footprint, turned or not, lies within its place."""
    for tree, place, stages in ledger.chosen_stays():
        straight = max(tree.width_m - place.width_m, tree.depth_m - place.depth_m)
        turned = max(tree.depth_m - place.width_m, tree.width_m - place.depth_m)
        if over := excess(min(straight, turned)):
            yield _size(Rule.WIDTH, tree, place, stages[0], over, "wide")


def _size(rule: Rule, tree: Tree, place: Place, stage: int, over: float, what: str) -> Finding:
    text = f"{tree.name} is too {what} for {place.id}"
    return Finding(rule, tree.id, place.id, stage, over, "m", text)


def pins_kept(ledger: Ledger) -> Iterator[Finding]:
    """A pinned tree is where it is pinned, except at its summer stand."""
    for tree, place, stages in ledger.chosen_stays():
        free = not tree.pinned or place.id == ledger.home(tree)
        if not free and not {place.id, place.shelter_id} & tree.pinned:
            text = f"{tree.name} is at {place.id} but pinned to {', '.join(sorted(tree.pinned))}"
            yield Finding(Rule.PINNED, tree.id, place.id, stages[0], 1, "place", text)


def bans_kept(ledger: Ledger) -> Iterator[Finding]:
    """No tree is where the grower forbids it."""
    for tree, place, stages in ledger.chosen_stays():
        if {place.id, place.shelter_id} & tree.forbidden:
            text = f"{tree.name} must not be at {place.id}"
            yield Finding(Rule.FORBIDDEN, tree.id, place.id, stages[0], 1, "place", text)


def quarantine_kept(ledger: Ledger) -> Iterator[Finding]:
    """A tree in quarantine shares no closed shelter, nor outdoors a place, with healthy ones.

    Trees in quarantine may stand together.
    """
    for stage in ledger.free_stages:
        rooms: dict[str, list[Tree]] = {}
        for (place_id, at), trees in ledger.occupants.items():
            if at == stage:
                shelter = ledger.shelter_of(place_id)
                room = place_id if shelter.open_air else shelter.id
                rooms.setdefault(room, []).extend(trees)
        for room, here in rooms.items():
            apart = [tree for tree in here if _in_quarantine(ledger, tree, stage)]
            healthy = len(here) - len(apart)
            for tree in apart if healthy else ():
                text = f"{tree.name} is in quarantine but shares {room} with {healthy} others"
                yield Finding(Rule.QUARANTINE, tree.id, room, stage, healthy, "trees", text)


def _in_quarantine(ledger: Ledger, tree: Tree, stage: int) -> bool:
    """Whether any day of the stage, in any winter, is before the end of a tree's quarantine."""
    if tree.quarantine_until is None:
        return False
    first, end = ledger.stage_days.first_day[stage], ledger.stage_days.end_day[stage]
    until = ledger.season.day_index(tree.quarantine_until)
    return bool(((first < until) & (end > first)).any())
