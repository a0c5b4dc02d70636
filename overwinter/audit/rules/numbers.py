"""Do the plan's figures stand: chances of loss, costs, proof."""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from math import isfinite

from overwinter.audit.costs import Ledger
from overwinter.audit.report import SLACK, Finding, Rule, TreeRisk, excess
from overwinter.model.plan import Costs, Termination
from overwinter.model.site import EVEN_CHANCE

CHANCE_SLACK = 0.005
"""Chances are figures of a sample of winters: half a winter in a hundred is nothing."""
COST_SLACK = 0.01
"""Every part of the costs agrees within this share of the whole."""
PROVEN = (Termination.GAP_REACHED, Termination.OPTIMAL)
"""Ends of a search that say something of the gap."""


def chances_small(ledger: Ledger, risks: Mapping[str, TreeRisk]) -> Iterator[Finding]:
    """No stage takes a tree more often than the site allows, or than not where the plan says so."""
    for tree in ledger.placed:
        most = ledger.season.site.weights.most_chance
        most = max(most, EVEN_CHANCE) if tree.id in ledger.plan.unsafe else most
        for stage in ledger.free_stages:
            chance = risks[tree.id].by_stage[stage]
            if chance > most + CHANCE_SLACK:
                where = ledger.plan.stays[tree.id][stage]
                text = f"{tree.name} is lost at {where} in {chance:.1%} of winters"
                over = 100.0 * (chance - most)
                yield Finding(Rule.CHANCE, tree.id, where, stage, over, "% of winters", text)


def costs_agree(ledger: Ledger, found: Costs) -> Iterator[Finding]:
    """Every part of the costs is what the audit reckons."""
    slack = max(SLACK, COST_SLACK * found.total)
    unit = ledger.season.site.currency
    for part in fields(Costs):
        said, true = getattr(ledger.plan.costs, part.name), getattr(found, part.name)
        if not abs(said - true) <= slack:  # nor is a cost that is no number
            text = f"{part.name.replace('_', ' ')} cost {true:.2f} {unit}, not {said:.2f}"
            off = abs(said - true)
            by = off if isfinite(off) else 1
            yield Finding(Rule.COSTS, None, None, None, by, unit, text)


def left_out_is_dear(ledger: Ledger) -> Iterator[Finding]:
    """Leaving trees out costs at least their loss, and nothing where none is left out."""
    site, told = ledger.season.site, ledger.plan.costs.left_out
    trees = [ledger.season.tree_by_id[left.tree_id] for left in ledger.plan.left_out]
    least = site.weights.caution * sum(tree.value for tree in trees)
    if excess(least, told) or (excess(told) and not trees):
        text = f"{len(trees)} trees without a place cost {told:.2f} {site.currency}"
        yield Finding(Rule.COSTS, None, None, None, abs(told - least), site.currency, text)


def proof_holds(ledger: Ledger) -> Iterator[Finding]:
    """The objective is the sum of the costs, the bound is below it, the gap lies between them, and
    the search does not claim to have ended for a gap that nobody knows."""
    proof, unit = ledger.plan.proof, ledger.season.site.currency

    def fault(by: float, unit: str, text: str) -> Finding:
        return Finding(Rule.PROOF, None, None, None, by, unit, text)

    counted = [n for n in (proof.seconds, proof.rounds, proof.misfits) if n is not None]
    told = [n for n in (proof.objective, proof.bound, proof.gap, *counted) if n is not None]
    if not all(map(isfinite, told)):
        yield fault(1, "figure", "objective, bound, gap or counts are no numbers")
        return
    whole = max(1.0, proof.objective)
    off = abs(proof.objective - ledger.plan.costs.total)
    if excess(off / whole):
        yield fault(off, unit, "the objective is not the sum of the costs")
    if any(number < 0 for number in counted):
        yield fault(1, "figure", "seconds, rounds or misfits are below zero")
    if (proof.bound is None) != (proof.gap is None):
        yield fault(1, "figure", "bound and gap are known only together")
    if proof.bound is None or proof.gap is None:
        if proof.termination in PROVEN:
            yield fault(1, "figure", f"the search ended with '{proof.termination}' of no gap")
        return
    if excess(proof.bound / whole, proof.objective / whole):
        yield fault(proof.bound - proof.objective, unit, "the bound is above the objective")
    gap = (proof.objective - proof.bound) / max(proof.objective, SLACK)
    if off := excess(abs(gap - proof.gap)):
        text = "the gap is not that between objective and bound"
        yield fault(100.0 * off, "% of the whole", text)
