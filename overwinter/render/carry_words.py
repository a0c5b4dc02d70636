"""The sentences of a carry list: spots, checks, notes, and what else is to be done in a stage. All
checks are common practice, no source, but for watering well and letting the tops dry before trees
go under cover (UMass Extension, read) and mesh of 6 mm or finer (extension, read)."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

import numpy as np

from overwinter.benches.region import distances_m
from overwinter.climate.stages import EARLY, LATE, USUAL
from overwinter.climate.sun import day_length_h
from overwinter.model.plan import Carry, Layout, Plan, Shift
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting, Place, PlaceKind, Shelter, Side
from overwinter.model.species import LeafHabit
from overwinter.model.stage import Happening, HappeningKind, Stage
from overwinter.model.tree import Condition, Tree
from overwinter.plants.hardening import day_bare, leaves_left
from overwinter.render.cautions import dries_at
from overwinter.render.words import long_date, money, short_date, sign_brief
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import OFF, setting_label
from overwinter.units import Display

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
NEAR_ROOF_M = 0.10  # headroom left over below which the tree must be tilted in
LAP_M = 0.01  # lapping by less along the aisle, trees are not in each other's way
LEAST_SHIFT_M = 0.01  # a shift is not told in smaller steps
DRIPS_H, MUCH_LESS = 24.0, 0.7
"""Hours a winter from which dripping is told, and what share of them a cure that is named leaves at
most: judgements."""
HARDLY_MICE = 0.05  # up to this exposure, a usual bench's, nobody sets traps: a judgement
NO_HOLD_C = -273.15  # colder than every hold temperature
SWEEP = "sweep it out, mend gaps, doors and panes."


def day_words(day: date, *, year: bool = True) -> str:
    """``Sat 1 Nov 2025``, the same whatever the machine's language is."""
    return f"{_DAYS[day.weekday()]} {long_date(day) if year else short_date(day)}"


def place_words(season: Season, place_id: str | None) -> str:
    """``Garage, bench 2``; a tree without a source arrives that day."""
    return "arrives today" if place_id is None else season.place_name(place_id)


def guard_words(tree: Tree, place: Place) -> str:
    """What to do about mice once the tree stands; empty where none come or none care."""
    if place.rodent_exposure <= 0.0 or tree.limits.rodent_appeal <= 0.0:
        return ""
    if place.guarded:
        return "close the mesh guard down to the ground, no gap wider than 6 mm (1/4 in)"
    if place.rodent_exposure <= HARDLY_MICE:
        return ""
    return "no guard here and mice can come: look for gnawing every week"


def water_words(season: Season, tree: Tree, place: Place, day: date) -> tuple[str, ...]:
    """The water checks when a tree goes to ``place``."""
    if season.shelter_of(place.id).open_air:
        wind = "out of wind and winter sun, as frozen roots give leaves no water"
        dries = dries_at(season, tree, place, day)
        return "water once it stands, never onto a frozen root ball", *[wind] * dries
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return (
            "watered well the day before (frozen roots: once thawed), leaves dry on the way in",
        )
    return ("soil moist all through, not dripping; no saucer left under it",)


def pest_words(tree: Tree, *, out: bool) -> str:
    """The pest check before a tree is moved."""
    if out:
        return "look for scale, aphids and mould before joining the others"
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return "both sides of leaves, twigs, drain holes: scale, mites, aphids, slugs"
    return "take off fallen leaves and weeds; bark and drain holes: scale, slugs, nests"


def tree_notes(season: Season, tree: Tree, place: Place, day: date) -> list[str]:
    """What else to mind about this tree on this day."""
    notes = []
    if tree.quarantine_until is not None and day < tree.quarantine_until:
        until = day_words(tree.quarantine_until, year=False)
        notes.append(f"new: keep it apart from all others until {until}")
    if tree.condition is Condition.WEAK:
        notes.append("weak: look at it twice")
    if tree.young_roots:
        notes.append("young roots: hold it by the pot, frost hurts them sooner")
    spare_m = place.headroom_m - tree.height_m
    if spare_m < NEAR_ROOF_M:
        spare = season.site.display.length(max(spare_m, 0.0))
        notes.append(f"{spare} to spare at the top: tilt it in")
    return notes


