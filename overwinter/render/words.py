"""Dates, amounts, names, stages and limits as they are shown."""

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date
from itertools import groupby
from math import ceil

from overwinter.audit.report import AuditReport, DecidingLimit, Known
from overwinter.model.plan import Proof
from overwinter.model.season import Season
from overwinter.model.species import LIMITS
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.model.tree import numbered_name
from overwinter.packaged import packaged_toml
from overwinter.units import Display

NOTHING_PROVEN = 0.99  # a gap from here on says no more than that no plan costs less than 0
MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
HAPPENS: Mapping[str, str] = packaged_toml("sentences.toml")["happens"]


def short_date(day: date) -> str:
    """``7 Jan``: the same in every locale."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def long_date(day: date) -> str:
    """``7 Jan 2027``."""
    return f"{short_date(day)} {day.year}"


def money(amount: float, currency: str, digits: int = 2) -> str:
    """An amount with its currency; never a minus zero."""
    return f"{round(amount, digits) + 0.0:.{digits}f} {currency}"


def count(number: int, one: str, many: str | None = None) -> str:
    """``1 tree``, ``2 trees``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def amount_words(amount: float, unit: str, display: Display) -> str:
    """By how much a rule is missed, in the site's units; empty where nothing measures it."""
    shown: Mapping[str, Callable[[float], str]] = {
        "share": chance,
        "m": display.length,
        "m²": display.area,
        "kg": display.weight,
        "days": lambda days: count(round(days), "day"),
        "": lambda _: "",
    }
    known = shown.get(unit)
    return f"{amount:.2g} {unit}" if known is None else known(amount)


def sentence(text: str) -> str:
    """``text`` with a capital in front."""
    return text[:1].upper() + text[1:]


def clip(text: str, width: int) -> str:
    """``text`` in at most ``width`` characters; what is cut shows as an ellipsis."""
    return text if len(text) <= width else text[: max(width - 1, 0)].rstrip() + "…"


def proven(proof: Proof, currency: str) -> str:
    """How far the plan may be from the best one, never claiming more than the bound shows."""
    if proof.bound is not None and proof.objective - proof.bound < 0.005:
        return "by the program's figures no plan can cost less"
    if proof.gap is None or proof.bound is None or proof.gap > NOTHING_PROVEN:
        return "how much less another plan could cost is not known"
    return (
        f"by the program's figures no plan can cost less than {money(proof.bound, currency)}, "
        f"{percent(max(proof.gap, 0.0))} below this one"
    )


def chance(share: float) -> str:
    """A chance in percent of winters: one figure below 10 %; never "0 %" for what can happen."""
    if 0 < share < 0.001:
        return "< 0.1 %"
    return f"{share * 100:.{0 if share >= 0.1 else 1}f} %"


def chances(of: Collection[float]) -> str:
    """``5.1 % to 9.0 %``, the least and the greatest."""
    return " to ".join(dict.fromkeys(map(chance, (min(of), max(of))))) if of else ""


def lost_words(report: AuditReport, trees: Sequence[str]) -> str:
    """``lost in 6.1 % of the winters that the plan was made from, in 2.9 % of 60 others``: a plan
    judges by its own winters whether a tree is safe."""
    found = chances([report.risks[tree_id].lost for tree_id in trees])
    own = chances([report.planned[tree_id] for tree_id in trees]) if report.unseen else found
    others = f", in {found} of {report.unseen} others" if report.unseen else ""
    return f"lost in {own} of the winters that the plan was made from{others}"


def percent(share: float) -> str:
    """A share in percent, two figures below one percent; rounded up so that it never flatters."""
    digits = 0 if share >= 0.1 else 1 if share >= 0.01 else 2
    scale = 10**digits
    return f"{ceil(share * 100 * scale - 1e-9) / scale:.{digits}f} %"


