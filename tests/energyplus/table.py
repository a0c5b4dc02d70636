"""``python tests/energyplus/table.py`` prints the tables of docs/energyplus.md."""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import beside
import thermometers
from boxes import JUDGING, MAKING, UNSEEN


def main(folder: Path) -> None:
    """All boxes, then what a thermometer in them tells."""
    boxes = {"for making": MAKING, "for judging": JUDGING, "never seen": UNSEEN}
    there = {title: beside.available(some) for title, some in boxes.items()}
    for title, some in there.items():
        print(f"\nBoxes {title}\n\n{beside.HEAD}\n|{'---|' * 7}")
        for box in some:
            air, heat = beside.ours(box)
            found = beside.beside(air, heat, beside.energyplus(box, folder))
            print(beside.row(box, found))
    print(f"\nA thermometer in them\n\n{thermometers.HEAD}\n|{'---|' * 5}")
    for box in (box for some in there.values() for box in some if not box.power_w):
        print(thermometers.row(box, beside.energyplus(box, folder)))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as name:
            main(Path(name))
