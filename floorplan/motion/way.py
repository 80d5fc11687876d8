"""From proved connections to poses: in what order and where to turn, and the ways between."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from itertools import count, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.motion.connections import BASE_TURN, Connections
from floorplan.motion.slices import Part, SureTurn
from floorplan.motion.turning import Pose

Position = NDArray[np.float64]
"""(2,) [m]."""

_CUSHIONS = (0.05, 0.01, 0.002)  # turning places keep so far from their limits, if they can [m]
_EDGE = 5e-7  # a way along the edge of the free positions may stray so far over it [m]
_STRAY = 2e-6  # straight steps may leave a curved drift so far, well within the tolerance [m]
_STOP = 0.3  # what a further place to turn at is worth in way [m]
_SWEEPS = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """One proved turn, made upwards (towards greater angles) or downwards."""

    link: SureTurn
    up: bool

    @property
    def shift(self) -> Position:
        """Way from the start to the middle of the turn [m], the same again to its end."""
        return self.link.shift if self.up else -self.link.shift

    @property
    def after(self) -> Part:
        return self.link.high if self.up else self.link.low


@dataclass(frozen=True, slots=True, eq=False)
class _Stretch:
    """Turns made one after the other at one place; `places` [m] are for the middle of each."""

    steps: tuple[_Step, ...]
    places: BaseGeometry

    @property
    def shift(self) -> Position:
        return self.steps[0].shift


def poses_of(graph: Connections, start: Pose, goal: Pose) -> tuple[tuple[Pose, ...], int]:
    """Poses from start to goal along a proved way, and the number of stretches of turning.

    Between neighbouring poses the straight step is meant. The last angle may differ from the
    goal's by whole periods of the body.
    """
    assert graph.start is not None
    first, last = np.array([start.x, start.y]), np.array([goal.x, goal.y])
    stretches = _merged(_chain(graph, first, last))
    places = _settled(stretches, first, last)
    path = [start]
    at, part = first, graph.start
    for stretch, place in zip(stretches, places, strict=True):
        path += [Pose(*p, path[-1].angle) for p in _shortest(part, at, place - stretch.shift)]
        path += _turning(stretch, place, path[-1].angle)
        at, part = place + stretch.shift, stretch.steps[-1].after
    path += [Pose(*p, path[-1].angle) for p in _shortest(part, at, last)]
    turns = sum(1 for i, s in enumerate(stretches) if i == 0 or _walks(stretches, places, i))
    return tuple(p for i, p in enumerate(path) if i == 0 or p != path[i - 1]), turns


def band_of(graph: Connections, start: Pose, goal: Pose) -> list[float]:
    """Rising angles [rad] of the slices along a proved way, with some room to turn back."""
    steps = _chain(graph, np.array([start.x, start.y]), np.array([goal.x, goal.y]))
    angles = [start.angle]
    for step in steps:
        angles.append(angles[-1] + 2 * step.link.turn.half * (1 if step.up else -1))
    angles += [min(angles) - BASE_TURN, max(angles) + BASE_TURN]
    kept: list[float] = []
    for angle in sorted(angles):
        if not kept or angle - kept[-1] > 1e-9:
            kept.append(angle)
    return kept


def _chain(graph: Connections, first: Position, last: Position) -> list[_Step]:
    """Proved turns from start to goal with little walking and turning.

    A turn is priced by the mean way of the body's points, about half its radius for a radian, and
    every further place to turn at like a step aside.
    """
    assert graph.start is not None
    assert graph.goal is not None
    order = count()  # steps themselves have none
    goal_angle = graph.goal[0].angle

    def least(part: Part, at: Position) -> float:
        turn = abs(part[0].angle - goal_angle)
        turn = min(turn, graph.body.period - turn)
        return math.dist(at, last) + graph.body.radius / 2 * turn

    queue: list[tuple[float, int, float, Part, Position, tuple[_Step, ...]]]
    queue = [(least(graph.start, first), next(order), 0.0, graph.start, first, ())]
    taken: set[tuple[SureTurn, bool]] = set()
    arrived: tuple[float, tuple[_Step, ...]] = (math.inf, ())
    while queue and queue[0][0] < arrived[0]:
        _, _, cost, part, at, steps = heapq.heappop(queue)
        if steps:
            if (steps[-1].link, steps[-1].up) in taken:
                continue
            taken.add((steps[-1].link, steps[-1].up))
        if part == graph.goal:
            arrived = min(arrived, (cost + math.dist(at, last), steps), key=lambda way: way[0])
            if arrived[0] <= cost + least(part, at):
                continue
        for link, other in graph.sure_links(part):
            step = _Step(link, link.low == part)
            if (link, step.up) not in taken:
                place = _nearest_in(link.positions, at + step.shift)
                walk = math.dist(place - step.shift, at)
                walk += _STOP if steps and walk > _EDGE else 0.0
                walk += graph.body.radius * link.turn.half
                at_end = place + step.shift
                bound = cost + walk + least(other, at_end)
                entry = (bound, next(order), cost + walk, other, at_end, (*steps, step))
                heapq.heappush(queue, entry)
    return list(arrived[1])


def _merged(steps: list[_Step]) -> list[_Stretch]:
    """Join turns in place that can all be made at one place."""
    stretches: list[_Stretch] = []
    for step in steps:
        places: BaseGeometry = step.link.positions
        before = stretches[-1] if stretches else None
        if (
            before
            and before.steps[0].up == step.up
            and not (before.shift.any() or step.shift.any())
        ):
            common = shapely.intersection(before.places, places)
            if common.area > 0:
                stretches[-1] = _Stretch((*before.steps, step), common)
                continue
        stretches.append(_Stretch((step,), places))
    return [_Stretch(s.steps, _cushioned(s.places)) for s in stretches]


def _cushioned(places: BaseGeometry) -> BaseGeometry:
    for cushion in _CUSHIONS:
        inner = places.buffer(-cushion, quad_segs=1)
        if not inner.is_empty:
            return inner
    return places


def _settled(stretches: list[_Stretch], first: Position, last: Position) -> list[Position]:
    """Place of each stretch, so that the straight ways between them are short."""
    places: list[Position] = []
    at = first
    for stretch in stretches:
        places.append(_nearest_in(stretch.places, at + stretch.shift))
        at = places[-1] + stretch.shift
    for sweep in range(_SWEEPS):
        numbers = range(len(stretches))
        for i in numbers if sweep % 2 else reversed(numbers):
            came = places[i - 1] + stretches[i - 1].shift if i else first
            goes = places[i + 1] - stretches[i + 1].shift if i + 1 < len(places) else last
            line = LineString([came + stretches[i].shift, goes - stretches[i].shift])
            places[i] = _midway(stretches[i].places, line)
    return places


def _midway(places: BaseGeometry, line: LineString) -> Position:
    """Middle of the line's part in the places, or the place nearest to the line."""
    if line.length > 0:
        inside = shapely.get_parts(shapely.intersection(line, places))
        if len(inside) and shapely.length(inside).max() > 0:
            longest = inside[int(np.argmax(shapely.length(inside)))]
            return _xy(longest.interpolate(0.5, normalized=True))
    return _xy(shapely.get_point(shapely.shortest_line(places, line), 0))


