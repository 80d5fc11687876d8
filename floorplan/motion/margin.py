"""How much wider a body may become, or how much narrower it must be, to be carried."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from floorplan.motion.connections import MOST_HALVED, Connections, Verdict
from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body, Pose
from floorplan.motion.way import band_of
from floorplan.units import TOLERANCE

MARGIN_STEP = 0.0254 / 16
"""The margin is found to this [m]."""

_LEAST_WIDTH = 0.0254 / 32  # narrower than this a body is not asked about [m]
_MOST_HALVED = 80  # so many turns are halved for one width before it counts as too wide
_WHOLE_STEPS = 3  # bisecting steps with all angles, before those near the way found


@dataclass(frozen=True, slots=True)
class Task:
    """What stays the same while bodies of several widths are asked about."""

    space: CarrySpace
    start: Pose
    goal: Pose
    finest: float
    most: int = MOST_HALVED
    """So many turns are halved for one body before it is left open."""

    def graph(self, body: Body, band: list[float] | None = None) -> Connections:
        """Return the graph of a body, not yet refined, over all angles or within a band."""
        # Half of the tolerance for the planner leaves the other half to the replay.
        slim = body.inset(TOLERANCE / 2)
        return Connections(self.space, slim, self.start, self.goal, band)

    def connect(self, body: Body, band: list[float] | None = None) -> tuple[Connections, Verdict]:
        """Return the refined graph and its verdict."""
        graph = self.graph(body, band)
        return graph, graph.decide(self.finest, self.most)


def largest_extra(
    task: Task, body: Body, known: Connections | None
) -> tuple[float | None, Connections | None]:
    """Largest extra width [m] for which a way is certified, and the graph that proves it.

    `known` is the proof for the body as it is, None if it does not pass. The extra is -inf if no
    width passes, None where even that was left open.
    """
    task = replace(task, most=_MOST_HALVED)
    if known is not None:
        most = _room(task, body)
        if most <= MARGIN_STEP:
            return 0.0, known
    else:
        least = _LEAST_WIDTH - body.width
        if least >= 0:
            return -math.inf, None
        graph, verdict = task.connect(body.widened(least))
        if verdict != "passes":
            return -math.inf if verdict == "fails" else None, None
        return _bisect(task, body, (least, 0.0), graph)
    graph, verdict = task.connect(body.widened(most))
    if verdict == "passes":
        return most, graph
    return _bisect(task, body, (0.0, most), known)


def _bisect(
    task: Task, body: Body, bracket: tuple[float, float], best: Connections
) -> tuple[float, Connections]:
    """Narrow the bracket: over all angles, then in the band of the best way.

    What the band finds is confirmed over all angles one step further; if that passes, another
    way is better, and the rest is found over all angles.  A band of a whole period is none.
    """
    least, most = bracket

    def attempt(extra: float, band: list[float] | None = None) -> bool:
        nonlocal least, best
        graph, verdict = task.connect(body.widened(extra), band)
        if verdict == "passes":
            least, best = extra, graph
        return verdict == "passes"

    for _ in range(_WHOLE_STEPS):
        if most - least > MARGIN_STEP and not attempt((least + most) / 2):
            most = (least + most) / 2
    band, ceiling = band_of(best, task.start, task.goal), most
    if band[-1] - band[0] < body.period:
        while ceiling - least > MARGIN_STEP:
            middle = (least + ceiling) / 2
            if not attempt(middle, band):
                ceiling = middle
        if ceiling < most and not attempt(ceiling):
            most = ceiling
    while most - least > MARGIN_STEP:
        middle = (least + most) / 2
        if not attempt(middle):
            most = middle
    return least, best


def _room(task: Task, body: Body) -> float:
    """Extra width [m] beyond which the body does not fit at the start or goal; by bisection."""

    def fits(extra: float) -> bool:
        wide = body.widened(extra).inset(TOLERANCE / 2)
        ends = (task.start, task.goal)
        return all(
            _is_clear_at(task.space.met_by(number), part, pose)
            for number, part in enumerate(wide.parts)
            for pose in ends
        )

    x0, y0, x1, y1 = task.space.bounds
    least, most = 0.0, math.hypot(x1 - x0, y1 - y0)
    while most - least > TOLERANCE:
        middle = (least + most) / 2
        least, most = (middle, most) if fits(middle) else (least, middle)
    return least


def _is_clear_at(space: CarrySpace, body: Body, pose: Pose) -> bool:
    corners = body.at(pose.angle) + np.array([pose.x, pose.y])
    x0, y0, x1, y1 = space.bounds
    if (corners < (x0, y0)).any() or (corners > (x1, y1)).any():
        return False
    return not len(space.solids.query(Polygon(corners), predicate="intersects"))
