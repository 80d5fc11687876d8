"""Where the reference point of one thing must not be, because of others: all no-fit sets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.convex import Outline
from floorplan.geometry.minkowski import no_fits
from floorplan.geometry.pieces import Conflict, Piece, conflicting_pairs


@dataclass(frozen=True, slots=True, eq=False)
class NoFit:
    """The no-fit sets of one thing at one turn: boxes apart, because boxes are quick."""

    boxes: NDArray[np.float64]
    """(k, 4) x0, y0, x1, y1 [m]"""
    box_pairs: NDArray[np.intp]
    """(k, 2) index of the thing's own piece, index of the other piece"""
    outlines: tuple[Outline, ...]
    """the sets that are not boxes along x and y, convex and counter-clockwise [m]"""
    outline_pairs: NDArray[np.intp]
    """(len(outlines), 2) as box_pairs"""


def no_fit_sets(movable: Sequence[Piece], others: Sequence[Piece], conflict: Conflict) -> NoFit:
    """Return a no-fit set for every pair of pieces whose classes and heights conflict."""
    pairs = conflicting_pairs(movable, others, conflict)
    own_box = np.array([piece.is_box for piece in movable], dtype=np.bool_)
    other_box = np.array([piece.is_box for piece in others], dtype=np.bool_)
    boxed = own_box[pairs[:, 0]] & other_box[pairs[:, 1]]
    box_pairs, rest = pairs[boxed], pairs[~boxed]
    own = np.array([piece.bounds for piece in movable]).reshape(-1, 4)[box_pairs[:, 0]]
    other = np.array([piece.bounds for piece in others]).reshape(-1, 4)[box_pairs[:, 1]]
    boxes = other - own[:, [2, 3, 0, 1]]
    outlines = no_fits([p.outline for p in others], [p.outline for p in movable], rest)
    return NoFit(boxes, box_pairs, outlines, rest)
