"""Sentences of a re-plan: what changed in the facts, and why a tree is elsewhere."""

from datetime import date

from overwinter.model.changes import Changes
from overwinter.model.plan import Carry, LeftOut, Reason
from overwinter.model.season import Season
from overwinter.planning.last_safe_date import Lacks, LastSafeDate
from overwinter.planning.why import Cause, Why
from overwinter.render.alike import tree_names
from overwinter.render.words import amount_words, count, long_date, place_name, short_date


def change_words(season: Season, new: Changes, old: Changes | None = None) -> tuple[str, ...]:
    """Each changed fact in a sentence; with ``old`` only those that it did not have."""
    known = old or Changes()
    words = [
        f"{_shelter(season, shelter_id)} opens {long_date(day)}"
        for shelter_id, day in new.opens.items()
        if known.opens.get(shelter_id) != day
    ]
    words += [
        f"{_shelter(season, shelter_id)} closes {long_date(day)}"
        for shelter_id, day in new.closes.items()
        if known.closes.get(shelter_id) != day
    ]
    words += [
        f"{heater} of {_shelter(season, shelter_id)} is broken from {long_date(day)}"
        for (shelter_id, heater), day in new.broken.items()
        if known.broken.get((shelter_id, heater)) != day
    ]
    words += [
        f"{heater} of {_shelter(season, shelter_id)} works again"
        for shelter_id, heater in known.broken
        if (shelter_id, heater) not in new.broken
    ]
    words += [
        f"{tree_id} is gone from {long_date(day)}"
        for tree_id, day in new.gone.items()
        if known.gone.get(tree_id) != day
    ]
    words += [
        f"outdoors {season.site.display.kelvin(abs(one.by_k))} "
        f"{'colder' if one.by_k >= 0 else 'warmer'} than assumed from {long_date(one.since)}"
        for one in new.colder
        if one not in known.colder
    ]
    words += [
        f"{_shelter(season, shelter_id)} {verb} as in the inputs"
        for verb, olds, news in (
            ("opens", known.opens, new.opens),
            ("closes", known.closes, new.closes),
        )
        for shelter_id in olds
        if shelter_id not in news
    ]
    words += [f"{tree_id} is there" for tree_id in known.gone if tree_id not in new.gone]
    if known.colder and not new.colder:
        words.append("weather as in the inputs")
    if new.carry_days is not None and new.carry_days != known.carry_days:
        words.append(f"{count(new.carry_days, 'carry day')} in all")
    return tuple(words)


def _shelter(season: Season, shelter_id: str) -> str:
    found = season.shelter_by_id.get(shelter_id)
    return shelter_id if found is None else found.name


def tree_name(season: Season, tree_id: str) -> str:
    """A tree's name; its id where it is no longer in the list."""
    found = season.tree_by_id.get(tree_id)
    return tree_id if found is None else found.name


def path_words(season: Season, carries: tuple[Carry, ...]) -> tuple[str, ...]:
    """``24 Oct Chest, Floor`` for each carry."""
    if not carries:
        return ("not carried",)
    return tuple(f"{short_date(c.day)} {place_name(season, c.target)}" for c in carries)


def why_words(season: Season, why: Why, days: tuple[date, ...] = ()) -> str:
    """Why a tree is elsewhere, in a sentence."""
    place = "" if why.place_id is None else place_name(season, why.place_id)
    when = "" if why.day is None else f" on {short_date(why.day)}"
    if why.reason is not None:
        held = f" with the heater at {why.setting}" if why.cause is Cause.REFUSED_AS_HEATED else ""
        head = "no safe place any more; " if why.cause is Cause.LEFT_OUT else ""
        return f"{head}{place}{when}: {reason_words(season, why)}{held}"
    if why.cause is Cause.MAKES_ROOM:
        if not why.others:
            return f"{place}{when} has no room for it any more"
        names = tree_names(tree_name(season, other) for other in why.others)
        return f"makes room at {place} for {names}"
    if why.cause is Cause.NO_CARRY_DAY:
        return f"no carry day is left to go to {place}{when}"
    if why.cause is Cause.CHEAPER:
        return f"costs less in all than {place}{when}"
    return str(why.cause)


def reason_words(season: Season, why: Why) -> str:
    """The rule that refuses the old place, and by how much."""
    if why.reason is Reason.CLOSED and why.place_id is not None and why.day is not None:
        shelter = season.shelter_by_id[season.places[why.place_id].shelter_id]
        if shelter.opens is not None and why.day < shelter.opens:
            return f"closed until {short_date(shelter.opens)}"
        if shelter.closes is not None:
            return f"closed from {short_date(shelter.closes)}"
    amount = amount_words(why.shortfall or 0.0, why.unit, season.site.display)
    return f"{why.reason}, {amount} short" if amount else str(why.reason)


def last_safe_words(season: Season, found: LastSafeDate) -> str:
    """How long a delay can last, in a sentence or two."""
    name = _shelter(season, found.shelter_id)
    how = f"{count(found.tries, 'opening date')} tried"
    if found.never_needed:
        return f"{name} may stay shut all winter: no tree loses its place by it ({how})."
    late = ", which is before the opening reckoned with" if found.last < found.asked else ""
    last = long_date(found.last)
    if found.fails_on is None:
        return f"{name}: safe if it opens by {last}{late}; nothing later was settled ({how})."
    fails = f"If it opens {long_date(found.fails_on)}, {fails_words(season, found)}"
    if found.settled:
        return f"{name}: last safe opening {last}{late} ({how}, known to the day). {fails}"
    return (
        f"{name}: safe if it opens by {last}{late} ({how}). {fails} The days between: not settled."
    )


def fails_words(season: Season, found: LastSafeDate) -> str:
    """Which trees fail first, and what the nearest places lack for them."""
    if not found.fails:
        return "there is no plan with every tree."
    names = tree_names(tree_name(season, one.tree_id) for one in found.fails)
    have = "has" if len(found.fails) == 1 else "have"
    what = {
        Lacks.A_PLACE: f"{names} {have} no safe place",
        Lacks.ROOM: f"there is no room for {names}",
        Lacks.A_PLAN: f"no plan with a place for {names} was found",
    }
    first = found.fails[0]
    who = "" if len(found.fails) == 1 else f" for {tree_name(season, first.tree_id)}"
    return f"{what[found.lacks]}; nearest{who}: {lacks_words(season, found, first)}."


def lacks_words(season: Season, found: LastSafeDate, left: LeftOut, most: int = 3) -> str:
    """What the nearest places lack for a tree."""
    words = []
    for lack in left.lacks[:most]:
        day = found.spells[lack.spell].start if lack.spell < len(found.spells) else None
        when = "" if day is None else f" on {short_date(day)}"
        amount = amount_words(lack.shortfall, lack.unit, season.site.display)
        lacks = ", ".join(filter(None, [str(lack.reason), amount]))
        words.append(f"{place_name(season, lack.place_id)}{when} ({lacks})")
    return "; ".join(words)
