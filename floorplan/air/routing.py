"""Runs of duct found: from every port to the collector, tree and sizes together.

Airflow at the worst machine comes first, every velocity floor kept in every gate state that is
run; among trees whose worst machine gets within a stated step of the most, the cheapest counts (the
shortest, without prices), then elbows, then hose. Trees are proposed on candidate lines, changed
one port or two at a time, and each is sized and worked out with the operating-point equations.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise, product
from typing import Literal

import numpy as np

from floorplan.air.ducttree import DuctTree, Terminal, system_of
from floorplan.air.lattice import Lattice, Obstacle, Spot, lattice
from floorplan.air.network import System
from floorplan.air.sizing import Demand, Sized, Sizer, value_of
from floorplan.air.steiner import MOST_TERMINALS, NoWayError, steiner_tree
from floorplan.air.topology import TABLES, Ground, Paths, Worth, flaws_of

Objective = Literal["airflow", "length"]
WEIGHTS = (0.0, 0.2, 0.6, 2.0, 1000.0)
"""How much a metre of a port's way counts against a metre of new duct, in the trees proposed."""
STEP = 0.02
"""Airflow at the worst machine within this share counts as equal [1]."""
KEPT = 3
"""So many trees are improved further."""
WORK = 200
"""Trees sized at most for one inlet; more ports need more."""
WORST = -10.0


@dataclass(frozen=True, slots=True)
class Inlet:
    """Where all runs must come: `spot` on the candidate lines, and the corners still behind it.

    The last of `beyond` is the collector's inlet; empty when `spot` is that.
    """

    spot: Spot
    beyond: tuple[Spot, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True)
class Route:
    """Runs found: the tree, a diameter for each stretch [m], and what they give.

    `value`: see `Sized`; `worst` got over needed of the worst port; `price` of the duct, or its
    length [m]. `flaws`: what cannot be built as drawn, none in a good answer. `tried` trees.
    """

    tree: DuctTree
    sizes: tuple[float, ...]
    value: float
    price: float
    flaws: int
    inlet: Inlet
    tried: int

    @property
    def floors_kept(self) -> bool:
        """Whether the air carries chips in every gate state."""
        return self.value >= 0.0

    def system(self, demand: Demand) -> System:
        """The runs as a network."""
        return system_of(
            self.tree, self.sizes, demand.terminals, demand.making, demand.collector, demand.air
        )


class NoRouteError(ValueError):
    """Ports that no duct along the candidate lines connects, and what closes the way.

    `closed_by` names obstacles of which each alone, taken away, opens a way for some port.
    """

    def __init__(self, ports: Sequence[str], closed_by: Sequence[str]) -> None:
        words = f"no way for duct from {', '.join(ports)} to the collector"
        if closed_by:
            words += f"; closed by {', '.join(closed_by)}"
        super().__init__(words)
        self.ports = tuple(ports)
        self.closed_by = tuple(closed_by)


@dataclass(frozen=True, slots=True)
class Space:
    """What duct is laid in: obstacles, candidate lines by axis, and their radius [m].

    `lines` are added to those through the ports and inlets.
    """

    obstacles: tuple[Obstacle, ...] = ()
    lines: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]] = ((), (), ())
    radius: float = 0.0
    worth: Worth = field(default_factory=Worth)
    least_leg: float = 0.0

    def lattice(
        self, terminals: Sequence[Terminal], inlets: Sequence[Inlet], without: str | None = None
    ) -> Lattice:
        """The candidate lines, less what obstacles close; one of them may be left out."""
        spots = [start.spot for t in terminals for start in t.starts]
        spots += [inlet.spot for inlet in inlets]
        lines = [[*own, *(s[axis] for s in spots)] for axis, own in enumerate(self.lines)]
        kept = (o for o in self.obstacles if o.name != without)
        return lattice(lines, kept, radius=self.radius)


