"""The least shift side by side: the nearest point of the exact free region against a grid of poses.

Rooms are 20 x 16 ft with boxes on a lattice, each with a standing place before it; one of them, or
two, were pushed into a neighbour.  Values are how far things have to be shifted in all [in]; a grid
is judged from the nearest pose on until one passes, so both answers passed every check.

Beside them the same search of `fix` with every candidate put through the full check, measures and
margins and all, as one would without asking what is required, and hopeless things first.  Seconds
are of the processor.
"""

import time
from itertools import product
from pathlib import Path
from statistics import median

import numpy as np

from floorplan.checks.judge import judge
from floorplan.search.fix import fix
from floorplan.search.known import Known
from floorplan.shop.model import Pose
from floorplan.shop.reader import load, parse

INCH = 0.0254
HEAD = """\
shop: lattice
units: in
tape: 1/8
room: {size: [240, 192], height: 100}
doors:
  door: {wall: south, at: 100, width: 40, height: 80, swing: out, leads to: outside}
equipment:
"""


def lattice(seed, pushed):
    """A shop of nine boxes, the first `pushed` of three rows pushed into their neighbours."""
    rng = np.random.default_rng(seed)
    rows, names = [], []
    for i, j in product(range(3), range(3)):
        width, depth = (int(v) for v in rng.integers([24, 16], [40, 26]))
        x, y = 10 + 78 * i + int(rng.integers(0, 6)), 34 + 58 * j + int(rng.integers(0, 4))
        is_pushed = i == 1 and j < pushed
        if is_pushed:
            x -= 78 - 30 + int(rng.integers(0, 6))
            names.append(f"t{i}{j}")
        rows.append(
            f"  t{i}{j}: {{width: {width}, depth: {depth}, height: 34, may: move, "
            f"at: {{x: {x}, y: {y}}}, "
            "zones: {stand: {side: front, depth: 20, purpose: stand}}}"
        )
    return parse(HEAD + "\n".join(rows) + "\n"), names


def by_region(file):
    """Sum of shifts of the smallest change [in]."""
    found = fix(file, most=1)
    if not found.changes:
        return None
    return sum(step.trouble for step in found.changes[0].steps) / INCH


class Whole(Known):
    """Every candidate by the full check; nothing is ruled out beforehand."""

    def judge(self, draft, dropped=frozenset(), mending=None):
        """All there is to find about a draft."""
        if id(draft) not in self._judged:
            self._kept.append(draft)
            self.judged += 1
            self.layouts += 1
            self._judged[id(draft)] = judge(draft.shop, draft.layout)
        return self._judged[id(draft)]

    def clears(self, draft, gone, failing):
        """Never ruled out."""
        return True

    def walks_without(self, draft, gone):
        """Never asked."""
        return frozenset()


def by_full_checks(file):
    """The same sum of shifts [in], each candidate judged whole."""
    found = fix(file, most=1, known=Whole(file))
    if not found.changes:
        return None
    return sum(step.trouble for step in found.changes[0].steps) / INCH


def corridor(seed):
    """A cart is to roll past a bench that leaves it too little room on both sides."""
    bench = 2.95 + 0.02 * seed
    return parse(
        f"""\
shop: past the bench
units: m
tape: 0.003
room: {{size: [4.2, 6], height: 2.6}}
doors: {{way: {{wall: north, at: 0.4, width: 3, height: 2.1, kind: opening, leads to: outside}}}}
equipment:
  cart: {{width: 0.7, depth: 0.7, height: 0.9, on wheels: yes, may: stay,
    at: {{x: 0.1, y: 0.3}}, parked: {{x: 0.1, y: 5.0}}}}
  bench: {{width: {bench}, depth: 0.7, height: 0.9, may: move, at: {{x: 0.6, y: 2.6}}}}
tasks: {{rest: {{parked: [cart]}}}}
"""
    )


def by_grid(file, names, step, reach=60):
    """Poses of one thing after the other in steps [in], the nearest that passes."""
    ticks = np.arange(-reach, reach + step, step)
    steps = sorted(product(ticks, ticks), key=lambda s: np.hypot(*s))
    layout, total = file.layout, 0.0
    for name in names:
        pose = layout.pose(name)
        # the others pushed are lifted out until it is their turn
        waiting = names[names.index(name) + 1 :]
        for dx, dy in steps:
            moved = Pose.at(pose.x.value + dx * INCH, pose.y.value + dy * INCH, pose.turn)
            tried = layout.with_pose(name, moved)
            for other in waiting:
                tried = tried.without(other)
            if judge(file.shop, tried).verdict == "passes":
                layout = layout.with_pose(name, moved)
                total += float(np.hypot(dx, dy))
                break
        else:
            return None
    return total


SMALL = {"seeds": (1,), "steps": (4.0,), "shops": ()}
"""The budget that `all` gives it."""


SHOPS = ("two-car-garage", "l-shaped-basement")
"""Whole shops with many faults; sheets are carried, and in the first things rolled."""


def run(seeds=(1, 2, 3), steps=(4.0, 2.0), shops=SHOPS):
    """Rows of the benchmark: for each method its seconds and the shift it found."""
    rows = []
    for pushed, case in ((1, "one thing in the way"), (2, "two things in the way")):
        made = [lattice(seed, pushed) for seed in seeds]
        for method, asked in WAYS.items():
            rows.append(_timed(case, method, seeds, [(asked, (file,)) for file, _ in made]))
        for step in steps:
            work = [(by_grid, (file, names, step)) for file, names in made]
            rows.append(_timed(case, f"grid of {step:g} in", seeds, work))
    for method, asked in WAYS.items():
        work = [(asked, (corridor(seed),)) for seed in seeds]
        rows.append(_timed("rolled past something", method, seeds, work))
    for name in shops:
        for method, asked in WAYS.items():
            work = [(asked, (load(LAYOUTS / f"{name}.yaml"),))]
            rows.append(_timed(f"{name}, as it stands", method, (1,), work))
    return {"name": "fix", "rows": rows}


LAYOUTS = Path(__file__).resolve().parents[2] / "layouts"
WAYS = {"free region": by_region, "the same, all by full checks": by_full_checks}


def _timed(case, method, seeds, work):
    begin = time.process_time()
    values = [asked(*about) for asked, about in work]
    seconds = time.process_time() - begin
    known = [np.inf if value is None else value for value in values]
    middle = float(median(known))
    return {
        "case": case,
        "method": method,
        "seeds": list(seeds),
        "seconds": seconds,
        "values": values,
        "median": None if np.isinf(middle) else middle,
    }
