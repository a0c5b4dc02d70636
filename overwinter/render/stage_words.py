"""What a grower reads of a stage: the sign that begins it, and on which days it usually comes."""

from collections import defaultdict
from collections.abc import Sequence

from overwinter.model.season import Season
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.render.alike import tree_names
from overwinter.render.words import full_date, sentence, short_date


def sign_words(season: Season, stage: Stage) -> str:
    """The sign in full: ``first night of -3 °C or colder is forecast``.

    A calendar stage says its day and what happens: ``19 November: Shared glasshouse opens``. What
    else falls on the first day of another stage stands behind it in brackets.
    """
    happens = happening_words(season, stage.happenings)
    if stage.sign is Sign.CALENDAR:
        return f"{full_date(stage.usual)}: {happens}" if happens else full_date(stage.usual)
    if stage.sign is Sign.START:
        said = f"{full_date(stage.usual)}: the plan begins"
    elif stage.sign is Sign.COLD_NIGHT:
        said = f"first night of {_threshold(season, stage)} or colder is forecast"
    else:
        said = f"no night of {_threshold(season, stage)} or colder for three nights, and none "
        said += "forecast for a week"
    return f"{said} ({happens})" if happens else said


def sign_brief(season: Season, stage: Stage) -> str:
    """The sign in a few words, for a row of a table: ``first night of -3 °C``."""
    if stage.sign is Sign.CALENDAR:
        return happening_words(season, stage.happenings, named=1) or "day of the calendar"
    if stage.sign is Sign.START:
        return "the plan begins"
    if stage.sign is Sign.COLD_NIGHT:
        return f"first night of {_threshold(season, stage)} or colder"
    return f"a week without {_threshold(season, stage)} or colder"


def is_fixed(stage: Stage) -> bool:
    """Whether it begins on the same day in most winters."""
    return stage.early == stage.late


def range_words(stage: Stage) -> str:
    """``24 October to 12 November``, the days on which it begins in most winters; or its day."""
    if is_fixed(stage):
        return full_date(stage.usual)
    return f"{full_date(stage.early)} to {full_date(stage.late)}"


def usual_words(stage: Stage) -> str:
    """``most years 24 October to 12 November, usually 2 November``; a day alone where it is fixed.

    Most years: eight of ten.
    """
    if is_fixed(stage):
        return f"on {full_date(stage.usual)}"
    return f"most years {range_words(stage)}, usually {full_date(stage.usual)}"


def when_words(season: Season, stage: Stage) -> str:
    """The sign as it heads a list, without its full stop: ``When the first night of ...``."""
    words = sign_words(season, stage)
    return f"When the {words}" if stage.sign is Sign.COLD_NIGHT else sentence(words)


def stage_number(stage: Stage) -> str:
    """``3, about 27 Oct``: short enough for a column."""
    about = "" if is_fixed(stage) else "about "
    return f"{stage.index + 1}, {about}{short_date(stage.usual)}"


def stage_numbers(stages: Sequence[Stage]) -> str:
    """``3 to 6``."""
    first, last = stages[0].index + 1, stages[-1].index + 1
    return f"{first}" if first == last else f"{first} to {last}"


def stages_span(stages: Sequence[Stage]) -> str:
    """``27 Oct to 5 Dec``: usual first day of the first and of what follows the last."""
    return f"{short_date(stages[0].usual)} to {short_date(stages[-1].until)}"


def happening_words(
    season: Season, happenings: Sequence[Happening], named: int | None = None
) -> str:
    """``Shared glasshouse opens; Fig, Olive join``; empty where nothing happens.

    More than ``named`` trees are counted instead: ``2 trees join``.
    """
    by_kind: dict[HappeningKind, list[str]] = defaultdict(list)
    for one in happenings:
        by_kind[one.kind].append(one.subject)
    return "; ".join(_words(season, kind, subjects, named) for kind, subjects in by_kind.items())


def _words(season: Season, kind: HappeningKind, subjects: Sequence[str], named: int | None) -> str:
    many = len(subjects) > 1
    trees, shelters = season.tree_by_id, season.shelter_by_id
    if kind in (HappeningKind.JOINS, HappeningKind.QUARANTINE_ENDS):
        names = tree_names(trees[one].name if one in trees else one for one in subjects)
        if named is not None and len(subjects) > named:
            names = f"{len(subjects)} trees"
    else:
        names = " and ".join(shelters[one].name if one in shelters else one for one in subjects)
    return {
        HappeningKind.OPENS: f"{names} {'open' if many else 'opens'}",
        HappeningKind.CLOSES: f"{names} {'close' if many else 'closes'}",
        HappeningKind.JOINS: f"{names} {'join' if many else 'joins'}",
        HappeningKind.QUARANTINE_ENDS: f"quarantine of {names} ends",
        HappeningKind.PLANNED_ANEW: "planned anew",
        HappeningKind.HEATER_FAILS: f"{names}: no longer heats",
    }[kind]


def _threshold(season: Season, stage: Stage) -> str:
    assert stage.threshold_c is not None, f"stage {stage.index} has no temperature"
    return season.site.display.thermostat(stage.threshold_c)
