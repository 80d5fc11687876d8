"""Where a fed piece begins to tip, forwards and sideways, as sensitive as what carries it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from scipy.spatial import ConvexHull, QhullError
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.bearing import Lane, Surface, carrying, corner
from floorplan.geometry.affine import Affine
from floorplan.geometry.balance import Array, Plate, Shapes, bearing, heads_of_change, shifts
from floorplan.units import TOLERANCE

STEPS = 24
"""Places of the leading end looked at, besides those at which something changes."""
_NEAR = 1e-10  # the place at which it tips is found to this [m]
_CUTS = 33  # places looked at together while it is narrowed down
_INSIDE = 1e-9  # so far within its hull a line is cut, lest it run along a side [m]
Point = tuple[Affine, Affine]


@dataclass(frozen=True, slots=True)
class Sideways:
    """Where a piece comes nearest to tipping over a side of what carries it."""

    side: Literal["left", "right"]
    """Seen along the feed."""
    head: float
    """Way of the leading end behind the blade there [m]."""
    over: float
    """How far the piece hangs over that side there [m]."""
    margin: Affine
    """How much farther in that side could be with a hand that holds the piece level [m]."""


# --- forwards --------------------------------------------------------------------------------


def covered(found: tuple[Surface, ...], piece: Lane) -> Affine:
    """How far behind the blade the centre of gravity comes without the piece tipping [m]."""
    plate, under = piece.plate, carrying(found)
    start = found[0].near.value + plate.length / 2
    end = float(under.bounds[2]) + plate.length
    heads = np.append(np.linspace(start, end, STEPS + 1), heads_of_change(under, plate))
    heads = np.unique(heads[(heads >= start) & (heads <= end)])
    rooms = _room_ahead(under, plate, heads)[0]
    if rooms[0] == -np.inf:  # the table lies beside the piece: nothing carries it at all
        return found[0].near
    short = np.flatnonzero(rooms < -TOLERANCE)
    last = int(short[0]) if len(short) else len(heads) - 1
    good, bad = float(heads[max(last - 1, 0)]), float(heads[last])
    while bad - good > _NEAR:
        between = np.linspace(good, bad, _CUTS)
        short = np.flatnonzero(_room_ahead(under, plate, between[1:-1])[0] < 0.0)
        first = int(short[0]) + 1 if len(short) else _CUTS - 1
        good, bad = float(between[first - 1]), float(between[first])
    return _edge_ahead(found, piece, good, _room_ahead(under, plate, np.array([good]))[1][0])


def _room_ahead(under: BaseGeometry, plate: Plate, heads: Array) -> tuple[Array, Array]:
    """How far the hull reaches before the centre of gravity [m], and along which line (y) [m].

    The line is that of the centre of gravity, or the nearest one to it that meets the hull.
    """
    hulls = bearing(under, plate, heads)
    bounds = shapely.bounds(hulls)
    low, high = bounds[:, 1] + _INSIDE, bounds[:, 3] - _INSIDE
    lines = np.clip(plate.middle, np.minimum(low, high), np.maximum(low, high))
    ends = np.stack([np.column_stack([bounds[:, k], lines]) for k in (0, 2)], axis=1)
    ends = np.nan_to_num(ends + np.array([[[-1.0, 0.0]], [[1.0, 0.0]]]).reshape(1, 2, 2))
    reach = shapely.bounds(shapely.intersection(hulls, shapely.linestrings(ends)))[:, 2]
    reach = np.where(np.isnan(reach), bounds[:, 2], reach)
    rooms = np.where(np.isnan(reach), -np.inf, reach - (heads - plate.length / 2))
    return rooms, lines


def _edge_ahead(found: tuple[Surface, ...], piece: Lane, head: float, line: float) -> Affine:
    """Place along the feed at which the front edge of the hull crosses a line."""
    hull = bearing(carrying(found), piece.plate, np.array([head]))[0]
    points = shapely.get_coordinates(hull)
    best: tuple[float, tuple[int, int]] | None = None
    for i in range(len(points) - 1):
        (ax, ay), (bx, by) = points[i], points[i + 1]
        if min(ay, by) - _NEAR <= line <= max(ay, by) + _NEAR and abs(by - ay) > _NEAR:
            x = ax + (bx - ax) * (line - ay) / (by - ay)
            if best is None or x > best[0]:
                best = x, (i, i + 1)
    if best is None:
        far = points[np.argmax(points[:, 0])]
        return corner(found, piece, head, (float(far[0]), float(far[1])))[0]
    a, b = (corner(found, piece, head, (float(x), float(y))) for x, y in points[list(best[1])])
    on_middle = abs(line - piece.middle.value) <= TOLERANCE
    return _crossing(a, b, piece.middle if on_middle else Affine(line), axis=1)


def _crossing(a: Point, b: Point, at: Affine, *, axis: int) -> Affine:
    """The other coordinate of where the line through two points has `at` on an axis."""
    run = b[axis].value - a[axis].value
    share = (at.value - a[axis].value) / run
    slope = (b[1 - axis].value - a[1 - axis].value) / run
    off = a[axis] * (1.0 - share) + b[axis] * share - at
    return a[1 - axis] * (1.0 - share) + b[1 - axis] * share - off * slope


# --- sideways --------------------------------------------------------------------------------


def sideways(found: tuple[Surface, ...], piece: Lane, last: float, hand: float) -> Sideways | None:
    """Where a piece comes nearest to tipping over a side until its leading end is at `last` [m].

    `hand` is what a hand at the tail presses or lifts with, as a part of the piece's weight.
    None where the piece hangs over no side of what carries it.
    """
    plate, under = piece.plate, carrying(found)
    start = found[0].near.value + plate.length / 2
    heads = np.append(np.linspace(start, last, STEPS + 1), heads_of_change(under, plate))
    heads = np.unique(heads[(heads >= start) & (heads <= last)])
    if not len(heads):
        return None
    hulls = bearing(under, plate, heads)
    over = _overhangs(plate, hulls)
    if not (over > TOLERANCE).any():
        return None
    worst: tuple[float, int, float] | None = None
    for i in np.flatnonzero((over > TOLERANCE).any(axis=1)).tolist():
        rooms = [_room(hulls[i], shifts(plate, float(heads[i]), s)) for s in _shares(hand)]
        room = max(rooms, key=lambda r: r[0])
        if np.isfinite(room[0]) and (worst is None or room[0] < worst[0]):
            worst = room[0], i, _shares(hand)[rooms.index(room)]
    if worst is None:
        return None
    _, i, share = worst
    return _told(found, piece, float(heads[i]), hulls[i], share, over[i])


def _shares(hand: float) -> tuple[float, ...]:
    """How far a hand brings the centre of all weight to the tail, pressing and lifting [-]."""
    press = hand / (1.0 + hand)
    return (press, -hand / (1.0 - hand)) if hand < 0.95 else (press, -20.0)


def _overhangs(plate: Plate, hulls: Shapes) -> Array:
    """(n, 2) how far the plate reaches over what carries it on its right and left [m]."""
    bounds = np.nan_to_num(shapely.bounds(hulls), nan=plate.middle)
    overhangs: Array = np.column_stack([bounds[:, 1] - plate.low, plate.high - bounds[:, 3]])
    return overhangs


def _differences(hull: BaseGeometry, triangle: Array) -> tuple[Array, Array, Array]:
    """Ring of all steps from a triangle to a hull, and of which corners of both each is made."""
    points = shapely.get_coordinates(hull)
    if isinstance(hull, Polygon):
        points = points[:-1]
    steps = (points[:, None, :] - triangle[None, :, :]).reshape(-1, 2)
    try:
        ring = ConvexHull(steps).vertices
    except (QhullError, ValueError):
        ring = np.array([], dtype=np.intp)
    return steps[ring], points[ring // len(triangle)], ring % len(triangle)


def _crossings(ring: Array) -> Iterator[tuple[float, int, int]]:
    """Where a convex ring crosses x = 0: y, and the two corners between which it does."""
    for i in range(len(ring)):
        j = (i + 1) % len(ring)
        (ax, ay), (bx, by) = ring[i], ring[j]
        if (ax < 0.0) != (bx < 0.0):
            yield float(ay + (by - ay) * ax / (ax - bx)), i, j


def _room(hull: BaseGeometry, triangle: Array) -> tuple[float, str]:
    """How far sideways the hull can be moved off a triangle, negative if it must come nearer [m].

    -inf where no step sideways brings them together, and +inf there too: that is tipping forwards.
    """
    crossings = sorted(y for y, _, _ in _crossings(_differences(hull, triangle)[0]))
    if len(crossings) < 2:
        return -np.inf, ""
    # steps sideways that bring them together run from the first to the last
    return (crossings[-1], "left") if crossings[-1] < -crossings[0] else (-crossings[0], "right")


def _told(
    found: tuple[Surface, ...], piece: Lane, head: float, hull: BaseGeometry, share: float,
    over: Array,
) -> Sideways:  # fmt: skip
    triangle = shifts(piece.plate, head, share)
    room, side = _room(hull, triangle)
    ring, of_hull, of_triangle = _differences(hull, triangle)
    wanted = room if side == "left" else -room
    _, i, j = min(_crossings(ring), key=lambda c: abs(c[0] - wanted))
    moved = _shifted_corners(piece, head, share)
    ends = []
    for k in (i, j):
        x, y = corner(found, piece, head, (float(of_hull[k][0]), float(of_hull[k][1])))
        mx, my = moved[of_triangle[k]]
        ends.append((x - mx, y - my))
    margin = _crossing(ends[0], ends[1], Affine(0.0), axis=0)
    if side == "left":
        return Sideways("left", head, float(over[1]), margin)
    return Sideways("right", head, float(over[0]), -margin)


def _shifted_corners(piece: Lane, head: float, share: float) -> tuple[Point, Point, Point]:
    """The triangle of `shifts`, as sensitive as the piece."""
    x, y = Affine(head) - piece.length / 2, piece.middle
    tail = Affine(head) - piece.length
    ends = ((tail, piece.right), (tail, piece.left))
    right, left = ((x + (u - x) * share, y + (v - y) * share) for u, v in ends)
    return (x, y), right, left
