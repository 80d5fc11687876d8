"""Carrying a sheet side by side: certified slices against planners that sample poses.

CPU seconds to an answer in the garage with three queries, the last without a way; whether the
path touches a solid when it is replayed finely (1 yes, 0 no); how near the largest length round a
corner comes to its closed form; and how the time grows with the number of obstacles. The sampling
planners look at poses a hundredth of the space apart, their own default, and ask the same polygon
library whether a pose is free.
"""

import json
import math
import time
from pathlib import Path

import numpy as np
from benchmarks.run import row
from shapely import affinity, prepare, union_all
from shapely.geometry import Polygon, box

from floorplan.motion.carry import Body, CarrySpace, Pose, carry
from floorplan.motion.replay import is_clear

try:
    from ompl import base, geometric, util
except ImportError:  # the bench extra is not installed
    base = None
else:
    util.setLogLevel(util.LogLevel.LOG_ERROR)
    util.RNG.setSeed(1)  # once for the whole run, so that the runs differ

INCH = 0.0254
GARAGE = json.loads((Path(__file__).parents[1] / "data" / "sheet_path_garage.json").read_text())
SHEET = Body.rectangle(GARAGE["sheet"][0] * INCH, GARAGE["sheet"][1] * INCH)
SAMPLERS = ("RRTConnect", "PRM")


def inches(*corners):
    """Return a box whose corners are in inches."""
    return box(*(v * INCH for v in corners))


def pose(x, y, degrees):
    """Return a pose in inches and degrees."""
    return Pose(x * INCH, y * INCH, math.radians(degrees))


def garage(query):
    """Workspace, obstacles, start and goal."""
    asked = GARAGE["queries"][query]
    blocks = list(GARAGE["obstacles_x0_y0_x1_y1"])
    if "replace" in asked:
        blocks[asked["replace"]["obstacle"]] = asked["replace"]["with"]
    solids = [inches(*block) for block in blocks]
    return inches(0, 0, *GARAGE["room"]), solids, pose(*GARAGE["start"]), pose(*asked["goal"])


def timed(work):
    """Result and CPU seconds of a call."""
    begin = time.process_time()
    result = work()
    return result, time.process_time() - begin


def certified(query, runs, margin):
    """Seconds, verdict and path of each run, the preparing of the space included."""
    room, solids, start, goal = garage(query)
    for _ in range(runs):
        found, seconds = timed(
            lambda: carry(CarrySpace(room, solids), SHEET, start=start, goal=goal, margin=margin)
        )
        yield seconds, found.verdict, found.path


def sampled(query, method, seeds, limit, resolution):
    """Seconds, verdict and path of each seed; `unsure` when the time is up."""
    room, solids, start, goal = garage(query)
    blocked = union_all(solids)
    prepare(blocked)
    outline = Polygon(SHEET.corners)
    for _ in seeds:
        setup = _setup(room, lambda p: _is_free(room, blocked, outline, p), resolution)
        setup.setStartAndGoalStates(*(_state(setup, p) for p in (start, goal)))
        setup.setPlanner(getattr(geometric, method)(setup.getSpaceInformation()))
        _, seconds = timed(lambda setup=setup: setup.solve(limit))
        path = ()
        if setup.haveExactSolutionPath():
            states = setup.getSolutionPath().getStates()
            path = _unwound([Pose(s.getX(), s.getY(), s.getYaw()) for s in states])
        yield seconds, "passes" if path else "unsure", path


def _is_free(room, blocked, outline, state):
    turned = affinity.rotate(outline, state.getYaw(), (0, 0), use_radians=True)
    placed = affinity.translate(turned, state.getX(), state.getY())
    return room.covers(placed) and not blocked.intersects(placed)


def _setup(room, is_free, resolution):
    space = base.SE2StateSpace()
    bounds = base.RealVectorBounds(2)
    for axis, (low, high) in enumerate(zip(room.bounds[:2], room.bounds[2:], strict=True)):
        bounds.setLow(axis, low)
        bounds.setHigh(axis, high)
    space.setBounds(bounds)
    setup = geometric.SimpleSetup(space)
    setup.setStateValidityChecker(is_free)
    setup.getSpaceInformation().setStateValidityCheckingResolution(resolution)
    return setup


def _state(setup, at):
    state = setup.getStateSpace().allocState()
    state.setXY(at.x, at.y)
    state.setYaw(at.angle)
    return state


