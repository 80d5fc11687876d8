"""The least shift side by side: the nearest point of the exact free region against a grid of poses.

Rooms are 20 x 16 ft with boxes on a lattice, each with a standing place before it; one of them, or
two, were pushed into a neighbour.  Values are how far things have to be shifted in all [in]; a grid
is judged from the nearest pose on until one passes, so both answers passed every check.
"""

import time
from itertools import product
from statistics import median

import numpy as np

from floorplan.checks.judge import judge
from floorplan.search.fix import fix
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse

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


SMALL = {"seeds": (1,), "steps": (4.0,)}
"""The budget that `all` gives it."""


def run(seeds=(1, 2, 3), steps=(4.0, 2.0)):
    """Rows of the benchmark: for each method its seconds and the shift it found."""
    rows = []
    for pushed, case in ((1, "one thing in the way"), (2, "two things in the way")):
        methods = {"free region": lambda file, names: by_region(file)}
        for step in steps:
            methods[f"grid of {step:g} in"] = lambda file, names, s=step: by_grid(file, names, s)
        for method, work in methods.items():
            values = []
            begin = time.perf_counter()
            for seed in seeds:
                file, names = lattice(seed, pushed)
                values.append(work(file, names))
            known = [np.inf if value is None else value for value in values]
            middle = float(median(known))
            rows.append(
                {
                    "case": case,
                    "method": method,
                    "seeds": list(seeds),
                    "seconds": time.perf_counter() - begin,
                    "values": values,
                    "median": None if np.isinf(middle) else middle,
                }
            )
    return {"name": "fix", "rows": rows}
