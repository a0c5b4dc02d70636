"""Checks between files: places, breakers, prices, dates, and trees no place can hold."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

from overwinter.domain.shelter import Carrier, Place, Shelter
from overwinter.domain.tree import Tree
from overwinter.files.findings import Findings
from overwinter.files.site_file import WrittenSite
from overwinter.files.spelling import closest, did_you_mean, listed
from overwinter.files.tree_list import TreeList

LONGEST_QUARANTINE_D = 366


def all_places(shelters: Iterable[Shelter]) -> dict[str, Place]:
    """Every place by its full id."""
    return {place.id: place for shelter in shelters for place in shelter.places}


def full_id(written: str, places: Iterable[str]) -> str | None:
    """The place meant by ``shelter/place``, or by the place alone where only one has that name."""
    known = list(places)
    if written in known:
        return written
    ends = [place for place in known if place.split("/", 1)[1] == written]
    return ends[0] if len(ends) == 1 else None


def check_summer_place(
    written: WrittenSite, shelters: tuple[Shelter, ...], findings: Findings
) -> str | None:
    """The full id of the summer place, which must lie in the open air."""
    places = all_places(shelters)
    outdoors = [place.id for s in shelters if s.open_air for place in s.places]
    found = full_id(written.site.summer_place, places)
    if found in outdoors:
        return found
    findings.problem(
        "site.toml",
        None,
        "summer_place",
        f"'{written.site.summer_place}'" + (", which is under cover" if found else ""),
        f"a place in the open air: {listed(outdoors)}"
        if outdoors
        else "a place of a shelter with open_air = true, of which shelters.toml has none",
        did_you_mean(written.site.summer_place, outdoors),
    )
    return None


def check_heaters(written: WrittenSite, shelters: tuple[Shelter, ...], findings: Findings) -> None:
    """Every heater has a breaker that is there and a price for what it uses."""
    prices, breakers = written.money_per_kwh, written.breakers_w
    for shelter in shelters:
        for heater in shelter.heaters:
            where = f"shelter.{shelter.id}.heater.{heater.name}"
            if heater.carrier not in prices:
                findings.problem(
                    "site.toml",
                    f"prices.{heater.carrier.value.replace(' ', '_')}",
                    None,
                    f"no price of {heater.carrier.value}, which heater '{heater.name}' uses",
                    "per_kwh, or per_unit and unit",
                    _price_fix(heater.carrier),
                )
            if heater.breaker is not None and heater.breaker not in breakers:
                findings.problem(
                    "shelters.toml",
                    where,
                    "breaker",
                    f"'{heater.breaker}'",
                    f"a breaker of site.toml: {listed(breakers) or 'it names none'}",
                    did_you_mean(heater.breaker, breakers),
                )
            load = breakers.get(heater.breaker or "")
            drawn = heater.power_w / heater.efficiency
            if load is not None and heater.carrier is Carrier.ELECTRICITY and drawn > load:
                findings.warn(
                    f"[{where}] draws {drawn:.0f} W; its breaker {heater.breaker} may carry"
                    f" {load:.0f} W all day. Ask an electrician."
                )


def _price_fix(carrier: Carrier) -> str:
    key = carrier.value.replace(" ", "_")
    return f"Add [prices.{key}] with per_kwh = ... to site.toml."


def check_opening_dates(
    written: WrittenSite, shelters: tuple[Shelter, ...], findings: Findings
) -> tuple[Shelter, ...]:
    """Shelters with their dates within the season; those that open on or before its start always
    are open."""
    starts, ends = written.site.starts, written.site.ends
    checked = []
    for shelter in shelters:
        where = f"shelter.{shelter.id}"
        if shelter.opens is not None and shelter.opens > ends:
            found = f"'{shelter.opens}', after the plan ends on {ends}"
            _bad_date("shelters.toml", where, "opens", found, written, findings)
        if shelter.closes is not None and shelter.closes <= starts:
            found = f"'{shelter.closes}', before the plan begins on {starts}"
            _bad_date("shelters.toml", where, "closes", found, written, findings)
        if shelter.opens and shelter.closes and shelter.opens >= shelter.closes:
            found = f"'{shelter.opens}', not before closes '{shelter.closes}'"
            _bad_date("shelters.toml", where, "opens", found, written, findings)
        opens = shelter.opens if shelter.opens and shelter.opens > starts else None
        closes = shelter.closes if shelter.closes and shelter.closes <= ends else None
        checked.append(replace(shelter, opens=opens, closes=closes))
    return tuple(checked)


def _bad_date(
    file: str,
    row: int | str,
    column: str,
    found: str,
    written: WrittenSite,
    findings: Findings,
) -> None:
    findings.problem(
        file,
        row,
        column,
        found,
        f"a day from {written.site.starts} to {written.site.ends}, in order",
        "Check the year.",
    )


def check_trees(
    listing: TreeList,
    written: WrittenSite | None,
    shelters: tuple[Shelter, ...],
    findings: Findings,
) -> tuple[Tree, ...]:
    """Trees with full place ids, their dates and sizes checked against site and shelters."""
    places = all_places(shelters)
    checked = []
    done: set[int] = set()
    for tree in listing.trees:
        # Trees of one row are alike; their mistakes are said once.
        said = Findings() if tree.row in done else findings
        done.add(tree.row)
        if written is not None:
            _check_tree_dates(listing.file, tree, written, said)
        if shelters:
            tree = _with_places(listing.file, tree, shelters, places, said)
            _check_size(listing.file, tree, places, said)
        checked.append(tree)
    return tuple(checked)


def _check_tree_dates(file: str, tree: Tree, written: WrittenSite, findings: Findings) -> None:
    if tree.joins is not None and tree.joins > written.site.ends:
        found = f"'{tree.joins}', after the plan ends on {written.site.ends}"
        _bad_date(file, tree.row, "joins", found, written, findings)
    until = tree.quarantine_until
    latest = written.site.ends + timedelta(days=LONGEST_QUARANTINE_D)
    if until is not None and until > latest:
        _bad_date(file, tree.row, "quarantine_until", f"'{until}'", written, findings)
    if until is not None and tree.joins is not None and until <= tree.joins:
        found = f"'{until}', not after it joins on {tree.joins}"
        _bad_date(file, tree.row, "quarantine_until", found, written, findings)


def _with_places(
    file: str,
    tree: Tree,
    shelters: tuple[Shelter, ...],
    places: Mapping[str, Place],
    findings: Findings,
) -> Tree:
    """The tree with short place names made full; unknown names are problems."""
    ids = {shelter.id for shelter in shelters}
    stands_at = tree.stands_at
    if stands_at is not None:
        stands_at = _known(file, tree, "stands_at", stands_at, places, (), findings)
    pinned = [_known(file, tree, "only", name, places, ids, findings) for name in tree.pinned]
    banned = [_known(file, tree, "never", name, places, ids, findings) for name in tree.forbidden]
    tree = replace(
        tree,
        stands_at=stands_at,
        pinned=frozenset(name for name in pinned if name),
        forbidden=frozenset(name for name in banned if name),
    )
    left = [p for p in places.values() if _allowed(tree, p)]
    if tree.pinned and not left:
        findings.problem(
            file,
            tree.row,
            "only",
            f"{listed(sorted(tree.pinned))}, all of it forbidden in the column never",
            "at least one place left",
            "",
        )
    return tree


def _allowed(tree: Tree, place: Place) -> bool:
    names = {place.id, place.shelter_id}
    return not names & tree.forbidden and (not tree.pinned or bool(names & tree.pinned))


def _known(
    file: str,
    tree: Tree,
    column: str,
    written: str,
    places: Mapping[str, Place],
    shelter_ids: Iterable[str],
    findings: Findings,
) -> str | None:
    """The full id meant, or None after a problem."""
    ids = list(shelter_ids)
    found = written if written in ids else full_id(written, places)
    if found is not None:
        return found
    several = [place for place in places if place.split("/", 1)[1] == written]
    near = closest(written, [*places, *ids, *(p.split("/", 1)[1] for p in places)])
    findings.problem(
        file,
        tree.row,
        column,
        f"'{written}'",
        f"one of {listed(several)}"
        if several
        else "a place (shelter/place)" + (" or shelter" if ids else "") + " of shelters.toml",
        f"Did you mean '{near}'?" if near and not several else "",
    )
    return None


def _check_size(file: str, tree: Tree, places: Mapping[str, Place], findings: Findings) -> None:
    """A tree larger than every place is mostly a slip of units."""
    if any(_fits(tree, place) for place in places.values()):
        return
    roomiest = max(places.values(), key=lambda place: (place.headroom_m, place.area_m2))
    findings.problem(
        file,
        tree.row,
        "height, width, depth, weight",
        f"{tree.height_m:.2f} m tall, {tree.width_m:.2f} x {tree.depth_m:.2f} m wide,"
        f" {tree.weight_kg:.0f} kg: too large or heavy for every place",
        f"a tree that some place can hold (the roomiest is {roomiest.id})",
        "Is the unit of the heading right?",
    )


def _fits(tree: Tree, place: Place) -> bool:
    sides = sorted((tree.width_m, tree.depth_m))
    room = sorted((place.width_m, place.depth_m))
    return (
        tree.height_m <= place.headroom_m
        and tree.weight_kg <= place.load_limit_kg
        and sides[0] <= room[0]
        and sides[1] <= room[1]
    )


def check_season_dates(starts: date, latitude_deg: float, findings: Findings) -> None:
    """A plan that begins in spring is mostly a slip; said, not refused."""
    autumn = (8, 9, 10, 11, 12) if latitude_deg >= 0 else (2, 3, 4, 5, 6)
    if starts.month not in autumn:
        findings.warn(
            f"The plan begins on {starts}; that is no autumn day at {latitude_deg:g}° of latitude."
        )
