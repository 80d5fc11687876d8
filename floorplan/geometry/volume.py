"""Upright volumes: a plan outline between two heights, and how far two of them are apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine, Array, Measurement, Outline, greater
from floorplan.geometry.convex import convex_pieces
from floorplan.units import TOLERANCE


@dataclass(frozen=True, eq=False)
class Volume:
    """A plan outline between a bottom and a top height."""

    outline: Outline
    bottom: Affine
    """[m]"""
    top: Affine
    """[m]"""

    @cached_property
    def polygon(self) -> Polygon:
        """The plan as a shapely polygon."""
        return Polygon(self.outline.points)

    @cached_property
    def pieces(self) -> tuple[Array, ...]:
        """The plan cut into convex pieces, each (n, 2) counter-clockwise [m]."""
        return tuple(convex_pieces(self.polygon))

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north [m]."""
        low, high = self.outline.points.min(axis=0), self.outline.points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def in_band(self, bottom: float, top: float) -> bool:
        """Whether it reaches into the band of heights by more than the tolerance [m]."""
        return (
            min(self.top.value, top) - max(self.bottom.value, bottom) > TOLERANCE
        )

    def shifted(self, offsets: Mapping[str, float]) -> Volume:
        """The volume if each measured number were off by `offsets` [m]."""
        return Volume(
            Outline(self.outline.shifted(offsets), {}),
            Affine(self.bottom.shifted(offsets)),
            Affine(self.top.shifted(offsets)),
        )


@dataclass(frozen=True, slots=True)
class Gap:
    """How far two volumes are apart, or how deep one is in the other."""

    distance: Affine
    """Positive apart, 0 touching, negative the least move that parts them [m]."""
    by_height: bool
    """True when the heights, not the plans, decide."""
    place: BaseGeometry = field(repr=False)
    """The shortest line between the plans when apart, else the region where they overlap."""

    def error(self, measurements: Mapping[str, Measurement]) -> float:
        """Worst-case error of the distance [m]."""
        return self.distance.error(measurements)


def height_gap(a: Volume, b: Volume) -> Affine:
    """Signed gap of the two height bands, negative where they overlap [m]."""
    return greater(b.bottom - a.top, a.bottom - b.top)


def _support(points: Array, direction: Array) -> tuple[int, float]:
    reach = points @ direction
    i = int(np.argmax(reach))
    return i, float(reach[i])


def _normals(points: Array) -> Array:
    edge = np.roll(points, -1, axis=0) - points
    normal = np.column_stack([edge[:, 1], -edge[:, 0]])
    length = np.linalg.norm(normal, axis=1)
    keep = length > 1e-12
    return normal[keep] / length[keep, None]


def depth(a: Array, b: Array) -> tuple[float, Array]:
    """Least move that parts two overlapping convex polygons, and the direction of `b`'s move.

    Negative when a straight line parts them already (then not their distance).  Directions
    tried are the edge normals of both, which is enough for convex polygons (separating axes).
    """
    axes = np.vstack([_normals(a), -_normals(b)])
    reach_a = (a @ axes.T).max(axis=0)
    reach_b = (b @ axes.T).min(axis=0)
    overlap = reach_a - reach_b
    i = int(np.argmin(overlap))
    return float(overlap[i]), axes[i]


def _along(outline: Outline, point: Array, direction: Array) -> Affine:
    x, y = outline.nearest(point)
    return x * float(direction[0]) + y * float(direction[1])


def _apart(a: Volume, b: Volume) -> tuple[Affine, BaseGeometry]:
    line = shapely.shortest_line(a.polygon, b.polygon)
    ends = np.asarray(line.coords)
    step = ends[1] - ends[0]
    length = float(np.hypot(*step))
    direction = step / length
    best: Affine | None = None
    for shift in _facing(a, b, ends, direction):
        reached = _along(b.outline, ends[1] + shift, direction) - _along(
            a.outline, ends[0] + shift, direction
        )
        if best is None or _weight(reached) > _weight(best):
            best = reached
    assert best is not None
    return Affine(length, best.terms), line


def _weight(number: Affine) -> float:
    return sum(abs(w) for w in number.terms.values())


def _facing(a: Volume, b: Volume, ends: Array, direction: Array) -> list[Array]:
    """Shifts along two parallel facing edges to both ends of the stretch they share."""
    side = np.array([-direction[1], direction[0]])
    spans = []
    for outline, end in ((a.outline, ends[0]), (b.outline, ends[1])):
        offset = outline.points - end
        flush = np.abs(offset @ direction) < TOLERANCE
        along = (offset @ side)[flush]
        spans.append((min(along.min(), 0.0), max(along.max(), 0.0)) if along.size else (0.0, 0.0))
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    if high - low < TOLERANCE:
        return [np.zeros(2)]
    return [low * side, high * side]


def _overlapping(a: Volume, b: Volume) -> tuple[Affine, BaseGeometry] | None:
    """Depth of the deepest pair of convex pieces, None when every pair is apart."""
    worst, axis, pair = -np.inf, None, None
    for piece_a in a.pieces:
        for piece_b in b.pieces:
            amount, direction = depth(piece_a, piece_b)
            if amount > worst:
                worst, axis, pair = amount, direction, (piece_a, piece_b)
    if axis is None or pair is None or worst < 0.0:
        return None
    piece_a, piece_b = pair
    front = piece_a[_support(piece_a, axis)[0]]
    back = piece_b[_support(piece_b, -axis)[0]]
    reached = _along(b.outline, back, axis) - _along(a.outline, front, axis)
    return Affine(-worst, reached.terms), a.polygon.intersection(b.polygon)


def plan_gap(a: Volume, b: Volume) -> tuple[Affine, BaseGeometry]:
    """Signed gap of the two plans with the place where it is measured [m]."""
    west, south, east, north = a.bounds
    if west > b.bounds[2] or south > b.bounds[3] or east < b.bounds[0] or north < b.bounds[1]:
        return _apart(a, b)
    return _overlapping(a, b) or _apart(a, b)


def gap(a: Volume, b: Volume) -> Gap:
    """How far two volumes are apart: the larger of the gaps in plan and in height."""
    plan, place = plan_gap(a, b)
    height = height_gap(a, b)
    if height.value > plan.value:
        return Gap(height, True, place)
    return Gap(plan, False, place)


def conflict(a: Volume, b: Volume) -> bool:
    """Whether plans and height bands overlap by more than the tolerance; touching is allowed."""
    return gap(a, b).distance.value < -TOLERANCE
