"""Where a path is tightest: the free width across the body, measured at many poses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body, Pose

_STEP = 0.02  # farthest way of a corner between two measured poses [m]
_BESIDE = 1e-9  # an edge is beside the body only if it reaches so far over its end [m]
_UPRIGHT = 1e-12  # an edge that runs less along the body than this stands across it [m]


@dataclass(frozen=True, slots=True)
class Pinch:
    """A tight place: the pose there, the facing points of solids left and right, their gap [m].

    The gap is measured across the body, along its width, over its whole length.
    """

    pose: Pose
    left: tuple[float, float]
    right: tuple[float, float]
    gap: float
    parts: tuple[int, int] = (0, 0)
    """Numbers of the body's parts that come nearest on the left and on the right."""


def tightest(space: CarrySpace, body: Body, path: Sequence[Pose]) -> Pinch:
    """Return the place on the path with the least free width across the body."""
    poses = _dense(path, body.radius)
    rows = np.arange(len(poses))
    points = [
        _facing(*_boundary(space.met_by(number)), part, poses)
        for number, part in enumerate(body.parts)
    ]
    left, right = (np.array([pair[side] for pair in points]) for side in (0, 1))
    limits = np.array([part.across for part in body.parts])
    over = left[:, :, 1] - limits[:, 1, None]
    under = limits[:, 0, None] - right[:, :, 1]
    nearest = over.argmin(axis=0), under.argmin(axis=0)
    k = int(np.argmin(over[nearest[0], rows] + under[nearest[1], rows]))
    i, j = int(nearest[0][k]), int(nearest[1][k])
    pose = Pose(*(float(v) for v in poses[k]))
    ends = _outward(left[i, k], pose), _outward(right[j, k], pose)
    return Pinch(pose, *ends, float(left[i, k, 1] - right[j, k, 1]), (i, j))


def _dense(path: Sequence[Pose], radius: float) -> NDArray[np.float64]:
    """(n, 3) poses along straight steps, no corner moving farther than a step between two."""
    rows = [np.array([[path[0].x, path[0].y, path[0].angle]])]
    for a, b in pairwise(path):
        start, end = np.array([a.x, a.y, a.angle]), np.array([b.x, b.y, b.angle])
        reach = math.hypot(b.x - a.x, b.y - a.y) + radius * abs(b.angle - a.angle)
        share = np.linspace(0, 1, max(2, math.ceil(reach / _STEP) + 1))[1:, None]
        rows.append(start + (end - start) * share)
    return np.vstack(rows)


def _boundary(space: CarrySpace) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(n, 2) starts and ends of all edges of solids and of the bounds [m]."""
    rings = [shapely.get_coordinates(shapely.box(*space.bounds))]
    for part in shapely.get_parts(space.solids.geometries):
        if part.geom_type == "Polygon":
            rings += [shapely.get_coordinates(ring) for ring in shapely.get_rings(part)]
    return np.vstack([r[:-1] for r in rings]), np.vstack([r[1:] for r in rings])


def _facing(
    starts: NDArray[np.float64], ends: NDArray[np.float64], body: Body, poses: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(n, 2) nearest points of solids left and right of a part's middle, in the body's frame.

    Of each edge the stretch beside the body counts; its two ends are the candidates.
    """
    c, s = np.cos(poses[:, 2]), np.sin(poses[:, 2])
    frames = np.stack([np.stack([c, -s], axis=-1), np.stack([s, c], axis=-1)], axis=-2)
    a = (starts - poses[:, None, :2]) @ frames
    b = (ends - poses[:, None, :2]) @ frames
    low = min(x for x, _ in body.corners) + _BESIDE
    high = max(x for x, _ in body.corners) - _BESIDE
    run = b[..., 0] - a[..., 0]
    upright = np.abs(run) <= _UPRIGHT
    run[upright] = 1.0
    to_low, to_high = (low - a[..., 0]) / run, (high - a[..., 0]) / run
    first = np.where(upright, 0.0, np.clip(np.minimum(to_low, to_high), 0, 1))
    last = np.where(upright, 1.0, np.clip(np.maximum(to_low, to_high), 0, 1))
    beside = np.where(upright, (a[..., 0] > low) & (a[..., 0] < high), last > first)
    points = np.concatenate([a + (b - a) * t[..., None] for t in (first, last)], axis=1)
    y = np.where(np.concatenate([beside, beside], axis=1), points[..., 1], np.nan)
    rows = np.arange(len(poses))
    middle = sum(body.across) / 2
    left = np.where(y > middle, y, np.inf).argmin(axis=1)
    right = np.where(y <= middle, y, -np.inf).argmax(axis=1)
    return points[rows, left], points[rows, right]


def _outward(point: NDArray[np.float64], pose: Pose) -> tuple[float, float]:
    c, s = math.cos(pose.angle), math.sin(pose.angle)
    x, y = point
    return (float(pose.x + c * x - s * y), float(pose.y + s * x + c * y))
