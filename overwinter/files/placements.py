"""placements.csv: where every tree is in every spell, one row a tree and spell."""

import csv
import io
from pathlib import Path

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.files.atomic import write_text
from overwinter.shelters.heater import setting_label

HEADINGS = (
    "tree",
    "species",
    "spell_start",
    "spell_end",
    "shelter",
    "place",
    "place_id",
    "heater_setting",
)


def write_placements(path: Path, season: Season, plan: Plan, overwrite: bool = False) -> None:
    """Write placements.csv atomically.

    Raises
    ------
    UserError
        The file is there and ``overwrite`` is not set, or it can't be written.
    """
    write_text(path, placements_text(season, plan), overwrite)


def placements_text(season: Season, plan: Plan) -> str:
    """Rows in the order of the tree list, then of the spells; ``spell_end`` is the last day.

    A tree that has not joined yet, or has no safe place, has no rows for that time.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for tree in season.trees:
        for spell, place_id in zip(plan.spells, plan.stays.get(tree.id, ()), strict=False):
            if place_id is None:
                continue
            place = season.places[place_id]
            settings = plan.settings.get(place.shelter_id, ())
            writer.writerow(
                (
                    tree.name,
                    tree.species_key,
                    spell.start.isoformat(),
                    season.date_of(season.day_index(spell.end) - 1).isoformat(),
                    season.shelter_by_id[place.shelter_id].name,
                    place.name,
                    place_id,
                    setting_label(settings[spell.index], season.site.display)
                    if spell.index < len(settings)
                    else "",
                )
            )
    return out.getvalue()
