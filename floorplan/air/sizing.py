"""The best stock sizes for a tree of duct: airflow first, every velocity floor kept.

Sizes never fall towards the collector, so that nothing jams where a duct narrows. With one gate
open a machine's flow depends on the sizes along its own path alone, so the best sizes of a tree
follow exactly from the machines' tables by going down the tree once. Where several gates are open
together, all sizes are tried if they are few, else they are changed one after the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations_with_replacement, product

import numpy as np

from floorplan.air.ducttree import DuctTree, Making, Terminal, narrowing, system_of
from floorplan.air.fittings import OPEN_GATE
from floorplan.air.hydraulics import FallingCurve, falling_curve
from floorplan.air.network import Collector
from floorplan.air.operating import OperatingPoint, gate_states
from floorplan.air.properties import STANDARD_AIR, Air, FloatArray, duct_area
from floorplan.air.series import Rows, row_flows

Sizes = tuple[float, ...]
"""A diameter for each stretch of a tree [m]."""
ALL_TRIED = 400
"""Up to so many choices of sizes are all worked out where gates are open together."""
UNKNOWN = -2.0
"""Value where the fan does not meet the run."""
_USUAL = Making()


@dataclass(frozen=True, slots=True)
class Demand:
    """What the runs are for: ports, how they are made, the collector, stock sizes, gate states.

    `states` are sets of ports open together, as indices; without any each port is open alone.
    `prices` by diameter [m] are of one metre of duct; without them duct is priced by its length.
    """

    terminals: tuple[Terminal, ...]
    collector: Collector
    sizes: Sizes
    making: Making = _USUAL
    states: tuple[tuple[int, ...], ...] = ()
    air: Air = STANDARD_AIR
    prices: Mapping[float, float] = field(default_factory=dict)

    @property
    def dirty(self) -> bool:
        """Whether the dirty filter is reckoned with: where one is known."""
        return self.collector.dirty_filter is not None

    @property
    def gates(self) -> tuple[tuple[int, ...], ...]:
        """Ports open in each state."""
        return self.states or tuple((i,) for i in range(len(self.terminals)))


@dataclass(frozen=True, slots=True)
class Sized:
    """Sizes of a tree and what they give.

    `value` is the least flow got over flow needed [1] of any open port where every floor is kept;
    below zero it is by how much of a floor the slowest air falls short; -2: no operating point.
    """

    sizes: Sizes
    value: float


def flows_of(tree: DuctTree, sizes: Sizes, demand: Demand) -> tuple[OperatingPoint, ...]:
    """The operating point of each gate state, with the worst filter that is known."""
    system = system_of(tree, sizes, demand.terminals, demand.making, demand.collector, demand.air)
    order = {port.name: i for i, port in enumerate(system.ports)}
    opened = np.zeros((len(demand.gates), len(order)), dtype=bool)
    for row, state in enumerate(demand.gates):
        for terminal in state:
            opened[row, order[demand.terminals[terminal].name]] = True
    found = gate_states(system, opened, dirty=demand.dirty)
    return tuple(found.point(i) for i in range(len(found)))


def value_of(tree: DuctTree, sizes: Sizes, demand: Demand) -> float:
    """What sizes give, see `Sized`; worked out with the network."""
    values = []
    needs = {t.name: t.needs for t in demand.terminals}
    for point in flows_of(tree, sizes, demand):
        if not point.meets:
            return UNKNOWN
        floors = [s.velocity / s.floor for s in point.segments if s.floor]
        slowest = min(floors, default=1.0)
        shares = [point.port_flow(name) / needs[name] for name in point.open_ports]
        values.append(min(shares) if slowest >= 1.0 else slowest - 1.0)
    return min(values)


class Sizer:
    """Finds the best sizes of trees; what it learnt of one path it keeps for the next tree."""

    def __init__(self, demand: Demand) -> None:
        self.demand = demand
        self.fan: FallingCurve = falling_curve(demand.collector.fan, demand.air)
        self.sizes = tuple(sorted(demand.sizes))
        self.alone = {state[0] for state in demand.gates if len(state) == 1}
        self.coupled = any(len(state) > 1 for state in demand.gates)
        self.tables: dict[tuple[object, ...], dict[Sizes, float]] = {}

    @cached_property
    def _collector(self) -> tuple[float, float]:
        quadratic = linear = 0.0
        for loss in self.demand.collector.all_losses(dirty=self.demand.dirty):
            share = self.demand.air.density_factor * loss.pressure / loss.flow
            if loss.law == "quadratic":
                quadratic += share / loss.flow
            else:
                linear += share
        return quadratic, linear

    # --- one path ----------------------------------------------------------------------------

    def table(self, tree: DuctTree, terminal: int) -> dict[Sizes, float]:
        """Value of a port alone by the sizes of its path, from the collector up."""
        path = tree.path(terminal)
        stretches = [tree.stretches[i] for i in path]
        key: tuple[object, ...] = (
            terminal,
            round(stretches[0].hose, 9),
            *((round(s.length, 9), s.elbows, s.enters, s.rises) for s in stretches),
        )
        if key not in self.tables:
            self.tables[key] = self._values(tree, terminal, path)
        return self.tables[key]

    def _values(self, tree: DuctTree, terminal: int, path: Sequence[int]) -> dict[Sizes, float]:
        choices = list(combinations_with_replacement(self.sizes, len(path)))
        sizes = np.array(choices)
        rows, floors = self._rows(tree, terminal, path, sizes)
        flow, known = row_flows(rows, self.fan)
        velocity = flow[:, None] / np.asarray(duct_area(sizes))
        slowest = (velocity / floors).min(axis=1)
        share = flow / self.demand.terminals[terminal].needs
        value = np.where(slowest >= 1.0, share, slowest - 1.0)
        value = np.where(known, value, UNKNOWN)
        return {c[::-1]: float(v) for c, v in zip(choices, value, strict=True)}

    def _rows(
        self, tree: DuctTree, terminal: int, path: Sequence[int], sizes: FloatArray
    ) -> tuple[Rows, FloatArray]:
        """Equations of a path; `sizes` (k, n) run from the port down. Also (n,) floors [m/s]."""
        demand, making = self.demand, self.demand.making
        end = demand.terminals[terminal]
        stretches = [tree.stretches[i] for i in path]
        half = 0.5 * demand.air.density
        head = half / np.asarray(duct_area(sizes)) ** 2
        port_head = half / float(duct_area(end.across)) ** 2
        gate = 0.0 if end.port.gate is None else OPEN_GATE.constant
        own = np.array(
            [
                s.elbows * making.elbow.coefficient + s.enters * making.entry.coefficient
                for s in stretches
            ]
        )
        own[0] += gate
        quadratic, linear = self._collector
        for loss in end.port.losses:
            share = demand.air.density_factor * loss.pressure / loss.flow
            if loss.law == "quadratic":
                quadratic += share / loss.flow
            else:
                linear += share
        reducers = np.array(
            [sum(f.coefficient for f in narrowing(end.across, d)) for d in sizes[:, 0]]
        )
        entry = (1.0 + end.port.hood.entry_loss) * port_head + reducers * head[:, 0]
        heads = np.concatenate([np.full((len(sizes), 1), port_head), head], axis=1)
        speeding = np.maximum(np.diff(heads, axis=1), 0.0).sum(axis=1)
        runs = np.array([making.wall.multiplier * s.length for s in stretches])
        hose = making.hose.multiplier * stretches[0].hose / sizes[:, :1] * head[:, :1]
        across = np.concatenate([sizes[:, :1], sizes], axis=1)
        rough = np.full(across.shape, making.wall.roughness)
        rough[:, 0] = making.hose.roughness
        reynolds = demand.air.density * across / (duct_area(across) * demand.air.viscosity)
        floors = np.array(
            [
                making.branch_floor if i == 0 or s.rises else making.main_floor
                for i, s in enumerate(stretches)
            ]
        )
        return Rows(
            entry + head @ own + speeding + quadratic,
            np.full(len(sizes), linear),
            np.concatenate([hose, runs / sizes * head], axis=1),
            np.asarray(reynolds),
            rough / across,
        ), floors

    # --- a whole tree ------------------------------------------------------------------------

    def best(self, tree: DuctTree) -> Sized:
        """The sizes that give the worst port most."""
        down = _Descent(tree, self)
        sized = Sized(down.sizes(), down.value)
        return self._together(tree, sized) if self.coupled else sized

    def quick(self, tree: DuctTree) -> Sized:
        """The best sizes for gates open one at a time, worked out for all states."""
        down = _Descent(tree, self)
        sizes = down.sizes()
        if not self.coupled:
            return Sized(sizes, down.value)
        return Sized(sizes, min(down.value, value_of(tree, sizes, self.demand)))

    def cheapest(self, tree: DuctTree, least: float) -> Sized | None:
        """The sizes of least price that give every port at least `least` of its need."""
        if not self.demand.prices or self.coupled:
            return None
        down = _Descent(tree, self, least=least)
        if down.value == -np.inf:
            return None
        sizes = down.sizes()
        return Sized(sizes, value_of(tree, sizes, self.demand))

    def price(self, tree: DuctTree, sizes: Sizes) -> float:
        """Price of all duct, or its length where no prices are known."""
        prices = self.demand.prices
        if not prices:
            return tree.length
        return sum(s.length * prices[d] for s, d in zip(tree.stretches, sizes, strict=True))

    def _together(self, tree: DuctTree, first: Sized) -> Sized:
        demand = self.demand
        best = Sized(first.sizes, value_of(tree, first.sizes, demand))
        count = len(self.sizes) ** len(tree.stretches)
        if count <= 50 * ALL_TRIED:
            rising = [s for s in product(self.sizes, repeat=len(tree.stretches))
                      if _rises(tree, s)]  # fmt: skip
            if len(rising) <= ALL_TRIED:
                return max([best, *(Sized(s, value_of(tree, s, demand)) for s in rising)],
                           key=lambda s: s.value)  # fmt: skip
        improved = True
        while improved:
            improved = False
            for sizes in self._changed(tree, best.sizes):
                value = value_of(tree, sizes, demand)
                if value > best.value + 1e-9:
                    best, improved = Sized(sizes, value), True
                    break
        return best

    def _changed(self, tree: DuctTree, sizes: Sizes) -> list[Sizes]:
        """Sizes with one stretch a step larger or smaller, those that must follow with it."""
        out: list[Sizes] = []
        for i, size in enumerate(sizes):
            at = self.sizes.index(size)
            steps = (k for k in (at - 1, at + 1) if 0 <= k < len(self.sizes))
            out += [_followed(tree, sizes, i, self.sizes[k]) for k in steps]
        return list(dict.fromkeys(out))


def _rises(tree: DuctTree, sizes: Sequence[float]) -> bool:
    """Whether no size falls towards the collector."""
    return all(s.into is None or sizes[i] <= sizes[s.into] for i, s in enumerate(tree.stretches))


def _followed(tree: DuctTree, sizes: Sizes, changed: int, size: float) -> Sizes:
    """Sizes with one changed, those before it no larger and those behind it no smaller."""
    out = list(sizes)
    out[changed] = size
    for i in reversed(range(len(out))):
        into = tree.stretches[i].into
        if i < changed and into is not None:
            out[i] = min(out[i], out[into])
    for i in range(len(out)):
        into = tree.stretches[i].into
        if into is not None:
            out[into] = max(out[into], out[i])
    return tuple(out)


class _Descent:
    """Goes up a tree from the collector with the sizes chosen so far, and comes back the best."""

    def __init__(self, tree: DuctTree, sizer: Sizer, least: float | None = None) -> None:
        self.tree = tree
        self.sizer = sizer
        self.least = least
        self.tables = {
            s.terminal: sizer.table(tree, s.terminal)
            for s in tree.stretches
            if s.terminal is not None
        }
        self.feeders: list[list[int]] = [[] for _ in tree.stretches]
        for i, stretch in enumerate(tree.stretches):
            if stretch.into is not None:
                self.feeders[stretch.into].append(i)
        self.root = len(tree.stretches) - 1
        self.known: dict[tuple[int, Sizes], tuple[float, float]] = {}
        self.value = self._best(self.root, ())[0]

    def _best(self, stretch: int, chosen: Sizes) -> tuple[float, float]:
        """Best value of a stretch and all that flows into it, and the size that gives it."""
        key = (stretch, chosen)
        if key not in self.known:
            most = chosen[-1] if chosen else np.inf
            tried = [d for d in self.sizer.sizes if d <= most]
            self.known[key] = max((self._with(stretch, (*chosen, d)), d) for d in tried)
        return self.known[key]

    def _with(self, stretch: int, chosen: Sizes) -> float:
        terminal = self.tree.stretches[stretch].terminal
        if self.least is None:
            if terminal is not None:
                value = self.tables[terminal][chosen]
                return value if terminal in self.sizer.alone else max(value, 0.0)
            return min(self._best(feeder, chosen)[0] for feeder in self.feeders[stretch])
        # at least so much for every port, and then the least price, told as its negative
        if terminal is not None and self.tables[terminal][chosen] < self.least:
            return -np.inf
        price = self.tree.stretches[stretch].length * self.sizer.demand.prices[chosen[-1]]
        return -price + sum(self._best(feeder, chosen)[0] for feeder in self.feeders[stretch])

    def sizes(self) -> Sizes:
        """The chosen sizes in the order of the stretches."""
        out = [0.0] * len(self.tree.stretches)
        ends: list[tuple[int, Sizes]] = [(self.root, ())]
        while ends:
            stretch, chosen = ends.pop()
            out[stretch] = self._best(stretch, chosen)[1]
            ends += [(feeder, (*chosen, out[stretch])) for feeder in self.feeders[stretch]]
        return tuple(out)
