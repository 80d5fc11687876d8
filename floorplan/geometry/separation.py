"""Whether two plans are surely apart, or surely overlap, whatever the tape may be off.

Two convex plans are apart as soon as one direction parts them: one in which all of the one lies
before all of the other.  The direction in which they are nearest is often not the one in which the
gap is best known; where two corners nearly meet, the errors of both coordinates add up along the
diagonal, and the gap along a wall alone tells more.  So every direction square to an edge, or
along x or y, is asked for the least gap that any true size leaves, and the best of them counts.
(Separating axes: Gottschalk, Lin, Manocha, OBBTree, SIGGRAPH 1996.)  Plans that are not convex are
apart when each two of their convex pieces are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from floorplan.geometry.affine import Affine, Array, Measurement, Outline


@dataclass(frozen=True, slots=True, eq=False)
class _Corners:
    """The corners of a convex piece and how each of them follows what was measured."""

    points: Array
    """(n, 2) [m]"""
    terms: Mapping[str, Array]
    """Measurement name -> (n, 2) sensitivities [-]."""


_ALONG = np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
"""Directions along x and y, in which most things are measured."""
Plan = tuple[Outline, Sequence[Array]]
"""An outline and the convex pieces (n, 2) of it [m]."""


def edge_normals(points: Array) -> Array:
    """(k, 2) outward unit normals of the edges of a counter-clockwise outline (n, 2)."""
    edge = np.roll(points, -1, axis=0) - points
    normal = np.column_stack([edge[:, 1], -edge[:, 0]])
    length = np.hypot(normal[:, 0], normal[:, 1])
    keep = length > 1e-12
    return normal[keep] / length[keep, None]


def surest_gap(a: Plan, b: Plan, measurements: Mapping[str, Measurement]) -> Affine:
    """The gap of two plans along the direction in which it is surest [m].

    The gap belongs to two corners: no other two can come nearer in that direction, once each gap
    is lessened by what it may be off.
    """
    found = [
        _of_two(one, other, measurements, -1.0) for one in _corners(*a) for other in _corners(*b)
    ]
    return min(found, key=lambda row: row[0])[1]


def likeliest_gap(a: Plan, b: Plan, measurements: Mapping[str, Measurement]) -> Affine:
    """The gap of two plans along the direction in which they may be farthest apart [m].

    Unless this can be positive, they surely overlap.
    """
    found = [
        _of_two(one, other, measurements, 1.0) for one in _corners(*a) for other in _corners(*b)
    ]
    return min(found, key=lambda row: row[0])[1]


def _corners(outline: Outline, pieces: Sequence[Array]) -> list[_Corners]:
    if len(pieces) == 1:
        return [_Corners(outline.points, outline.terms)]
    out = []
    for piece in pieces:
        # every corner of a piece lies on the outline
        own = Outline.of([outline.nearest(corner) for corner in piece])
        out.append(_Corners(piece, own.terms))
    return out


def _of_two(
    a: _Corners,
    b: _Corners,
    measurements: Mapping[str, Measurement],
    sign: float,
) -> tuple[float, Affine]:
    """The best gap of two convex pieces: its least or greatest true value [m], and itself."""
    normals = edge_normals(_anticlockwise(a.points)), -edge_normals(_anticlockwise(b.points))
    axes = np.vstack([*normals, _ALONG])
    # (n of a, n of b, k): from a corner of the one to a corner of the other along each axis
    gaps = (b.points @ axes.T)[None, :, :] - (a.points @ axes.T)[:, None, :]
    bound = gaps.copy()
    for name in {*a.terms, *b.terms}:
        if name in measurements and measurements[name].error:
            bound += sign * measurements[name].error * np.abs(_weights(a, b, axes, name))
    worst = bound.reshape(-1, len(axes)).min(axis=0)
    k = int(np.argmax(worst))
    i, j = np.unravel_index(int(np.argmin(bound[:, :, k])), bound.shape[:2])
    every = sorted({*a.terms, *b.terms})
    terms = {n: float(_weights(a, b, axes[k : k + 1], n)[i, j, 0]) for n in every}
    return float(worst[k]), Affine(float(gaps[i, j, k]), {n: w for n, w in terms.items() if w})


def _weights(a: _Corners, b: _Corners, axes: Array, name: str) -> Array:
    """(n of a, n of b, k) how the gaps follow one measurement."""
    none_a, none_b = np.zeros_like(a.points), np.zeros_like(b.points)
    of_a, of_b = a.terms.get(name, none_a), b.terms.get(name, none_b)
    weights: Array = (of_b @ axes.T)[None, :, :] - (of_a @ axes.T)[:, None, :]
    return weights


def _anticlockwise(points: Array) -> Array:
    """The corners of an outline, counter-clockwise."""
    x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return points if area > 0 else points[::-1]
