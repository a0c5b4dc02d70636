"""Keys that site.toml had in earlier editions; each says what stands in its place."""

from typing import Any

from overwinter.files.findings import Findings

STAGES = "trees are carried where a stage of the winter begins"
SAMPLE = "the plan is made for many winters at once"
PRICED = "what a loss costs follows from value, chance and caution"
TOP = ""
"""The keys above all tables."""

RETIRED = {
    (TOP, "longest_spell_days"): ("a stage is as long as the weather makes it", "Delete it."),
    ("weather", "winter"): (SAMPLE, "Delete it; of a long record all whole winters are used."),
    ("weather", "seed"): (SAMPLE, "Write seed and winters at the top of the file."),
    ("household", "carry_days_max"): (STAGES, "Delete it; see carry and most_carries."),
    ("household", "carries_per_day"): (
        "how much is carried on a day follows from people, hours and daylight",
        "Write people, hours_a_day and, if carrying is slow, minutes_a_tree.",
    ),
    ("weights", "carry_day"): (STAGES, "Delete it; carry is the price of carrying one tree."),
    ("weights", "rodent_limit"): (PRICED, "Delete it; most_chance is the limit of all losses."),
    ("weights", "tail_chance"): (SAMPLE, "Delete it; see caution."),
    ("weights", "tail_scale_k"): (SAMPLE, "Delete it; see caution."),
    ("weights", "tail_scale_f"): (SAMPLE, "Delete it; see caution."),
}
"""By table and key: why it is gone, and what to do."""


def take_retired_keys(written: dict[str, Any], file: str, findings: Findings) -> None:
    """Take keys and tables out of site.toml that it no longer has; each is one problem."""
    for (table, key), (why, fix) in RETIRED.items():
        holder = written if table == TOP else written.get(table)
        if isinstance(holder, dict) and key in holder:
            del holder[key]
            found = "a key of an earlier edition"
            findings.problem(file, table or None, key, found, f"no such key: {why}", fix)
    if "margins" in written:
        del written["margins"]
        findings.problem(
            file,
            "margins",
            None,
            "a table of an earlier edition",
            f"no such table: {PRICED}",
            "Delete it; in [weights], caution and most_chance say how careful the plan is.",
        )
