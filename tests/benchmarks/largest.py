"""Largest sizes side by side: what is carried past the thing found once, or asked of each size.

The demo shops, one bench each, where it stands and anywhere. Values are CPU seconds of the search
of sizes and of judging them; the last method judges the same sizes without what is kept between
them. Both must say the same of every size.
"""

import time
from pathlib import Path

from benchmarks.run import row

from floorplan.search.largest import largest
from floorplan.search.size_search import Place, SizeSearch
from floorplan.search.sizes import Sizes
from floorplan.shop.reader import load

SHOPS = Path(__file__).parents[2] / "layouts"
BENCHES = (
    ("two-car-garage", "hand-tool bench"),
    ("l-shaped-basement", "workbench"),
    ("long-narrow-metric", "joiner's bench"),
    ("backyard-shop", "bench"),
)
SMALL = {"shops": 1}


def cpu(work):
    """The result and its CPU time [s]."""
    begin = time.process_time()
    return work(), time.process_time() - begin


def judged(found, file, *, once):
    """Verdicts of all sizes found, with what is carried past found once or for each."""
    pose = None if found.anywhere else file.layout.pose(found.thing)
    sizes = Sizes(file.text, file.path, found.thing, file.shop.stage)
    search = SizeSearch(sizes, file.layout, pose, reserve=found.reserve)
    search.expect(len(found.sizes) if once else 1)
    return [
        search.judged(s.width, s.depth, Place(s.x, s.y, s.turn, 0.0)) for s in found.sizes
    ]  # fmt: skip


def run(shops=4):
    """Rows: seconds of the whole, then of judging by each method, for each shop."""
    rows = []
    for name, thing in BENCHES[:shops]:
        file = load(SHOPS / f"{name}.yaml").at(0)
        for anywhere in (False, True):
            case = f"{name}, {'anywhere' if anywhere else 'in place'}"
            found, spent = cpu(
                lambda f=file, t=thing, a=anywhere: largest(
                    f.shop, f.layout, t, text=f.text, anywhere=a
                )
            )
            rows.append(row(case, f"largest, {len(found.sizes)} sizes", [0], spent, [spent]))
            told = []
            for once, method in ((True, "judged, carried past once"), (False, "judged, each size")):
                verdicts, spent = cpu(lambda f=found, s=file, o=once: judged(f, s, once=o))
                told.append(verdicts)
                rows.append(row(case, method, [0], spent, [spent]))
            assert told[0] == told[1], (case, told)
    return {"name": "largest", "rows": rows}
