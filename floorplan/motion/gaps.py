"""The gaps of a floor: pairs of facing boundary points between which a way can be pinched.

A gap joins a corner that juts into the floor with another such corner, or with the foot of the
perpendicular from it to a wall, and the disc on the gap as its diameter is free. Cutting the floor
along all of its gaps leaves rooms, each with one point of locally largest clearance (see `widest`).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from floorplan.motion.clearance import Boundary, Flags, Floats, Ints, boundary_of

_ONTO_CORNER = 1e-9
"""A foot this near the end of its wall is the corner itself [m]."""
_FREE = 1e-8
"""How far a wall may reach into the disc of a gap [m]: a surplus gap does no harm."""
_OUTWARD = 1e-6
"""How far, as a sine, a gap may lean into one of its own corners."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """Gaps as segments: ends (n, 2, 2) [m], width (n,) [m], and the wall of each foot.

    wall: (n,) the wall on which the second end lies, -1 where that is a corner.
    """

    ends: Floats
    width: Floats
    wall: Ints

    def pick(self, which: Flags | Ints) -> "Gaps":
        """Return some of the gaps."""
        return Gaps(self.ends[which], self.width[which], self.wall[which])


@dataclass(frozen=True, slots=True)
class Rooms:
    """The floor cut along its gaps.

    faces: the rooms as polygons; doors: (d, 2) the two rooms on either side of the gap door_gap[d];
    whole: whether the rooms make up the floor and every gap lies between two of them.
    """

    boundary: Boundary
    gaps: Gaps
    faces: NDArray[Any]
    doors: Ints
    door_gap: Ints
    whole: bool


def rooms_of(floor: Polygon | MultiPolygon) -> Rooms:
    """Cut a valid, non-empty floor along its gaps."""
    boundary = boundary_of(floor)
    gaps = find_gaps(boundary, floor)
    walls = _split_walls(boundary, gaps)
    lines = shapely.linestrings(np.concatenate([walls, gaps.ends]))
    faces = shapely.get_parts(shapely.polygonize(lines))
    inner = shapely.get_coordinates(shapely.point_on_surface(faces))
    faces = faces[shapely.contains_xy(floor, inner)]
    doors, door_gap = _doors(faces, gaps)
    missing = abs(float(shapely.area(faces).sum()) - floor.area)
    whole = len(door_gap) == len(gaps.width) and missing <= _FREE * floor.length
    return Rooms(boundary, gaps, faces, doors, door_gap, whole)


def find_gaps(boundary: Boundary, floor: Polygon | MultiPolygon) -> Gaps:
    """Find all gaps of a floor, none crossing another."""
    juts = np.flatnonzero(boundary.turn() < _FREE)
    if not len(juts):
        return Gaps(np.zeros((0, 2, 2)), np.zeros(0), np.zeros(0, dtype=np.int64))
    between, across = _corner_pairs(boundary, juts), _feet(boundary, juts)
    gaps = Gaps(
        np.concatenate([between.ends, across.ends]),
        np.concatenate([between.width, across.width]),
        np.concatenate([between.wall, across.wall]),
    )
    middle = gaps.ends.mean(axis=1)
    shapely.prepare(floor)
    gaps = gaps.pick(shapely.intersects_xy(floor, middle))
    middle = gaps.ends.mean(axis=1)
    gaps = gaps.pick(boundary.clearance(middle) >= 0.5 * gaps.width - _FREE)
    return _uncrossed(_distinct(gaps))


def _corner_pairs(boundary: Boundary, juts: Ints) -> Gaps:
    """List candidate gaps between two corners."""
    first, second = (juts[side] for side in np.triu_indices(len(juts), k=1))
    start, end = boundary.start[first], boundary.start[second]
    width = np.hypot(*(end - start).T)
    apart = width > 0.0
    first, second, start, end, width = (x[apart] for x in (first, second, start, end, width))
    way = (end - start) / width[:, None]
    keep = _outward(boundary, first, way) & _outward(boundary, second, -way)
    ends = np.stack([start[keep], end[keep]], axis=1)
    return Gaps(ends, width[keep], np.full(len(ends), -1, dtype=np.int64))


def _feet(boundary: Boundary, juts: Ints) -> Gaps:
    """List candidate gaps between a corner and the foot of its perpendicular on a wall."""
    span = boundary.end - boundary.start
    length = np.hypot(span[:, 0], span[:, 1])
    along = span / length[:, None]
    away = boundary.start[juts][:, None, :] - boundary.start[None, :, :]
    share = (away * along).sum(axis=2)
    height = along[:, 0] * away[:, :, 1] - along[:, 1] * away[:, :, 0]
    ahead = (share >= -_ONTO_CORNER) & (share <= length + _ONTO_CORNER)
    which, wall = np.nonzero(ahead & (height > 0.0))
    corner = juts[which]
    share, tip = share[which, wall], boundary.start[corner]
    at_start, at_end = share <= _ONTO_CORNER, share >= length[wall] - _ONTO_CORNER
    foot = boundary.start[wall] + share[:, None] * along[wall]
    foot = np.where(at_start[:, None], boundary.start[wall], foot)
    foot = np.where(at_end[:, None], boundary.end[wall], foot)
    width = np.hypot(*(foot - tip).T)
    apart = width > 0.0
    way = (foot - tip) / np.where(apart, width, 1.0)[:, None]
    keep = apart & _outward(boundary, corner, way)
    ends = np.stack([tip[keep], foot[keep]], axis=1)
    return Gaps(ends, width[keep], np.where(at_start | at_end, -1, wall)[keep])


def _outward(boundary: Boundary, corner: Ints, way: Floats) -> Flags:
    """Tell whether a corner is the nearest point of its own two walls for someone `way` from it."""
    along = boundary.along
    ahead, behind = along[corner], -along[boundary.before[corner]]
    leans = np.maximum((ahead * way).sum(axis=1), (behind * way).sum(axis=1))
    return np.asarray(leans <= _OUTWARD)


def _distinct(gaps: Gaps) -> Gaps:
    """Keep gaps between the same two points once only."""
    a, b = _as_complex(gaps.ends[:, 0]), _as_complex(gaps.ends[:, 1])
    swap = (a.real > b.real) | ((a.real == b.real) & (a.imag > b.imag))
    pair = np.stack([np.where(swap, b, a), np.where(swap, a, b)], axis=1)
    return gaps.pick(np.unique(pair, axis=0, return_index=True)[1])


def _uncrossed(gaps: Gaps) -> Gaps:
    """Of crossing gaps keep the narrower.

    Gaps cross only where all four ends lie on one circle; its centre is then no pass, for the sides
    of that rectangle are narrower than its diagonals.
    """
    gaps = gaps.pick(np.argsort(gaps.width, kind="stable"))
    lines = shapely.linestrings(gaps.ends)
    first, second = shapely.STRtree(lines).query(lines, predicate="crosses")
    keep = np.ones(len(lines), dtype=np.bool_)
    for narrow, wide in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        if narrow < wide and keep[narrow]:
            keep[wide] = False
    return gaps.pick(keep)


def _split_walls(boundary: Boundary, gaps: Gaps) -> Floats:
    """Cut the walls at the feet of the gaps, (k, 2, 2) [m]."""
    onto = gaps.wall >= 0
    count = len(boundary.start)
    wall = np.concatenate([np.arange(count), np.arange(count), gaps.wall[onto]])
    point = np.concatenate([boundary.start, boundary.end, gaps.ends[onto, 1]])
    share = ((point - boundary.start[wall]) * boundary.along[wall]).sum(axis=1)
    order = np.lexsort([share, wall])
    wall, point = wall[order], point[order]
    same = wall[1:] == wall[:-1]
    cut = np.stack([point[:-1][same], point[1:][same]], axis=1)
    return np.asarray(cut[np.any(cut[:, 0] != cut[:, 1], axis=1)])


def _doors(faces: NDArray[Any], gaps: Gaps) -> tuple[Ints, Ints]:
    """Find the pairs of rooms that share a gap, by the exact coordinates of their sides."""
    rings, owner = shapely.get_rings(faces, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    face = owner[ring]
    inside = ring[1:] == ring[:-1]
    ends = np.concatenate([points, gaps.ends.reshape(-1, 2)])
    name = np.unique(_as_complex(ends), return_inverse=True)[1]
    base = int(name.max()) + 1
    sides = _pair_code(name[: len(points)][:-1][inside], name[: len(points)][1:][inside], base)
    wanted = _pair_code(name[len(points) :: 2], name[len(points) + 1 :: 2], base)
    order = np.argsort(sides, kind="stable")
    low = np.searchsorted(sides[order], wanted, side="left")
    high = np.searchsorted(sides[order], wanted, side="right")
    shared = np.flatnonzero(high - low == 2)
    of_side = face[:-1][inside][order]
    return np.stack([of_side[low[shared]], of_side[low[shared] + 1]], axis=1), shared


def _pair_code(first: Ints, second: Ints, base: int) -> Ints:
    return np.asarray(np.minimum(first, second) * base + np.maximum(first, second))


def _as_complex(points: Floats) -> NDArray[np.complex128]:
    return np.asarray(points[:, 0] + 1j * points[:, 1])
