"""placements.csv: where every tree is in every stage, one row a tree and stage."""

import csv
import io
from datetime import timedelta

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.render.table import no_formula
from overwinter.shelters.heater import setting_label

HEADINGS = (
    "tree",
    "species",
    "stage",
    "stage_usually_begins",
    "stage_usually_ends",
    "shelter",
    "place",
    "place_id",
    "heater_setting",
)


def placements_text(season: Season, plan: Plan) -> str:
    """Rows in the order of the tree list, then of the stages, which are counted from 1; the end
    is the usual last day.

    A tree that has not joined yet, or has no place, has no rows for that time.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for tree in season.trees:
        for stage, place_id in zip(plan.stages, plan.stays.get(tree.id, ()), strict=False):
            if place_id is None:
                continue
            place = season.places[place_id]
            settings = plan.settings.get(place.shelter_id, ())
            writer.writerow(
                (
                    no_formula(tree.name),
                    no_formula(tree.species_key),
                    stage.index + 1,
                    stage.usual.isoformat(),
                    (stage.until - timedelta(days=1)).isoformat(),
                    no_formula(season.shelter_by_id[place.shelter_id].name),
                    no_formula(place.name),
                    no_formula(place_id),
                    setting_label(settings[stage.index], season.site.display)
                    if stage.index < len(settings)
                    else "",
                )
            )
    return out.getvalue()
