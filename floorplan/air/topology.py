"""Trees of duct on candidate lines: each port's way to the collector, put in and taken out.

Costs are lengths of straight duct [m]; elbows, branch entries and hose count as the duct that
loses as much. What a tree really gives is worked out elsewhere; here trees are proposed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from floorplan.air.ducttree import DuctTree, Stretch, Terminal, leg_length, tree_of
from floorplan.air.lattice import AXES, IntArray, Lattice, Spot, reached
from floorplan.air.properties import FloatArray
from floorplan.units import TOLERANCE

TABLES = 3
"""Costs that differ a little, so that ways of like length are all proposed."""
UNEVEN = 0.03
"""By how much they differ [1]."""
TRIED = 12
"""So many places to join are looked at before a port is said to have none."""


@dataclass(frozen=True, slots=True)
class Worth:
    """Straight duct that loses as much [m]: an elbow, a branch entry, and hose by its length."""

    elbow: float = 1.2
    entry: float = 1.4
    hose: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class _Tree:
    """Cost from each node of a tree to the root, and the same as arrays with a branch entry."""

    cost: dict[int, float]
    nodes: IntArray
    behind: FloatArray


Nodes = tuple[tuple[int, ...] | None, ...]
"""The nodes of each port's way."""


@dataclass(frozen=True, eq=False)
class Paths:
    """A tree as each port's nodes from its start to the root; None: not connected."""

    of: Nodes

    @cached_property
    def following(self) -> dict[int, int]:
        """Node -> next node towards the root."""
        out: dict[int, int] = {}
        for path in self.of:
            if path is not None:
                out.update(pairwise(path))
        return out

    def without(self, terminal: int) -> Paths:
        """The tree with one port taken out."""
        return Paths(tuple(None if i == terminal else p for i, p in enumerate(self.of)))

    def with_path(self, terminal: int, path: tuple[int, ...]) -> Paths:
        """The tree with one port put in."""
        return Paths(tuple(path if i == terminal else p for i, p in enumerate(self.of)))


