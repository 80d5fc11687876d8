"""Candidate lines for duct in three dimensions: where pipe along the walls and the ceiling can go.

Lines parallel to x, y and z cross in nodes. A piece of a line between two nodes is free when duct
laid along it, square to all sides by its radius, keeps out of every obstacle; touching is allowed.
A state is a node with the axis along which the air comes, so that a turn costs an elbow.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from floorplan.air.properties import FloatArray
from floorplan.geometry.convex import Outline
from floorplan.geometry.minkowski import minkowski_sum
from floorplan.units import TOLERANCE

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Spot = tuple[float, float, float]
"""x, y and height above the floor [m]."""
AXES = 3
_NO_TURN = 1e-9
"""Cost of a turn that costs nothing [m]; above zero so that paths with fewer turns win."""


@dataclass(frozen=True, slots=True, eq=False)
class Obstacle:
    """A convex upright prism that duct keeps out of.

    `outline` (n, 2) convex and counter-clockwise [m]; `bottom` and `top` [m]. `level_only`: duct
    that runs level keeps out, a drop may come down through it (room to walk under).
    """

    name: str
    outline: Outline
    bottom: float
    top: float
    level_only: bool = False


@dataclass(frozen=True, eq=False)
class Lattice:
    """Lines along three axes and which pieces of them are free.

    `lines` are the rising coordinates of the planes across x, y and z [m]; `free[a]` says for
    each piece along axis a whether duct can lie there, its shape one less along that axis.
    """

    lines: tuple[FloatArray, FloatArray, FloatArray]
    free: tuple[BoolArray, BoolArray, BoolArray]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Number of lines along each axis."""
        return len(self.lines[0]), len(self.lines[1]), len(self.lines[2])

    @property
    def nodes(self) -> int:
        """Number of crossings."""
        return int(np.prod(self.shape))

    def spot(self, node: int) -> Spot:
        """Where a node is."""
        i, j, k = np.unravel_index(node, self.shape)
        return float(self.lines[0][i]), float(self.lines[1][j]), float(self.lines[2][k])

    def node(self, spot: Sequence[float]) -> int:
        """The node at a point. Raises ValueError when no three lines cross there."""
        at = []
        for line, value in zip(self.lines, spot, strict=True):
            nearest = int(np.argmin(np.abs(line - value)))
            if abs(line[nearest] - value) > TOLERANCE:
                raise ValueError(f"no candidate lines cross at {tuple(spot)}")
            at.append(nearest)
        return int(np.ravel_multi_index(at, self.shape))

    @cached_property
    def spots(self) -> FloatArray:
        """(nodes, 3) coordinates of every node [m]."""
        grids = np.meshgrid(*self.lines, indexing="ij")
        return np.stack([g.ravel() for g in grids], axis=1)

    @cached_property
    def pieces(self) -> tuple[tuple[IntArray, IntArray, FloatArray], ...]:
        """For each axis the free pieces: lower node, upper node, length [m]."""
        index = np.arange(self.nodes).reshape(self.shape)
        out = []
        for axis, free in enumerate(self.free):
            low = np.take(index, range(self.shape[axis] - 1), axis=axis)[free]
            high = np.take(index, range(1, self.shape[axis]), axis=axis)[free]
            length = self.spots[high, axis] - self.spots[low, axis]
            out.append((low, high, length))
        return tuple(out)

    def graph(self, turn: float, shares: Sequence[FloatArray] | None = None) -> Any:
        """States (axis x nodes + node) as a symmetric sparse graph; a turn costs `turn` [m].

        `shares` by axis, each of the shape of the lattice, are factors on the pieces' lengths.
        """
        count = self.nodes
        rows, columns, weights = [], [], []
        for axis, (low, high, length) in enumerate(self.pieces):
            rows.append(low + axis * count)
            columns.append(high + axis * count)
            weights.append(length if shares is None else length * shares[axis].ravel()[low])
        used = np.unique(np.concatenate([np.concatenate(p[:2]) for p in self.pieces]))
        for a, b in ((0, 1), (0, 2), (1, 2)):
            rows.append(used + a * count)
            columns.append(used + b * count)
            weights.append(np.full(len(used), max(turn, _NO_TURN)))
        ends = np.concatenate(rows), np.concatenate(columns)
        weight = np.concatenate(weights)
        both = np.concatenate(ends), np.concatenate(ends[::-1])
        data = np.concatenate([weight, weight])
        return csr_array((data, both), shape=(AXES * count, AXES * count))

    def plain_graph(self) -> Any:
        """Nodes as a symmetric sparse graph of lengths [m], turns free."""
        rows, columns, weights = (np.concatenate([p[i] for p in self.pieces]) for i in range(3))
        both = np.concatenate([rows, columns]), np.concatenate([columns, rows])
        data = np.concatenate([weights, weights])
        return csr_array((data, both), shape=(self.nodes, self.nodes))


