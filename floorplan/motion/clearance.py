"""Clearance: how far a point of the free floor is from what bounds it, and where that is largest.

The distance to one wall segment is a convex function of the point. Along a line it therefore lies
below its chord, which bounds the clearance from above, and above its tangent, which bounds it from
below; both searches here rest on nothing else.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

_SAME = 1e-9
"""Lengths closer than this are one and the same number [m]."""
_EXACT = 1e-11
"""Rounding allowed where a tangent is met exactly [m]."""
_FLAT = 1e-12
"""Three tangents that span less than this have no corner in common [-]."""
_ROUNDS = 200
_NEAREST = 8


@dataclass(frozen=True, slots=True)
class Boundary:
    """The walls of a floor as segments with the floor on their left, and the corners between them.

    start, end: (m, 2) ends of the walls [m]; the corner of a wall is its start.
    before: (m,) the wall that ends where this one starts.
    """

    start: Floats
    end: Floats
    before: Ints

    @property
    def along(self) -> Floats:
        """Unit direction of each wall, (m, 2)."""
        span = self.end - self.start
        return np.asarray(span / np.hypot(span[:, 0], span[:, 1])[:, None])

    def turn(self) -> Floats:
        """Sine of the turn at each corner, (m,): negative where the corner juts into the floor."""
        along = self.along
        come, leave = along[self.before], along
        turn = come[:, 0] * leave[:, 1] - come[:, 1] * leave[:, 0]
        doubles_back = (come * leave).sum(axis=1) < 0.0
        return np.asarray(np.where(doubles_back, np.copysign(1.0, turn), turn))

    def distances(self, points: Floats) -> Floats:
        """Distance of each point to each wall, (k, 2) -> (k, m) [m]."""
        return _norm(self.to_nearest(points))

    def clearance(self, points: Floats) -> Floats:
        """Distance of each point to the nearest wall, (k, 2) -> (k,) [m]."""
        if not len(points):
            return np.zeros(0)
        return np.asarray(self.distances(points).min(axis=1))

    def to_nearest(self, points: Floats) -> Floats:
        """Vectors from the nearest point of each wall to each point, (k, m, 2)."""
        span = self.end - self.start
        away = points[:, None, :] - self.start[None, :, :]
        share = (away * span).sum(axis=2) / (span * span).sum(axis=1)
        return np.asarray(away - np.clip(share, 0.0, 1.0)[:, :, None] * span)


def boundary_of(floor: Polygon | MultiPolygon) -> Boundary:
    """Return the walls of a valid, non-empty floor."""
    starts, ends, befores = [], [], []
    count = 0
    for polygon in shapely.get_parts(floor):
        for place, ring in enumerate((polygon.exterior, *polygon.interiors)):
            corners = shapely.get_coordinates(ring)[:-1]
            corners = corners[np.any(corners != np.roll(corners, 1, axis=0), axis=1)]
            if shapely.is_ccw(ring) != (place == 0):
                corners = corners[::-1]
            starts.append(corners)
            ends.append(np.roll(corners, -1, axis=0))
            befores.append(count + np.roll(np.arange(len(corners)), 1))
            count += len(corners)
    return Boundary(np.concatenate(starts), np.concatenate(ends), np.concatenate(befores))


def climb(
    boundary: Boundary, pieces: Floats, group: Ints, cap: Floats, *, groups: int
) -> tuple[Floats, Ints, Flags]:
    """Find the largest width along straight pieces, each up to its cap, for each group of pieces.

    pieces: (k, 2, 2) segments within the floor [m]; group, cap: (k,) [-], [m].
    Returns for each group the width (twice the clearance, -inf for an empty group) [m], the piece
    that has it, and whether nothing wider was left unsearched.
    """
    best, holder = np.full(groups, -np.inf), np.full(groups, -1, dtype=np.int64)
    left, right = pieces[:, 0], pieces[:, 1]
    piece = np.arange(len(pieces))
    at_left, at_right = boundary.distances(left), boundary.distances(right)
    _record(best, holder, np.minimum(2.0 * at_left.min(axis=1), cap), group, piece)
    _record(best, holder, np.minimum(2.0 * at_right.min(axis=1), cap), group, piece)
    for _ in range(_ROUNDS):
        share, most = _crossing(at_left, at_right)
        keep = np.minimum(2.0 * most, cap[piece]) > best[group[piece]] + _SAME
        if not keep.any():
            return best, holder, np.ones(groups, dtype=np.bool_)
        left, right, piece, share = left[keep], right[keep], piece[keep], share[keep]
        at_left, at_right = at_left[keep], at_right[keep]
        middle = left + share[:, None] * (right - left)
        at_middle = boundary.distances(middle)
        value = np.minimum(2.0 * at_middle.min(axis=1), cap[piece])
        _record(best, holder, value, group[piece], piece)
        left, right = np.concatenate([left, middle]), np.concatenate([middle, right])
        at_left = np.concatenate([at_left, at_middle])
        at_right = np.concatenate([at_middle, at_right])
        piece = np.concatenate([piece, piece])
    proven = np.ones(groups, dtype=np.bool_)
    proven[group[piece]] = False
    return best, holder, proven


def summit(boundary: Boundary, begin: Floats) -> tuple[Floats, float, bool]:
    """Climb from a point of the floor to a point of locally largest clearance.

    Each step goes to the best point for the tangents of all distances; the clearance there is at
    least what the tangents promise, and nowhere on the way is it less than at the start.
    Returns the point, its clearance [m], and whether the tangents there promise no more.
    """
    settled = False
    point, height = begin, float(boundary.clearance(begin[None])[0])
    reach = float(np.ptp(boundary.start, axis=0).max())
    for _ in range(_ROUNDS):
        away = boundary.to_nearest(point[None])[0]
        distance = _norm(away)
        if distance.min() <= _SAME:
            break
        step, promise = _tangent_peak(distance, away / distance[:, None], reach)
        settled = promise <= height + _SAME
        further = point + step
        reached = float(boundary.clearance(further[None])[0])
        if reached <= height + 0.01 * _SAME:
            break
        point, height = further, reached
    return point, height, settled


def _tangent_peak(distance: Floats, slope: Floats, reach: float) -> tuple[Floats, float]:
    """Find the step, within `reach`, that maximises the smallest of `distance + slope . step`.

    A linear programme in the step and the height. Its best corner is sought among all corners of
    the nearest walls; the wall that this violates most is added until none is.
    Returns the step and the height it promises, inf if rounding hid the best corner.
    """
    box = [[1, 0, 0, reach], [-1, 0, 0, reach], [0, 1, 0, reach], [0, -1, 0, reach]]
    rows = np.column_stack([-slope, np.ones(len(slope)), distance])
    near = np.argsort(distance, kind="stable")[:_NEAREST]
    used = np.concatenate([np.array(box, dtype=np.float64), rows[near]])
    for _ in range(len(rows)):
        corner = _best_corner(used)
        excess = rows[:, :3] @ corner - rows[:, 3]
        worst = int(excess.argmax())
        if excess[worst] <= _EXACT:
            return corner[:2], float(corner[2])
        used = np.concatenate([used, rows[worst : worst + 1]])
    return np.zeros(2), np.inf


def _best_corner(rows: Floats) -> Floats:
    """Find the point of largest third coordinate with `rows[:, :3] . point <= rows[:, 3]`."""
    three = rows[np.array(list(combinations(range(len(rows)), 3)))]
    a, b, c = three[:, 0], three[:, 1], three[:, 2]
    bc, ca, ab = (np.cross(u[:, :3], v[:, :3]) for u, v in ((b, c), (c, a), (a, b)))
    volume = (a[:, :3] * bc).sum(axis=1)
    sound = np.abs(volume) > _FLAT
    moments = a[:, 3:] * bc + b[:, 3:] * ca + c[:, 3:] * ab
    corners = moments[sound] / volume[sound, None]
    inside = (corners @ rows[:, :3].T <= rows[:, 3] + _EXACT).all(axis=1)
    if not inside.any():
        return np.array([0.0, 0.0, -np.inf])
    corners = corners[inside]
    return np.asarray(corners[corners[:, 2].argmax()])


def _norm(vectors: Floats) -> Floats:
    return np.asarray(np.sqrt((vectors * vectors).sum(axis=-1)))


def _record(best: Floats, holder: Ints, value: Floats, group: Ints, piece: Ints) -> None:
    """Raise the best of each group, in place."""
    order = np.argsort(value, kind="stable")
    ordered = group[order]
    last = np.zeros_like(holder)
    last[ordered] = order
    touched = np.unique(group)
    winner = last[touched]
    better = value[winner] > best[touched]
    best[touched[better]] = value[winner[better]]
    holder[touched[better]] = piece[winner[better]]


def _crossing(at_left: Floats, at_right: Floats) -> tuple[Floats, Floats]:
    """Tell where the chords of the nearest walls at either end cross, and bound what is between.

    The bound is -inf where the clearance is nowhere larger than at one of the ends.
    """
    if not len(at_left):
        return np.zeros(0), np.zeros(0)
    row = np.arange(len(at_left))
    near_left, near_right = at_left.argmin(axis=1), at_right.argmin(axis=1)
    a0, a1 = at_left[row, near_left], at_right[row, near_left]
    b0, b1 = at_left[row, near_right], at_right[row, near_right]
    gap = (b0 - a0) + (a1 - b1)
    inside = (a1 > a0) & (b0 > b1) & (gap > 0.0)
    share = np.where(inside, (b0 - a0) / np.where(inside, gap, 1.0), 0.5)
    most = np.where(inside, a0 + share * (a1 - a0), -np.inf)
    return np.clip(share, 0.02, 0.98), most
