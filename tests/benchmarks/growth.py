"""How the time grows with what a shop is made of: one thing is counted up, the rest stays.

Values are processor seconds: `check` is one judgement, `search` a search of one effort for layouts
that keep every rule, without judging what it found, `spots` everywhere that one thing can stand,
`moves` the order in which things go that are each moved a little, `carry` one sheet carried between
two corners.
Each table ends with the slope of the logarithms over the upper half of its counts, where what does
not grow weighs least: 1 is in proportion, 2 the square.
"""

import time
from random import Random

import numpy as np
from benchmarks.run import row
from benchmarks.sheet import SHEET, crowded

from floorplan.checks.judge import judge
from floorplan.motion.carry import CarrySpace, carry
from floorplan.search.arrange import LEVELS, Run
from floorplan.search.relocation import relocate
from floorplan.search.spots import spots
from floorplan.shop.model import Layout, Pose
from floorplan.shop.reader import parse

CELL = 1700
"""Width of the square in which a thing stands with its standing place [mm]."""
THINGS = 8
"""Things in the shops in which something else is counted up."""
AWAY = 0.15
"""How far each thing is moved [m]."""


def shop(things=THINGS, *, seed=0, corners=4, slanted_walls=0, slanted=0, obstacles=0):
    """A shop as a file; half of its floor is free where obstacles are asked for.

    `corners` makes square notches in its north wall, `slanted_walls` teeth no two of which have
    one angle; `slanted` things stand at odd angles, each at its own.
    """
    random = Random(seed)
    cells = 2 * things if obstacles else things
    columns = max(2, round(cells**0.5))
    width, depth = columns * CELL + 300, -(-cells // columns) * CELL + 300
    lines = [
        "shop: a generated shop", "units: mm", "tape: 3 mm",
        f"room: {{corners: {_outline(width, depth, corners, slanted_walls)}, height: 2700}}",
        "doors: {way: {wall: south, at: 100, width: 900, clear width: 900, height: 2100, "
        "kind: opening, leads to: outside}}",
        "equipment:",
    ]  # fmt: skip
    for number in range(things):
        row_of, column = divmod(number, columns)
        x = column * CELL + 10 * random.randint(20, 40)
        y = row_of * CELL + 10 * random.randint(20, 40)
        angle = 5 + 80 * number / things if number < slanted else 0
        turns = ", ".join(f"{angle + 90 * quarter:.3f}" for quarter in range(4))
        lines.append(
            f"  thing {number}: {{width: {10 * random.randint(60, 110)}, "
            f"depth: {10 * random.randint(40, 70)}, height: 900, turns: [{turns}], "
            "zones: {front: {side: front, depth: 500, purpose: stand}}, "
            f"at: {{x: {x}, y: {y}, turn: {angle:.3f}}}}}"
        )
    if obstacles:
        lines += ["fixed:", *_posts(obstacles, random, width, things // columns * CELL, depth)]
    return "\n".join(lines) + "\n"


def _posts(count, random, width, south, north):
    """So many posts on a jittered raster between two walls and two lines."""
    columns = round((count * width / (north - south)) ** 0.5)
    across, along = width / columns, (north - south) / -(-count // columns)
    for number in range(count):
        x = (number % columns + random.uniform(0.1, 0.4)) * across
        y = south + (number // columns + random.uniform(0.1, 0.4)) * along
        size = f"width: {random.randint(60, 200)}, depth: {random.randint(60, 200)}, height: 2700"
        yield f"  post {number}: {{{size}, at: {{x: {x:.0f}, y: {y:.0f}}}}}"


def _outline(width, depth, corners, slanted_walls):
    """Corners of the room, counter-clockwise from the south-west."""
    points = [(0, 0), (width, 0), (width, depth)]
    notches, teeth = (corners - 4) // 4, slanted_walls // 2
    step = width / (2 * notches + 1) if notches else width / max(teeth, 1)
    for number in range(notches):
        east = width - (2 * number + 1) * step
        points += [(east, depth), (east, depth + 100), (east - step, depth + 100)]
        points.append((east - step, depth))
    for number in range(teeth):
        east = width - number * step
        points.append((east - step / 2, depth + 100 + 100 * number / teeth))
        if number < teeth - 1:
            points.append((east - step, depth))
    points.append((0, depth))
    return "[" + ", ".join(f"[{x:.1f}, {y:.1f}]" for x, y in points) + "]"


def check(file, seed, effort):
    """One judgement."""
    return lambda: judge(file.shop, file.layout)


def search(file, seed, effort):
    """A search at the strictest demands."""
    one = Run(file.shop, file.layout, seed, effort, None, 3, None, None)
    return lambda: one._search(one._question(LEVELS[0][0]))


def places(file, seed, effort):
    """Everywhere the first thing can stand."""
    return lambda: spots(file.shop, file.layout, "thing 0")


def order(file, seed, effort):
    """In what order everything is moved a little to the east."""
    poses = file.layout.poses.items()
    wanted = Layout({key: Pose(p.x + AWAY, p.y, p.turn) for key, p in poses})
    return lambda: relocate(file.shop, file.layout, wanted)


def spent(task):
    """Processor seconds of a task."""
    begin = time.process_time()
    task()
    return time.process_time() - begin


COUNTS = {
    "things": (5, 10, 20, 40),
    "things moved": (2, 4, 8),
    "corners": (4, 8, 16, 32, 64),
    "slanted_walls": (2, 4, 8, 16, 32),
    "slanted": (1, 2, 4, 8),
    "obstacles": (5, 10, 20, 40),
    "effort": (250, 500, 1000, 2000),
}
"""What is counted up, and how far."""

HEAD = "| counted up | what | counts | CPU s | slope |\n|---|---|---|---|--:|"
LABELS = {
    "things": "things",
    "things moved": "things moved",
    "corners": "corners of the room",
    "slanted_walls": "walls at angles of their own",
    "slanted": "things at angles of their own",
    "obstacles": "obstacles",
    "effort": "items put back",
}


def slope(counts, seconds):
    """Slope of log(seconds) over log(count), fitted to the upper half of the counts."""
    upper = slice(-(len(counts) // 2 + 1), None)
    return float(np.polyfit(np.log(counts[upper]), np.log(seconds[upper]), 1)[0])


def grown(label, method, counts, seeds, task):
    """Rows of one table, seconds at each count and then the slope; and all of it in one line."""
    rows = []
    for count in counts:
        times = [spent(task(count, seed)) for seed in seeds]
        rows.append(row(f"{count} {label}", f"{method}, CPU s", seeds, sum(times), times))
    medians = [each["median"] for each in rows]
    found = slope(counts, medians)
    line = (
        f"| {label} | {method} | {' / '.join(str(count) for count in counts)} | "
        f"{' / '.join(format(seconds, '.2g') for seconds in medians)} | {found:.1f} |"
    )
    return [*rows, row(f"{label}: log-log slope", method, seeds, 0.0, [found])], line


def carried(count, seed):
    """One sheet carried past so many boxes, as dense whatever the count."""
    room, solids, start, goal = crowded(count, seed)
    space = CarrySpace(room, solids)
    return lambda: carry(space, SHEET, start=start, goal=goal, margin=False)


def work(what, method, effort):
    """The task of one count and seed."""

    def task(count, seed):
        given = {} if what == "effort" else {what.partition(" ")[0]: count}
        file = parse(shop(seed=seed, **given))
        return method(file, seed, count if what == "effort" else effort)

    return task


def tasks(what, effort):
    """What is measured while something is counted up: its name and how to make it."""
    named = {"check": check, "search": search}
    if what == "things":
        named["spots"] = places
    if what == "things moved":
        named = {"moves": order}
    if what == "effort":
        del named["check"]
    made = {name: work(what, method, effort) for name, method in named.items()}
    return made | ({"carry": carried} if what == "obstacles" else {})


SMALL = {"seeds": 1, "effort": 60, "most": 2}
"""The budget that `all` gives it."""


def run(seeds=2, effort=200, most=None, what=None):
    """A table for each of `what` (all if not given), of its first `most` counts."""
    numbers = range(1, int(seeds) + 1)
    rows, lines = [], [HEAD]
    first = parse(shop(3))
    judge(first.shop, first.layout)  # so that imports are not measured
    for name in COUNTS if what is None else what.split(","):
        for method, task in tasks(name, effort).items():
            more, line = grown(LABELS[name], method, COUNTS[name][:most], numbers, task)
            rows += more
            lines.append(line)
    return {"name": "growth", "rows": rows, "short": "\n".join(lines)}
