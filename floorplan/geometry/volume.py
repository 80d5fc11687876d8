"""Upright volumes: a plan outline between two heights, and how far two of them are apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine, Array, Measurement, Outline, greater
from floorplan.geometry.convex import convex_pieces
from floorplan.geometry.minkowski import no_fit
from floorplan.geometry.separation import edge_normals, likeliest_gap, surest_gap
from floorplan.units import TOLERANCE, at_least

_TOUCHING = 1e-6
"""Plans nearer than this touch: the direction between them is read off their edges [m]."""
_DEEP = 100.0
"""How far down the solids go that stand on the floor [m]: farther than any plan is wide."""
_ALIKE = 0.05
"""Ways out of an overlap that are so little longer than the shortest count as well [m]."""


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

    @cached_property
    def sides(self) -> tuple[Affine, Affine, Affine, Affine] | None:
        """West, south, east and north side of an axis-parallel box, None for other plans.

        None also where the two ends of one side were measured apart.
        """
        return self.outline.sides()

    def in_band(self, bottom: float, top: float) -> bool:
        """Whether it reaches into the band of heights by more than the tolerance [m]."""
        return min(self.top.value, top) - max(self.bottom.value, bottom) > TOLERANCE

    def shifted(self, offsets: Mapping[str, float]) -> Volume:
        """The volume if each measured number were off by `offsets` [m]."""
        return Volume(
            Outline(self.outline.shifted(offsets), {}),
            Affine(self.bottom.shifted(offsets)),
            Affine(self.top.shifted(offsets)),
        )


@dataclass(frozen=True, eq=False)
class Gap:
    """How far two volumes are apart, or how deep one is in the other."""

    distance: Affine
    """Positive apart, 0 touching, negative the least move that parts them [m]."""
    by_height: bool
    """True when the heights, not the plans, decide."""
    volumes: tuple[Volume, Volume] = field(repr=False)
    plan: tuple[Affine, ...] = ()
    """Gaps along the directions in which the plans may be parted; one positive is enough [m]."""
    height: Affine = field(default_factory=lambda: Affine(0.0))
    """Gap of the height bands [m]."""

    @cached_property
    def place(self) -> BaseGeometry:
        """The shortest line between the plans when apart, else the region where they overlap."""
        a, b = (volume.polygon for volume in self.volumes)
        common = a.intersection(b)
        if common.area > 0.0:
            return common
        return shapely.shortest_line(a, b)

    def error(self, measurements: Mapping[str, Measurement]) -> float:
        """Worst-case error of the distance [m]."""
        return self.distance.error(measurements)

    def decided(self, measurements: Mapping[str, Measurement], least: float = 0.0) -> Gap:
        """The same gap, seen where it can be told best that the two are `least` [m] apart.

        One direction, or the heights, that surely part the two is enough; and as long as one of
        them might, nobody can say that they surely overlap.
        """
        best, by_height = self.distance, self.by_height
        known = certainty(best - least, measurements)
        if known == 2:
            return self
        ways = [*((p, False) for p in self._plan_ways(measurements, known)), (self.height, True)]
        for other, is_height in ways:
            found = certainty(other - least, measurements)
            if (found, other.value) > (known, best.value):
                best, by_height, known = other, is_height, found
        if best is self.distance:
            return self
        return Gap(best, by_height, self.volumes, self.plan, self.height)

    def _plan_ways(self, measurements: Mapping[str, Measurement], known: int) -> tuple[Affine, ...]:
        """Gaps along every direction that might tell more than the nearest one."""
        a, b = self.volumes
        if a.sides is not None and b.sides is not None:
            return self.plan
        plans = (a.outline, a.pieces), (b.outline, b.pieces)
        nearest = self.plan[0].value
        if nearest > 0.0:
            surest = surest_gap(*plans, measurements)
            # of two corners that are not the nearest ones the gap may be wider than the distance
            return (*self.plan, Affine(min(surest.value, nearest), surest.terms))
        if known == 0 and max(len(a.pieces), len(b.pieces)) > 1:
            return (*self.plan, likeliest_gap(*plans, measurements))
        return self.plan


def certainty(margin: Affine, measurements: Mapping[str, Measurement]) -> int:
    """2 when a margin surely holds, 0 when it surely does not, 1 when nobody can tell."""
    error = margin.error(measurements)
    if at_least(margin.value, error):
        return 2
    return 1 if margin.value > -error + TOLERANCE else 0


def height_gap(a: Volume, b: Volume) -> Affine:
    """Signed gap of the two height bands, negative where they overlap [m].

    Nothing passes below what stands on the floor, so two that stand there are parted in plan.
    """
    return greater(_underside(b) - a.top, _underside(a) - b.top)


def _underside(volume: Volume) -> Affine:
    return volume.bottom if volume.bottom.value > 0.0 else Affine(-_DEEP)


def _overlaps(a: Array, b: Array) -> tuple[Array, Array]:
    """How far `b` must move along each axis (k, 2) to part two convex polygons, (k,) [m].

    Axes are the outward edge normals of `a` and the inward ones of `b`, which is enough for
    convex polygons (separating axes).
    """
    axes = np.vstack([edge_normals(a), -edge_normals(b)])
    return (a @ axes.T).max(axis=0) - (b @ axes.T).min(axis=0), axes


def depth(a: Array, b: Array) -> tuple[float, Array]:
    """Least move that parts two overlapping convex polygons, and the direction of `b`'s move.

    Negative when a straight line parts them already (then not their distance).
    """
    overlap, axes = _overlaps(a, b)
    i = int(np.argmin(overlap))
    return float(overlap[i]), axes[i]


def _along(outline: Outline, point: Array, direction: Array) -> Affine:
    x, y = outline.nearest(point)
    return x * float(direction[0]) + y * float(direction[1])


def _apart(a: Volume, b: Volume) -> Affine:
    line = shapely.shortest_line(a.polygon, b.polygon)
    ends = np.asarray(line.coords)
    step = ends[1] - ends[0]
    length = float(np.hypot(*step))
    if length < 1e-12:
        return Affine(0.0)
    return Affine(length, _reached(a, b, ends, step / length).terms)


def _reached(a: Volume, b: Volume, ends: Array, direction: Array) -> Affine:
    """Gap from `a` to `b` along a direction at two facing points, where it is least sure."""
    best: Affine | None = None
    for shift in _facing(a, b, ends, direction):
        reached = _along(b.outline, ends[1] + shift, direction) - _along(
            a.outline, ends[0] + shift, direction
        )
        if best is None or _weight(reached) > _weight(best):
            best = reached
    assert best is not None
    return best


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


def _parted(a: Volume, b: Volume, overlap: float, axis: Array) -> Affine:
    """Gap of two volumes along an axis on which they overlap by `overlap`."""
    front = a.outline.points[int(np.argmax(a.outline.points @ axis))]
    back = b.outline.points[int(np.argmin(b.outline.points @ axis))]
    reached = _along(b.outline, back, axis) - _along(a.outline, front, axis)
    return Affine(-overlap, reached.terms)


def _overlapping(a: Volume, b: Volume) -> tuple[Affine, ...] | None:
    """Gaps along the ways out of an overlap, the shortest way first; None when apart."""
    pieces = [(*depth(pa, pb), pa, pb) for pa in a.pieces for pb in b.pieces]
    worst, axis, piece_a, piece_b = max(pieces, key=lambda row: row[0])
    if worst < -_TOUCHING:
        return None
    if len(pieces) == 1:
        overlaps, axes = _overlaps(piece_a, piece_b)
        ways = [i for i in np.argsort(overlaps, kind="stable") if overlaps[i] <= worst + _ALIKE]
        return tuple(_parted(a, b, float(overlaps[i]), axes[i]) for i in ways)
    if worst <= _TOUCHING:
        front = piece_a[int(np.argmax(piece_a @ axis))]
        back = piece_b[int(np.argmin(piece_b @ axis))]
        terms = (_along(b.outline, back, axis) - _along(a.outline, front, axis)).terms
        return (Affine(-worst, terms),)
    return (_way_out(a, b),)


def _way_out(a: Volume, b: Volume) -> Affine:
    """Least move of `b` that parts two overlapping plans, at least one of them not convex."""
    blocked = shapely.union_all([Polygon(no_fit(pa, pb)) for pa in a.pieces for pb in b.pieces])
    move = np.asarray(shapely.shortest_line(Point(0.0, 0.0), blocked.boundary).coords)[1]
    length = float(np.hypot(*move))
    if length < 1e-12:
        return Affine(0.0)
    axis = move / length
    free = Polygon(b.outline.points + move + axis * _TOUCHING)
    ends = np.asarray(shapely.shortest_line(a.polygon, free).coords)
    start, end = ends[0], ends[1] - move - axis * _TOUCHING
    return Affine(-length, (_along(b.outline, end, axis) - _along(a.outline, start, axis)).terms)


def _boxes(
    a: tuple[Affine, Affine, Affine, Affine], b: tuple[Affine, Affine, Affine, Affine]
) -> tuple[Affine, ...]:
    """Gaps of two axis-parallel boxes: what decides first, then along each axis."""
    x = greater(b[0] - a[2], a[0] - b[2])
    y = greater(b[1] - a[3], a[1] - b[3])
    if x.value > 0.0 and y.value > 0.0:
        length = float(np.hypot(x.value, y.value))
        reached = x * (x.value / length) + y * (y.value / length)
        return (Affine(length, reached.terms), *((x, y) if x.value >= y.value else (y, x)))
    return (x, y) if x.value >= y.value else (y, x)


def plan_gaps(a: Volume, b: Volume) -> tuple[Affine, ...]:
    """Signed gaps of the two plans [m]: that which decides, then others that might."""
    if a.sides is not None and b.sides is not None:
        return _boxes(a.sides, b.sides)
    (west, south, east, north), (w, s, e, n) = a.bounds, b.bounds
    if max(west - e, south - n, w - east, s - north) > _TOUCHING:
        return (_apart(a, b),)
    return _overlapping(a, b) or (_apart(a, b),)


def plan_gap(a: Volume, b: Volume) -> Affine:
    """Signed gap of the two plans [m]."""
    return plan_gaps(a, b)[0]


def gap(a: Volume, b: Volume) -> Gap:
    """How far two volumes are apart: the larger of the gaps in plan and in height."""
    plan = plan_gaps(a, b)
    height = height_gap(a, b)
    by_height = height.value > plan[0].value
    return Gap(height if by_height else plan[0], by_height, (a, b), plan, height)


def conflict(a: Volume, b: Volume) -> bool:
    """Whether plans and height bands overlap by more than the tolerance; touching is allowed."""
    return gap(a, b).distance.value < -TOLERANCE
