"""Days on the calendar: shelters that are closed, trees that join, quarantine."""

from collections.abc import Iterator
from datetime import date

from overwinter.model.season import Season
from overwinter.model.shelter import Place, Shelter
from overwinter.model.stage import StageDays
from overwinter.model.tree import Tree
from overwinter.rules.rule import Fault, Ledger, Rule


def closed_days(season: Season, place: Place, stage_days: StageDays, stage: int) -> int:
    """Days of a stage, in the winter with most of them, on which the shelter can't be used."""
    shelter = season.shelter_by_id[place.shelter_id]
    first, end = stage_days.first_day[stage], stage_days.end_day[stage]
    opens = 0 if shelter.opens is None else season.day_index(shelter.opens)
    closes = season.days if shelter.closes is None else season.day_index(shelter.closes)
    before = (end.clip(max=opens) - first).clip(min=0)
    after = (end - first.clip(min=closes)).clip(min=0)
    return int((before + after).max())


def shelters_open(ledger: Ledger) -> Iterator[Fault]:
    """A shelter with a tree in it is open on every day of the stage in every winter."""
    shelters = ledger.season.shelter_by_id
    closed = {shelter_id: _shut(ledger, one) for shelter_id, one in shelters.items()}
    for tree, place, stages in ledger.chosen_stays():
        for stage in stages:
            if days := closed[place.shelter_id][stage]:
                text = f"{tree.name} is in {shelters[place.shelter_id].name} while it is closed"
                yield tree.id, place.id, stage, days, "days", text


def _shut(ledger: Ledger, shelter: Shelter) -> list[int]:
    """Days of each stage on which the shelter is closed, in the winter with most of them."""
    days = [ledger.season.date_of(day) for day in range(ledger.stage_days.days)]
    opens, closes = shelter.opens or date.min, shelter.closes or date.max
    closed = [not opens <= day < closes for day in days]
    stages = ledger.stage_days.stage_of_day[:, closed]
    return [int((stages == stage).sum(axis=1).max()) for stage in ledger.stages]


def in_quarantine(season: Season, tree: Tree, stage_days: StageDays, stage: int) -> bool:
    """Whether a tree is still kept apart on any day of a stage, in any winter."""
    if tree.quarantine_until is None:
        return False
    first, end = stage_days.first_day[stage], stage_days.end_day[stage]
    return bool(((first < season.day_index(tree.quarantine_until)) & (end > first)).any())


def quarantine_kept(ledger: Ledger) -> Iterator[Fault]:
    """A tree in quarantine on any day of the stage, in any winter, shares no closed shelter, and
    outdoors no place, with healthy ones; those in quarantine may stand together."""
    rooms: dict[tuple[int, str], list[Tree]] = {}
    for place, stage, trees in ledger.chosen():
        room = place.id if ledger.season.shelter_of(place.id).open_air else place.shelter_id
        rooms.setdefault((stage, room), []).extend(trees)
    for (stage, room), here in rooms.items():
        apart = [tree for tree in here if _kept_apart(ledger, tree, stage)]
        healthy = len(here) - len(apart)
        for tree in apart if healthy else ():
            text = f"{tree.name} is in quarantine but shares {room} with {healthy} others"
            yield tree.id, room, stage, healthy, "trees", text


def _kept_apart(ledger: Ledger, tree: Tree, stage: int) -> bool:
    """Whether any day of the stage, in any winter, is before the end of a tree's quarantine."""
    first, end = ledger.stage_days.first_day[stage], ledger.stage_days.end_day[stage]
    until = tree.quarantine_until or ledger.season.site.starts
    return any(
        ledger.season.date_of(int(day)) < until and day < last
        for day, last in zip(first, end, strict=True)
    )


def there(season: Season, tree: Tree, stage_days: StageDays, stage: int) -> bool:
    """Whether a tree has joined when a stage begins."""
    if tree.joins is None:
        return True
    return bool(stage_days.first_day[stage].min() >= season.day_index(tree.joins))


OPEN = Rule("shelter open", shelters_open, lacks="shelter closed", unit="days")
QUARANTINE = Rule("quarantine", quarantine_kept, lacks="quarantine")
RULES = (OPEN, QUARANTINE)
