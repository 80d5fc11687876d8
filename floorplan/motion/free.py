"""Everywhere one thing can stand at one turn while all else stays: exact free regions.

The no-fit sets of all conflicting pairs of pieces are cut out of the limits of the reference point.
What is left is the free region; a slot that fits to a hair has no area and is found apart, as a
segment or a point with no play.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from floorplan.geometry.arrangement import grid_corners
from floorplan.geometry.nofit import NoFit, no_fit_sets
from floorplan.geometry.pieces import Conflict, Piece
from floorplan.units import TOLERANCE

GRID = 2.0**-30
"""Corners are rounded to this grid [m], so that edges meant to coincide do coincide."""

RIM = 3 * TOLERANCE
"""Nearer to the area than this, a position counts as part of it [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """One edge of a free region and what limits the thing there."""

    start: tuple[float, float]
    """[m]"""
    end: tuple[float, float]
    """[m]"""
    pairs: tuple[tuple[int, int], ...]
    """(index of the thing's own piece, index of the obstacle) touching along the edge; none where
    only the limits of the reference point end the region"""


@dataclass(frozen=True, slots=True, eq=False)
class FreeRegion:
    """All positions of the reference point at which nothing conflicts, edges included."""

    area: MultiPolygon
    """positions with play in every direction [m]"""
    segments: tuple[LineString, ...]
    """positions with play along a line only [m]"""
    points: tuple[Point, ...]
    """positions without any play [m]"""
    no_fit: NoFit
    """the sets that were cut out"""

    @property
    def is_empty(self) -> bool:
        """Whether the thing fits nowhere at this turn."""
        return bool(self.area.is_empty) and not self.segments and not self.points

    def contains(self, x: float, y: float) -> bool:
        """Whether (x, y) [m] is in the region, to the tolerance."""
        parts = [self.area, *self.segments, *self.points]
        return bool(np.any(shapely.dwithin(parts, shapely.points(x, y), TOLERANCE)))

    def edges(self) -> tuple[Edge, ...]:
        """Return the edges of the area, each with the pairs of pieces that touch along it."""
        rings = shapely.get_rings(shapely.get_parts(self.area))
        if not len(rings):
            return ()
        coords, owner = shapely.get_coordinates(rings, return_index=True)
        same = owner[1:] == owner[:-1]
        start, end = coords[:-1][same], coords[1:][same]
        sets, pairs = _polygons(self.no_fit)
        outlines = shapely.boundary(sets)
        middles = shapely.points(0.5 * (start + end))
        tree = shapely.STRtree(outlines)
        at, which = tree.query(middles, predicate="dwithin", distance=TOLERANCE)
        order = np.lexsort((which, at))
        touching: list[list[tuple[int, int]]] = [[] for _ in start]
        for edge, number in zip(at[order], which[order], strict=True):
            own, other = pairs[number]
            touching[edge].append((int(own), int(other)))
        return tuple(
            Edge((float(a), float(b)), (float(c), float(d)), tuple(found))
            for (a, b), (c, d), found in zip(start, end, touching, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Spot:
    """One position and how far the thing can move from it in any direction."""

    x: float
    """[m]"""
    y: float
    """[m]"""
    play: float
    """radius of the largest circle of free positions round it [m]"""


def free_region(
    movable_pieces: Sequence[Piece],
    obstacles: Sequence[Piece],
    conflict: Conflict,
    *,
    limits: Polygon,
    slots: bool = True,
) -> FreeRegion:
    """Return all free positions of the reference point of a thing at one turn.

    Parameters
    ----------
    movable_pieces
        the thing at that turn, outlines relative to its reference point
    obstacles
        everything else, in the coordinates of the room
    conflict
        (m, m) which classes may not overlap
    limits
        where the reference point may be [m]
    slots
        whether positions without play are looked for where others have some
    """
    no_fit = no_fit_sets(movable_pieces, obstacles, conflict)
    sets, _ = _polygons(no_fit)
    outermost = _outermost(no_fit)
    near = sets[outermost]
    near = near[shapely.intersects(near, limits)]
    left = _difference(limits, near, boxes_only=not no_fit.outlines)
    parts = shapely.get_parts(left)
    parts = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    slack = shapely.buffer(parts, -0.5 * TOLERANCE, join_style="mitre")
    area = MultiPolygon(list(parts[~shapely.is_empty(slack)]))
    if not slots and not area.is_empty:
        return FreeRegion(area, (), (), no_fit)
    boxes = None if no_fit.outlines else no_fit.boxes[outermost]
    segments, points = _without_play(boxes, near, limits, area)
    return FreeRegion(area, segments, points, no_fit)


def roomiest(region: FreeRegion) -> Spot | None:
    """Return the position with the most play: centre of the largest circle inside the region.

    Without any area, the middle of the longest segment, or a point; none in an empty region.
    """
    if not region.area.is_empty:
        parts = shapely.get_parts(region.area)
        radii = shapely.maximum_inscribed_circle(parts, tolerance=0.1 * TOLERANCE)
        widest = radii[int(np.argmax(shapely.length(radii)))]
        x, y = widest.coords[0]
        return Spot(x, y, float(widest.length))
    if region.segments:
        longest = max(region.segments, key=lambda segment: float(segment.length))
        middle = longest.interpolate(0.5, normalized=True)
        return Spot(float(middle.x), float(middle.y), 0.0)
    if region.points:
        return Spot(float(region.points[0].x), float(region.points[0].y), 0.0)
    return None


def _polygons(no_fit: NoFit) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Return all no-fit sets as shapely polygons, and their pairs of pieces."""
    boxes = np.asarray(shapely.box(*no_fit.boxes.T), dtype=np.object_).reshape(-1)
    outlines = np.array([Polygon(outline) for outline in no_fit.outlines], dtype=np.object_)
    pairs = np.concatenate([no_fit.box_pairs, no_fit.outline_pairs])
    return np.concatenate([boxes, outlines]), pairs


def _difference(
    limits: Polygon, sets: NDArray[np.object_], *, boxes_only: bool
) -> shapely.Geometry:
    """What all sets leave of the limits, corners on the grid.

    Upright and level edges between corners on the grid cross on it, so that boxes that are put
    there first need no more rounding, which is quicker.
    """
    if boxes_only and limits.equals(limits.envelope):
        boxes = np.round(shapely.bounds(np.append(sets, limits)) / GRID) * GRID
        *rounded, room = shapely.box(*boxes.T)
        return shapely.difference(room, shapely.union_all(rounded))
    return shapely.difference(limits, shapely.union_all(sets, grid_size=GRID), grid_size=GRID)


def _outermost(no_fit: NoFit) -> NDArray[np.bool_]:
    """Which sets, boxes first, lie in no other one that is a box: these alone have the union."""
    boxes, count = no_fit.boxes, len(no_fit.boxes)
    rest = [np.concatenate([o.min(axis=0), o.max(axis=0)]) for o in no_fit.outlines]
    west, south, east, north = np.concatenate([boxes, np.array(rest).reshape(-1, 4)]).T[..., None]
    inside = (boxes[:, 0] <= west) & (boxes[:, 1] <= south)
    inside &= (boxes[:, 2] >= east) & (boxes[:, 3] >= north)
    alike = inside[:count] & inside[:count].T
    # of equal ones the first stays
    inside[:count] &= ~np.triu(alike)
    return np.asarray(~inside.any(axis=1))


def _without_play(
    boxes: NDArray[np.float64] | None,
    sets: NDArray[np.object_],
    limits: Polygon,
    area: MultiPolygon,
) -> tuple[tuple[LineString, ...], tuple[Point, ...]]:
    """Find the free positions that a difference of polygons loses: slots without width."""
    lost = _lost_positions(boxes, sets, limits, area)
    if not len(lost):
        return (), ()
    inner = shapely.buffer(sets, -TOLERANCE, join_style="mitre")
    edges = shapely.union_all(np.concatenate([shapely.boundary(sets), [limits.boundary]]))
    lines = shapely.intersection(edges, shapely.buffer(limits, TOLERANCE, join_style="mitre"))
    lines = shapely.difference(lines, shapely.union_all(inner))
    lines = shapely.difference(lines, shapely.buffer(area, RIM, join_style="mitre"))
    pieces = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(_lines(lines))))
    pieces = shapely.simplify(pieces, TOLERANCE)
    segments: list[LineString] = []
    for piece in sorted(_straight(pieces), key=lambda line: -float(line.length)):
        if not any(kept.buffer(RIM).covers(piece) for kept in segments):
            segments.append(piece)
    points: list[Point] = []
    for point in lost:
        known: list[shapely.Geometry] = [*segments, *points]
        if not any(shapely.dwithin(other, point, 2 * RIM) for other in known):
            points.append(point)
    return tuple(segments), tuple(points)


def _lost_positions(
    boxes: NDArray[np.float64] | None,
    sets: NDArray[np.object_],
    limits: Polygon,
    area: MultiPolygon,
) -> NDArray[np.object_]:
    """Return at least one point in every free part that the area leaves out.

    `boxes` are the bounds of all sets, None if they are not all boxes along x and y.

    Among boxes these are the free corners away from the area. In general they are what the sets
    shrunk by the tolerance leave free beyond the rim of the area; the tip of a sharp corner sticks
    out of that rim a little, which is why a part has to reach farther.
    """
    if boxes is not None and limits.equals(limits.envelope):
        bounds, none = np.array([limits.bounds]), np.empty((1, 0))
        _, corners = grid_corners(boxes[None], bounds, none, none)
        free: NDArray[np.object_] = shapely.points(corners)
        return np.asarray(free[~shapely.dwithin(free, area, RIM)], dtype=np.object_)
    inner = shapely.buffer(sets, -TOLERANCE, join_style="mitre")
    grown = shapely.buffer(limits, TOLERANCE, join_style="mitre")
    left = shapely.difference(grown, shapely.union_all(inner))
    left = shapely.difference(left, shapely.buffer(area, RIM, join_style="mitre"))
    parts = shapely.get_parts(left)
    found = shapely.point_on_surface(parts[~shapely.is_empty(parts)])
    away: NDArray[np.object_] = found[~shapely.dwithin(found, area, 100 * TOLERANCE)]
    return away


def _lines(geometry: shapely.Geometry) -> list[LineString]:
    parts = shapely.get_parts(geometry)
    return list(parts[shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING])


def _straight(lines: NDArray[np.object_]) -> list[LineString]:
    """Cut bent lines at their corners, and drop what is no longer than the tolerance allows."""
    straight = []
    for line in lines:
        coords = shapely.get_coordinates(line)
        straight += [
            LineString([a, b]) for a, b in pairwise(coords) if np.hypot(*(b - a)) > 4 * TOLERANCE
        ]
    return straight
