"""The word for tonight, 80 columns wide: what begins, what is carried in which order, what else."""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from textwrap import wrap

from overwinter.climate.sun import sunset_h
from overwinter.model.tree import numbered_name
from overwinter.render.cautions import CAUTIONS, heater_cautions, in_order
from overwinter.render.table import WIDTH
from overwinter.render.terminal import bold, labelled
from overwinter.render.words import (
    chance,
    clock,
    count,
    long_date,
    money,
    names_of,
    sentence,
    short_date,
    sign_brief,
)
from overwinter.replan.tonight import SAVED, Help, Tonight, TreeTonight
from overwinter.shelters.heater import setting_label

WORTH_TELLING = 0.01  # trees with less chance of loss than this may stay and are only counted
FEW, SEVERAL = 3, 6
"""Names told of trees that are hardly in danger, and of those that some help would save."""

Some = Sequence[TreeTonight]


def tonight_report(found: Tonight) -> str:
    """The whole answer."""
    blocks = [
        _head(found),
        _heaters(found),
        _covers(found),
        *(_carries(found, night) for night in range(len(found.evening.lows_c))),
        _due(found),
        _not_saved(found),
        _section("What else would help", (_help(found, one) for one in found.helps)),
        _staying(found),
        _cautions(found),
    ]
    return "\n".join("\n".join(block) + "\n" for block in blocks if block)


def _night(found: Tonight, night: int) -> str:
    day = found.evening.first + timedelta(days=night)
    return "tonight" if night == 0 else f"the night of {short_date(day)}"


def _head(found: Tonight) -> list[str]:
    season, evening = found.season, found.evening
    display, currency = season.site.display, season.site.currency
    lows = ", ".join(
        f"{display.thermostat(low)} {_night(found, n)}" for n, low in enumerate(evening.lows_c)
    )
    lines = [bold(f"{season.site.name}, {long_date(evening.first)}")]
    low = "It" if len(evening.lows_c) == 1 else "Each"
    lines += labelled(
        "Forecast", f"{lows}. {low} may be off by a few degrees, and that is counted."
    )
    lines += labelled("Stage", _stage(found))
    if found.loss_left < SAVED:
        lines += labelled("At stake", "next to nothing: every tree is safe where it stands")
    else:
        less = found.loss_left - found.loss
        text = f"{money(found.loss_left, currency)} expected to be lost if nothing is done"
        if less >= 0.005:
            text += f"; {money(found.loss, currency)} with what follows"
        if found.heat >= 0.005:
            text += f", and {money(found.heat, currency)} more for heat"
        lines += labelled("At stake", f"{text} (value x chance of loss)")
    if found.minutes > 0:
        pairs = f"{count(evening.people, 'person', 'people')}, {evening.minutes:.0f} min each"
        text = f"{found.minutes:.0f} min for one person before dusk; at hand: {pairs}. "
        sunset = sunset_h(season.site, evening.first)
        lines += labelled("Work", f"{text}Sunset {clock(sunset)}, standard time")
    if found.unmarked:
        number = count(len(found.unmarked), "carry was", "carries were")
        text = f"{number} usually due by now and not marked: taken as not done"
        lines += labelled("Unmarked", f"{text}. Mark what was done with `overwinter mark`")
    return lines


def _stage(found: Tonight) -> str:
    season = found.season
    words = []
    for one in found.begins:
        when = "begins" if one.night == 0 else f"begins before {_night(found, one.night)}"
        words.append(f"{sign_brief(season, one.stage)}: stage {one.stage.index + 1} {when}")
    if not any(one.night == 0 for one in found.begins):
        words.insert(0, "none begins tonight")
    if found.waits_for is not None:
        words.append(f"next sign: {sign_brief(season, found.waits_for)}")
    return sentence("; ".join(words))


def _together(found: Tonight, some: Iterable[TreeTonight]) -> list[list[TreeTonight]]:
    """Trees of one row that go one way together; those that save most first."""
    rows: dict[tuple[object, ...], list[TreeTonight]] = {}
    for one in sorted(some, key=lambda one: -found.saved(one)):
        tree = found.season.tree_by_id[one.tree_id]
        key = numbered_name(tree.name)[0], one.here, one.way, one.due, chance(one.left)
        rows.setdefault(key, []).append(one)
    return list(rows.values())


