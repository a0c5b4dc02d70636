"""What keeps a tree from a place whatever the weather: size, weight, doors, the grower's word."""

from collections.abc import Iterator

from overwinter.model.plan import Reason
from overwinter.model.season import Season
from overwinter.model.shelter import Place
from overwinter.model.stage import StageDays
from overwinter.model.tree import Tree


def misfits(season: Season, tree: Tree, place: Place) -> Iterator[tuple[Reason, float, str]]:
    """Every reason that the tree and the place alone give: by how much, and its unit."""
    names = {place.id, place.shelter_id}
    if names & tree.forbidden:
        yield Reason.FORBIDDEN, 0.0, ""
    if tree.pinned and place.id != season.home(tree) and not names & tree.pinned:
        yield Reason.PINNED_ELSEWHERE, 0.0, ""
    wide, narrow = max(tree.width_m, tree.depth_m), min(tree.width_m, tree.depth_m)
    long, short = max(place.width_m, place.depth_m), min(place.width_m, place.depth_m)
    for reason, over, unit in (
        (Reason.TOO_TALL, tree.height_m - place.headroom_m, "m"),
        (Reason.TOO_WIDE, max(wide - long, narrow - short), "m"),
        (Reason.TOO_HEAVY, tree.weight_kg - place.load_limit_kg, "kg"),
    ):
        if over > 1e-9:
            yield reason, over, unit


def closed_days(season: Season, place: Place, stage_days: StageDays, stage: int) -> int:
    """Days of a stage, in the winter with most of them, on which the shelter can't be used."""
    shelter = season.shelter_by_id[place.shelter_id]
    first, end = stage_days.first_day[stage], stage_days.end_day[stage]
    opens = 0 if shelter.opens is None else season.day_index(shelter.opens)
    closes = season.days if shelter.closes is None else season.day_index(shelter.closes)
    before = (end.clip(max=opens) - first).clip(min=0)
    after = (end - first.clip(min=closes)).clip(min=0)
    return int((before + after).max())


def in_quarantine(season: Season, tree: Tree, stage_days: StageDays, stage: int) -> bool:
    """Whether a tree is still kept apart on any day of a stage, in any winter."""
    if tree.quarantine_until is None:
        return False
    first, end = stage_days.first_day[stage], stage_days.end_day[stage]
    return bool(((first < season.day_index(tree.quarantine_until)) & (end > first)).any())


def there(season: Season, tree: Tree, stage_days: StageDays, stage: int) -> bool:
    """Whether a tree has joined when a stage begins."""
    if tree.joins is None:
        return True
    return bool(stage_days.first_day[stage].min() >= season.day_index(tree.joins))
