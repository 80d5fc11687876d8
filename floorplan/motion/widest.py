"""The widest way for a disc-shaped person: how broad a body gets from where it stands to a door.

The clearance of a point is its distance to the boundary of the free floor. A body of width `w`
keeps its centre where the clearance is at least `w / 2`. As `w` grows, this region falls apart
only at the saddles of the clearance, which are the midpoints of gaps (see `gaps`). The gaps cut
the floor into rooms. Clearance climbs along a gap towards its midpoint, so climbing never crosses
a gap, and every room has one summit: what is wide enough inside a room hangs together. Ways are
therefore widest paths in the graph of rooms and gaps, and their widths are distances between two
boundary points, not the outcome of an erosion with polygons for circles. A surplus gap does no
harm, for nothing wider than the distance between two boundary points crosses the line that joins
them.
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import GeometryCollection, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.motion.clearance import Flags, Floats, Ints, climb, summit
from floorplan.motion.gaps import Rooms, rooms_of
from floorplan.units import TOLERANCE, at_least

_SAME = 1e-9
"""Widths closer than this are one and the same number [m]."""
_EROSION_ERROR = 0.02
"""Share of its radius by which an erosion with 16 chords to the quarter circle is trusted to err:
the chords cost 0.13 %, and dents shallower than 1 % of the radius may be filled beforehand."""
_GRID = 1e-7
"""Corners are rounded to this [m], well above rounding errors and well below the tolerance."""
_AT_GOAL = -1
_Summit = tuple[Floats, float, bool]


@dataclass(frozen=True, slots=True)
class Way:
    """The widest way from one standing place to the goal.

    width: largest diameter of a disc that gets through [m].
    pinch: the two facing boundary points whose distance is the width, or None [m].
    limit: "pinch", "start" or "goal" (nowhere within it is room for more), "none" (no way at all).
    certified: whether the width is proven; if not, a way this wide exists, but a wider one may too.
    """

    width: float
    pinch: tuple[tuple[float, float], tuple[float, float]] | None
    limit: str
    certified: bool


@dataclass(frozen=True, slots=True)
class _Reach:
    """What places have within the rooms.

    pieces: (k, 2, 2) their outlines in segments [m], with the place and the room of each;
    met: (n, 2) the pairs of place and room that touch;
    most: (n,) what the width in both cannot exceed [m].
    """

    pieces: Floats
    place: Ints
    room: Ints
    met: Ints
    most: Floats


@dataclass(frozen=True, slots=True)
class _Spread:
    """The widest way into each room from the goal [m], and the gap that limits it (or _AT_GOAL)."""

    width: Floats
    gap: Ints


def widest_ways(
    floor: Polygon | MultiPolygon,
    starts: Sequence[Polygon],
    goals: BaseGeometry,
    *,
    enough: float | None = None,
) -> tuple[Way, ...]:
    """Find the widest way from each start to any part of the goals.

    floor: where nothing stands [m]; holes, notches and touching corners are allowed.
    starts: standing places; the centre of the body begins on the floor within one, rim included.
    goals: where the centre must get to, rim included.
    enough: if a way from the rim of a start to the rim of the goal is at least this wide [m], their
        insides are not searched for a wider one, and the way is then not certified.
    """
    floor = sound(floor)
    if isinstance(goals, GeometryCollection):
        goals = _area(goals)
    if floor.is_empty:
        return tuple(Way(0.0, None, "none", True) for _ in starts)
    rooms = rooms_of(floor)
    places = np.asarray(starts, dtype=object)
    begin, end = _reach(rooms, places), _reach(rooms, np.asarray([goals], dtype=object))
    at_goal, sure = _from_rim(rooms, end)
    sure = sure and rooms.whole
    ways = _best(rooms, begin, _spread(rooms, at_goal), len(places), sure=sure)
    width = np.array([way.width for way in ways])
    wider = _upper(rooms, begin, end) > width[begin.met[:, 0]] + _SAME
    unsettled = np.isin(np.arange(len(places)), begin.met[wider, 0])
    if enough is not None:
        wider &= width[begin.met[:, 0]] < enough
    if wider.any():
        vague = end.most > at_goal[end.met[:, 1]] + _SAME
        involved = np.union1d(end.met[vague, 1], begin.met[wider, 1])
        summits = {room: _summit(rooms, room) for room in involved.tolist()}
        sure = sure and all(settled for _, _, settled in summits.values())
        spread = _spread(rooms, _raise(at_goal, summits, goals))
        inner = _inner(begin.met[wider], places, summits)
        again = _best(rooms, begin, spread, len(places), inner, sure=sure)
        looked = np.isin(np.arange(len(places)), begin.met[wider, 0])
        ways = [new if redo else way for new, way, redo in zip(again, ways, looked, strict=True)]
        unsettled &= ~looked
    return tuple(
        replace(way, certified=False) if doubt else way
        for way, doubt in zip(ways, unsettled.tolist(), strict=True)
    )


def passable(
    floor: Polygon | MultiPolygon, starts: Sequence[Polygon], goals: BaseGeometry, width: float
) -> tuple[bool, ...]:
    """Tell whether a body of this width [m] gets from each start to the goals; just enough will do.

    Two erosions, one surely too weak and one surely too strong, settle what is not close to the
    limit; only the rest is measured.
    """
    floor = sound(floor)
    places = np.asarray(starts, dtype=object)
    radius = 0.5 * max(width - TOLERANCE, 0.0)
    answer = _joined(floor, radius * (1.0 - _EROSION_ERROR), places, goals)
    if answer.any():
        doubtful = answer & ~_joined(floor, radius * (1.0 + _EROSION_ERROR), places, goals)
        which = np.flatnonzero(doubtful)
        among = [starts[index] for index in which.tolist()]
        ways = widest_ways(floor, among, goals, enough=width) if among else ()
        answer[which] = [at_least(way.width, width) for way in ways]
    return tuple(bool(yes) for yes in answer)


def _joined(
    floor: Polygon | MultiPolygon, radius: float, places: NDArray[Any], goals: BaseGeometry
) -> Flags:
    """Tell which places touch a part of the eroded floor that also touches the goals."""
    parts = shapely.get_parts(shapely.buffer(floor, -radius, quad_segs=16))
    parts = parts[shapely.intersects(parts, goals)]
    joined = np.zeros(len(places), dtype=np.bool_)
    joined[shapely.STRtree(places).query(parts, predicate="intersects")[1]] = True
    return joined


def sound(floor: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """Return the floor as valid polygons on a fine grid: slits left by rounding close, lines go."""
    valid = floor if shapely.is_valid(floor) else shapely.make_valid(floor)
    return _area(shapely.set_precision(valid, _GRID))


def _area(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """Return what has an area."""
    if isinstance(shape, Polygon | MultiPolygon):
        return shape
    parts = shapely.get_parts(shape)
    return shapely.union_all(parts[shapely.get_dimensions(parts) == 2])


def _reach(rooms: Rooms, places: NDArray[Any]) -> _Reach:
    """Cut the outlines of places along the rooms."""
    tree = shapely.STRtree(rooms.faces)
    place, room = tree.query(places, predicate="intersects")
    outline = np.where(shapely.get_dimensions(places) == 2, shapely.boundary(places), places)
    lines, which = shapely.get_parts(
        shapely.intersection(outline[place], rooms.faces[room]), return_index=True
    )
    lines, deeper = shapely.get_parts(lines, return_index=True)
    which = which[deeper]
    points, line = shapely.get_coordinates(lines, return_index=True)
    follows = np.flatnonzero(line[1:] == line[:-1])
    lone = np.flatnonzero(shapely.get_type_id(lines)[line] == 0)
    first, second = np.concatenate([follows, lone]), np.concatenate([follows + 1, lone])
    of = which[line[first]]
    pieces = np.stack([points[first], points[second]], axis=1)
    most = _no_more_than(rooms, shapely.intersection(places[place], rooms.faces[room]))
    return _Reach(pieces, place[of], room[of], np.stack([place, room], axis=1), most)


def _no_more_than(rooms: Rooms, shapes: NDArray[Any]) -> Floats:
    """Bound the width of the discs centred in each shape [m].

    The distance to a wall is convex, so in a shape it is largest at a corner; the clearance is no
    more than the smallest of these.
    """
    most = np.zeros(len(shapes))
    points, shape = shapely.get_coordinates(shapes, return_index=True)
    if len(points):
        first = np.flatnonzero(np.diff(shape, prepend=-1))
        largest = np.maximum.reduceat(rooms.boundary.distances(points), first, axis=0)
        most[shape[first]] = 2.0 * largest.min(axis=1)
    return most


def _from_rim(rooms: Rooms, end: _Reach) -> tuple[Floats, bool]:
    """Return the width at the rim of the goal in each room [m], and whether all are proven."""
    uncapped = np.full(len(end.room), np.inf)
    width, _, sure = climb(rooms.boundary, end.pieces, end.room, uncapped, groups=len(rooms.faces))
    return width, bool(sure.all())


def _spread(rooms: Rooms, at_goal: Floats) -> _Spread:
    """Find the widest way from the goal into every room, always going on from the widest so far."""
    doors: list[list[tuple[int, int]]] = [[] for _ in rooms.faces]
    for (one, other), gap in zip(rooms.doors.tolist(), rooms.door_gap.tolist(), strict=True):
        doors[one].append((other, gap))
        doors[other].append((one, gap))
    width, limit = at_goal.copy(), np.full(len(at_goal), _AT_GOAL)
    queue = [(-value, room) for room, value in enumerate(width.tolist()) if value > 0.0]
    heapq.heapify(queue)
    while queue:
        value, room = heapq.heappop(queue)
        if -value < width[room]:
            continue
        for other, gap in doors[room]:
            narrows = rooms.gaps.width[gap] <= -value + _SAME
            through = min(-value, float(rooms.gaps.width[gap]))
            if through > width[other]:
                width[other], limit[other] = through, gap if narrows else limit[room]
                heapq.heappush(queue, (-through, other))
    return _Spread(width, limit)


def _best(
    rooms: Rooms,
    begin: _Reach,
    spread: _Spread,
    count: int,
    inner: Sequence[tuple[int, int, float]] = (),
    *,
    sure: bool,
) -> list[Way]:
    """Find the way of each place from its rim and, if given, summits (place, room, width) in it."""
    cap = spread.width[begin.room]
    width, piece, proven = climb(rooms.boundary, begin.pieces, begin.place, cap, groups=count)
    room = np.where(piece >= 0, begin.room[piece], -1) if len(begin.room) else piece
    for place, into, value in inner:
        if min(value, spread.width[into]) > width[place]:
            width[place], room[place] = min(value, spread.width[into]), into
    found = zip(width.tolist(), room.tolist(), (proven & sure).tolist(), strict=True)
    return [_way(rooms, spread, *one) for one in found]


def _way(rooms: Rooms, spread: _Spread, width: float, room: int, sure: bool) -> Way:
    if width <= 0.0:
        return Way(0.0, None, "none", sure)
    if width < spread.width[room] - _SAME:
        return Way(width, None, "start", sure)
    gap = int(spread.gap[room])
    if gap == _AT_GOAL:
        return Way(width, None, "goal", sure)
    (ax, ay), (bx, by) = rooms.gaps.ends[gap].tolist()
    return Way(float(rooms.gaps.width[gap]), ((ax, ay), (bx, by)), "pinch", sure)


def _upper(rooms: Rooms, begin: _Reach, end: _Reach) -> Floats:
    """Bound the way from each pair of place and room, (n,) [m]."""
    at_goal = np.full(len(rooms.faces), -np.inf)
    np.maximum.at(at_goal, end.met[:, 1], end.most)
    return np.minimum(begin.most, _spread(rooms, at_goal).width[begin.met[:, 1]])


def _summit(rooms: Rooms, room: int) -> _Summit:
    """Find the point of a room with the largest clearance, twice that [m], and if that is sure.

    Climbing begins a step inside the widest gap of the room, whence it cannot leave the room. Where
    that gains nothing, the room is a corridor as wide as this gap, and the gap's midpoint serves.
    """
    gaps = rooms.door_gap[(rooms.doors == room).any(axis=1)]
    face = rooms.faces[room]
    if not len(gaps):
        begin = shapely.get_coordinates(shapely.point_on_surface(face))[0]
        point, height, settled = summit(rooms.boundary, begin)
        return point, 2.0 * height, settled
    widest = int(gaps[np.argmax(rooms.gaps.width[gaps])])
    (ax, ay), (bx, by) = rooms.gaps.ends[widest]
    middle = np.array([0.5 * (ax + bx), 0.5 * (ay + by)])
    for side in (1e-3, -1e-3):
        begin = middle + side * np.array([ay - by, bx - ax])
        if shapely.intersects_xy(face, *begin):
            point, height, settled = summit(rooms.boundary, begin)
            if shapely.distance(face, shapely.points(point)) <= _SAME:
                return point, max(2.0 * height, float(rooms.gaps.width[widest])), settled
    return middle, float(rooms.gaps.width[widest]), True


def _raise(at_goal: Floats, summits: dict[int, _Summit], goals: BaseGeometry) -> Floats:
    """Return the widths at the goal with the summits inside of it."""
    raised = at_goal.copy()
    for room, (point, width, _) in summits.items():
        if shapely.distance(goals, shapely.points(point)) <= _SAME:
            raised[room] = max(raised[room], width)
    return raised


def _inner(
    met: Ints, places: NDArray[Any], summits: dict[int, _Summit]
) -> list[tuple[int, int, float]]:
    """List the summits inside of places, as (place, room, width)."""
    return [
        (place, room, summits[room][1])
        for place, room in met.tolist()
        if room in summits
        and shapely.distance(places[place], shapely.points(summits[room][0])) <= _SAME
    ]