def _nearest_in(places: BaseGeometry, at: Position) -> Position:
    return _xy(shapely.get_point(shapely.shortest_line(places, Point(at)), 0))


def _xy(point: Point) -> Position:
    return np.array([point.x, point.y])


def _walks(stretches: list[_Stretch], places: list[Position], i: int) -> bool:
    """Whether the body is carried, or starts to turn back, between stretch i - 1 and i."""
    left = places[i - 1] + stretches[i - 1].shift
    entered = places[i] - stretches[i].shift
    turns_back = stretches[i - 1].steps[0].up != stretches[i].steps[0].up
    return turns_back or math.dist(left, entered) > _STRAY


def _turning(stretch: _Stretch, place: Position, angle: float) -> list[Pose]:
    """Poses of a stretch after its first one, close enough for straight steps between them."""
    poses: list[Pose] = []
    for step in stretch.steps:
        half, sign = step.link.turn.half, 1.0 if step.up else -1.0
        reach = math.hypot(*step.link.drift) * half * (2 * half) ** 2 / 8
        pieces = max(1, math.ceil(math.sqrt(reach / _STRAY)))
        for t in np.linspace(-half, half, pieces + 1)[1:]:
            x, y = place + np.asarray(step.link.drift) * (sign * math.sin(t))
            poses.append(Pose(float(x), float(y), angle + sign * float(t + half)))
        angle = poses[-1].angle
    return poses


