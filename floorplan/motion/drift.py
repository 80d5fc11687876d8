"""Which way a body should drift while it turns, so that its tightest gaps stay as they are.

A body that turns in place loses clearance in the first order of the angle at contacts off its
middle; with the right drift it loses only in the second. A gap with unit normal n (from solid to
body) at the body's point c changes by n . (v + c turned a quarter) for each radian; the drift v
that keeps the tightest gaps, weighted by tightness, is a small least-squares problem.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body

_PLACES = 2  # where two parts overlap at most this many places are tried
_LEAST_GAP = 1e-4  # gaps are not told apart below this [m]


def drifts(
    space: CarrySpace, body: Body, middle: float, half: float, parts: tuple[Polygon, Polygon]
) -> Iterator[tuple[float, float]]:
    """Yield drifts [m/rad] worth a try for the turn between two parts of free positions [m]."""
    for place in _places(parts):
        # Half-way the body may stick into a solid by the second order of the turn.
        slim = body.inset(body.radius * half**2)
        rows = [
            _gaps(space.met_by(number), outline + place)
            for number, outline in enumerate(slim.all_at(middle))
        ]
        points, normals, gaps = (np.concatenate(column) for column in zip(*rows, strict=True))
        near = gaps <= gaps.min(initial=np.inf) + 2 * body.radius * half
        if not near.any():
            continue
        arm = points[near] - place
        weight = 1 / (gaps[near] + _LEAST_GAP)
        across = np.column_stack([-arm[:, 1], arm[:, 0]])
        rate = np.einsum("ij,ij->i", normals[near], across)
        v, *_ = np.linalg.lstsq(normals[near] * weight[:, None], -rate * weight, rcond=1e-6)
        yield float(v[0]), float(v[1])
    yield 0.0, 0.0


def _places(parts: tuple[Polygon, Polygon]) -> list[NDArray[np.float64]]:
    """Positions about which the turn from one part to the other must happen [m]."""
    common = shapely.get_parts(shapely.intersection(*parts))
    common = common[shapely.area(common) > 0]
    if not len(common):
        line = shapely.shortest_line(*parts)
        return [shapely.get_coordinates(line).mean(axis=0)]
    largest = common[np.argsort(-shapely.area(common), kind="stable")[:_PLACES]]
    return list(shapely.get_coordinates(shapely.point_on_surface(largest)))


def _gaps(
    space: CarrySpace, corners: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Body points, normals away from the solid, and widths [m] of the gaps round a body."""
    x0, y0, x1, y1 = space.bounds
    inward = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    reach = corners @ inward.T
    points = corners[reach.argmin(axis=0)]
    gaps = reach.min(axis=0) - np.array([x0, y0, -x1, -y1])
    lines = shapely.shortest_line(Polygon(corners), space.pieces)
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    away = ends[:, 0] - ends[:, 1]
    width = np.hypot(away[:, 0], away[:, 1])
    apart = width > 0
    return (
        np.vstack([points, ends[apart, 0]]),
        np.vstack([inward, away[apart] / width[apart, None]]),
        np.concatenate([gaps, width[apart]]),
    )
