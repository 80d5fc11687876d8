"""The corners of what is left free by convex forbidden sets.

The best position of a thing under any cost that is linear between its guide lines is at a corner
of its free region, or where an edge of it meets a guide line, or where two guide lines cross. This
module finds all of those, also the ends of slots without any play, where the free region has no
area. A forbidden set forbids its inside deeper than the tolerance.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.convex import Outline
from floorplan.units import TOLERANCE

Array = NDArray[np.float64]

SAME = 1e-9
"""Grid lines nearer than this are one line [m]."""

FEW = 4
"""Slanted sets asked at a time: what one of them forbids the next are not asked about."""

NOWHERE = 1e300
"""Stands for a grid line that is not there [m]."""

Bits = NDArray[np.unsignedinteger]
"""Flags side by side in whole numbers, so that one `and` compares many."""


def grid_corners(
    boxes: Array, bounds: Array, guide_x: Array, guide_y: Array
) -> tuple[NDArray[np.intp], Array]:
    """Return the free corners among boxes, for several turns of one thing at once.

    Parameters
    ----------
    boxes
        (t, k, 4) x0, y0, x1, y1 of the forbidden boxes [m]; rows of nan forbid nothing
    bounds
        (t, 4) limits of the position, themselves allowed [m]; nan where a turn has no position
    guide_x, guide_y
        (t, g) further coordinates worth trying [m]; nan is left out

    Returns
    -------
    (n,) which turn, and (n, 2) the free position; in order of turn, x and y
    """
    turns = len(boxes)
    # Both axes in one go: rows 0 ... t - 1 are x, the others y.
    sides = np.concatenate([boxes[:, :, 0::2], boxes[:, :, 1::2]])
    limits = np.concatenate([bounds[:, 0::2], bounds[:, 1::2]])
    lines, kept = _lines(sides, limits, np.concatenate([guide_x, guide_y]))
    within, on = _crossed(lines, sides)
    columns, rows = within[:, :turns], within[:, turns:]
    # A grid point is covered by a box, or lies on an upright or a lying side.
    free = ~_common(columns, rows)
    free &= _common(on[:, :turns], rows) | kept[:turns, :, None]
    free &= _common(columns, on[:, turns:]) | kept[turns:, None, :]
    turn, column, row = np.unravel_index(np.flatnonzero(free), free.shape)
    found = np.empty((len(turn), 2))
    found[:, 0], found[:, 1] = lines[turn, column], lines[turns + turn, row]
    return turn, found


def _lines(sides: Array, bounds: Array, guides: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return the grid lines within bounds, sorted and each once, and which are kept anyway.

    Lines come from the sides (r, k, 2) of boxes; lines of bounds (r, 2) and guides (r, g) are
    kept even where no box is touched. Missing lines are at NOWHERE.
    """
    own = np.concatenate([bounds, guides], axis=1)
    lines = np.concatenate([own, sides.reshape(len(sides), -1)], axis=1)
    inside = (lines >= bounds[:, :1] - SAME) & (lines <= bounds[:, 1:] + SAME)
    lines[~inside] = NOWHERE
    lines.sort(axis=1)
    fresh = np.empty(lines.shape, dtype=np.bool_)
    fresh[:, 0] = True
    np.greater(lines[:, 1:] - lines[:, :-1], SAME, out=fresh[:, 1:])
    rank = fresh.cumsum(axis=1)
    width = int(rank[:, -1].max())
    packed = np.full((len(lines), width), NOWHERE)
    place = rank + (np.arange(len(lines)) * width - 1)[:, None]
    packed.ravel()[place[fresh]] = lines[fresh]
    kept = np.zeros(packed.shape, dtype=np.bool_)
    for line in own.T:
        kept |= np.abs(packed - line[:, None]) <= SAME
    return packed, kept


def _crossed(lines: Array, sides: Array) -> tuple[Bits, Bits]:
    """Which boxes each line (r, m) crosses, and at which it lies along a side, as bits.

    A box with sides (r, k, 2) is crossed by what is inside it deeper than the tolerance.
    """
    line, low, high = lines[:, :, None], sides[:, None, :, 0], sides[:, None, :, 1]
    within = (line >= low + TOLERANCE) & (line < high - TOLERANCE)
    on = (line >= low - 2 * SAME) & (line <= high + 2 * SAME)
    on &= ~within
    return _packed(within), _packed(on)


