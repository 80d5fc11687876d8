"""Equal rectangles laid square on a flat area, a gap between any two: rows in both turns.

A rectangle is filled with rows of one turn and what is left beside and behind them with the other,
or with four blocks round a middle; every way found is a proof from below.  From above bounds the
area, and for a rectangle the lengths that whole parts can add up to along each side.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import floor, sqrt

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Array

Box = tuple[float, float, float, float]
"""West, south, east and north [m]."""
_HAIR = 1e-9
"""Taken as equal [m]."""
_MANY = 60
"""Where more parts than these may lie, plain rows of each turn are enough."""
_FINE = 40
"""Lines of the raster along each axis at most."""


@lru_cache(maxsize=4096)
def fill(width: float, depth: float, part: tuple[float, float], gap: float) -> tuple[Box, ...]:
    """Parts in a rectangle from (0, 0), both turns, as many as cuts from edge to edge give [m]."""
    best: tuple[Box, ...] = ()
    most = _bound(width, depth, part, gap) if min(width, depth) > 0.0 else 0
    for a, b in dict.fromkeys((part, part[::-1])):
        across, deep = _many(width, a, gap), _many(depth, b, gap)
        if not across or not deep:
            continue
        blocks = [(across, deep)]
        if most <= _MANY:
            blocks += [(i, deep) for i in range(across - 1, 0, -1)]
            blocks += [(across, j) for j in range(deep - 1, 0, -1)]
        for columns, rows in blocks:
            if len(best) >= most:
                return best
            for found in _cuts((width, depth), (a, b), (columns, rows), part, gap):
                best = max((best, found), key=len)
    return best


def _cuts(
    size: tuple[float, float],
    turned: tuple[float, float],
    block: tuple[int, int],
    part: tuple[float, float],
    gap: float,
) -> Iterator[tuple[Box, ...]]:
    """A block of rows in the corner, and the rest filled, cut beside it or behind it first."""
    (width, depth), (a, b) = size, turned
    x, y = block[0] * (a + gap), block[1] * (b + gap)
    laid = [
        (i * (a + gap), j * (b + gap), i * (a + gap) + a, j * (b + gap) + b)
        for i in range(block[0])
        for j in range(block[1])
    ]
    for beside, behind in ((depth, x - gap), (y - gap, width)):
        east = fill(_round(width - x), _round(beside), part, gap)
        north = fill(_round(behind), _round(depth - y), part, gap)
        yield (*laid, *(_moved(p, x, 0.0) for p in east), *(_moved(p, 0.0, y) for p in north))


@lru_cache(maxsize=1024)
def fill_round(
    width: float, depth: float, part: tuple[float, float], gap: float
) -> tuple[Box, ...]:
    """The same, also with four blocks that go round a middle like the vanes of a wheel [m]."""
    best = fill(width, depth, part, gap)
    most = _bound(width, depth, part, gap) if min(width, depth) > 0.0 else 0
    if len(best) >= most or most > _MANY:
        return best
    east, north = width + gap, depth + gap
    xs, ys = (_sums(side, part[0] + gap, part[1] + gap) for side in (east, north))
    for x, x_in in ((x, i) for x in xs for i in xs if i < x):
        for y, y_in in ((y, j) for y in ys for j in ys if j > y):
            corners = (
                (0.0, 0.0, x, y), (x, 0.0, east, y_in), (x_in, y_in, east, north),
                (0.0, y, x_in, north), (x_in, y, x, y_in),
            )  # fmt: skip
            room = sum((e - w) * (n - s) // ((part[0] + gap) * (part[1] + gap) - _HAIR)
                       for w, s, e, n in corners)  # fmt: skip
            if room <= len(best):
                continue
            found = tuple(
                _moved(p, w, s)
                for w, s, e, n in corners
                for p in fill(_round(e - w - gap), _round(n - s - gap), part, gap)
            )
            best = max((best, found), key=len)
            if len(best) >= most:
                return best
    return best


def _sums(length: float, a: float, b: float) -> list[float]:
    """Every i a + j b that is shorter than `length` and more than nothing [m]."""
    found = {
        _round(i * a + j * b)
        for i in range(floor(length / a) + 1)
        for j in range(floor(length / b) + 1)
    }
    return sorted(one for one in found if _HAIR < one < length - _HAIR)


def _many(along: float, size: float, gap: float) -> int:
    """How many lie in one row: n sizes and n - 1 gaps."""
    return max(floor((along + gap) / (size + gap) + _HAIR), 0)


def _moved(one: Box, dx: float, dy: float) -> Box:
    return one[0] + dx, one[1] + dy, one[2] + dx, one[3] + dy


def _round(length: float) -> float:
    return round(length, 9)


def _bound(width: float, depth: float, part: tuple[float, float], gap: float) -> int:
    """More do not lie square in a rectangle.

    Along each side whole parts and gaps add up to one of a few sums at most; all parts grown by
    a gap lie in the rectangle of these sums.
    """
    a, b = part[0] + gap, part[1] + gap
    sums = [_longest(side + gap, a, b) for side in (width, depth)]
    return floor(sums[0] * sums[1] / (a * b) + _HAIR)


def _longest(length: float, a: float, b: float) -> float:
    """The greatest i a + j b that is no longer than `length` [m]."""
    most = 0.0
    for i in range(floor(length / a + _HAIR) + 1):
        left = length - i * a
        most = max(most, i * a + floor(left / b + _HAIR) * b)
    return most


def at_most(region: BaseGeometry, part: tuple[float, float], gap: float) -> int:
    """More parts than these do not lie in a region, whatever way they are turned [m].

    What no disc as wide as a part reaches, corners allowed for, holds nothing; the parts grown by
    half the gap lie apart in the rest grown as much.  In a rectangle they lie square to it.
    """
    total, half = 0, min(part) / 2
    for piece in _polygons(region):
        inner = piece.buffer(-half + 1e-7, quad_segs=32)
        if inner.is_empty:
            continue
        reach = half * sqrt(2.0) * 1.01 + 1e-6
        for usable in _polygons(inner.buffer(reach).intersection(piece)):
            grown = usable.buffer(gap / 2, join_style="mitre")
            most = floor(grown.area / ((part[0] + gap) * (part[1] + gap)) + 1e-6)
            west, south, east, north = usable.bounds
            if usable.area > (east - west) * (north - south) - 1e-9:
                most = min(most, _bound(east - west, north - south, part, gap))
            total += most
    return total


def lay(region: BaseGeometry, part: tuple[float, float], gap: float) -> tuple[Box, ...]:
    """Places for parts square to the axes in any region: its largest rectangles, one by one [m].

    In a rectangle the same as `fill_round`; in other regions a proof that so many lie there.
    """
    west, south, east, north = region.bounds if not region.is_empty else (0.0, 0.0, 0.0, 0.0)
    if region.area > (east - west) * (north - south) - 1e-9:
        laid = fill_round(_round(east - west), _round(north - south), part, gap)
        return tuple(_moved(p, west, south) for p in laid)
    left, out = region, list[Box]()
    while (found := _fullest(left, part, gap)) is not None:
        out.extend(found)
        taken = [box(*p).buffer(gap, join_style="mitre") for p in found]
        left = left.difference(shapely.union_all(taken))
    return tuple(out)


def in_corners(region: BaseGeometry, part: tuple[float, float]) -> tuple[Box, ...]:
    """Places for one part in the corners of a region's rectangles, both turns [m]."""
    out: dict[Box, None] = {}
    for piece in _polygons(region):
        for west, south, east, north in _rectangles(piece, part):
            for a, b in (part, part[::-1]):
                if a > east - west + _HAIR or b > north - south + _HAIR:
                    continue
                for x in (west, east - a):
                    for y in (south, north - b):
                        w, s, e, n = (round(v, 6) for v in (x, y, x + a, y + b))
                        out[w, s, e, n] = None
    return tuple(out)