def _names(found: Tonight, some: Some) -> str:
    return names_of(found.season, (one.tree_id for one in some))


def _block(text: str, hang: int, first: str = "") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first or " " * hang, subsequent_indent=" " * hang)


def _section(title: str, texts: Iterable[str]) -> list[str]:
    """A heading and a dash a text; nothing without texts."""
    lines = [line for text in texts for line in _block(text, 4, "  - ")]
    return [bold(title), *lines] if lines else []


def _carries(found: Tonight, night: int) -> list[str]:
    """What is carried before the dusk of a night, by what it saves; first what leaves a place to
    which others are carried."""
    season, lines = found.season, []
    some = [one for one in found.trees if one.way.night == night]
    comes: dict[str, float] = {}
    for one in some:
        comes[one.way.place_id] = max(found.saved(one), comes.get(one.way.place_id, 0.0))

    def turn(trees: Some) -> tuple[float, float]:
        saved = found.saved(trees[0])
        return -max(saved, comes.get(trees[0].here, 0.0)), saved

    for number, trees in enumerate(sorted(_together(found, some), key=turn), 1):
        one, saved = trees[0], sum(map(found.saved, trees))
        why = f"saves {money(saved, season.site.currency)}" if saved >= 0.005 else "makes room"
        text = f"{_left(found, trees)}, {chance(one.way.chance)} there; {why}"
        lines += _block(text, 4, f"{number:>2}  ")
        kg = season.site.display.weight(season.tree_by_id[one.tree_id].weight_kg)
        each = " each" if len(trees) > 1 else ""
        people = ", two people" if one.people > 1 else ""
        plan = "; not in the plan, so back when it is over"
        if one.way.place_id == one.due:
            plan = ""
        elif one.due is not None:
            plan = f"; when it is over on to {season.place_name(one.due)}, as planned"
        elif one.way.place_id in one.ahead:
            plan = "; the plan carries it there later"
        way = f"{season.place_name(one.here)} to {season.place_name(one.way.place_id)}"
        lines += _block(f"{way}; {kg}{each}{people}{plan}", 4)
    day = short_date(found.evening.first + timedelta(days=night))
    when = "before dusk" if night == 0 else f"on {day}, before dusk"
    return [bold(f"Carry {when}, in this order"), *lines] if lines else []


def _left(found: Tonight, trees: Some) -> str:
    return f"{_names(found, trees)}: {chance(trees[0].left)} lost if left"


def _covers(found: Tonight) -> list[str]:
    some = [one for one in found.trees if one.way.cloth is not None]

    def words(trees: Some) -> str:
        one, area = trees[0], sum(each.way.cloth_m2 for each in trees)
        saved = money(sum(map(found.saved, trees)), found.season.site.currency)
        return (
            f"{_cloth(found, one.way.cloth, area)}, at "
            f"{found.season.place_name(one.here)}: {_left(found, trees)}, "
            f"{chance(one.way.chance)} under it; saves {saved}"
        )

    title = "Cover before dusk, down to the ground; uncover by day"
    return _section(title, map(words, _together(found, some)))


def _cloth(found: Tonight, cloth: str | None, area_m2: float) -> str:
    """``Blankets, 23.4 m²``: what a hand can measure off."""
    scale = found.season.site.display.area_scale
    area = f"{area_m2 * scale.factor:.{scale.digits - 1}f} {scale.unit}"
    return f"{sentence(cloth or '')}, {area}"


def _heaters(found: Tonight) -> list[str]:
    display, currency = found.season.site.display, found.season.site.currency
    lines = []
    for one in found.heaters:
        name = found.season.shelter_by_id[one.shelter_id].name
        now, before = (setting_label(s, display) for s in (one.setting, one.now))
        if one.setting == one.planned:
            text = f"{name}: {now} (until now {before}), as planned from this stage on"
            lines += labelled("Heater", f"{text}. Set it before the first tree comes in")
            continue
        nights = count(len(found.evening.lows_c), "night")
        names = names_of(found.season, one.tree_ids)
        text = f"{name}: {now} (until now {before}), {money(one.money, currency)} more for {nights}"
        if one.saves >= 0.005:
            text += f"; saves {money(one.saves, currency)}"
        lines += labelled("Turn up", f"{text}. For {names}")
    return lines


