"""The carry lists as one page for a phone: ticks that stay, no network, handed back as a file."""

from collections.abc import Mapping

from markupsafe import Markup

from overwinter.model.changes import Mark
from overwinter.model.stage import Sign
from overwinter.render.carry_book import CarryBook, StageHead
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import filled
from overwinter.render.words import count, sentence, tree_names

AFTER_ALL = 100_000
"""Turn of what is done after every carry of a stage."""


def carry_phone(
    book: CarryBook,
    marked: Mapping[str, Mark] | None = None,
    drawings: Mapping[str, Markup] | None = None,
) -> str:
    """One self-contained HTML page: what is next today in large type, and the whole list behind it.

    Ticks are kept in the browser under the plan's fingerprint, so that two plans never mix. The
    page's content security policy forbids every fetch.

    Parameters
    ----------
    marked : by carry key, what the history has already; it is shown as done and cannot be unticked
        there.
    drawings : by place, its SVG through the winter (``report_benches``).
    """

    def carries(head: StageHead) -> str:
        steps = [step for one in book.of_stage(head) for step in one.steps if not step.halfway]
        return count(len(steps), "carry", "carries")

    return filled(
        "carry_phone.html",
        book=book,
        sentence=sentence,
        carries=carries,
        after_all=AFTER_ALL,
        left_out=tree_names(book.left_out),
        staying=tree_names(book.staying),
        cautions=[CAUTIONS[key] for key in book.cautions],
        local_codes=LOCAL_CODES,
        drawings=drawings or {},
        data=_data(book, marked or {}),
    )


def _data(book: CarryBook, marked: Mapping[str, Mark]) -> dict[str, object]:
    steps = [step for step in book.steps if not step.halfway]
    carries = [
        {
            "key": step.key,
            "day": step.carry.day.isoformat(),
            "stage": step.carry.stage + 1,
            "tree": step.tree,
            "tree_id": step.carry.tree_id,
        }
        for step in steps
    ]
    known = {
        step.key: {
            "done": True,
            "done_on": mark.day.isoformat(),
            "elsewhere": None if mark.target == step.carry.target else mark.target,
            "note": mark.note,
        }
        for step in steps
        if (mark := marked.get(step.key)) is not None
    }
    stages = {
        f"stage-{head.number}": {
            "when": f"{head.number}. {head.when}",
            "facts": f"{head.facts}. {sentence(head.work)}" if head.hours else head.facts,
            "waits": head.stage.sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK),
            "early": head.stage.early.isoformat(),
            "late": head.stage.late.isoformat(),
        }
        for head in book.heads
    }
    return {
        "plan": book.fingerprint,
        "site": book.site.name,
        "places": dict(book.places),
        "stages": stages,
        "carries": carries,
        "marked": known,
    }
