"""Writes docs/program.md from the program itself, so that the page cannot drift.

``python -m overwinter.program.describe`` prints the page.
"""

from inspect import cleandoc

from overwinter.program import chilled_ways, coarse, flow, objective
from overwinter.program.registry import FAMILIES

OPENING = """# The integer program

Written by `python -m overwinter.program.describe`; a test holds this page to the code.

Indices: g group of interchangeable trees (n[g] of them), p place, h(p) its shelter, s heater
setting, c class of settings that the trees of g at p cannot tell apart, k spell, b breaker.
a[g] footprint (m2), m[g] mass (kg), A[p] area (m2), L[p] load limit (kg), f fullest and f'
comfortable share.

Variables: y[g,p,c,k] trees of g at p in spell k while the shelter has a setting of c (whole
numbers); z[h,s,k] setting s chosen (0 or 1); in[g,p,k] trees carried to p on the first day of k;
d[k] whether anything is carried that day (0 or 1); crowd[p,k] m2 beyond the comfortable share;
q[u,k] closed shelter or open-air place u given over to quarantine (0 or 1); out[g] trees left
without a place, at a price above everything else (not money, and not in the plan's costs).

## Rows
"""


def page() -> str:
    """The page as Markdown."""
    parts = [OPENING]
    for family in FAMILIES:
        parts.append(f"### {family.name}\n\n{_block(family.says)}\n")
    parts.append("## Objective, in the site's money\n")
    terms = (
        objective.heat,
        objective.risk_and_rodents,
        objective.crowding,
        objective.carries,
        objective.not_home,
        objective.left_out,
    )
    parts += [f"- {cleandoc(term.__doc__ or '').splitlines()[0]}" for term in terms]
    parts.append(f"\n## Whole winters\n\n{cleandoc(flow.__doc__ or '')}")
    parts.append(f"\n### Winters that chill\n\n{cleandoc(chilled_ways.__doc__ or '')}")
    parts.append(f"\n## The coarse program\n\n{cleandoc(coarse.__doc__ or '')}")
    return "\n".join(parts) + "\n"


def _block(text: str) -> str:
    """Docstring with its indented mathematics as code."""
    lines = cleandoc(text).splitlines()
    sentence = [line for line in lines if line]
    return "```text\n" + "\n".join(sentence) + "\n```"


if __name__ == "__main__":
    print(page(), end="")