def _due(found: Tonight) -> list[str]:
    """Carries that the plan wants by now and that may wait for a quieter hour, by their way."""
    ways: dict[str, list[TreeTonight]] = {}
    for one in found.trees:
        if one.due and one.way.night is None and _is_safe(one):
            way = f"{found.season.place_name(one.here)} to {found.season.place_name(one.due)}"
            ways.setdefault(way, []).append(one)

    def words(way: str) -> str:
        some, currency = ways[way], found.season.site.currency
        saves = sum(found.value(one) * (one.way.chance - (one.due_chance or 0.0)) for one in some)
        why = f"saves {money(saves, currency)}" if saves >= 0.005 else "saves next to nothing"
        return f"{way}: {_names(found, some)}; {why}"

    title = "The plan wants these carried by now; these nights they may wait"
    return _section(title, map(words, ways))


def _is_safe(one: TreeTonight) -> bool:
    return one.way.chance < WORTH_TELLING


def _not_saved(found: Tonight) -> list[str]:
    some = [one for one in found.trees if not _is_safe(one)]
    currency = found.season.site.currency

    def words(trees: Some) -> str:
        one, each = trees[0], " each" if len(trees) > 1 else ""
        return (
            f"{_names(found, trees)}, {money(found.value(one), currency, 0)}{each}: "
            f"{chance(one.way.chance)} at {found.season.place_name(one.way.place_id)} ({one.harm})"
        )

    lost = money(sum(found.value(one) * one.way.chance for one in some), currency)
    title = f"Still in danger after all this, {lost} expected to be lost"
    return _section(title, map(words, _together(found, some)))


def _help(found: Tonight, one: Help) -> str:
    currency = found.season.site.currency
    names = names_of(found.season, one.tree_ids, SEVERAL)
    saves = f"{money(one.saves, currency)} less would be lost ({names})"
    if one.cloth is None:
        return f"{one.minutes:.0f} min of work and two people in all: {saves}"
    return (
        f"{_cloth(found, one.cloth, one.area_m2)} and {one.minutes:.0f} min of work in all: {saves}"
    )


def _staying(found: Tonight) -> list[str]:
    some = [one for one in found.trees if one.way.night is None and not one.way.cloth]
    some = list(filter(_is_safe, some))
    near = [
        f"{_names(found, trees)} {chance(trees[0].way.chance)}"
        for trees in sorted(_together(found, some), key=lambda trees: -trees[0].way.chance)[:FEW]
        if trees[0].way.chance >= 0.0005
    ]
    nearest = f"; nearest to danger: {', '.join(near)}" if near else ""
    return labelled("Stay", f"{count(len(some), 'tree')} may stay{nearest}") if some else []


def _cautions(found: Tonight) -> list[str]:
    keys = ["lifting"] if any(one.way.night is not None for one in found.trees) else []
    if any(one.people > 1 and one.way.night is not None for one in found.trees):
        keys.append("two_people")
    for heater in found.heaters:
        keys += heater_cautions(found.season.shelter_by_id[heater.shelter_id])
    lines = []
    for key in in_order(keys):
        lines += labelled("Mind", f"{CAUTIONS[key].title}: {CAUTIONS[key].text}")
    return lines


TOLD = (
    *("evening", "begins", "waits_for", "loss_left", "loss", "heat", "minutes", "trees"),
    *("heaters", "helps", "unmarked"),
)
"""Fields of ``Tonight`` that a script gets."""


def tonight_json(found: Tonight) -> dict[str, object]:
    """Everything ``tonight_report`` tells, for a script."""
    told = {name: getattr(found, name) for name in TOLD}
    return {"currency": found.season.site.currency, **told}
