"""Judging a layout, side by side: what each check costs, and what boxes save.

Shops have 5 to 60 things in rows with a standing place each, about a third of the floor covered.
Every method judges the same shops in one run; values are seconds a judgement, the best of a few.
"""

import time
from contextlib import contextmanager
from random import Random
from statistics import median
from unittest import mock

from shops import Box, Doorway, Plan

from floorplan.checks.judge import CHECKS, judge
from floorplan.geometry.affine import Outline
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

CELL = 1700.0


def shop(count, seed):
    """A shop of `count` things on a jittered raster, an opening in its south wall."""
    random = Random(seed)
    columns = max(2, round(count**0.5))
    rows = -(-count // columns)
    boxes = []
    for number in range(count):
        column, row = number % columns, number // columns
        width, depth = (10.0 * random.randint(60, 110), 10.0 * random.randint(40, 70))
        quarters = random.randrange(4)
        x = column * CELL + 10.0 * random.randint(20, 40)
        y = row * CELL + 10.0 * random.randint(20, 40)
        boxes.append(Box(f"thing {number}", width, depth, 0.0, 900.0, x, y, quarters, 500.0))
    plan = Plan(
        0.0, 0.0, columns * CELL + 300, rows * CELL + 300, 2700.0,
        Doorway("S", 100.0, 900.0), tuple(boxes),
    )  # fmt: skip
    return parse(plan.text(tape="3 mm"))


@contextmanager
def as_it_is():
    """Nothing changed."""
    yield


@contextmanager
def without_boxes():
    """Every plan is treated as a general polygon."""
    with mock.patch.object(Outline, "sides", return_value=None):
        yield


METHODS = {
    "as it is": as_it_is,
    "boxes as polygons": without_boxes,
}


def best_of(repeats, task):
    """Least processor time of a few runs [s]."""
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        task()
        times.append(time.process_time() - begin)
    return min(times)


def row(case, method, seeds, seconds, values):
    """One row of the result."""
    return {
        "case": case,
        "method": method,
        "seeds": list(seeds),
        "seconds": seconds,
        "values": values,
        "median": median(values),
    }


SMALL = {"sizes": (5, 10), "seeds": 1, "repeats": 1}
"""The budget that `all` gives it."""


def run(sizes=(5, 10, 15, 30, 60), seeds=2, repeats=2):
    """Seconds a judgement by number of things, by method and by check."""
    rows = []
    for size in sizes:
        files = [shop(size, seed) for seed in range(seeds)]
        for name, method in METHODS.items():
            begin, values = time.perf_counter(), []
            for file in files:
                with method():
                    values.append(best_of(repeats, lambda f=file: judge(f.shop, f.layout)))
            seconds = time.perf_counter() - begin
            rows.append(row(f"{size} things", name, range(seeds), seconds, values))
        for name, check in CHECKS:
            begin = time.perf_counter()
            values = [
                best_of(repeats, lambda f=file, c=check: c(scene(f.shop, f.layout)))
                for file in files
            ]
            seconds = time.perf_counter() - begin
            rows.append(row(f"{size} things", f"check: {name}", range(seeds), seconds, values))
    return {"name": "check", "rows": rows}
