"""Everything a plan is computed from: one immutable object, and its winters."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property

from overwinter.model.shelter import FloatArray, Place, PlaceKind, Shelter
from overwinter.model.site import Site
from overwinter.model.species import Assumption, Species
from overwinter.model.tree import Tree


@dataclass(frozen=True)
class Winters:
    """Hourly weather of a sample of winters over the days of the plan, local standard time. Hour 0
    begins at noon of ``Site.starts`` and a day runs from noon to noon, so that every night lies in
    one day. Shapes ``(winter, hour)`` with ``hour = 24 * days``."""

    air_c: FloatArray
    sun_w_m2: FloatArray  # global horizontal irradiance, W/m2, mean over the hour
    snow_m: FloatArray  # depth of lying snow by day, m, `(winter, day)`; 0 where nothing is known
    names: tuple[str, ...]  # of each winter: "1998/99" of a record, "drawn 7" of the generator
    origin: str  # station, file, kind and licence, and how the sample was made, in a sentence

    @property
    def count(self) -> int:
        """How many winters."""
        return int(self.air_c.shape[0])


class SnowLies(StrEnum):
    """How often snow lies in the garden for weeks, as the grower says."""

    NEVER = "never"
    SOMETIMES = "sometimes"
    USUALLY = "usually"


@dataclass(frozen=True, slots=True)
class WinterRecipe:
    """What winters are drawn from: means of January to December, and the law of coldest nights."""

    mean_min_c: tuple[float, ...]
    mean_max_c: tuple[float, ...]
    sun_mj_m2_d: tuple[float, ...] | None  # None: told from each day's range of temperature
    coldest_mean_c: float
    coldest_spread_k: float
    snow_lies: SnowLies = SnowLies.NEVER


@dataclass(frozen=True, repr=False)
class Season:
    """All inputs of one winter, typed, in SI."""

    site: Site
    winters: Winters
    species: Mapping[str, Species]
    trees: tuple[Tree, ...]
    shelters: tuple[Shelter, ...]
    assumptions: tuple[Assumption, ...] = ()  # kinds that stand in for ones that are not known
    assumed: tuple[str, ...] = ()  # what else was taken for granted where nothing was given
    warnings: tuple[str, ...] = ()
    recipe: WinterRecipe | None = None  # what more winters of this site can be drawn from

    def __repr__(self) -> str:
        return (
            f"<Season of {self.site.name}: {self.site.starts} to {self.site.ends},"
            f" {len(self.trees)} trees, {len(self.shelters)} shelters,"
            f" {self.winters.count} winters>"
        )

    @property
    def days(self) -> int:
        """Days of the plan, first and last included."""
        return (self.site.ends - self.site.starts).days + 1

    @cached_property
    def places(self) -> Mapping[str, Place]:
        """Every place by id, in the order of the files."""
        return {place.id: place for shelter in self.shelters for place in shelter.places}

    @cached_property
    def place_ids(self) -> Mapping[str, str]:
        """Ids of places by what people write for them: "Shelter, place" or the id itself."""
        named = {self.place_name(place_id): place_id for place_id in self.places}
        return named | {place_id: place_id for place_id in self.places}

    @cached_property
    def shelter_by_id(self) -> Mapping[str, Shelter]:
        """Every shelter by id."""
        return {shelter.id: shelter for shelter in self.shelters}

    @cached_property
    def tree_by_id(self) -> Mapping[str, Tree]:
        """Every tree by id."""
        return {tree.id: tree for tree in self.trees}

    def place_name(self, place_id: str) -> str:
        """``Cellar, north shelf``."""
        place = self.places[place_id]
        return f"{self.shelter_by_id[place.shelter_id].name}, {place.name}"

    def shelter_of(self, place_id: str) -> Shelter:
        """The shelter that a place is in."""
        return self.shelter_by_id[self.places[place_id].shelter_id]

    def home(self, tree: Tree) -> str:
        """Id of the place where a tree belongs in summer."""
        return tree.stands_at or self.site.summer_place

    def sinks(self, tree: Tree, place_id: str) -> bool:
        """Whether a tree is sunk where it is brought; at its own summer stand it just stands."""
        return place_id != self.home(tree) and self.places[place_id].kind is PlaceKind.SUNK

    def shared_air(self, place_id: str) -> str:
        """What a quarantine closes: the whole of a closed shelter, outdoors the single place."""
        shelter = self.shelter_of(place_id)
        return place_id if shelter.open_air else shelter.id

    def carry_price(self, tree: Tree, place_id: str) -> float:
        """Money of one carry of a tree to a place, of one that disturbs no plan."""
        return self.site.weights.carry_of(tree.weight_kg, self.sinks(tree, place_id))

    def carry_minutes(self, tree: Tree, place_id: str) -> float:
        """Minutes of the household for one carry of a tree to a place."""
        by_two = self.site.weights.takes_two(tree.weight_kg)
        return self.site.household.minutes(by_two, self.sinks(tree, place_id))

    def day_index(self, day: date) -> int:
        """Index of ``day``: 0 on ``Site.starts``. May lie outside the plan."""
        return (day - self.site.starts).days

    def date_of(self, day_index: int) -> date:
        """Date of a day index."""
        return self.site.starts + timedelta(days=day_index)
