"""Walking: shortest ways around obstacles for a round body, and the ways wide enough for it.

A taut path of a disc's centre is made of straight lines and of arcs about the corners that jut into
the floor, a body's radius away from them. The lines touch the circles of two corners, or lead from
a point to such a circle. Those that keep clear of every wall, and the arcs between them, are the
edges of a graph in which the shortest path is the true one: no arc is replaced by a polygon.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import MultiPolygon, Polygon

from floorplan.motion.clearance import Flags, Floats, Ints, boundary_of
from floorplan.motion.widest import Way, passable, sound, widest_ways
from floorplan.units import TOLERANCE

__all__ = ["Walker", "Way", "passable", "widest_ways"]

_SLACK = 0.5 * TOLERANCE
"""How much nearer than its radius a body may pass a wall, so that an exact fit is one [m]."""
_STRAIGHT = 1e-9
"""Turns and angles below this are none [rad]."""
_SHORTEST = 1e-15
"""Length of an arc of no radius: a sparse graph may take zero for no edge [m]."""
_SAGITTA = 4e-4
"""How far a drawn arc may stray from the true one [m]."""


@dataclass(frozen=True, slots=True)
class _Lines:
    """Straight stretches from `start` to `end` [m], (k, 2), touching the circles of corners there.

    corner: (k, 2) the corners touched (-1 - i for the query point i);
    offset: (k, 2) where on their arcs [rad].
    """

    start: Floats
    end: Floats
    corner: Ints
    offset: Floats

    def pick(self, which: Flags) -> "_Lines":
        return _Lines(self.start[which], self.end[which], self.corner[which], self.offset[which])


@dataclass(frozen=True, slots=True)
class _Graph:
    """Nodes (points first, then ends of lines on arcs) and the symmetric matrix of lengths [m]."""

    place: Floats
    corner: Ints
    offset: Floats
    lengths: coo_array


class Walker:
    """Shortest walks on one floor for a disc of one radius; built once, asked for many points."""

    def __init__(self, floor: Polygon | MultiPolygon, *, body_radius: float) -> None:
        """Prepare walks.

        floor: where nothing stands [m]; body_radius [m], 0 for a point.
        Raises ValueError if the floor is empty or the radius negative.
        """
        if body_radius < 0.0:
            raise ValueError(f"the radius of a body is not negative, but this is {body_radius}")
        self._floor = sound(floor)
        if self._floor.is_empty:
            raise ValueError("there is no floor to walk on")
        self._radius = body_radius if body_radius > TOLERANCE else 0.0
        self._walls = boundary_of(self._floor)
        self._edge = shapely.boundary(self._floor)
        self._grown = shapely.buffer(self._floor, _SLACK, join_style="mitre")
        for shape in (self._floor, self._edge, self._grown):
            shapely.prepare(shape)
        self._find_corners()
        self._find_blocks()
        self._tangents = self._clear(self._between_corners())
        self._grounds: tuple[Floats, ...] | None = None

    def distances(self, points: Floats) -> Floats:
        """Measure the shortest walks between all pairs of points, (n, 2) -> (n, n) [m].

        A point where the body does not fit counts from the nearest place where it does, and the
        stretch between is added. Without a way the length is inf.
        """
        points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        stand = self._stand(points)
        graph = self._graph(stand)
        among = self._shortest(graph, len(points))[0][:, : len(points)]
        extra = np.hypot(*(stand - points).T)
        length = among + extra[:, None] + extra[None, :]
        length[~np.isfinite(length)] = np.inf
        np.fill_diagonal(length, 0.0)
        return np.asarray(np.minimum(length, length.T))

    def path(self, start: Floats, end: Floats) -> Floats:
        """Return a shortest walk, arcs drawn as chords, (k, 2) [m]; (0, 2) if there is no way."""
        points = np.array([start, end], dtype=np.float64)
        stand = self._stand(points)
        graph = self._graph(stand)
        length, before = self._shortest(graph, 2)
        if not np.isfinite(length[0, 1]) or not np.isfinite(stand).all():
            return np.zeros((0, 2))
        nodes = [1]
        while nodes[-1] != 0:
            nodes.append(int(before[0, nodes[-1]]))
        nodes.reverse()
        stops = [points[:1], stand[:1]]
        for one, other in pairwise(nodes):
            stops.append(self._drawn(graph, one, other))
        route = np.concatenate([*stops, points[1:]])
        moved = np.hypot(*np.diff(route, axis=0).T) > _STRAIGHT
        return np.asarray(route[np.concatenate([[True], moved])])

    def _find_corners(self) -> None:
        """Find the corners that jut in and their arcs, from the angle `low` over `span` [rad]."""
        walls = self._walls
        corner = np.flatnonzero(walls.turn() < -_STRAIGHT)
        come, leave = walls.along[walls.before[corner]], walls.along[corner]
        self._tip = walls.start[corner]
        self._low = np.arctan2(leave[:, 0], -leave[:, 1])
        turned = np.arctan2(come[:, 0], -come[:, 1])
        self._span = np.mod(turned - self._low, 2.0 * np.pi)

    def _find_blocks(self) -> None:
        """Find where arcs are cut by walls less than two radii away from their corner.

        The part of an arc too near a wall is one stretch, about the direction of its nearest point.
        """
        walls, reach = self._walls, 2.0 * (self._radius - _SLACK)
        self._block_corner, self._block_offset = np.zeros(0, dtype=np.int64), np.zeros(0)
        if reach <= 0.0 or not len(self._tip):
            return
        towards = -walls.to_nearest(self._tip)
        distance = np.hypot(towards[:, :, 0], towards[:, :, 1])
        corner, wall = np.nonzero((distance < reach) & (distance > _STRAIGHT))
        angle = np.arctan2(towards[corner, wall, 1], towards[corner, wall, 0])
        offset, on_arc = self._on_arc(corner, angle)
        self._block_corner, self._block_offset = corner[on_arc], offset[on_arc]

    def _on_arc(self, corner: Ints, angle: Floats) -> tuple[Floats, Flags]:
        """Return angles as offsets along the arcs of corners, and which of them are on the arcs."""
        offset = np.mod(angle - self._low[corner] + _STRAIGHT, 2.0 * np.pi) - _STRAIGHT
        return offset, np.asarray(offset <= self._span[corner] + _STRAIGHT)

    def _touching(self, corner: Ints, angle: Floats) -> Floats:
        """Return points of the circles about corners."""
        normal = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        return np.asarray(self._tip[corner] + self._radius * normal)

    def _between_corners(self) -> _Lines:
        """List all lines that touch the arcs of two corners, on one side or crossing."""
        one, other = np.triu_indices(len(self._tip), k=1)
        away = self._tip[other] - self._tip[one]
        apart = np.hypot(away[:, 0], away[:, 1])
        far = apart > _STRAIGHT
        one, other, away, apart = one[far], other[far], away[far], apart[far]
        heading = np.arctan2(away[:, 1], away[:, 0])
        ratio = 2.0 * self._radius / apart
        lean = np.arccos(np.clip(ratio, 0.0, 1.0))
        parts = []
        for sign in (1.0, -1.0):
            same = heading + sign * 0.5 * np.pi
            parts.append(self._line(one, same, other, same))
            apart_enough = apart >= 2.0 * (self._radius - _SLACK)
            cross = (heading + sign * lean)[apart_enough]
            parts.append(self._line(one[apart_enough], cross, other[apart_enough], cross + np.pi))
        return _joined(parts)

    def _line(self, one: Ints, angle: Floats, other: Ints, other_angle: Floats) -> _Lines:
        offset, on_one = self._on_arc(one, angle)
        other_offset, on_other = self._on_arc(other, other_angle)
        keep = on_one & on_other
        return _Lines(
            self._touching(one[keep], angle[keep]),
            self._touching(other[keep], other_angle[keep]),
            np.stack([one[keep], other[keep]], axis=1),
            np.stack([offset[keep], other_offset[keep]], axis=1),
        )

    def _from_points(self, stand: Floats) -> _Lines:
        """List lines from points to the arcs of corners, and between points."""
        point, corner = (x.ravel() for x in np.indices((len(stand), len(self._tip))))
        away = stand[point] - self._tip[corner]
        heading = np.arctan2(away[:, 1], away[:, 0])
        apart = np.maximum(np.hypot(away[:, 0], away[:, 1]), _STRAIGHT)
        lean = np.arccos(np.clip(self._radius / apart, 0.0, 1.0))
        parts = []
        for angle in (heading + lean, heading - lean):
            offset, keep = self._on_arc(corner, angle)
            of, onto = point[keep], corner[keep]
            ends = self._touching(onto, angle[keep])
            parts.append(
                _Lines(
                    stand[of],
                    ends,
                    np.stack([-1 - of, onto], axis=1),
                    np.stack([np.zeros(len(of)), offset[keep]], axis=1),
                )
            )
        one, other = np.triu_indices(len(stand), k=1)
        pair = np.stack([-1 - one, -1 - other], axis=1)
        parts.append(_Lines(stand[one], stand[other], pair, np.zeros((len(one), 2))))
        return _joined(parts)

    def _clear(self, lines: _Lines) -> _Lines:
        """Keep the lines along which the body stays clear of every wall."""
        lines = lines.pick(np.asarray(np.isfinite(lines.start + lines.end).all(axis=1)))
        shapes = shapely.linestrings(np.stack([lines.start, lines.end], axis=1))
        if self._radius > 0.0:
            hit = shapely.dwithin(self._edge, shapes, self._radius - _SLACK)
            return lines.pick(np.asarray(~hit))
        return lines.pick(np.asarray(shapely.covers(self._grown, shapes)))

    def _graph(self, stand: Floats) -> _Graph:
        """Gather all clear lines and the arcs between them, for points where the body fits."""
        count = len(stand)
        lines = _joined([self._tangents, self._clear(self._from_points(stand))])
        corner, offset = lines.corner.ravel(), lines.offset.ravel()
        place = np.stack([lines.start, lines.end], axis=1).reshape(-1, 2)
        on_arc = corner >= 0
        node = np.where(on_arc, count + np.cumsum(on_arc) - 1, -1 - corner)
        pairs = node.reshape(-1, 2)
        straight = np.hypot(*(lines.end - lines.start).T)
        around, arc = self._arcs(corner[on_arc], offset[on_arc], node[on_arc])
        ends = np.concatenate([pairs, around])
        length = np.maximum(np.concatenate([straight, arc]), _SHORTEST)
        total = count + int(on_arc.sum())
        return _Graph(
            np.concatenate([stand, place[on_arc]]),
            np.concatenate([np.full(count, -1), corner[on_arc]]),
            np.concatenate([np.zeros(count), offset[on_arc]]),
            coo_array((length, (ends[:, 0], ends[:, 1])), shape=(total, total)),
        )

    def _arcs(self, corner: Ints, offset: Floats, node: Ints) -> tuple[Ints, Floats]:
        """Pair neighbouring nodes on each arc, no wall too close between, with their lengths."""
        corner = np.concatenate([corner, self._block_corner])
        offset = np.concatenate([offset, self._block_offset])
        node = np.concatenate([node, np.full(len(self._block_corner), -1)])
        order = np.lexsort([offset, corner])
        corner, offset, node = corner[order], offset[order], node[order]
        joined = (corner[1:] == corner[:-1]) & (node[1:] >= 0) & (node[:-1] >= 0)
        pairs = np.stack([node[:-1], node[1:]], axis=1)[joined]
        return pairs, self._radius * np.diff(offset)[joined]

    def _shortest(self, graph: _Graph, count: int) -> tuple[Floats, Ints]:
        return dijkstra(  # type: ignore[no-any-return]
            graph.lengths.tocsr(),
            directed=False,
            indices=np.arange(count),
            return_predecessors=True,
        )

    def _drawn(self, graph: _Graph, one: int, other: int) -> Floats:
        """Draw the stretch between two nodes, without its beginning."""
        corner = int(graph.corner[one])
        if corner < 0 or corner != graph.corner[other] or self._radius == 0.0:
            return graph.place[other : other + 1]
        begin, end = graph.offset[one], graph.offset[other]
        step = 2.0 * np.arccos(max(1.0 - _SAGITTA / self._radius, 0.0))
        angle = self._low[corner] + np.linspace(begin, end, 2 + int(abs(end - begin) / step))[1:]
        return self._touching(np.full(len(angle), corner), angle)

    def _fits(self, points: Floats) -> Flags:
        """Tell whether the body fits with its centre at each point."""
        near = shapely.intersects_xy(self._grown, points)
        return np.asarray(near & (self._walls.clearance(points) >= self._radius - _SLACK))

    def _stand(self, points: Floats) -> Floats:
        """Find for each point the nearest place where the body fits, nan if there is none."""
        stand = points.copy()
        for index in np.flatnonzero(~self._fits(points)):
            stand[index] = self._nearest(points[index])
        return stand

    def _nearest(self, point: Floats) -> Floats:
        """Find the nearest place where the body fits; from the floor, not through a wall."""
        inside = bool(shapely.intersects_xy(self._floor, *point))
        for ground in self._eroded():
            start, span = ground[:, 0], ground[:, 1] - ground[:, 0]
            share = ((point - start) * span).sum(axis=1) / (span * span).sum(axis=1)
            onto = start + np.clip(share, 0.0, 1.0)[:, None] * span
            for place in onto[np.argsort(np.hypot(*(onto - point).T), kind="stable")]:
                line = shapely.linestrings([point, place])
                if inside and not shapely.covers(self._grown, line):
                    continue
                place = self._pushed_clear(place)
                if self._fits(place[None])[0]:
                    return place
        return np.full(2, np.nan)

    def _pushed_clear(self, place: Floats) -> Floats:
        """Push a place just short of fitting away from the nearest wall until it fits."""
        for _ in range(4):
            away = self._walls.to_nearest(place[None])[0]
            distance = np.hypot(away[:, 0], away[:, 1])
            near = int(distance.argmin())
            if not 0.0 < distance[near] < self._radius:
                break
            place = place + away[near] * (self._radius / distance[near] - 1.0)
        return place

    def _eroded(self) -> tuple[Floats, ...]:
        """Return the rims of the floor eroded a hair too weakly and too strongly, (k, 2, 2) [m]."""
        if self._grounds is None:
            strong = self._radius / np.cos(np.pi / 128.0)
            grounds = []
            for radius in (max(self._radius - _SLACK, 0.0), strong):
                shape = shapely.buffer(self._floor, -radius, quad_segs=32)
                points, ring = (
                    shapely.get_coordinates(
                        shapely.get_rings(shapely.get_parts(shape)), return_index=True
                    ),
                    0,
                )
                points, ring = points
                follows = ring[1:] == ring[:-1]
                grounds.append(np.stack([points[:-1][follows], points[1:][follows]], axis=1))
            self._grounds = tuple(grounds)
        return self._grounds


def _joined(parts: list[_Lines]) -> _Lines:
    return _Lines(
        np.concatenate([part.start for part in parts]),
        np.concatenate([part.end for part in parts]),
        np.concatenate([part.corner for part in parts]),
        np.concatenate([part.offset for part in parts]),
    )
