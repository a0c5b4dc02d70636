"""Do the plan's figures stand: chances of loss, costs, proof."""

from collections.abc import Iterator
from dataclasses import fields
from math import isfinite

from overwinter.model.plan import Costs, Termination
from overwinter.model.site import EVEN_CHANCE
from overwinter.rules.rule import SLACK, Fault, Ledger, Rule, excess

CHANCE_SLACK = 0.005  # of a sample of winters: half a winter in a hundred is nothing
COST_SLACK = 0.01  # every part of the costs agrees within this share of the whole
PROVEN = (Termination.GAP_REACHED, Termination.OPTIMAL)  # ends that say something of the gap


def chances_small(ledger: Ledger) -> Iterator[Fault]:
    """No tree is lost in more than `most_chance` of the winters, give or take 0.5 %; one that the
    plan lists as not safe in no stage in more than 50 %."""
    for tree in ledger.placed:
        most, (chance, in_stage) = ledger.season.site.weights.most_chance, ledger.lost[tree.id]
        if tree.id in ledger.plan.unsafe:
            most, chance = max(most, EVEN_CHANCE), in_stage
        if chance > most + CHANCE_SLACK:
            text = f"{tree.name} is lost in {100.0 * chance:.1f} % of winters"
            yield tree.id, None, None, 100.0 * (chance - most), "% of winters", text


def costs_agree(ledger: Ledger) -> Iterator[Fault]:
    """Each part is that reckoned anew, within 1 % of the whole; leaving trees out costs at least
    their value times `caution`, and nothing where none is."""
    site, plan = ledger.season.site, ledger.plan
    slack = max(SLACK, COST_SLACK * ledger.costs.total)
    for part in fields(Costs):
        said, true = getattr(plan.costs, part.name), getattr(ledger.costs, part.name)
        off = abs(said - true)
        if not off <= slack:  # nor is a cost that is no number
            words = part.name.replace("_", " ")
            text = f"{words} cost {true:.2f} {site.currency}, not {said:.2f}"
            yield None, None, None, off if isfinite(off) else 1, site.currency, text
    told, trees = plan.costs.left_out, len(plan.left_out)
    values = [ledger.season.tree_by_id[left.tree_id].value for left in plan.left_out]
    least = site.weights.caution * sum(values)
    if excess(least, told) or (excess(told) and not trees):
        text = f"{trees} trees without a place cost {told:.2f} {site.currency}"
        yield None, None, None, abs(told - least), site.currency, text


def proof_holds(ledger: Ledger) -> Iterator[Fault]:
    """The objective is the sum of the costs, the bound is not above it, the gap is (objective -
    bound) / objective, all are numbers, and no search ends with a gap that nobody knows. The bound
    is not proven again."""
    proof, unit = ledger.plan.proof, ledger.season.site.currency

    def fault(by: float, unit: str, text: str) -> Fault:
        return None, None, None, by, unit, text

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


CHANCE = Rule("chance of loss", chances_small, "too likely to be lost there", "share")
COSTS = Rule("costs", costs_agree)
PROOF = Rule("proof", proof_holds)
RULES = (CHANCE, COSTS, PROOF)
