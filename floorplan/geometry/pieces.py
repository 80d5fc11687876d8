"""Convex pieces with heights, and whether two of them conflict.

Two pieces conflict when their classes may not overlap and the interiors of their plans and of
their height bands overlap by more than the tolerance. Touching is allowed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.convex import Outline, is_convex, signed_area
from floorplan.units import TOLERANCE

Conflict = NDArray[np.bool_]
"""(m, m) symmetric: whether pieces of class a and of class b may not overlap."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One convex piece of a thing at one turn, or of something fixed.

    Raises
    ------
    ValueError
        If the outline is not convex and counter-clockwise, or the top is not above the bottom.
    """

    outline: Outline
    """(n, 2) convex, counter-clockwise [m]; from the reference point of a movable thing, or in
    the coordinates of the room for something fixed."""
    bottom: float
    """[m], may be minus infinity"""
    top: float
    """[m], may be infinity"""
    label: int
    """index of its class in the conflict matrix"""
    bounds: tuple[float, float, float, float] = field(init=False)
    """lowest x, lowest y, highest x, highest y of the outline [m]"""
    is_box: bool = field(init=False)
    """whether the outline is a rectangle along x and y"""

    def __post_init__(self) -> None:
        """Hold the outline read-only, and refuse what is not a convex piece."""
        outline = np.array(self.outline, dtype=np.float64)
        if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
            raise ValueError(f"an outline has at least three corners, not shape {outline.shape}")
        if not np.all(np.isfinite(outline)) or signed_area(outline) <= 0:
            raise ValueError("an outline runs counter-clockwise round an area")
        if not is_convex(outline):
            raise ValueError("an outline of a piece is convex")
        if not self.bottom < self.top:
            raise ValueError(f"top {self.top} m is not above bottom {self.bottom} m")
        outline.setflags(write=False)
        (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
        steps = np.abs(np.roll(outline, -1, axis=0) - outline)
        along = bool(np.all(steps.min(axis=1) <= 1e-12 * steps.max()))
        object.__setattr__(self, "outline", outline)
        object.__setattr__(self, "bounds", (float(x0), float(y0), float(x1), float(y1)))
        object.__setattr__(self, "is_box", len(outline) == 4 and along)

    def at(self, x: float, y: float) -> "Piece":
        """Return the piece with its reference point moved to (x, y) [m]."""
        return Piece(self.outline + np.array((x, y)), self.bottom, self.top, self.label)


def box(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    *,
    bottom: float = -np.inf,
    top: float = np.inf,
    label: int = 0,
) -> Piece:
    """Return the rectangular piece between two opposite corners [m]."""
    return Piece(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), bottom, top, label)


def conflict_matrix(labels: int, conflict: Callable[[int, int], bool]) -> Conflict:
    """Ask `conflict` about every two of the classes 0 ... labels - 1; either order forbids."""
    asked = [[bool(conflict(a, b)) for b in range(labels)] for a in range(labels)]
    matrix = np.array(asked, dtype=np.bool_).reshape(labels, labels)
    return matrix | matrix.T


def conflicting_pairs(
    movable: Sequence[Piece], others: Sequence[Piece], conflict: Conflict
) -> NDArray[np.intp]:
    """(k, 2) indices of the pairs that may not overlap in plan: class and heights conflict."""
    if not movable or not others:
        return np.empty((0, 2), dtype=np.intp)
    a_low, a_high = np.array([(p.bottom, p.top) for p in movable]).T
    b_low, b_high = np.array([(p.bottom, p.top) for p in others]).T
    above = np.maximum(a_low[:, None], b_low[None, :])
    below = np.minimum(a_high[:, None], b_high[None, :])
    classes = np.ix_([p.label for p in movable], [p.label for p in others])
    return np.argwhere(conflict[classes] & (below > above + TOLERANCE))


def penetration(a: Outline, b: Outline) -> float:
    """Return how far one convex outline must move to leave the other [m]; below 0 if apart.

    The shortest way out of two overlapping convex bodies runs along the normal of an edge of
    either (separating axes); apart, the value is minus the widest gap along such a normal.
    """
    depth = np.inf
    for outline in (a, b):
        edges = np.roll(outline, -1, axis=0) - outline
        lengths = np.hypot(edges[:, 0], edges[:, 1])
        normals = np.column_stack([edges[:, 1], -edges[:, 0]]) / lengths[:, None]
        on_a, on_b = a @ normals.T, b @ normals.T
        ways = np.minimum(on_a.max(0) - on_b.min(0), on_b.max(0) - on_a.min(0))
        depth = min(depth, float(ways.min()))
    return depth
