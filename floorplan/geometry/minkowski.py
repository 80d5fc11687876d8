"""Minkowski sums of convex outlines, and the no-fit polygons that they give.

A body with outline B (from its reference point) overlaps an obstacle A exactly while its reference
point is inside A + (-B), the no-fit polygon of the two (de Berg, Cheong, van Kreveld, Overmars,
Computational Geometry, 3rd ed., Springer 2008, section 13.3).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.convex import SAME, Outline, tidy


def minkowski_sum(a: Outline, b: Outline) -> Outline:
    """Sum of two convex counter-clockwise outlines: their edges merged by direction."""
    return tidy(_sums(a[None], b[None])[0])


def no_fit(obstacle: Outline, movable: Outline) -> Outline:
    """Return where the reference point of `movable` must not be: the open inside of the outline."""
    return minkowski_sum(obstacle, -movable)


def no_fits(
    obstacles: Sequence[Outline], movables: Sequence[Outline], pairs: NDArray[np.intp]
) -> tuple[Outline, ...]:
    """Return the no-fit polygons of many pairs at once, in the order of the pairs.

    Parameters
    ----------
    obstacles, movables
        convex counter-clockwise outlines [m]
    pairs
        (k, 2) index into movables, index into obstacles
    """
    if not len(pairs):
        return ()
    sizes = np.array([(len(movables[m]), len(obstacles[o])) for m, o in pairs])
    found: list[Outline] = [np.empty((0, 2))] * len(pairs)
    for size in np.unique(sizes, axis=0):
        (alike,) = np.nonzero((sizes == size).all(axis=1))
        own = np.array([-movables[m] for m in pairs[alike, 0]])
        other = np.array([obstacles[o] for o in pairs[alike, 1]])
        sums = _sums(other, own)
        for number, outline, bends in zip(alike, sums, _bends(sums), strict=True):
            found[number] = outline[bends]
    return tuple(found)


def _sums(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k, n + m, 2) sums of pairs of convex outlines (k, n, 2) and (k, m, 2).

    Every corner of the answer is the sum of one corner of each, so no error builds up round it.
    Parallel edges are not joined.
    """
    a, b = _from_lowest(a), _from_lowest(b)
    n, m = a.shape[1], b.shape[1]
    steps = np.concatenate([_ahead(a) - a, _ahead(b) - b], axis=1)
    turns = np.arctan2(steps[:, :, 1], steps[:, :, 0])
    turns[turns < 0] += 2 * np.pi
    from_a = np.argsort(turns, axis=1, kind="stable") < n
    row = np.arange(len(a))[:, None]
    taken_a = (np.cumsum(from_a, axis=1) - from_a) % n
    taken_b = (np.cumsum(~from_a, axis=1) - ~from_a) % m
    sums: NDArray[np.float64] = a[row, taken_a] + b[row, taken_b]
    return sums


def _bends(outlines: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(k, n) whether each corner of closed outlines (k, n, 2) is one, or on a straight edge."""
    chord = _ahead(outlines) - _behind(outlines)
    arm = outlines - _behind(outlines)
    cross = np.abs(chord[:, :, 0] * arm[:, :, 1] - chord[:, :, 1] * arm[:, :, 0])
    bends: NDArray[np.bool_] = cross > SAME * np.hypot(chord[:, :, 0], chord[:, :, 1])
    return bends


def _ahead(outlines: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([outlines[:, 1:], outlines[:, :1]], axis=1)


def _behind(outlines: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate([outlines[:, -1:], outlines[:, :-1]], axis=1)


def _from_lowest(outlines: NDArray[np.float64]) -> NDArray[np.float64]:
    """Begin each outline (k, n, 2) at its lowest corner, the leftmost of the lowest."""
    n = outlines.shape[1]
    low = outlines[:, :, 1] <= outlines[:, :, 1].min(axis=1, keepdims=True)
    first = np.argmin(np.where(low, outlines[:, :, 0], np.inf), axis=1)
    order = (first[:, None] + np.arange(n)) % n
    turned: NDArray[np.float64] = outlines[np.arange(len(outlines))[:, None], order]
    return turned
