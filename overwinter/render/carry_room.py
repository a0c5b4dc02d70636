"""How full each place is while trees are being carried."""

from collections.abc import Mapping

from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind

SLACK = 1e-9


def places_before(plan: Plan, stage: int) -> Mapping[str, str | None]:
    """Where every tree stands before the carries of a stage; None: not here yet."""
    before = {tree_id: stays[max(stage - 1, 0)] for tree_id, stays in plan.stays.items()}
    return before | {carry.tree_id: carry.source for carry in carries_of(plan, stage)}


def carries_of(plan: Plan, stage: int) -> tuple[Carry, ...]:
    """The carries at the beginning of a stage."""
    return tuple(carry for carry in plan.carries if carry.stage == stage)


class Room:
    """Footprints and weights on every place, through the carries of one stage.

    A place may be filled to the site's fullest share, or to what the plan itself puts there before
    or after them, whichever is more: the order must not fail a plan that was audited.
    """

    def __init__(self, season: Season, plan: Plan, stage: int) -> None:
        self.season = season
        self.area_m2 = dict.fromkeys(season.places, 0.0)
        self.load_kg = dict.fromkeys(season.places, 0.0)
        for tree_id, place_id in places_before(plan, stage).items():
            self._add(tree_id, place_id, 1.0)
        before_m2, before_kg = dict(self.area_m2), dict(self.load_kg)
        for carry in carries_of(plan, stage):
            self.move(carry.tree_id, carry.source, carry.target)
        share = season.site.weights.fullest_share
        self.most_m2 = {
            key: max(place.area_m2 * share, before_m2[key], self.area_m2[key])
            for key, place in season.places.items()
        }
        self.most_kg = {
            key: max(place.load_limit_kg, before_kg[key], self.load_kg[key])
            for key, place in season.places.items()
        }
        self.end_m2, self.end_kg = self.area_m2, self.load_kg
        self.area_m2, self.load_kg = before_m2, before_kg

    def _add(self, tree_id: str, place_id: str | None, sign: float) -> None:
        if place_id is None:
            return
        tree = self.season.tree_by_id[tree_id]
        self.area_m2[place_id] += sign * tree.footprint_m2
        self.load_kg[place_id] += sign * tree.weight_kg

    def move(self, tree_id: str, source: str | None, target: str | None) -> None:
        """Take a tree from one place to another; None is outside every place."""
        self._add(tree_id, source, -1.0)
        self._add(tree_id, target, 1.0)

    def fits(self, tree_id: str, place_id: str) -> bool:
        """Whether the place has room and strength left for the tree."""
        tree = self.season.tree_by_id[tree_id]
        return (
            self.area_m2[place_id] + tree.footprint_m2 <= self.most_m2[place_id] + SLACK
            and self.load_kg[place_id] + tree.weight_kg <= self.most_kg[place_id] + SLACK
        )

    def _fits_at_night(self, tree_id: str, place_id: str) -> bool:
        """Whether there is room beside all that is to stand there in the end."""
        tree = self.season.tree_by_id[tree_id]
        return (
            self.end_m2[place_id] + tree.footprint_m2 <= self.most_m2[place_id] + SLACK
            and self.end_kg[place_id] + tree.weight_kg <= self.most_kg[place_id] + SLACK
        )

    def spare_place(self, carry: Carry) -> str | None:
        """A place in either shelter of the carry where the tree can wait for some minutes.

        Low places of the shelter it goes to come first. None: nowhere, leave it by the door.
        """
        tree = self.season.tree_by_id[carry.tree_id]
        ends = [self.season.places[carry.target].shelter_id]
        if carry.source is not None:
            ends.append(self.season.places[carry.source].shelter_id)
        for shelter_id in dict.fromkeys(ends):
            places = self.season.shelter_by_id[shelter_id].places
            for place in sorted(places, key=lambda place: place.kind is not PlaceKind.FLOOR):
                elsewhere = place.id not in (carry.source, carry.target)
                if (
                    elsewhere
                    and place.kind is not PlaceKind.SUNK
                    and tree.height_m <= place.headroom_m
                    and self.fits(tree.id, place.id)
                    and self._fits_at_night(tree.id, place.id)
                ):
                    return place.id
        return None
