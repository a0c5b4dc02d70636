"""Do the plan's figures stand: chances of loss, costs, proof."""

from collections.abc import Iterator, Mapping
from dataclasses import fields

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule, TreeRisk
from overwinter.model.plan import Costs

CHANCE_SLACK = 0.005
"""Chances are figures of a sample of winters: half a winter in a hundred is nothing."""
COST_SLACK = 0.01
"""Every part of the costs agrees within this share of the whole."""
ROUNDING = 1e-6


def chances_small(ledger: Ledger, risks: Mapping[str, TreeRisk]) -> Iterator[Finding]:
    """No stage takes a tree more often than the site allows."""
    most = ledger.season.site.weights.most_chance
    for tree in ledger.placed:
        for stage in ledger.free_stages:
            chance = risks[tree.id].by_stage[stage]
            if chance > most + CHANCE_SLACK:
                where = ledger.plan.stays[tree.id][stage]
                text = f"{tree.name} is lost at {where} in {chance:.1%} of winters"
                over = 100.0 * (chance - most)
                yield Finding(Rule.CHANCE, tree.id, where, stage, over, "% of winters", text)


def costs_agree(ledger: Ledger, found: Costs) -> Iterator[Finding]:
    """Every part of the costs is what the audit reckons."""
    slack = COST_SLACK * abs(found.total) + ROUNDING
    unit = ledger.season.site.currency
    for part in fields(Costs):
        said, true = getattr(ledger.plan.costs, part.name), getattr(found, part.name)
        if abs(said - true) > slack:
            text = f"{part.name.replace('_', ' ')} cost {true:.2f} {unit}, not {said:.2f}"
            yield Finding(Rule.COSTS, None, None, None, abs(said - true), unit, text)


def proof_holds(ledger: Ledger) -> Iterator[Finding]:
    """The objective is the sum of the costs, the bound is below it, the gap lies between them."""
    proof, unit = ledger.plan.proof, ledger.season.site.currency

    def fault(by: float, unit: str, text: str) -> Finding:
        return Finding(Rule.PROOF, None, None, None, by, unit, text)

    slack = ROUNDING * max(1.0, abs(proof.objective))
    off = abs(proof.objective - ledger.plan.costs.total)
    if off > slack:
        yield fault(off, unit, "the objective is not the sum of the costs")
    if proof.bound is None or proof.gap is None:
        if proof.bound is not None or proof.gap is not None:
            yield fault(1, "figure", "bound and gap are known only together")
        return
    if proof.bound > proof.objective + slack:
        yield fault(proof.bound - proof.objective, unit, "the bound is above the objective")
    gap = (proof.objective - proof.bound) / max(abs(proof.objective), 1e-9)
    if abs(gap - proof.gap) > ROUNDING:
        text = "the gap is not that between objective and bound"
        yield fault(100.0 * abs(gap - proof.gap), "% of the whole", text)
