"""Places of one thing: exact regions against a grid of judged places, and what ways out cost.

The room is 24 x 22 ft with 15 things of three pieces each; the thing to place has four pieces and
four turns. Values are seconds, and for the two ways to find the region the area they find [m2].
"""

import time

import numpy as np
import shapely
from benchmarks.run import row

from floorplan.geometry.pieces import box as box_piece
from floorplan.geometry.pieces import penetration
from floorplan.motion.free import free_region
from floorplan.search.spots import spots
from floorplan.shop.reader import parse

FOOT = 0.3048
WIDTH, DEPTH = 24 * FOOT, 22 * FOOT
THINGS = 15
STEP = 0.1


def shop_text(seed):
    """Fifteen things with a wing and a standing place each, apart, and one to be placed."""
    rng = np.random.default_rng(seed)
    lines = [
        "shop: benchmark", "units: m", "tape: 0",
        f"room: {{size: [{WIDTH}, {DEPTH}], height: 2.6}}",
        "doors: {way: {wall: south, at: 3, width: 1.2, height: 2.1, kind: opening, "
        "leads to: outside}}", "equipment:",
    ]  # fmt: skip
    taken, tries = [], 0
    while len(taken) < THINGS:
        tries += 1
        w, d = rng.uniform(0.4, 0.9), rng.uniform(0.3, 0.6)
        x, y = rng.uniform(0, WIDTH - w - 0.2), rng.uniform(0.5, DEPTH - d)
        body = shapely.box(x, y - (0.4 if tries < 2000 else 0.1), x + w + 0.2, y + d)
        if any(body.intersects(other) for other in taken):
            continue
        taken.append(body)
        lines.append(
            f"  thing {len(taken)}: {{width: {w:.3f}, depth: {d:.3f}, height: 0.9, "
            f"at: {{x: {x:.3f}, y: {y:.3f}, turn: 0}}, "
            f"parts: {{wing: {{at: [{w:.3f}, 0], size: [0.2, 0.2], bottom: 0.7, top: 0.9}}}}, "
            "zones: {work: {side: front, depth: 0.4}}}"
        )
    lines.append(
        "  bench: {width: 0.9, depth: 0.5, height: 0.85, "
        "parts: {vise: {at: [-0.15, 0], size: [0.15, 0.2], bottom: 0.6, top: 0.85}, "
        "shelf: {at: [0, 0], size: [0.9, 0.2], bottom: 0.85, top: 1.2}}, "
        "zones: {work: {side: front, depth: 0.5}}}"
    )
    return "\n".join(lines)


def pieces(seed):
    """The same task as bare boxes: four turns of four pieces among 15 x 3 and four walls."""
    rng = np.random.default_rng(seed)
    rest = []
    for _ in range(THINGS):
        x, y = rng.uniform(0, WIDTH - 0.9), rng.uniform(0, DEPTH - 0.9)
        for _ in range(3):
            w, d = rng.uniform(0.2, 0.5, 2)
            dx, dy = rng.uniform(0, 0.4, 2)
            rest.append(box_piece(x + dx, y + dy, x + dx + w, y + dy + d))
    rest += [
        box_piece(-9, -9, 0, 99), box_piece(WIDTH, -9, 99, 99),
        box_piece(-9, -9, 99, 0), box_piece(-9, DEPTH, 99, 99),
    ]  # fmt: skip
    own = [(0, 0, 0.9, 0.5), (-0.15, 0.3, 0, 0.5), (0, 0.3, 0.9, 0.5), (0, -0.5, 0.9, 0)]
    turned = []
    for turn in range(4):
        boxes = []
        for x0, y0, x1, y1 in own:
            for _ in range(turn):
                x0, y0, x1, y1 = -y1, x0, -y0, x1
            boxes.append(box_piece(x0, y0, x1, y1))
        turned.append(boxes)
    return turned, rest


def exact(turned, rest):
    """Area of all places at all turns, by exact regions [m2]."""
    conflict = np.ones((1, 1), dtype=bool)
    room = shapely.box(0, 0, WIDTH, DEPTH)
    return sum(free_region(own, rest, conflict, limits=room).area.area for own in turned)


def gridded(turned, rest):
    """The same area by asking places on a grid, each pair by separating axes [m2]."""
    xs, ys = np.arange(STEP / 2, WIDTH, STEP), np.arange(STEP / 2, DEPTH, STEP)
    count = 0
    for own in turned:
        for x in xs:
            for y in ys:
                placed = [p.at(x, y) for p in own]
                count += not any(
                    p.bounds[0] < q.bounds[2] and q.bounds[0] < p.bounds[2]
                    and p.bounds[1] < q.bounds[3] and q.bounds[1] < p.bounds[3]
                    and penetration(p.outline, q.outline) > 1e-5
                    for p in placed
                    for q in rest
                )  # fmt: skip
    return count * STEP * STEP


def timed(work, times):
    """The result and the least of some times [s]."""
    least, result = np.inf, None
    for _ in range(times):
        begin = time.perf_counter()
        result = work()
        least = min(least, time.perf_counter() - begin)
    return result, least


SMALL = {"seeds": (1,), "grid": False}
"""The budget that `all` gives it."""


def run(seeds=(1, 2), grid=True):
    """Rows: seconds and areas between pairs, then seconds of whole shops without and with ways."""
    rows = []
    bare = "4 pieces, 4 turns among 15 x 3"
    methods = [("exact regions", exact, 3)] + ([("grid of 0.1 m", gridded, 1)] if grid else [])
    for method, work, times in methods:
        found = [timed(lambda s=s, f=work: f(*pieces(s)), times) for s in seeds]
        total = sum(spent for _, spent in found)
        rows.append(row(f"{bare}, area m2", method, seeds, total, [area for area, _ in found]))
        rows.append(row(f"{bare}, seconds", method, seeds, total, [spent for _, spent in found]))
    files = {seed: parse(shop_text(seed)) for seed in seeds}
    for method, ways in (("pairs only", False), ("ways out certified", True)):
        spent, unsure = [], []
        for file in files.values():
            found, seconds = timed(
                lambda f=file, w=ways: spots(f.shop, f.layout, "bench", ways_out=w), 1
            )
            spent.append(seconds)
            unsure.append(sum(at.unsure.area for at in found.turns))
        rows.append(row("a whole shop, seconds", method, seeds, sum(spent), spent))
        rows.append(row("a whole shop, unsure m2", method, seeds, sum(spent), unsure))
    return {"name": "spots", "rows": rows}
