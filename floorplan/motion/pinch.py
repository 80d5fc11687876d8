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

    The gap is measured across the body, along its width, over its whole length; where a body has
    several parts, across and over the length of the one that has least to spare.
    """

    pose: Pose
    left: tuple[float, float]
    right: tuple[float, float]
    gap: float
    part: int = 0
    """Number of the part that the gap is measured across."""


def tightest(space: CarrySpace, body: Body, path: Sequence[Pose]) -> Pinch:
    """Return the place on the path with the least free width across the body."""
    poses, boundary = _dense(path, body.radius), _boundary(space)
    found = [_tightest_of(boundary, part, poses, k) for k, part in enumerate(body.parts)]
    return min(found, key=lambda pinch: pinch.gap - body.parts[pinch.part].width)


def _tightest_of(
    boundary: tuple[NDArray[np.float64], NDArray[np.float64]],
    part: Body,
    poses: NDArray[np.float64],
    number: int,
) -> Pinch:
    left, right = _facing(*boundary, part, poses)
    gaps = left[:, 1] - right[:, 1]
    k = int(np.argmin(gaps))
    pose = Pose(*(float(v) for v in poses[k]))
    ends = _outward(left[k], pose), _outward(right[k], pose)
    return Pinch(pose, *ends, float(gaps[k]), number)


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
    middle = (min(v for _, v in body.corners) + max(v for _, v in body.corners)) / 2
    left = np.where(y > middle, y, np.inf).argmin(axis=1)
    right = np.where(y <= middle, y, -np.inf).argmax(axis=1)
    return points[rows, left], points[rows, right]


def _outward(point: NDArray[np.float64], pose: Pose) -> tuple[float, float]:
    c, s = math.cos(pose.angle), math.sin(pose.angle)
    x, y = point
    return (float(pose.x + c * x - s * y), float(pose.y + s * x + c * y))
