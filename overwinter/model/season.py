"""Everything a plan is computed from: one immutable object."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from overwinter.model.shelter import Place, Shelter
from overwinter.model.site import Site
from overwinter.model.species import Assumption, Species
from overwinter.model.tree import Tree
from overwinter.model.winters import WinterRecipe, Winters
from overwinter.units import HOURS_PER_DAY


@dataclass(frozen=True, repr=False)
class Season:
    """All inputs of one winter, typed, in SI."""

    site: Site
    winters: Winters
    species: Mapping[str, Species]
    trees: tuple[Tree, ...]
    shelters: tuple[Shelter, ...]
    assumptions: tuple[Assumption, ...] = ()
    """Kinds that stand in for ones that are not known."""
    assumed: tuple[str, ...] = ()
    """What else was taken for granted where nothing was given."""
    warnings: tuple[str, ...] = ()
    """What is odd."""
    recipe: WinterRecipe | None = None
    """What more winters of this site can be drawn from."""

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

    @property
    def hours(self) -> int:
        """Hours of the plan."""
        return self.days * HOURS_PER_DAY

    @cached_property
    def places(self) -> Mapping[str, Place]:
        """Every place by id, in the order of the files."""
        return {place.id: place for shelter in self.shelters for place in shelter.places}

    @cached_property
    def shelter_by_id(self) -> Mapping[str, Shelter]:
        """Every shelter by id."""
        return {shelter.id: shelter for shelter in self.shelters}

    @cached_property
    def tree_by_id(self) -> Mapping[str, Tree]:
        """Every tree by id."""
        return {tree.id: tree for tree in self.trees}

    def day_index(self, day: date) -> int:
        """Index of ``day``: 0 on ``Site.starts``. May lie outside the plan."""
        return (day - self.site.starts).days

    def date_of(self, day_index: int) -> date:
        """Date of a day index."""
        return self.site.starts + timedelta(days=day_index)