def layout_of(plan: Plan, place_id: str, stage: int) -> Mapping[str, Layout]:
    """The drawn rectangles of a place in a stage, by tree; empty where nothing is drawn."""
    drawn = plan.layouts.get(place_id, {}).get(stage, ())
    return {layout.tree_id: layout for layout in drawn}


def carries_of(plan: Plan, stage: int) -> tuple[Carry, ...]:
    """The carries at the beginning of a stage."""
    return tuple(carry for carry in plan.carries if carry.stage == stage)


def remoteness_m(place: Place, layout: Layout | None) -> float:
    """How far an arm must reach to set the tree down, m; 0 where no rectangle is drawn."""
    if layout is None:
        return 0.0
    return round(min(distances_m(place, layout).values(), default=0.0), 3)


def stands_before(place: Place, other: Layout, mine: Layout) -> bool:
    """Whether ``other`` lies between ``mine`` and the side ``mine`` is nearest to."""
    near = distances_m(place, mine)
    if not near:
        return False
    side = next(iter(near))
    along = side in (Side.FRONT, Side.BACK)
    spans = [(o.x_m, o.width_m) if along else (o.y_m, o.depth_m) for o in (mine, other)]
    lap = min(start + length for start, length in spans) - max(start for start, _ in spans)
    return lap > LAP_M and distances_m(place, other)[side] < near[side]


def position_words(layout: Layout | None, display: Display) -> str:
    """Where the near left corner of the pot's rectangle goes, seen from the aisle; may be empty."""
    if layout is None:
        return ""
    left, front = (display.length(max(off, 0.0)) for off in (layout.x_m, layout.y_m))
    return f"{left} from the left, {front} from the front"


class TodoKind(StrEnum):
    """What kind of thing is to be done."""

    OPEN = "open"
    READY = "ready"
    MICE = "mice"
    LEAVES = "leaves"
    HEATER = "heater"
    DAMP = "damp"
    SHIFT = "shift"
    COVER = "cover"
    CLOSE = "close"


@dataclass(frozen=True, slots=True)
class Todo:
    """One thing to do when a stage begins."""

    stage: int
    shelter_id: str
    kind: TodoKind
    text: str
    place_id: str = ""  # where it is about one place of the shelter
    last: bool = False  # done after the last carry, not before the first

    @property
    def key(self) -> str:
        """Stable: stage, shelter, kind and place."""
        parts = (self.stage, self.shelter_id, self.kind, self.place_id)
        return " ".join(str(part) for part in parts if part != "")


@dataclass(frozen=True, slots=True)
class SettingChange:
    """A heater turned to another setting when a stage begins."""

    stage: int
    shelter_id: str
    before: HeaterSetting
    after: HeaterSetting

    @property
    def is_up(self) -> bool:
        """Whether it gets warmer: by its hold temperature, then by its watts."""
        was, now = (
            (NO_HOLD_C if one.hold_c is None else one.hold_c, one.fixed_w)
            for one in (self.before, self.after)
        )
        return now > was


def setting_changes(season: Season, plan: Plan) -> list[SettingChange]:
    """Every change of a heater through the winter; all are off before the season begins."""
    changes = [
        SettingChange(stage.index, shelter.id, *pair)
        for shelter in season.shelters
        if (settings := plan.settings.get(shelter.id))
        for stage, pair in zip(plan.stages, pairwise((OFF, *settings)), strict=True)
        if pair[0] != pair[1]
    ]
    return sorted(changes, key=lambda change: change.stage)


def todos(
    season: Season, plan: Plan, shelter: Shelter, stage: Stage, wet: Sequence[WetSurface] = ()
) -> tuple[Todo, ...]:
    """What to do at a shelter in a stage besides carrying; nothing to open or close where the plan
    never has a tree. ``wet``: the surfaces that drip, of all shelters, wettest first."""
    k, used = stage.index, first_stage_used(season, plan, shelter.id)
    told: list[tuple[TodoKind, str] | tuple[TodoKind, str, str, bool]] = []
    if used is not None:
        told += _opening(season, plan, shelter, stage, used)
    if not shelter.open_air:
        told.append((TodoKind.LEAVES, leaf_words(season, plan, shelter.id, stage)))
    comes_in = any(season.places[c.target].shelter_id == shelter.id for c in carries_of(plan, k))
    for change in setting_changes(season, plan):
        if (change.stage, change.shelter_id) == (k, shelter.id):
            words = heater_words(season, change, comes_in)
            told.append((TodoKind.HEATER, words, "", not change.is_up))
    if used is not None and (words := damp_words(season, shelter.id, wet, k)):
        told.append((TodoKind.DAMP, f"Damp: {words}"))
    for place in shelter.places:
        told.append((TodoKind.SHIFT, shift_words(season, plan, place, k), place.id, False))
        told.append((TodoKind.COVER, cover_words(season, plan, place, k), place.id, True))
    if used is not None and Happening(HappeningKind.CLOSES, shelter.id) in stage.happenings:
        words = f"{shelter.name} cannot be used any more: see that nothing is left in it."
        told.append((TodoKind.CLOSE, words, "", True))
    return tuple(Todo(k, shelter.id, *one) for one in told if one[1])


