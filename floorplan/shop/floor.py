"""The floor as it was surveyed, and the levelling feet of what stands on it.

A rod stood on the floor is read against one level line: the larger the reading, the lower the
floor.  Only differences count, so the line may lie anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from floorplan.geometry.affine import Affine
from floorplan.units import TOLERANCE

Array = NDArray[np.float64]
Outside = Literal["refuse", "extend"]
_LEAST_RISE = 1e-3
"""Points whose hull is no deeper than this share of its length lie in a line."""


@dataclass(frozen=True, slots=True)
class RodReading:
    """What the rod shows at one point."""

    x: Affine
    y: Affine
    """[m]"""
    below: Affine
    """How far the floor lies below the level line [m]."""
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class FloorSurvey:
    """Rod readings, and what is known of the floor from them."""

    readings: tuple[RodReading, ...]
    outside: Outside = "refuse"
    """Whether the surface may be carried on beyond the points."""
    datum: Affine | None = None
    """What the rod shows at height 0 of the plan [m]; None: nobody said."""

    def below(self, x: Affine, y: Affine) -> Affine | None:
        """How far the floor lies below the level line at a point [m]; None beyond the survey.

        Flat triangles between the points (Delaunay's, which takes the nearest ones).  Beyond
        the points, when that was asked for, on from their edge with the slope of the plane that
        fits all points best.
        """
        points = np.array([[r.x.value, r.y.value] for r in self.readings])
        values = np.array([r.below.value for r in self.readings])
        made = _interpolation(points, np.array([x.value, y.value]), extend=self.outside == "extend")
        if made is None:
            return None
        weights, slopes = made
        east, north = (float(s) for s in slopes @ values)
        # the weights reproduce planes, so this sum is exact and also knows how positions count
        total = x * east + y * north
        for weight, reading in zip(weights, self.readings, strict=True):
            if weight:
                total = total + (reading.below - reading.x * east - reading.y * north) * weight
        return total


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """The levelling feet of a thing."""

    at: tuple[tuple[Affine, Affine], ...]
    """Local x to the right and y to the rear, from the rear left corner [m]."""
    shortest: Affine
    longest: Affine
    body: Affine
    """Height of the surface above the feet's upper ends: the thing without its feet [m]."""
    level_with: str
    """The thing to whose surface it is levelled."""
    step: Affine
    """How much lower it is wanted [m]."""
    line: int = 0


def in_a_line(points: Sequence[tuple[float, float]]) -> bool:
    """Whether points span no area, so that they carry no surface [m]."""
    hull = shapely.MultiPoint(points).convex_hull
    if hull.area == 0.0:
        return True
    longest = float(hull.length) / 2
    return bool(hull.area < _LEAST_RISE * longest**2)


def _interpolation(points: Array, at: Array, *, extend: bool) -> tuple[Array, Array] | None:
    """Weight of each reading (n,), and the (2, n) rows that give the slopes from the readings.

    None where nothing is known.
    """
    away = np.hypot(*(points - at).T)
    nearest = int(np.argmin(away))
    if in_a_line([(float(px), float(py)) for px, py in points]):
        if away[nearest] > TOLERANCE:
            return None
        weights = np.zeros(len(points))
        weights[nearest] = 1.0
        return weights, np.zeros((2, len(points)))
    hull = shapely.MultiPoint(points).convex_hull
    edge = shapely.get_coordinates(shapely.shortest_line(hull, shapely.Point(at)))[0]
    beyond = float(np.hypot(*(at - edge)))
    if beyond <= TOLERANCE:
        return _within(points, edge)
    if not extend:
        return None
    weights, _ = _within(points, edge)
    slopes = np.linalg.pinv(np.column_stack([np.ones(len(points)), points]))[1:]
    return weights + (at - edge) @ slopes, slopes


def _within(points: Array, at: Array) -> tuple[Array, Array]:
    """Interpolation in the triangle that holds a point of the hull."""
    triangles = _triangles(tuple(map(tuple, points.tolist())))
    found = int(triangles.find_simplex(at[None], tol=1e-9)[0])
    if found < 0:  # on the very edge: the triangle that misses it least
        corners = points[triangles.simplices]
        distance = shapely.distance(shapely.polygons(corners), shapely.Point(at))
        found = int(np.argmin(distance))
    corner = triangles.simplices[found]
    plane = np.linalg.inv(np.column_stack([np.ones(3), points[corner]]))
    weights, slopes = np.zeros(len(points)), np.zeros((2, len(points)))
    weights[corner] = np.array([1.0, *at]) @ plane
    slopes[:, corner] = plane[1:]
    return weights, slopes


@lru_cache(maxsize=32)
def _triangles(points: tuple[tuple[float, ...], ...]) -> Any:
    """Delaunay's triangles, worked out once for a survey [m]."""
    from scipy.spatial import Delaunay

    return Delaunay(np.array(points))