def _packed(flags: NDArray[np.bool_]) -> Bits:
    """(w, r, m) words that hold the flags (r, m, k) bit by bit, as short as will do."""
    bits = np.packbits(flags, axis=2)
    count = bits.shape[2]
    size = next((size for size in (1, 2, 4, 8) if size >= count), 8)
    words = max(1, -(-count // size))
    if words * size > count:
        wide = np.zeros((*bits.shape[:2], words * size), dtype=np.uint8)
        wide[:, :, :count] = bits
        bits = wide
    packed: Bits = bits.view(f"u{size}").transpose(2, 0, 1)
    return packed


def _common(a: Bits, b: Bits) -> NDArray[np.bool_]:
    """(r, m, n) whether bits (w, r, m) and (w, r, n) have one in common."""
    shared = a[0][:, :, None] & b[0][:, None, :]
    for more_a, more_b in zip(a[1:], b[1:], strict=True):
        shared |= more_a[:, :, None] & more_b[:, None, :]
    found: NDArray[np.bool_] = shared != 0
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Slanted:
    """The edges of convex forbidden sets that are not boxes, side by side.

    A point is in set s deeper than d if normal . point - offset < -d for all edges of s.
    """

    start: Array
    """(e, 2) first corner of each edge [m]"""
    step: Array
    """(e, 2) from the first corner to the next [m]"""
    normal: Array
    """(e, 2) outward unit normals"""
    offset: Array
    """(e,) normal . point on the edge [m]"""
    sizes: NDArray[np.intp]
    """(s,) number of edges of each set"""

    @classmethod
    def of(cls, outlines: Sequence[Outline]) -> "Slanted":
        """Collect convex counter-clockwise outlines."""
        if not outlines:
            none = np.empty((0, 2))
            return cls(none, none, none, np.empty(0), np.empty(0, dtype=np.intp))
        start = np.vstack(outlines)
        step = np.vstack([np.roll(outline, -1, axis=0) - outline for outline in outlines])
        length = np.hypot(step[:, 0], step[:, 1])
        normal = np.column_stack([step[:, 1], -step[:, 0]]) / length[:, None]
        offset = np.einsum("ij,ij->i", normal, start)
        return cls(start, step, normal, offset, np.array([len(o) for o in outlines], dtype=np.intp))

    def moved(self, shift: Array) -> "Slanted":
        """Return all of them moved by (2,) [m]."""
        offset = self.offset + self.normal @ shift
        return Slanted(self.start + shift, self.step, self.normal, offset, self.sizes)

    @classmethod
    def joined(cls, parts: Sequence["Slanted"]) -> "Slanted":
        """Put several collections into one."""
        parts = [part for part in parts if len(part.sizes)]
        if len(parts) < 2:
            return parts[0] if parts else cls.of([])
        return cls(
            np.concatenate([part.start for part in parts]),
            np.concatenate([part.step for part in parts]),
            np.concatenate([part.normal for part in parts]),
            np.concatenate([part.offset for part in parts]),
            np.concatenate([part.sizes for part in parts]),
        )

    def reaching(self, low: Array, high: Array) -> "Slanted":
        """Return those that can have a point within limits (2,) deeper than the tolerance [m]."""
        firsts = np.cumsum(self.sizes) - self.sizes
        beyond = np.minimum.reduceat(self.start, firsts) >= high - TOLERANCE
        before = np.maximum.reduceat(self.start, firsts) <= low + TOLERANCE
        near = ~np.any(beyond | before, axis=1)
        return self if near.all() else self._kept(np.repeat(near, self.sizes), self.sizes[near])

    def parts(self, most: int) -> Iterator["Slanted"]:
        """All of them, at most so many at a time."""
        ends = np.cumsum(self.sizes)
        for first in range(0, len(ends), most):
            sizes = self.sizes[first : first + most]
            last = ends[first + len(sizes) - 1]
            yield self._kept(slice(last - sizes.sum(), last), sizes)

    def _kept(self, edges: slice | NDArray[np.bool_], sizes: NDArray[np.intp]) -> "Slanted":
        """Only some edges, which make sets of these sizes."""
        kept = (self.start[edges], self.step[edges], self.normal[edges], self.offset[edges])
        return Slanted(*kept, sizes)

    def depth(self, points: Array) -> Array:
        """(n, s) how deep each point is inside each set [m], negative outside."""
        if not len(self.sizes):
            return np.empty((len(points), 0))
        above = self.offset - points @ self.normal.T
        firsts = np.concatenate([[0], np.cumsum(self.sizes)[:-1]])
        depth: Array = np.minimum.reduceat(above, firsts, axis=1)
        return depth


def box_depth(boxes: Array, points: Array) -> Array:
    """(n, k) how deep each point is inside each box (k, 4) [m], negative outside, nan for none."""
    x, y = points[:, 0, None], points[:, 1, None]
    across = np.minimum(x - boxes[:, 0], boxes[:, 2] - x)
    return np.asarray(np.minimum(across, np.minimum(y - boxes[:, 1], boxes[:, 3] - y)))


def slanted_corners(
    slanted: Slanted, boxes: Array, bounds: Array, guide_x: Array, guide_y: Array
) -> Array:
    """(n, 2) free corners on at least one slanted edge, for one turn [m].

    `boxes` (k, 4), `bounds` (4,), guides (g,); as for grid_corners. The points are free of boxes
    and slanted sets alike and within the bounds.
    """
    low, high = bounds[:2] - SAME, bounds[2:] + SAME
    start, step = _near(*_segments(boxes, bounds, guide_x, guide_y), low, high)
    edge, way = _near(slanted.start, slanted.step, low, high)
    points = np.vstack([edge, crossings(edge, way, edge, way), crossings(edge, way, start, step)])
    points = points[np.all((points >= low) & (points <= high), axis=1)]
    return free_of(points, boxes, slanted)


def _near(start: Array, step: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Return those of some segments whose boxes reach within limits (2,) [m]: most do not."""
    end = start + step
    near = (np.maximum(start, end) >= low) & (np.minimum(start, end) <= high)
    kept = near[:, 0] & near[:, 1]
    return start[kept], step[kept]


def free_of(points: Array, boxes: Array, slanted: Slanted) -> Array:
    """Return those of the points (n, 2) that no box (k, 4) and no slanted set forbids."""
    points = points[~np.any(box_depth(boxes, points) > TOLERANCE, axis=1)]
    if len(points) and len(slanted.sizes):
        for part in slanted.reaching(points.min(axis=0), points.max(axis=0)).parts(FEW):
            points = points[~np.any(part.depth(points) > TOLERANCE, axis=1)]
    return points


def _segments(boxes: Array, bounds: Array, guide_x: Array, guide_y: Array) -> tuple[Array, Array]:
    """Return starts and steps of the sides of boxes and bounds and of the guide lines."""
    sides = np.vstack([boxes[~np.isnan(boxes[:, 0])], bounds[None, :]])
    x0, y0, x1, y1 = sides.T
    lying = np.column_stack([x1 - x0, np.zeros_like(x0)])
    upright = np.column_stack([np.zeros_like(x0), y1 - y0])
    gx, gy = guide_x[~np.isnan(guide_x)], guide_y[~np.isnan(guide_y)]
    start = [
        np.column_stack([x0, y0]),
        np.column_stack([x0, y1]),
        np.column_stack([x0, y0]),
        np.column_stack([x1, y0]),
        np.column_stack([gx, np.full_like(gx, bounds[1])]),
        np.column_stack([np.full_like(gy, bounds[0]), gy]),
    ]
    step = [
        lying,
        lying,
        upright,
        upright,
        np.column_stack([np.zeros_like(gx), np.full_like(gx, bounds[3] - bounds[1])]),
        np.column_stack([np.full_like(gy, bounds[2] - bounds[0]), np.zeros_like(gy)]),
    ]
    return np.vstack(start), np.vstack(step)


def crossings(start_a: Array, step_a: Array, start_b: Array, step_b: Array) -> Array:
    """(n, 2) points where a segment of the first kind meets one of the second [m].

    Parallel segments meet nowhere here: where they overlap, their ends are corners anyway.
    """
    cross = step_a[:, None, 0] * step_b[None, :, 1] - step_a[:, None, 1] * step_b[None, :, 0]
    gap_x = start_b[None, :, 0] - start_a[:, None, 0]
    gap_y = start_b[None, :, 1] - start_a[:, None, 1]
    size_a = np.hypot(step_a[:, 0], step_a[:, 1])[:, None]
    size_b = np.hypot(step_b[:, 0], step_b[:, 1])[None, :]
    meet = np.abs(cross) > 1e-12 * size_a * size_b
    safe = np.where(meet, cross, 1.0)
    on_a = (gap_x * step_b[None, :, 1] - gap_y * step_b[None, :, 0]) / safe
    on_b = (gap_x * step_a[:, None, 1] - gap_y * step_a[:, None, 0]) / safe
    slack_a = SAME / np.maximum(size_a, SAME)
    slack_b = SAME / np.maximum(size_b, SAME)
    meet &= (on_a >= -slack_a) & (on_a <= 1 + slack_a)
    meet &= (on_b >= -slack_b) & (on_b <= 1 + slack_b)
    i, j = np.nonzero(meet)
    return start_a[i] + on_a[i, j][:, None] * step_a[i]
