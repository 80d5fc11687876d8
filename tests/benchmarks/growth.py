"""How the work grows: with things, corners of the room, slanted things, effort and things moved.

Every case is one family of invented shops in which one number grows and all else stays. Values are
CPU seconds, the best of a few runs; the last row of a family is the slope of their logarithms: 1 is
in proportion, 2 by the square.
"""

import math
import time

import numpy as np
from benchmarks.run import row

from floorplan.checks.judge import judge
from floorplan.search.arrange import arrange
from floorplan.search.relocation import relocate
from floorplan.search.spots import spots
from floorplan.shop.reader import parse

CELL = 1700


def shop(things, *, notches=0, slant=0.0, shift=0, slanted=None):
    """A shop in mm: things on a raster with a standing place each, notches in its north wall.

    `slant` turns every thing, or the first `slanted` of them [deg]; `shift` moves each east [mm].
    """
    columns = max(3, round(things**0.5))
    rows = -(-things // columns)
    width, depth = columns * CELL + 400, rows * CELL + 400
    corners = [(0, 0), (width, 0), (width, depth)]
    step = width / (2 * notches + 1)
    for n in range(notches):  # from east to west: 100 mm deep piers between
        east, west = width - (2 * n + 1) * step, width - (2 * n + 2) * step
        corners += [(east, depth), (east, depth - 100), (west, depth - 100), (west, depth)]
    corners.append((0, depth))
    lines = [
        "shop: growth",
        "units: mm",
        "tape: 3 mm",
        f"room: {{corners: {[[round(x, 1), round(y, 1)] for x, y in corners]}, height: 2700}}",
        "doors: {door: {wall: south, at: 100, width: 900, clear width: 850, height: 2000,"
        " leads to: outside, kind: opening}}",
        "equipment:",
    ]
    for n in range(things):
        x, y = (n % columns) * CELL + 300 + shift, (n // columns) * CELL + 700
        turn = slant if slanted is None or n < slanted else 0.0
        lines.append(
            f"  t{n}: {{width: {700 + 40 * (n % 5)}, depth: {450 + 30 * (n % 3)}, height: 900, "
            f"may: move and turn, at: {{x: {x}, y: {y}, turn: {turn}}}, "
            "zones: {stand: {side: front, depth: 500, purpose: stand}}}"
        )
    return parse("\n".join(lines) + "\n")


def best_of(repeats, work):
    """Least CPU seconds of a few runs."""
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def family(name, method, numbers, work, repeats):
    """Rows of one family and the slope of their logarithms."""
    begin = time.perf_counter()
    seconds = [best_of(repeats, work(number)) for number in numbers]
    rows = [
        row(f"{number} {name}", method, range(repeats), each, [each])
        for number, each in zip(numbers, seconds, strict=True)
    ]
    slope = float(np.polyfit(np.log(numbers), np.log(seconds), 1)[0])
    spent = time.perf_counter() - begin
    return [*rows, row(f"{name}: log-log slope", method, range(repeats), spent, [slope])]


def judged(file):
    """The whole judgement of a shop as it stands, made anew."""
    return lambda: judge(file.shop, file.layout)


def moved(things):
    """The order in which things, each moved a little, go one after the other."""
    today, wanted = shop(things), shop(things, shift=150)
    return lambda: relocate(today.shop, today.layout, wanted.layout)


def searched(effort):
    """A search among eight things, with this effort."""
    file = shop(8)
    return lambda: arrange(file.shop, file.layout, effort=effort)


def placed(things):
    """Everywhere one thing can stand among others."""
    file = shop(things)
    return lambda: spots(file.shop, file.layout, "t0")


SMALL = {"largest": 10, "repeats": 1}
"""The budget that `all` gives it."""


def run(largest=40, repeats=2):
    """Seconds and slopes of each family, up to so many things."""
    counts = [n for n in (5, 10, 20, 40, 80) if n <= largest]
    few = [n for n in (2, 4, 8) if n <= largest]
    corners = [4 * n + 4 for n in (1, 2, 4, 8, 16)]
    slants = [1, 2, 4, 8]
    rows = family("things", "check", counts, lambda n: judged(shop(n)), repeats)
    rows += family("things", "spots", counts, placed, repeats)
    rows += family(
        "corners of the room", "check of 10 things", corners,
        lambda n: judged(shop(10, notches=n // 4 - 1)), repeats,
    )  # fmt: skip
    rows += family(
        "slanted of 8 things", "check", slants,
        lambda n: judged(shop(8, slant=20.0, slanted=n)), repeats,
    )  # fmt: skip
    rows += family("things moved", "moves", few, moved, repeats)
    rows += family("effort", "arrange, 8 things", [50, 100, 200, 400], searched, repeats)
    assert all(math.isfinite(value) for each in rows for value in each["values"])
    return {"name": "growth", "rows": rows}
