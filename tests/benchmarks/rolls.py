"""The roll of one thing across a shop of 10 to 80 others: how long its certified answer takes.

Rooms grow with the number of boxes, so that they are as crowded.  The cart goes from the south-west
corner to the north-east one; in the shut rooms a row of boxes from wall to wall has gaps that are
5 cm too narrow for it.  Values are 1 where the answer is sure and as it must be, seconds are of the
processor.
"""

import time
from statistics import median

import numpy as np

from floorplan.checks.rolling import check, rolls_of
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

CART = (700, 500)
"""Width and depth of the cart [mm]."""
EACH = 3.2e6
"""Floor for each box [mm2]."""


def shop(count, seed, *, shut):
    """A shop file with so many boxes, none of them in a corner that the cart needs."""
    rng = np.random.default_rng(seed)
    side = int(max((count * EACH) ** 0.5, 5000))
    boxes = list(_row(side)) if shut else []
    kept = [(0, 0, 1600, 1600), (side - 1600, side - 1600, side, side)]
    while len(boxes) < count:
        w, d = (int(v) for v in rng.integers(300, 900, 2))
        x, y = (int(v) for v in rng.integers(0, (side - w, side - d)))
        if not any(_meet((x, y, x + w, y + d), other) for other in (*kept, *boxes)):
            boxes.append((x, y, x + w, y + d))
    lines = [
        "shop: rolls", "units: metric", "tape: 0",
        f"room: {{size: [{side} mm, {side} mm], height: 2700 mm}}", "equipment:",
        f"  cart: {{width: {CART[0]} mm, depth: {CART[1]} mm, height: 900 mm,"
        f" at: {{x: 100 mm, y: 900 mm}},"
        f" parked: {{x: {side - 900} mm, y: {side - 700} mm}}}}",
    ]  # fmt: skip
    for i, (west, south, east, north) in enumerate(boxes):
        lines.append(
            f"  box {i}: {{width: {east - west} mm, depth: {north - south} mm, height: 900 mm,"
            f" at: {{x: {west} mm, y: {south} mm}}}}"
        )
    return "\n".join([*lines, "tasks: {night: {parked: [cart]}}", ""])


def _row(side):
    """Boxes across the room, gaps of 450 mm between them, the last to the wall."""
    x, y = 0, side // 2
    while x < side:
        east = min(x + 900, side)
        yield x, y, east if side - east >= 300 else side, y + 400
        x = (east if side - east >= 300 else side) + 450


def _meet(one, other):
    return min(one[2], other[2]) > max(one[0], other[0]) and min(one[3], other[3]) > max(
        one[1], other[1]
    )


def answer(text, *, margin):
    """Verdict of the cart's roll and the processor's time [s]; `margin`: with what is left over."""
    file = parse(text)
    made = scene(file.shop, file.layout)
    begin = time.process_time()
    if margin:
        verdict = check(made).findings[0].verdict
    else:
        verdict = rolls_of(made, file.shop.task("night")).rolls[0].passage.verdict
    return verdict, time.process_time() - begin


SMALL = {"counts": (10, 40), "seeds": (1,)}
"""The budget that `all` gives it."""


def run(counts=(10, 20, 40, 80), seeds=(1, 2, 3)):
    """Rows for each number of boxes: open and shut rooms, the bare answer and with its margin."""
    rows = []
    for count in counts:
        for shut in (False, True):
            for margin in (False, True):
                found = [answer(shop(count, seed, shut=shut), margin=margin) for seed in seeds]
                wanted = ("fails",) if shut else ("passes",)
                values = [float(verdict in wanted) for verdict, _ in found]
                rows.append(
                    {
                        "case": f"{count} boxes, {'shut' if shut else 'open'}",
                        "method": "with what is left over" if margin else "whether it rolls",
                        "seeds": list(seeds),
                        "seconds": median(seconds for _, seconds in found),
                        "values": values,
                        "median": median(values),
                    }
                )
    return {"name": "rolls", "rows": rows}