def route(
    demand: Demand,
    inlets: Sequence[Inlet],
    space: Space = Space(),
    *,
    objective: Objective = "airflow",
    step: float = STEP,
    work: int = WORK,
) -> Route:
    """Find runs from every port of `demand` to one of `inlets`, and their sizes.

    With several inlets (places to cross a wall, say) the best few by length of way are worked out.
    `objective` `length` gives a shortest tree, exactly, for up to nine ports; `airflow` is a
    search, `work` the most trees that it sizes. The outcome depends on the arguments alone.
    Raises NoRouteError when some port has no way, naming what closes it; ValueError without ports,
    sizes or inlets.
    """
    if not (demand.terminals and demand.sizes and inlets):
        raise ValueError("a route needs ports, sizes and an inlet, one or more of each")
    made = space.lattice(demand.terminals, inlets)
    sizer = Sizer(demand)
    grounds: list[tuple[Inlet, Ground]] = []
    for inlet in inlets:
        root = made.node(inlet.spot)
        grounds.append((inlet, Ground(made, demand.terminals, root, space.worth)
                        if not grounds else grounds[0][1].rooted(root)))  # fmt: skip
    able = [pair for pair in grounds if not pair[1].cut_off]
    if not able:
        raise _no_route(demand, inlets, space, min((g for _, g in grounds),
                                                   key=lambda g: len(g.cut_off)))  # fmt: skip
    able.sort(key=lambda pair: _promise(*pair))
    found = [
        _Search(inlet, ground, sizer, space, step, work // min(len(able), KEPT)).best(objective)
        for inlet, ground in able[:KEPT]
    ]
    return _chosen(found, step)


def _chosen(found: Sequence[Route], step: float) -> Route:
    least = min(r.flaws for r in found)
    rows = [r for r in found if r.flaws == least]
    most = max(r.value for r in rows)
    good = [r for r in rows if r.value >= _threshold(most, step)]
    return min(good, key=lambda r: (r.price, r.tree.elbows, r.tree.hose, -r.value))


def _threshold(most: float, step: float) -> float:
    return most * (1.0 - step) if most > 0 else most


def _promise(inlet: Inlet, ground: Ground) -> float:
    """Longest way of any port to an inlet and on, as straight duct [m]; the less the better."""
    ways = [float(cost[:, ground.root].min()) for cost in ground.cost[0]]
    points = (inlet.spot, *inlet.beyond)
    behind = sum(float(np.abs(np.subtract(a, b)).sum()) for a, b in pairwise(points))
    return max(ways) + behind + 1e-3 * sum(ways)


def _no_route(
    demand: Demand, inlets: Sequence[Inlet], space: Space, ground: Ground
) -> NoRouteError:
    """Which ports are cut off, and which obstacles close their way, each tried by itself."""
    closing = []
    for name in dict.fromkeys(o.name for o in space.obstacles):
        made = space.lattice(demand.terminals, inlets, without=name)
        freed = Ground(made, demand.terminals, made.node(inlets[0].spot), space.worth)
        reach = [set(freed.rooted(made.node(i.spot)).cut_off) for i in inlets]
        if any(set(ground.cut_off) - cut for cut in reach):
            closing.append(name)
    return NoRouteError([demand.terminals[i].name for i in ground.cut_off], closing)


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """A tree that was sized."""

    paths: Paths
    tree: DuctTree
    sized: Sized
    flaws: int
    price: float
    elbows: int
    hose: float


class _Search:
    """Proposes trees for one inlet and keeps all that it sized."""

    def __init__(
        self, inlet: Inlet, ground: Ground, sizer: Sizer, space: Space, step: float, work: int
    ) -> None:
        self.inlet = inlet
        self.ground = ground
        self.sizer = sizer
        self.space = space
        self.step = step
        self.work = work
        self.seen: dict[DuctTree, _Tried] = {}
        self.same: dict[tuple[tuple[int, ...] | None, ...], _Tried] = {}
        self.most = (-1000, WORST)
        """Fewest flaws, and the most that the worst port gets with that."""

    def best(self, objective: Objective) -> Route:
        """The best tree that was found."""
        count = len(self.ground.terminals)
        if count < MOST_TERMINALS:
            terminals = [*self.ground.starts, {self.ground.root: 0.0}]
            pieces = steiner_tree(self.ground.made, terminals).pieces
            shortest = self._try(self.ground.from_pieces(pieces))
            if objective == "length" and shortest is not None:
                return self._route(self._finished(shortest))
        for weight in WEIGHTS:
            for order in self._orders():
                self._try(self._grown(order, weight))
        self._climb(self._by_airflow, self.work // 2)
        for share in (0.85, 1.0):
            self._climb(self._by_price, round(share * self.work))
        finished = [self._finished(t) for t in self._ranked(self._by_price)[: 2 * KEPT]]
        self.most = max(self.most, *((-t.flaws, t.sized.value) for t in finished))
        return self._route(min(finished, key=self._by_price))

    def _orders(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Ports, the nearest to the collector first, and last."""
        far = [float(cost[:, self.ground.root].min()) for cost in self.ground.cost[0]]
        near_first = tuple(sorted(range(len(far)), key=far.__getitem__))
        return near_first, near_first[::-1]

    def _grown(self, order: Iterable[int], weight: float) -> Paths | None:
        paths: Paths | None = Paths((None,) * len(self.ground.terminals))
        for terminal in order:
            paths = None if paths is None else self.ground.joined(paths, terminal, weight)
        return paths

    # --- sizing and comparing ----------------------------------------------------------------

    def _try(self, paths: Paths | None) -> _Tried | None:
        """Size a tree, once; None when there is none, or no work is left."""
        if paths is None:
            return None
        if paths.of in self.same:
            return self.same[paths.of]
        tree = self.ground.tree(paths, self.inlet.beyond)
        known = self.seen.get(tree)
        if known is None and len(self.seen) < self.work:
            known = _Tried(
                paths,
                tree,
                self.sizer.quick(tree),
                flaws_of(tree, self.space.radius, self.space.least_leg),
                tree.length,
                tree.elbows,
                tree.hose,
            )
            self.seen[tree] = known
            self.most = max(self.most, (-known.flaws, known.sized.value))
        if known is not None:
            self.same[paths.of] = known
        return known

    def _finished(self, one: _Tried) -> _Tried:
        """With all gate states weighed in the sizes, and at the least price."""
        sized = self.sizer.best(one.tree)
        cheap = self.sizer.cheapest(one.tree, _threshold(sized.value, self.step))
        if cheap is not None and cheap.value >= _threshold(sized.value, self.step) - 1e-9:
            sized = cheap
        return replace(one, sized=sized, price=self.sizer.price(one.tree, sized.sizes))

    def _by_airflow(self, one: _Tried) -> tuple[float, ...]:
        return one.flaws, -one.sized.value, one.price, one.elbows, one.hose

    def _by_price(self, one: _Tried) -> tuple[float, ...]:
        short = max(_threshold(self.most[1], self.step) - one.sized.value, 0.0)
        tail = (one.price, one.elbows, one.hose, -one.sized.value)
        return one.flaws, short, *tail

    def _ranked(self, key: Callable[[_Tried], tuple[float, ...]]) -> list[_Tried]:
        return sorted(self.seen.values(), key=key)

    def _climb(self, key: Callable[[_Tried], tuple[float, ...]], most: int) -> None:
        """Change the best few trees by one port, then by two, as long as that betters them.

        Stops when `most` trees have been sized.
        """
        for one in self._ranked(key)[:KEPT]:
            at: _Tried | None = one
            while at is not None:
                at = self._better(at, key, most)

    def _better(
        self, one: _Tried, key: Callable[[_Tried], tuple[float, ...]], most: int
    ) -> _Tried | None:
        for paths in self._changed(one.paths):
            if len(self.seen) >= most:
                return None
            other = self._try(paths)
            if other is not None and key(other) < key(one):
                return other
        return None

    def _changed(self, paths: Paths) -> Iterator[Paths | None]:
        """Trees with one port put in elsewhere, then with two."""
        count, ground = len(paths.of), self.ground
        for terminal in range(count):
            less = paths.without(terminal)
            for weight, table, rank in product(WEIGHTS, range(TABLES), range(2)):
                yield ground.joined(less, terminal, weight, table=table, rank=rank)
            yield from ground.beside_root(less, terminal)
        for pair in combinations(range(count), 2):
            less = paths.without(pair[0]).without(pair[1])
            for order, weight, table in product((pair, pair[::-1]), WEIGHTS, range(TABLES)):
                one = ground.joined(less, order[0], weight, table=table)
                if one is not None:
                    yield ground.joined(one, order[1], weight, table=table)

    def _route(self, one: _Tried) -> Route:
        value = value_of(one.tree, one.sized.sizes, self.sizer.demand)
        return Route(
            one.tree, one.sized.sizes, value, one.price, one.flaws, self.inlet, len(self.seen)
        )


__all__ = [
    "Inlet", "NoRouteError", "NoWayError", "Objective", "Route", "Space", "route",
]  # fmt: skip