def lattice(
    lines: Sequence[Iterable[float]], obstacles: Iterable[Obstacle] = (), *, radius: float = 0.0
) -> Lattice:
    """Return the lattice of three families of lines, for duct of a radius [m].

    Lines nearer to each other than the tolerance are one. Raises ValueError without any line.
    """
    made = tuple(_distinct(line) for line in lines)
    if len(made) != AXES or not all(len(line) for line in made):
        raise ValueError("candidate lines run along three axes, one or more along each")
    xs, ys, zs = made
    free = (
        np.ones((len(xs) - 1, len(ys), len(zs)), dtype=bool),
        np.ones((len(xs), len(ys) - 1, len(zs)), dtype=bool),
        np.ones((len(xs), len(ys), len(zs) - 1), dtype=bool),
    )
    for obstacle in obstacles:
        close(free, (xs, ys, zs), obstacle, radius)
    return Lattice((xs, ys, zs), free)


def _distinct(line: Iterable[float]) -> FloatArray:
    values = np.sort(np.array(list(line), dtype=float))
    if not len(values):
        return values
    kept: FloatArray = values[np.concatenate([[True], np.diff(values) > TOLERANCE])]
    return kept


def close(
    free: tuple[BoolArray, BoolArray, BoolArray],
    lines: tuple[FloatArray, FloatArray, FloatArray],
    obstacle: Obstacle,
    radius: float,
) -> None:
    """Mark the pieces that run through an obstacle as taken."""
    xs, ys, zs = lines
    grown = grown_outline(obstacle.outline, radius)
    low, high = obstacle.bottom - radius + TOLERANCE, obstacle.top + radius - TOLERANCE
    level = (zs > low) & (zs < high)
    if level.any():
        for axis, across in ((0, ys), (1, xs)):
            start, end = chords(grown, axis, across)
            along = lines[axis]
            hit = (along[:-1, None] < end - TOLERANCE) & (along[1:, None] > start + TOLERANCE)
            if axis == 0:
                free[0][hit[:, :, None] & level] = False
            else:
                free[1][hit.T[:, :, None] & level] = False
    upright = (zs[:-1] < high) & (zs[1:] > low)
    if not obstacle.level_only and upright.any():
        inside = depth_inside(grown, xs, ys) > TOLERANCE
        free[2][inside[:, :, None] & upright] = False


def grown_outline(outline: Outline, radius: float) -> Outline:
    """A convex outline with a square of half side `radius` [m] moved all round it."""
    if radius <= 0:
        return outline
    square = radius * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return minkowski_sum(outline, square)


def chords(outline: Outline, axis: int, across: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where lines along `axis` enter and leave a convex outline; (inf, -inf) where they miss it.

    `across` are the lines' other coordinates [m].
    """
    start = np.full(len(across), np.inf)
    end = np.full(len(across), -np.inf)
    other = 1 - axis
    inside = (across > outline[:, other].min() + TOLERANCE) & (
        across < outline[:, other].max() - TOLERANCE
    )
    for p, q in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        low, high = min(p[other], q[other]), max(p[other], q[other])
        meets = inside & (across >= low) & (across <= high)
        if high - low < 1e-12 or not meets.any():
            continue
        share = (across[meets] - p[other]) / (q[other] - p[other])
        at = p[axis] + share * (q[axis] - p[axis])
        start[meets] = np.minimum(start[meets], at)
        end[meets] = np.maximum(end[meets], at)
    return start, end


def depth_inside(outline: Outline, xs: FloatArray, ys: FloatArray) -> FloatArray:
    """(nx, ny) distance of points from the nearest side of a convex outline, negative outside."""
    depth = np.full((len(xs), len(ys)), np.inf)
    for p, q in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        dx, dy = q - p
        size = float(np.hypot(dx, dy))
        if size > 1e-12:
            away = (dx * (ys[None, :] - p[1]) - dy * (xs[:, None] - p[0])) / size
            depth = np.minimum(depth, away)
    return depth


def reached(graph: Any, seeds: Mapping[int, float]) -> tuple[FloatArray, IntArray]:
    """Least cost from seeds (state -> cost there) to every state, and the state before each.

    Costs are infinite where there is no way; at seeds and there the state before is -1.
    """
    costs = np.full(graph.shape[0], np.inf)
    costs[list(seeds)] = list(seeds.values())
    return grown_from(graph, costs)


def grown_from(graph: Any, costs: FloatArray) -> tuple[FloatArray, IntArray]:
    """As `reached`, with a cost at which each state may be begun at; infinite: it may not."""
    count = graph.shape[0]
    begun = np.flatnonzero(np.isfinite(costs))
    data = np.concatenate([graph.data, costs[begun]])
    indices = np.concatenate([graph.indices, begun])
    ends = np.concatenate([graph.indptr, [graph.indptr[-1] + len(begun)]])
    whole = csr_array((data, indices, ends), shape=(count + 1, count + 1))
    distance, before = dijkstra(whole, indices=count, return_predecessors=True)
    before = before[:count].astype(np.int64)
    before[(before == count) | (before < 0)] = -1
    return distance[:count], before