def clock(hours: float) -> str:
    """ "16:52" from hours after midnight."""
    minutes = round(hours * 60.0)
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def tree_names(names: Iterable[str], most: int | None = None) -> str:
    """``Yew, Elms (all 5), Figs (3 of 8: 1-2, 5)``: trees of one row of the tree list together.
    Parted by semicolons where a name has a comma; of more than ``most`` only the number is told."""
    every = list(names)
    if most is not None and len(every) > most:
        return f"{tree_names(every[:most])} and {len(every) - most} more"
    rows: dict[str, list[str]] = {}
    for name in every:
        rows.setdefault(numbered_name(name)[0], []).append(name)
    comma = any("," in row for row in rows)
    return ("; " if comma else ", ").join(_of_one_row(row, some) for row, some in rows.items())


def names_of(season: Season, tree_ids: Iterable[str], most: int | None = None) -> str:
    """The same of trees by their ids."""
    return tree_names([season.tree_by_id[tree_id].name for tree_id in tree_ids], most)


def _of_one_row(row: str, names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    numbers = sorted(numbered_name(name)[1] for name in names)
    of = max(numbered_name(name)[2] for name in names)
    if len(numbers) == of:
        return f"{row} (all {of})"
    return f"{row} ({len(numbers)} of {of}: {runs(numbers)})"


def runs(numbers: Iterable[int]) -> str:
    """``1-3, 5``."""
    found = []
    for _, run in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        first, *rest = [number for _, number in run]
        found.append(f"{first}-{rest[-1]}" if rest else str(first))
    return ", ".join(found)


def sign_words(season: Season, stage: Stage) -> str:
    """The sign in full: ``first night of -3 °C or colder is forecast``. A calendar stage says its
    day and what happens: ``19 Nov: Shared glasshouse opens``. What else falls on the first day of
    another stage stands behind it in brackets."""
    happens = happening_words(season, stage.happenings)
    if stage.sign is Sign.CALENDAR:
        return f"{short_date(stage.usual)}: {happens}" if happens else short_date(stage.usual)
    if stage.sign is Sign.START:
        said = f"{short_date(stage.usual)}: the plan begins"
    elif on_last_day(season, stage):
        said = f"{short_date(stage.usual)}: the last day of the plan"
    elif stage.sign is Sign.COLD_NIGHT:
        said = f"first night of {_threshold(season, stage)} or colder is forecast"
        said += _at_latest(stage)
    else:
        said = f"no night of {_threshold(season, stage)} or colder for three nights, and none "
        said += "forecast for a week"
        if stage.not_before is not None:
            said += f", from {short_date(stage.not_before)} on"
        said += _at_latest(stage)
    return f"{said} ({happens})" if happens else said


def sign_brief(season: Season, stage: Stage) -> str:
    """The sign in a few words, for a row of a table: ``first night of -3 °C``."""
    if stage.sign is Sign.CALENDAR:
        return happening_words(season, stage.happenings, named=1) or "day of the calendar"
    if stage.sign is Sign.START:
        return "the plan begins"
    if on_last_day(season, stage):
        return "the last day of the plan"
    degrees = _threshold(season, stage)
    night = stage.sign is Sign.COLD_NIGHT
    said = f"first night of {degrees}" if night else f"a week without {degrees}"
    return f"{said} or colder{_at_latest(stage)}"


def _at_latest(stage: Stage) -> str:
    """What ends the wait for a sign, in the winters in which it does not come before."""
    return "" if stage.at_latest is None else f", or on {short_date(stage.at_latest)} at the latest"


def on_last_day(season: Season, stage: Stage) -> bool:
    """Whether its sign hardly ever comes, so that it begins when the plan ends."""
    return is_fixed(stage) and stage.usual == season.site.ends


def is_fixed(stage: Stage) -> bool:
    """Whether it begins on the same day in most winters."""
    return stage.early == stage.late


def rare_words(stage: Stage) -> str:
    """``in 3 of 10 years``, of a cold that most do not bring."""
    return f"in {max(1, round(10 * stage.comes))} of 10 years"


def usual_brief(stage: Stage) -> str:
    """``2 Nov``, for a row of a table."""
    return rare_words(stage) if stage.is_rare else short_date(stage.usual)


def range_words(stage: Stage) -> str:
    """``24 Oct to 12 Nov``, the days on which it begins in most winters; or its day."""
    if stage.is_rare:
        return f"from {short_date(stage.early)} on"
    if is_fixed(stage):
        return short_date(stage.usual)
    return f"{short_date(stage.early)} to {short_date(stage.late)}"


def usual_words(stage: Stage) -> str:
    """``most years 24 Oct to 12 Nov, usually 2 Nov``; a day alone where it is fixed. Most years:
    eight of ten."""
    if stage.is_rare:
        return f"{rare_words(stage)}, {range_words(stage)}"
    if is_fixed(stage):
        return f"on {short_date(stage.usual)}"
    return f"most years {range_words(stage)}, usually {short_date(stage.usual)}"


def when_words(season: Season, stage: Stage) -> str:
    """The sign as it heads a list, without its full stop: ``When the first night of ...``."""
    words = sign_words(season, stage)
    return f"When the {words}" if stage.sign is Sign.COLD_NIGHT else sentence(words)


def stage_number(stage: Stage) -> str:
    """``3, about 27 Oct``: short enough for a column."""
    about = "" if is_fixed(stage) or stage.is_rare else "about "
    return f"{stage.index + 1}, {about}{usual_brief(stage)}"


def stage_numbers(stages: Sequence[Stage]) -> str:
    """``3 to 6``."""
    first, last = stages[0].index + 1, stages[-1].index + 1
    return f"{first}" if first == last else f"{first} to {last}"


def stages_span(season: Season, stages: Sequence[Stage]) -> str:
    """``27 Oct to 5 Dec``: usual first day of the first and of what follows the last, at the latest
    the last day of the plan; one day alone where both are the same."""
    ends = stages[0].usual, min(stages[-1].until, season.site.ends)
    return " to ".join(dict.fromkeys(map(short_date, ends)))


def happening_words(season: Season, events: Sequence[Happening], named: int | None = None) -> str:
    """``Shared glasshouse opens; Fig, Olive join``; empty where nothing happens. More than
    ``named`` trees are counted instead: ``2 trees join``."""
    by_kind: dict[HappeningKind, list[str]] = defaultdict(list)
    for one in events:
        by_kind[one.kind].append(one.subject)
    return "; ".join(_words(season, kind, subjects, named) for kind, subjects in by_kind.items())


def _words(season: Season, kind: HappeningKind, subjects: Sequence[str], named: int | None) -> str:
    trees, shelters = season.tree_by_id, season.shelter_by_id
    if kind not in (HappeningKind.JOINS, HappeningKind.QUARANTINE_ENDS):
        names = " and ".join(shelters[one].name if one in shelters else one for one in subjects)
    elif named is not None and len(subjects) > named:
        names = f"{len(subjects)} trees"
    else:
        names = tree_names(trees[one].name if one in trees else one for one in subjects)
    return HAPPENS[kind].format(names, s="" if len(subjects) > 1 else "s")


def _threshold(season: Season, stage: Stage) -> str:
    assert stage.threshold_c is not None, f"stage {stage.index} has no temperature"
    return season.site.display.thermostat(stage.threshold_c)


def known_words(limits: Sequence[DecidingLimit]) -> str:
    """``23 limits decide: 2 measured, 4 estimated, 17 guessed``."""
    counts = Counter(one.known for one in limits)
    parts = ", ".join(f"{counts[known]} {known}" for known in Known)
    return f"{count(len(limits), 'limit decides', 'limits decide')}: {parts}"


def kind_words(season: Season, limit: DecidingLimit) -> str:
    """The kind that a limit is of."""
    species = season.species.get(limit.species_key)
    return limit.species_key if species is None else species.common or species.latin


def worth_words(season: Season, limits: Sequence[DecidingLimit]) -> str:
    """Which one is most worth finding out; empty where all are known."""
    best = next((one for one in limits if one.at_stake > 0.0), None)
    if best is None:
        return ""
    return f"most worth finding out: {kind_words(season, best)}, {LIMITS[best.name].words}"