def _opening(
    season: Season, plan: Plan, shelter: Shelter, stage: Stage, used: int
) -> Iterator[tuple[TodoKind, str]]:
    """What to do when a shelter opens, and before its first tree comes, be it at once or later."""
    opens = Happening(HappeningKind.OPENS, shelter.id)
    opened = next((one.index for one in plan.stages if opens in one.happenings), used)
    if opens in stage.happenings:
        words = f"Open {shelter.name} for the winter: {SWEEP}"
        if opened < used:
            sign = sign_brief(season, plan.stages[used])
            words = f"{shelter.name} can be used from now on; its first tree waits for: {sign}."
        yield TodoKind.OPEN, words
    if used == stage.index and not shelter.open_air:
        words = f"Make {shelter.name} ready: {SWEEP} " if opened < used else ""
        yield TodoKind.READY, f"{words}Hang a min/max thermometer at plant height and reset it."
        if any(place.rodent_exposure > HARDLY_MICE for place in shelter.places):
            words = "Look for droppings, runs and gaps wider than 6 mm (1/4 in); set traps; an"
            words += " apple slice left for 24 hours shows whether anything eats here."
            yield TodoKind.MICE, words


def leaf_words(season: Season, plan: Plan, shelter_id: str, stage: Stage) -> str:
    """What to do about leaves of trees that come in about when they fall; else empty. The sign
    stands above the leaves. That none are left to rot is common practice, no source."""
    trees = [
        season.tree_by_id[carry.tree_id]
        for carry in carries_of(plan, stage.index)
        if season.places[carry.target].shelter_id == shelter_id
    ]
    leafy = sum(
        tree.limits.leaf is LeafHabit.DECIDUOUS
        and tree.limits.rests
        and (tree.leaves_down is None or tree.leaves_down > stage.usual)
        for tree in trees
    )
    if not leafy or stage.usual > plan.stages[len(plan.stages) // 2].usual:
        return ""
    early, usual, late = leaves_down_days(season)
    if stage.late < early or stage.early > late:
        return ""
    return (
        f"{'The deciduous tree comes' if leafy == 1 else f'The {leafy} deciduous trees come'} in "
        f"when the sign does; leaves are usually down on {short_date(usual)} "
        f"({short_date(early)} to {short_date(late)}). Where it is dark, pick off what still "
        "hangs: it rots. Write the day down for `overwinter mark DIR --leaves-down --all --day "
        "DATE`, or name the trees instead of --all."
    )


def damp_words(
    season: Season, shelter_id: str, wet: Sequence[WetSurface], stage: int | None = None
) -> str:
    """The wettest face of a shelter, how long it is wet, and what makes that much less. Empty where
    it is not worth a word, or is wettest in another stage than the one given. That wet leaves rot,
    and that a dry noon is the time to air, is common practice, no source."""
    one = next((one for one in wet if one.shelter_id == shelter_id), None)
    if one is None or one.hours < DRIPS_H or stage not in (None, one.stage):
        return ""
    glass = "a second layer of glazing" if one.glazed else foam_words(season.site.display)
    might = [(glass, one.insulated_hours), ("a sheet over the bare floor", one.floor_covered_hours)]
    if one.airing_money:  # where nobody pays to keep the air warm, more of it also cools
        bought = money(one.airing_money, season.site.currency)
        airing = f"airing twice as much ({one.airing_kwh:.0f} kWh of heat, {bought} of it bought)"
        might.append((airing, one.aired_hours))
    less = [(what, hours) for what, hours in might if hours <= MUCH_LESS * one.hours]
    cures = [f"{what} would leave {_roughly(hours)} h" for what, hours in less]
    return (
        f"{one.surface} may drip for about {_roughly(one.hours)} h of a winter, mostly from"
        f" stage {one.stage + 1} on. Keep leaves off it, water in the morning, air at noon on dry"
        f" days above freezing{'; ' + ', '.join(cures) if cures else ''}."
    )


def foam_words(display: Display) -> str:
    """The foam that ``damp`` reckons with, as thick as it is sold."""
    return "1 in of foam" if display.us else "25 mm of foam"


def _roughly(hours: float) -> str:
    """Two figures of a number of hours."""
    return f"{float(f'{hours:.2g}'):.0f}"


def leaves_down_days(season: Season) -> tuple[date, date, date]:
    """Early, usual and late day on which deciduous trees are bare outdoors."""
    days = season.days
    air = season.winters.air_c.reshape(season.winters.count, days, -1).mean(axis=2)
    numbers = [season.date_of(day).timetuple().tm_yday for day in range(days)]
    length = day_length_h(season.site.latitude_deg, np.array(numbers, dtype=np.float64))
    bare = np.percentile(day_bare(leaves_left(air, length)), (EARLY, USUAL, LATE), method="nearest")
    early, usual, late = (season.date_of(int(day)) for day in bare)
    return early, usual, late


def shift_words(season: Season, plan: Plan, place: Place, stage: int) -> str:
    """What is pushed together on a place in one go: ``Coffee 40 cm to the left``; or empty."""
    mine = (one for one in plan.shifts if (one.stage, one.place_id) == (stage, place.id))
    pushed = [_push(season, plan, shift) for shift in mine]
    if not pushed:
        return ""
    return f"{place.name}: to make room for what comes in, push {'; '.join(pushed)}."


def _push(season: Season, plan: Plan, shift: Shift) -> str:
    display, tree = season.site.display, season.tree_by_id[shift.tree_id]
    was, now = (
        layout_of(plan, shift.place_id, k)[shift.tree_id] for k in (shift.stage - 1, shift.stage)
    )
    offs = (now.x_m - was.x_m, "left", "right"), (now.y_m - was.y_m, "front", "back")
    ways = [
        f"{display.length(abs(off))} to the {more if off > 0 else less}"
        for off, less, more in offs
        if abs(off) >= LEAST_SHIFT_M
    ]
    turned = abs(now.width_m - was.width_m) > LEAST_SHIFT_M
    turn = ", turned by a quarter" * turned
    two = ", with two people" if season.site.weights.takes_two(tree.weight_kg) else ""
    return f"{tree.name} {' and '.join(ways) or 'a little'}{turn}{two}"


def first_stage_used(season: Season, plan: Plan, shelter_id: str) -> int | None:
    """First stage in which a tree stands in a shelter; None: never."""
    places = {place.id for place in season.shelter_by_id[shelter_id].places}
    stays = (enumerate(stays) for stays in plan.stays.values())
    return min((k for some in stays for k, place_id in some if place_id in places), default=None)


def cover_words(season: Season, plan: Plan, place: Place, stage: int) -> str:
    """What to heap over sunk pots once the carries are done, for the plan counts on just that;
    empty where none changed. Heaping it up and breaking a crust: common practice, no source."""
    touched = any(place.id in (one.source, one.target) for one in carries_of(plan, stage))
    stands = any(stays[stage] == place.id for stays in plan.stays.values())
    if place.kind is not PlaceKind.SUNK or place.cover_m <= 0.0 or not (touched and stands):
        return ""
    depth, sign_c = season.site.display.length(place.cover_m), plan.stages[stage].threshold_c
    crust = " Break a frozen crust from its edge; lift by the pot, never by the trunk."
    return (
        f"{place.name}: heap soil, bark or leaves over the pots until the highest roots lie "
        f"{depth} deep, for the plan counts on that. Measure it, and see that wind leaves it there."
        f"{crust if sign_c is not None and sign_c < 0.0 else ''}"
    )


def heater_words(season: Season, change: SettingChange, comes_in: bool) -> str:
    """How to turn the heater; ``comes_in``: trees are carried in at once."""
    old, new = (setting_label(one, season.site.display) for one in (change.before, change.after))
    when = " Set it before the first tree comes in." if comes_in and change.is_up else ""
    check = " See that it runs." if change.is_up else ""
    return f"Heater: from {old} to {new}.{when}{check}"
