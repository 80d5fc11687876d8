"""The shortest tree along candidate lines that joins some nodes: exact, for a handful of them.

Dynamic programming over subsets of the terminals (Dreyfus and Wagner, Networks 1, 1971): the best
tree for a subset that ends at a node either joins two smaller ones there, or comes along a line.
On the lines through the terminals it holds a shortest tree of all that run along the axes (Hanan,
SIAM Journal on Applied Mathematics 14, 1966).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from floorplan.air.lattice import IntArray, Lattice, grown_from
from floorplan.air.properties import FloatArray

MOST_TERMINALS = 10
"""Work and memory grow as 3 to the power of their number."""


class NoWayError(ValueError):
    """Some terminals cannot be joined; `cut_off` are their indices."""

    def __init__(self, cut_off: Sequence[int]) -> None:
        super().__init__(f"no way for terminals {list(cut_off)}")
        self.cut_off = tuple(cut_off)


@dataclass(frozen=True, slots=True, eq=False)
class SteinerTree:
    """`length` [m] and the pieces of line used, as pairs of nodes."""

    length: float
    pieces: frozenset[tuple[int, int]]


def steiner_tree(made: Lattice, terminals: Sequence[Mapping[int, float]]) -> SteinerTree:
    """Return a shortest tree that touches every terminal.

    A terminal is a choice of nodes, each with the cost of using it [m]. Raises NoWayError when
    one cannot be reached from the last, and ValueError for more than ten of them.
    """
    if not 1 <= len(terminals) <= MOST_TERMINALS:
        raise ValueError(f"1 to {MOST_TERMINALS} terminals can be joined, not {len(terminals)}")
    table = _Table(made.plain_graph(), terminals)
    return table.tree()


class _Table:
    """Least length of a tree for each subset of all terminals but the last, by end node."""

    def __init__(self, graph: Any, terminals: Sequence[Mapping[int, float]]) -> None:
        self.graph = graph
        self.root = dict(terminals[-1])
        self.others = len(terminals) - 1
        self.cost: dict[int, FloatArray] = {}
        self.before: dict[int, IntArray] = {}
        self.part: dict[int, IntArray] = {}
        for i, terminal in enumerate(terminals[:-1]):
            start = np.full(graph.shape[0], np.inf)
            start[list(terminal)] = list(terminal.values())
            self._grow(1 << i, start)
        cut_off = [i for i in range(self.others) if not np.isfinite(self._at_root(1 << i)[0])]
        if cut_off:
            raise NoWayError(cut_off)
        for subset in sorted(range(1, 1 << self.others), key=lambda s: (s.bit_count(), s)):
            if subset.bit_count() > 1:
                self._join(subset)

    def _grow(self, subset: int, start: FloatArray) -> None:
        self.cost[subset], self.before[subset] = grown_from(self.graph, start)

    def _join(self, subset: int) -> None:
        best = np.full(self.graph.shape[0], np.inf)
        part = np.zeros(self.graph.shape[0], dtype=np.int64)
        for one in _halves(subset):
            total = self.cost[one] + self.cost[subset ^ one]
            better = total < best
            best[better], part[better] = total[better], one
        self.part[subset] = part
        self._grow(subset, best)

    def _at_root(self, subset: int) -> tuple[float, int]:
        return min((float(self.cost[subset][node]) + c, node) for node, c in self.root.items())

    def tree(self) -> SteinerTree:
        """The whole tree, walked back from the last terminal."""
        if not self.others:
            return SteinerTree(0.0, frozenset())
        everything = (1 << self.others) - 1
        length, node = self._at_root(everything)
        pieces: set[tuple[int, int]] = set()
        open_ends = [(everything, node)]
        while open_ends:
            subset, at = open_ends.pop()
            while (previous := int(self.before[subset][at])) >= 0:
                pieces.add((min(previous, at), max(previous, at)))
                at = previous
            if subset in self.part:
                one = int(self.part[subset][at])
                open_ends += [(one, at), (subset ^ one, at)]
        return SteinerTree(length, frozenset(pieces))


def _halves(subset: int) -> Iterator[int]:
    """Every way of taking a proper part of a subset, each split once."""
    part = (subset - 1) & subset
    while part:
        if part >= subset ^ part:
            yield part
        part = (part - 1) & subset