class Ground:
    """The lattice with the ports on it, and the least cost from each port to everywhere."""

    def __init__(
        self, made: Lattice, terminals: Sequence[Terminal], root: int, worth: Worth = Worth()
    ) -> None:
        self.made = made
        self.terminals = terminals
        self.root = root
        self.worth = worth
        self.starts = [
            {made.node(start.spot): start.hose for start in terminal.starts}
            for terminal in terminals
        ]
        self.coordinates: list[Spot] = [(x, y, z) for x, y, z in made.spots.tolist()]
        self.cost: list[list[FloatArray]] = []
        self.before: list[list[list[int]]] = []
        for table in range(TABLES):
            self._reach(table)
        self._trees: dict[Nodes, _Tree] = {}
        self._joins: dict[tuple[Nodes, int, float, int, int], Paths | None] = {}

    def _reach(self, table: int) -> None:
        """Costs from every port; those of tables after the first are changed a little."""
        made, worth = self.made, self.worth
        graph: Any = made.graph(worth.elbow, _shares(made, table))
        costs, befores = [], []
        for starts in self.starts:
            seeds = {
                axis * made.nodes + node: worth.hose * hose
                for node, hose in starts.items()
                for axis in range(AXES)
            }
            cost, before = reached(graph, seeds)
            costs.append(cost.reshape(AXES, made.nodes))
            befores.append(before.tolist())
        self.cost.append(costs)
        self.before.append(befores)

    def rooted(self, root: int) -> Ground:
        """The same ground with another root."""
        other = copy(self)
        for name in ("cut_off", "sides"):
            other.__dict__.pop(name, None)
        other.root, other._trees, other._joins = root, {}, {}
        return other

    @cached_property
    def cut_off(self) -> tuple[int, ...]:
        """Ports from which there is no way to the collector."""
        return tuple(
            i for i, cost in enumerate(self.cost[0]) if not np.isfinite(cost[:, self.root].min())
        )

    def spot(self, node: int) -> Spot:
        """Where a node is."""
        return self.coordinates[node]

    # --- putting a port in -------------------------------------------------------------------

    def joined(
        self, paths: Paths, terminal: int, weight: float, *, table: int = 0, rank: int = 0
    ) -> Paths | None:
        """The tree with a port put in where that costs least.

        `weight` is how much a metre of the port's whole way counts against a metre of new duct.
        `table` chooses among costs that differ a little, for other ways of like length; `rank` the
        next best place to join. None when there is no such way. A search comes back to the same
        trees again and again, so each answer is kept.
        """
        key = (paths.of, terminal, weight, table, rank)
        if key not in self._joins:
            self._joins[key] = self._joined(paths, terminal, weight, table, rank)
        return self._joins[key]

    def _joined(
        self, paths: Paths, terminal: int, weight: float, table: int, rank: int
    ) -> Paths | None:
        tree, following = self._tree(paths), paths.following
        cost = (1.0 + weight) * self.cost[table][terminal][:, tree.nodes] + weight * tree.behind
        for flat in np.argsort(cost, axis=None, kind="stable")[:TRIED]:
            axis, at = divmod(int(flat), len(tree.nodes))
            if not np.isfinite(cost[axis, at]):
                return None
            own = self._walk(table, terminal, axis, int(tree.nodes[at]), tree.cost)
            if self._enters_well(own, following):
                if not rank:
                    return paths.with_path(terminal, (*own, *_onward(following, own[-1])))
                rank -= 1
        return None

    def beside_root(self, paths: Paths, terminal: int) -> Iterator[Paths]:
        """The tree with a port that comes to the root by itself, from each side that is free."""
        tree = self._tree(paths)
        for side in self.sides:
            if side in tree.cost:
                continue
            cost = self.cost[0][terminal][:, side]
            if np.isfinite(cost.min()):
                own = self._walk(0, terminal, int(np.argmin(cost)), side, tree.cost, side)
                if own[-1] == side and self.root not in own:
                    yield paths.with_path(terminal, (*own, self.root))

    @cached_property
    def sides(self) -> tuple[int, ...]:
        """Nodes beside the root."""
        pairs = [(a, b) for low, high, _ in self.made.pieces
                 for a, b in zip(low.tolist(), high.tolist(), strict=True)]  # fmt: skip
        return tuple(b if a == self.root else a for a, b in pairs if self.root in (a, b))

    def _tree(self, paths: Paths) -> _Tree:
        """The nodes of a tree and what it costs to go on from each; kept for the next port."""
        if paths.of not in self._trees:
            ways = self.to_root(paths.following)
            nodes = np.fromiter(ways, dtype=np.int64, count=len(ways))
            behind = np.fromiter(ways.values(), dtype=float, count=len(ways))
            behind += np.where(nodes == self.root, 0.0, self.worth.entry)
            self._trees[paths.of] = _Tree(ways, nodes, behind)
        return self._trees[paths.of]

    def _walk(
        self,
        table: int,
        terminal: int,
        axis: int,
        node: int,
        tree: Mapping[int, float],
        end: int = -1,
    ) -> tuple[int, ...]:
        """Nodes from the port's start to where its way first meets the tree, or an end."""
        before, count = self.before[table][terminal], self.made.nodes
        nodes = [node]
        state = axis * count + node
        while (state := before[state]) >= 0:
            if state % count != nodes[-1]:
                nodes.append(state % count)
        nodes.reverse()
        first = next(i for i, n in enumerate(nodes) if n in tree or n == end)
        return tuple(nodes[: first + 1])

    def _enters_well(self, own: Sequence[int], following: Mapping[int, int]) -> bool:
        """Not from below into level duct: chips would fall back."""
        if len(own) < 2 or own[-1] not in following:
            return True
        rises = own[-1] - own[-2] == 1  # the next node along z
        return not rises or abs(following[own[-1]] - own[-1]) == 1

    def to_root(self, following: Mapping[int, int]) -> dict[int, float]:
        """Cost from each node of a tree to the root."""
        known = {self.root: 0.0}
        at_node, elbow = self.coordinates, self.worth.elbow
        for node in following:
            steps = []
            at = node
            while at not in known:
                steps.append(at)
                at = following[at]
            for one in reversed(steps):
                after = following[one]
                a, b = at_node[one], at_node[after]
                cost = abs(a[0] - b[0]) + abs(a[1] - b[1]) + abs(a[2] - b[2])
                # neighbours along one line differ by one number, each line's own
                if after in following and following[after] - after != after - one:
                    cost += elbow
                known[one] = known[after] + cost
        return known

    # --- the tree as duct --------------------------------------------------------------------

    def start(self, terminal: int, path: Sequence[int]) -> tuple[int, float]:
        """Where a port's run begins, and its hose [m]."""
        return path[0], self.starts[terminal][path[0]]

    def tree(self, paths: Paths, beyond: Sequence[Spot] = ()) -> DuctTree:
        """The duct of a tree in which every port is connected."""
        starts = []
        for i, path in enumerate(paths.of):
            assert path is not None
            starts.append(self.start(i, path))
        needs = [t.needs for t in self.terminals]
        return tree_of(paths.following, starts, self.root, self.coordinates, beyond, needs)

    def from_pieces(self, pieces: Iterable[tuple[int, int]]) -> Paths:
        """The tree of some pieces of line that join every port to the root."""
        beside: dict[int, list[int]] = {}
        for a, b in pieces:
            beside.setdefault(a, []).append(b)
            beside.setdefault(b, []).append(a)
        following: dict[int, int] = {}
        seen, front = {self.root}, [self.root]
        while front:
            at = front.pop()
            for other in beside.get(at, ()):
                if other not in seen:
                    seen.add(other)
                    following[other] = at
                    front.append(other)
        out: list[tuple[int, ...] | None] = []
        for starts in self.starts:
            here = [(hose, node) for node, hose in starts.items() if node in seen]
            node = min(here)[1]
            out.append((node, *_onward(following, node)))
        return Paths(tuple(out))