def _shortest(part: Part, start: Position, end: Position) -> list[tuple[float, float]]:
    """Corners after `start` of the shortest way to `end` in a part of the free positions.

    Shortest ways among polygons bend only at reflex corners and touch them there (Lozano-Perez
    and Wesley, Comm. ACM 22 (1979) 560-570); corners are looked at in the order of the least
    length a way through them can have.
    """
    if math.dist(start, end) == 0:
        return []
    polygon: Polygon = part[0].parts[part[1]]
    room = polygon.buffer(_EDGE, join_style="mitre")
    shapely.prepare(room)
    if room.covers(LineString([start, end])):
        return [(float(end[0]), float(end[1]))]
    corners, before, after = _reflex_corners(polygon)
    points = np.vstack([corners, end, start])
    ahead = np.hypot(*(points - end).T)
    lengths = np.full(len(points), math.inf)
    came = np.full(len(points), -1)
    done = np.zeros(len(points), dtype=bool)
    goal, lengths[-1] = len(corners), 0.0
    while not done[goal]:
        least = np.where(done, math.inf, lengths + ahead)
        here = int(np.argmin(least))
        if not math.isfinite(least[here]):
            return [(float(end[0]), float(end[1]))]  # lost to rounding; the replay will refuse
        done[here] = True
        way = points - points[here]
        total = lengths[here] + np.hypot(*way.T)
        useful = np.flatnonzero(~done & (total < lengths))
        touching = useful[_touches(way[useful], useful, points, before, after)]
        if here < goal:
            back = np.full(len(touching), here)
            touching = touching[_touches(way[touching], back, points, before, after)]
        ends = points[touching]
        lines = np.stack([np.broadcast_to(points[here], ends.shape), ends], axis=1)
        seen = touching[shapely.covers(room, shapely.linestrings(lines))]
        lengths[seen], came[seen] = total[seen], here
    bends = [goal]
    while came[bends[-1]] < len(points) - 1:
        bends.append(int(came[bends[-1]]))
    return [(float(x), float(y)) for x, y in points[bends[::-1]]]


def _touches(
    way: Position, index: NDArray[np.intp], points: Position, before: Position, after: Position
) -> NDArray[np.bool_]:
    """Whether each way through a corner leaves both sides there on one hand; always at ends."""
    touches = np.ones(len(index), dtype=bool)
    bend = index < len(before)
    corner = index[bend]
    sides = []
    for neighbour in (before, after):
        arm = neighbour[corner] - points[corner]
        cross = way[bend, 0] * arm[:, 1] - way[bend, 1] * arm[:, 0]
        sides.append(np.where(np.abs(cross) <= _EDGE * np.hypot(*way[bend].T), 0.0, cross))
    touches[bend] = sides[0] * sides[1] >= 0
    return touches


def _reflex_corners(part: Polygon) -> tuple[Position, Position, Position]:
    """(n, 2) reflex corners, and their neighbours before and after on the ring."""
    corners, before, after = [], [], []
    for ring in shapely.get_parts(shapely.get_rings(part.normalize())):
        points = shapely.get_coordinates(ring)[:-1]
        last, following = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
        one, two = points - last, following - points
        # A normalized shell runs clockwise and its holes against it: the inside is to the right.
        reflex = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0
        corners.append(points[reflex])
        before.append(last[reflex])
        after.append(following[reflex])
    return np.vstack(corners), np.vstack(before), np.vstack(after)


def length_and_turning(path: tuple[Pose, ...]) -> tuple[float, float]:
    """Way of the reference point [m] and total angle turned [rad]."""
    length = sum(math.hypot(b.x - a.x, b.y - a.y) for a, b in pairwise(path))
    return length, sum(abs(b.angle - a.angle) for a, b in pairwise(path))