def _unwound(path):
    """Angles without jumps by a full turn, so that straight steps go the short way round."""
    angles = np.unwrap([p.angle for p in path])
    return tuple(Pose(p.x, p.y, float(a)) for p, a in zip(path, angles, strict=True))


def answer_rows(query, method, seeds, answers):
    """Return the rows of one method: seconds to an answer, and paths that touch something."""
    room, solids, *_ = garage(query)
    space = CarrySpace(room, solids)
    answers = list(answers)
    spent = sum(seconds for seconds, *_ in answers)
    times = [None if verdict == "unsure" else seconds for seconds, verdict, _ in answers]
    touching = [int(not is_clear(space, SHEET, path)) for *_, path in answers if path]
    verdicts = sorted({verdict for _, verdict, _ in answers})
    return [
        row(f"{query}: seconds to an answer", method, seeds, spent, times)
        | {"verdicts": verdicts, "answered": sum(value is not None for value in times)},
        row(f"{query}: paths that touch", method, seeds, 0.0, touching),
    ]


def corner_row(a, b, width):
    """How far [%] the largest length found lies below the closed form."""
    t = np.linspace(1e-3, math.pi / 2 - 1e-3, 400_001)
    limit = ((a * np.sin(t) + b * np.cos(t) - width) / (np.sin(t) * np.cos(t))).min()
    far = 400
    floor = np.array([(0, 0), (far, 0), (far, b), (a, b), (a, far), (0, far)]) * INCH
    space = CarrySpace(Polygon(floor))
    ends = {"start": pose(a / 2, 280, 90), "goal": pose(280, b / 2, 0)}

    def largest():
        low, high = max(a, b), 2 * (a + b)
        while high - low > 2e-4 * limit:
            middle = (low + high) / 2
            body = Body.rectangle(middle * INCH, width * INCH)
            passes = carry(space, body, margin=False, **ends).verdict == "passes"
            low, high = (middle, high) if passes else (low, middle)
        return low

    length, seconds = timed(largest)
    return row(
        f"corner {a} x {b}, sheet {width} wide: % below", "certified slices", [0], seconds,
        [100 * (1 - length / limit)],
    )  # fmt: skip


def crowded(count, seed):
    """Square room with boxes, as many to the area whatever the count, and two free corners."""
    rng = np.random.default_rng(seed)
    side = 300 * math.sqrt(count / 10)
    ends = pose(60, 60, 90), pose(side - 60, side - 60, 20)
    solids = []
    while len(solids) < count:
        low, size = rng.uniform(0, side, 2), rng.uniform(6, 40, 2)
        solid = affinity.rotate(inches(*low, *(low + size)), rng.uniform(0, 90))
        near = (math.dist((p.x, p.y), solid.centroid.coords[0]) for p in ends)
        if min(near) > 80 * INCH:
            solids.append(solid)
    return inches(0, 0, side, side), solids, *ends


def growth_rows(seeds):
    """Seconds for each number of obstacles, and the slope of their logarithms."""
    counts, rows = (10, 20, 40, 80), []
    for count in counts:
        times = []
        for seed in seeds:
            room, solids, start, goal = crowded(count, seed)
            space = CarrySpace(room, solids)
            find = {"start": start, "goal": goal, "margin": False}
            times.append(timed(lambda s=space, f=find: carry(s, SHEET, **f))[1])
        case = f"{count} obstacles: seconds to an answer"
        rows.append(row(case, "certified slices", seeds, sum(times), times))
    medians = [r["median"] for r in rows]
    slope = float(np.polyfit(np.log(counts), np.log(medians), 1)[0])
    return [
        *rows,
        row("10 to 80 obstacles: log-log slope", "certified slices", seeds, 0.0, [slope]),
    ]


SMALL = {"runs": 2, "limit": 1.0, "scenes": 2}
"""The budget that `all` gives it."""


def run(runs=10, limit=2.0, resolution=0.01, scenes=5):
    """Measure; `limit` [s] is for each run of a sampling planner, `resolution` its own share."""
    rows, seeds = [], range(1, runs + 1)
    for query in GARAGE["queries"]:
        for method, margin in (("certified slices", False), ("certified slices, margin", True)):
            rows += answer_rows(query, method, seeds, certified(query, runs, margin))
        for method in SAMPLERS if base else ():
            answers = sampled(query, method, seeds, limit, resolution)
            rows += answer_rows(query, method, seeds, answers)
    rows += [corner_row(48, 48, 24), corner_row(36, 60, 0.75), corner_row(36, 48, 30)]
    return {"name": "sheet", "rows": rows + growth_rows(range(scenes))}