def _shares(made: Lattice, table: int) -> tuple[FloatArray, ...] | None:
    """Factors on the lengths of the pieces along each axis, by line, close to 1."""
    if not table:
        return None
    random = np.random.default_rng(table)
    return tuple(1.0 + UNEVEN * random.random(made.shape) for _ in range(AXES))


def _onward(following: Mapping[int, int], node: int) -> tuple[int, ...]:
    """The nodes after one, to the root."""
    out = []
    while node in following:
        node = following[node]
        out.append(node)
    return tuple(out)


def flaws_of(tree: DuctTree, radius: float, least_leg: float = 0.0) -> int:
    """How much of a tree cannot be built as drawn.

    Legs nearer to each other than duct of a radius [m] allows, save where they meet; legs between
    two elbows shorter than `least_leg` [m]; branches that enter level duct from below, so that
    chips fall back.
    """
    legs = [(i, j, leg) for i, s in enumerate(tree.stretches) for j, leg in enumerate(s.legs)]
    short = sum(
        leg_length(*leg) < least_leg - TOLERANCE
        for i, j, leg in legs
        if 0 < j < len(tree.stretches[i].legs) - 1 + tree.stretches[i].turns
    )
    short += sum(_from_below(tree, s) for s in tree.stretches)
    if not legs:
        return short
    ends = np.array([leg for _, _, leg in legs])
    low, high = ends.min(axis=1), ends.max(axis=1)
    gap = np.maximum(low[:, None] - high[None], low[None] - high[:, None]).max(axis=2)
    near = gap < 2 * radius - TOLERANCE
    points = ends.reshape(-1, 3)
    same = np.abs(points[:, None] - points[None]).max(axis=2) < TOLERANCE
    touching = same.reshape(len(legs), 2, len(legs), 2).any(axis=(1, 3))
    junctions = _at_junction(ends)
    near &= ~touching & ~junctions
    return short + int(np.triu(near, 1).sum())


def _from_below(tree: DuctTree, stretch: Stretch) -> bool:
    if not stretch.enters or stretch.into is None or len(stretch.path) < 2:
        return False
    onward = tree.stretches[stretch.into].path
    level = len(onward) > 1 and abs(onward[1][2] - onward[0][2]) < TOLERANCE
    return level and stretch.path[-1][2] - stretch.path[-2][2] > TOLERANCE


def _at_junction(ends: FloatArray) -> Any:
    """Whether one leg ends upon another one."""
    low, high = ends.min(axis=1), ends.max(axis=1)
    on = (ends[:, :, None] >= low - TOLERANCE) & (ends[:, :, None] <= high + TOLERANCE)
    found = on.all(axis=3).any(axis=1)
    return found | found.T