def _fullest(region: BaseGeometry, part: tuple[float, float], gap: float) -> list[Box] | None:
    """Parts in the rectangle that holds most of them; None when no part fits."""
    best: tuple[int, float, list[Box]] | None = None
    for piece in _polygons(region):
        if piece.buffer(-min(part) / 2 + 1e-7).is_empty:
            continue
        for west, south, east, north in _rectangles(piece, part):
            laid = fill(_round(east - west), _round(north - south), part, gap)
            area = (east - west) * (north - south)
            if laid and (best is None or (len(laid), -area) > (best[0], -best[1])):
                best = (len(laid), area, [_moved(p, west, south) for p in laid])
    return None if best is None else best[2]


def _rectangles(piece: Polygon, part: tuple[float, float]) -> Iterator[Box]:
    """Rectangles of a raster through its corners that lie in a polygon and cannot be wider."""
    west, south, east, north = piece.bounds
    if piece.area > (east - west) * (north - south) - 1e-9:
        yield piece.bounds
        return
    corners = shapely.get_coordinates(piece)
    xs, ys = (_lines(corners[:, axis]) for axis in (0, 1))
    cells = shapely.box(*np.meshgrid(xs[:-1], ys[:-1]), *np.meshgrid(xs[1:], ys[1:]))
    shapely.prepare(grown := piece.buffer(1e-7, join_style="mitre"))
    inside = shapely.covers(grown, cells)
    for low in range(len(ys) - 1):
        open_ = np.ones(len(xs) - 1, dtype=bool)
        for high in range(low, len(ys) - 1):
            open_ &= inside[high]
            if not open_.any():
                break
            if ys[high + 1] - ys[low] < min(part) - _HAIR:
                continue
            edges = np.flatnonzero(np.diff(np.concatenate(([0], open_.astype(int), [0]))))
            for start, end in edges.reshape(-1, 2):
                if xs[end] - xs[start] >= min(part) - _HAIR:
                    yield float(xs[start]), float(ys[low]), float(xs[end]), float(ys[high + 1])


def _lines(along: Array) -> Array:
    """Where the raster has its lines: at all corners, or at some when there are too many."""
    lines: Array = np.unique(np.round(along, 9))
    if len(lines) <= _FINE:
        return lines
    keep = np.linspace(0, len(lines) - 1, _FINE).astype(int)
    return np.asarray(lines[keep])


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shape]
    if isinstance(shape, MultiPolygon) or hasattr(shape, "geoms"):
        return [p for part in shape.geoms for p in _polygons(part)]
    return []
