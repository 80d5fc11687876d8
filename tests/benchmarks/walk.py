"""Ways and walks side by side: exact gaps against erosions, tangents against a grid.

Rooms are 24 x 22 ft with 15 boxes. Errors are against the exact method on the same room; the tests
compare that one with independent references. A grid with 8 neighbours overestimates a free straight
walk by up to 1 / cos(22.5 degrees) - 1 = 8.24 %.
"""

import time
from statistics import median

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import box

from floorplan.motion.walk import Walker, passable, widest_ways

FOOT = 0.3048
BODY = 0.2
CELL = 0.05


def room(seed):
    """A shop of 15 boxes with standing places in front of them and the ground outside its door."""
    rng = np.random.default_rng(seed)
    width, depth = 24 * FOOT, 22 * FOOT
    outside = box(width - 4, -3, width, -0.12)
    floor = shapely.union_all([box(0, 0, width, depth), box(3.8, -0.12, 6.2, 0), outside])
    boxes, places = [], []
    while len(boxes) < 15:
        w, d = rng.uniform(0.4, 1.2), rng.uniform(0.4, 0.8)
        x, y = rng.uniform(0, width - w), rng.uniform(0, depth - d)
        body = box(x, y, x + w, y + d)
        if not any(body.intersects(other) for other in boxes):
            boxes.append(body)
            places.append(box(x, y - 0.6, x + w, y))
    return floor.difference(shapely.union_all(boxes)), places, outside


def by_bisection(floor, places, goal, *, precision=1e-4):
    """Widths by eroding the floor with polygonal arcs, a bisection for each place."""
    found = []
    for place in places:
        low, high = 0.0, 3.0
        while high - low > precision:
            middle = 0.5 * (low + high)
            parts = shapely.get_parts(shapely.buffer(floor, -middle / 2, quad_segs=16))
            joined = shapely.intersects(parts, place) & shapely.intersects(parts, goal)
            low, high = (middle, high) if joined.any() else (low, middle)
        found.append(low)
    return np.array(found)


def on_grid(floor, points):
    """Walks between cell centres, each with 8 neighbours, where the body fits."""
    low_x, low_y, high_x, high_y = floor.bounds
    x, y = np.arange(low_x, high_x, CELL), np.arange(low_y, high_y, CELL)
    shape = len(y), len(x)
    centres = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    eroded = shapely.buffer(floor, -BODY, quad_segs=16)
    shapely.prepare(eroded)
    free = shapely.contains_xy(eroded, centres)
    index = np.arange(len(centres)).reshape(shape)
    links = []
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        near = index[: shape[0] - dy, max(0, -dx) : shape[1] - max(0, dx)]
        far = index[dy:, max(0, dx) : shape[1] + min(0, dx)]
        links.append(np.stack([near.ravel(), far.ravel()], axis=1))
    links = np.concatenate(links)
    links = links[free[links].all(axis=1)]
    length = np.hypot(*(centres[links[:, 0]] - centres[links[:, 1]]).T)
    graph = coo_array((length, (links[:, 0], links[:, 1])), shape=(len(centres),) * 2).tocsr()
    cells = np.where(free, np.hypot(*(centres[None] - points[:, None]).transpose(2, 0, 1)), np.inf)
    nearest = cells.argmin(axis=1)
    return dijkstra(graph, directed=False, indices=nearest)[:, nearest]


def spots(floor, seed):
    """Twelve points with room for a body."""
    points = np.random.default_rng(seed).uniform(0, 6.7, size=(600, 2))
    clear = shapely.distance(shapely.boundary(floor), shapely.points(points)) > BODY + CELL
    return points[clear & shapely.contains_xy(floor, points)][:12]


def timed(work):
    """The result and the least of three times [s]."""
    least = np.inf
    for _ in range(3):
        begin = time.perf_counter()
        result = work()
        least = min(least, time.perf_counter() - begin)
    return result, least


def worst_width(found, exact):
    """Largest difference of widths [m]."""
    return float(np.abs(found - exact).max())


def worst_walk(found, exact):
    """Largest relative difference among walks that both know, beyond a metre long [-]."""
    both = np.isfinite(found) & np.isfinite(exact) & (exact > 1.0)
    return float((np.abs(found - exact)[both] / exact[both]).max(initial=0.0))


SMALL = {"seeds": (1,)}
"""The budget that `all` gives it."""


def run(seeds=(1, 2, 3, 4, 5)):
    """Rows of the benchmark: for each method its time [s] and its worst error in each room."""
    rows = {}

    def note(case, method, seconds, value):
        rows.setdefault((case, method), []).append((seconds, value))

    for seed in seeds:
        floor, places, goal = room(seed)
        ways, spent = timed(lambda f=floor, p=places, g=goal: widest_ways(f, p, g))
        exact = np.array([way.width for way in ways])
        note("widest ways, 15 starts, error in m", "gaps", spent, 0.0)
        found, spent = timed(lambda f=floor, p=places, g=goal: by_bisection(f, p, g))
        note("widest ways, 15 starts, error in m", "bisection", spent, worst_width(found, exact))
        passed, spent = timed(lambda f=floor, p=places, g=goal: passable(f, p, g, 0.61))
        wrong = int((np.array(passed) != (exact >= 0.61 - 1e-5)).sum())
        note("passable at 0.61 m, 15 starts, wrong", "two erosions", spent, wrong)
        points = spots(floor, seed)
        walker, built = timed(lambda f=floor: Walker(f, body_radius=BODY))
        walks, spent = timed(lambda w=walker, p=points: w.distances(p))
        note("walks, 12 points, relative error", "tangents", built + spent, 0.0)
        grid, spent = timed(lambda f=floor, p=points: on_grid(f, p))
        note("walks, 12 points, relative error", "grid", spent, worst_walk(grid, walks))
    return {
        "name": "walk",
        "rows": [
            {
                "case": case,
                "method": method,
                "seeds": list(seeds),
                "seconds": median(seconds for seconds, _ in results),
                "values": [value for _, value in results],
                "median": median(value for _, value in results),
            }
            for (case, method), results in rows.items()
        ],
    }
