"""Keys that site.toml had before winters were drawn; each says what stands in its place."""

from typing import Any

from overwinter.files.findings import Findings

SAMPLE = "the plan is made for many winters at once"
RETIRED = {
    ("", "longest_spell_days"): (
        "stages, which begin with the weather",
        "Delete it: a stage is as long as its winter makes it.",
    ),
    ("weather", "winter"): (
        SAMPLE,
        "Delete it: whole winters of a long record are all used.",
    ),
    ("weather", "seed"): (
        "seed at the top of the file, above all tables",
        "Move it there, with winters = 30 if you like.",
    ),
    ("household", "carry_days_max"): (
        "carries only where a stage begins",
        "Delete it; [weights] carry and most_carries keep carries few.",
    ),
    ("weights", "carry_day"): (
        "carries only where a stage begins",
        "Delete it; [weights] carry is the price of one tree carried once.",
    ),
    ("weights", "rodent_limit"): (
        "most_chance, for every kind of loss",
        "Delete it, or write most_chance = 0.05.",
    ),
    ("weights", "tail_chance"): (SAMPLE, "Delete it; caution says what a loss counts."),
    ("weights", "tail_scale_k"): (SAMPLE, "Delete it; caution says what a loss counts."),
    ("weights", "tail_scale_f"): (SAMPLE, "Delete it; caution says what a loss counts."),
}
"""By table ("" for the top of the file) and key: what is expected now, and what to do."""


def take_retired_keys(written: dict[str, Any], file: str, findings: Findings) -> None:
    """Take keys and tables out of site.toml that it no longer has; each is one problem."""
    for (table, key), (instead, fix) in RETIRED.items():
        holder = written if table == "" else written.get(table)
        if isinstance(holder, dict) and key in holder:
            del holder[key]
            found = "a key of an earlier edition"
            findings.problem(file, table or None, key, found, instead, fix)
    if "margins" in written:
        del written["margins"]
        findings.problem(
            file,
            "margins",
            None,
            "a table of an earlier edition",
            "chances of loss over many winters instead of margins",
            "Delete it; [weights] caution and most_chance say how careful the plan is.",
        )
