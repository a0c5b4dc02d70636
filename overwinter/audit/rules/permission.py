"""May it be there: open shelters, the grower's pins and bans, quarantine, rodents."""

from itertools import groupby

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule
from overwinter.model.season import Spell
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree

SLACK_EXPOSURE = 1e-9


def check_open(ledger: Ledger) -> list[Finding]:
    """A shelter with a tree in it is open on every day of the spell."""
    found = []
    for tree, spell, place in ledger.stays():
        shelter = ledger.shelter_of(place)
        early = 0 if shelter.opens is None else (shelter.opens - spell.start).days
        late = 0 if shelter.closes is None else (spell.end - shelter.closes).days
        days = max(early, late)
        if days > 0:
            text = f"{tree.name} is in {shelter.name} while it is closed"
            found.append(_stay(Rule.OPEN, tree, place, spell, min(days, spell.days), "days", text))
    return found


def check_pins(ledger: Ledger) -> list[Finding]:
    """A pinned tree is where it is pinned, except at the summer place."""
    found = []
    for tree, spell, place in ledger.stays():
        if not tree.pinned or place.id == ledger.season.site.summer_place:
            continue
        if not {place.id, place.shelter_id} & tree.pinned:
            text = f"{tree.name} is at {place.id} but pinned to {', '.join(sorted(tree.pinned))}"
            found.append(_stay(Rule.PINNED, tree, place, spell, 1.0, "place", text))
    return found


def check_forbidden(ledger: Ledger) -> list[Finding]:
    """No tree is where the grower forbids it."""
    return [
        _stay(Rule.FORBIDDEN, tree, place, spell, 1.0, "place", f"{tree.name} must not be there")
        for tree, spell, place in ledger.stays()
        if {place.id, place.shelter_id} & tree.forbidden
    ]


def check_rodents(ledger: Ledger) -> list[Finding]:
    """Appeal times the exposure left after guards stays under the site's limit."""
    limit = ledger.season.site.weights.rodent_limit
    found = []
    for tree, spell, place in ledger.stays():
        over = tree.limits.rodent_appeal * exposure_left(ledger, place) - limit
        if over > SLACK_EXPOSURE:
            text = f"mice would reach {tree.name} at {place.id}"
            found.append(_stay(Rule.RODENTS, tree, place, spell, over, "of exposure", text))
    return found


def exposure_left(ledger: Ledger, place: Place) -> float:
    """Rodent exposure of a place after its guards, 0 to 1."""
    left = ledger.season.site.weights.guard_leaves if place.guarded else 1.0
    return place.rodent_exposure * left


def check_quarantine(ledger: Ledger) -> list[Finding]:
    """A tree in quarantine shares no closed shelter, nor outdoors a place, with healthy ones.

    Trees in quarantine may stand together.
    """
    found = []
    for spell in ledger.spells:
        here = sorted(_rooms(ledger, spell), key=lambda pair: pair[0])
        for room, group in groupby(here, key=lambda pair: pair[0]):
            trees = [tree for _, tree in group]
            apart = [tree for tree in trees if in_quarantine(tree, spell)]
            healthy = len(trees) - len(apart)
            if healthy:
                found += [
                    Finding(
                        Rule.QUARANTINE,
                        tree.id,
                        room,
                        spell.start,
                        float(healthy),
                        "trees",
                        f"{tree.name} is in quarantine but shares {room} with {healthy} others",
                        spell.index,
                    )
                    for tree in apart
                ]
    return found


def in_quarantine(tree: Tree, spell: Spell) -> bool:
    """Whether a tree must be kept apart on any day of a spell."""
    return tree.quarantine_until is not None and spell.start < tree.quarantine_until


def _rooms(ledger: Ledger, spell: Spell) -> list[tuple[str, Tree]]:
    rooms = []
    for tree in ledger.trees:
        place = ledger.place_of(tree, spell.index)
        if place is not None:
            outdoors = ledger.shelter_of(place).open_air
            rooms.append((place.id if outdoors else place.shelter_id, tree))
    return rooms


def _stay(
    rule: Rule, tree: Tree, place: Place, spell: Spell, over: float, unit: str, text: str
) -> Finding:
    return Finding(rule, tree.id, place.id, spell.start, over, unit, text, spell.index)
