"""Replaying a path: proof, apart from the planner, that straight steps between poses hit nothing.

Within a step position and angle change in proportion. Every step is enclosed in one convex hull;
where that hull touches a solid the step is halved, until all hulls are clear or a pose itself
is not. The solids are the user's own polygons, not the planner's convex pieces.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body, Pose
from floorplan.units import TOLERANCE

_MOST_HALVINGS = 16
_LAG = 0.065  # the sine lags its chord by less than this times the cube of half the turn

Steps = NDArray[np.float64]
"""(n, 3) positions [m] and angles [rad]."""


def is_clear(space: CarrySpace, body: Body, path: Sequence[Pose]) -> bool:
    """Whether the body overlaps no solid by more than the tolerance anywhere along the path."""
    return first_hit(space, body, path) is None


def first_hit(space: CarrySpace, body: Body, path: Sequence[Pose]) -> Pose | None:
    """First pose found at which a body hits a solid along the path, None if it is clear.

    A step that cannot be proved clear counts as a hit.
    """
    parts = enumerate(body.inset(TOLERANCE).parts)
    found = (_first_hit(space.met_by(number), part, path) for number, part in parts)
    return next((hit for hit in found if hit is not None), None)


def _first_hit(space: CarrySpace, slim: Body, path: Sequence[Pose]) -> Pose | None:
    """First pose found at which one convex part hits a solid."""
    poses = np.array([(p.x, p.y, p.angle) for p in path])
    hits = _hits(space, np.einsum("nij,kj->nki", _turns(poses[:, 2]), slim.outline), poses)
    if hits.any():
        return path[int(np.argmax(hits))]
    start, end = poses[:-1], poses[1:]
    for _ in range(_MOST_HALVINGS):
        doubtful = _may_hit(space, slim, start, end)
        start, end = start[doubtful], end[doubtful]
        if not len(start):
            return None
        middle = (start + end) / 2
        outlines = np.einsum("nij,kj->nki", _turns(middle[:, 2]), slim.outline)
        hits = _hits(space, outlines, middle)
        if hits.any():
            return Pose(*(float(v) for v in middle[int(np.argmax(hits))]))
        start, end = np.vstack([start, middle]), np.vstack([middle, end])
    return Pose(*(float(v) for v in start[0]))


def _turns(angles: NDArray[np.float64]) -> NDArray[np.float64]:
    c, s = np.cos(angles), np.sin(angles)
    return np.stack([np.stack([c, -s], axis=-1), np.stack([s, c], axis=-1)], axis=-2)


def _hits(space: CarrySpace, outlines: NDArray[np.float64], poses: Steps) -> NDArray[np.bool_]:
    """Whether each outline (n, k, 2), put at its pose, meets a solid."""
    return _meets(space, outlines + poses[:, None, :2], np.zeros(len(poses)))


def _may_hit(space: CarrySpace, body: Body, start: Steps, end: Steps) -> NDArray[np.bool_]:
    """Whether the hull of each step meets a solid.

    A corner u of the body moves by (d/2 + u' sin h) t + u cos(h t), -1 <= t <= 1, with d the
    step, h half its turn and u' across u; that lies in the triangle of the two ends and the
    meeting point of their tangents, up to the lag of the sine.
    """
    middle = (start + end) / 2
    step = (end - start) / 2
    half = step[:, 2, None, None]
    arm = np.einsum("nij,kj->nki", _turns(middle[:, 2]), body.outline)
    across = np.stack([-arm[..., 1], arm[..., 0]], axis=-1)
    shift = step[:, None, :2] + across * np.sin(half)
    peak = arm * (np.cos(half) + half * np.sin(half))
    points = np.concatenate([arm * np.cos(half) - shift, peak, arm * np.cos(half) + shift], axis=1)
    return _meets(space, points + middle[:, None, :2], _LAG * body.radius * np.abs(step[:, 2]) ** 3)


def _meets(
    space: CarrySpace, points: NDArray[np.float64], within: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether the hull of each row of points comes so near [m] to a solid or leaves the bounds."""
    x0, y0, x1, y1 = space.bounds
    room = np.minimum(points - (x0, y0), (x1, y1) - points).min(axis=(1, 2))
    meets: NDArray[np.bool_] = room < within
    rows = np.repeat(np.arange(len(points)), points.shape[1])
    hulls = shapely.convex_hull(shapely.multipoints(points.reshape(-1, 2), indices=rows))
    found = space.solids.query(hulls, predicate="dwithin", distance=within)
    meets[found[0]] = True
    return meets
