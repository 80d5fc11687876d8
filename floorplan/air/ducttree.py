"""A tree of round duct from ports to one collector, as laid out in the room.

A stretch runs from a port or a junction to the next junction. There one stretch goes on as the
next: the one that comes in straight, else the one from the farthest port, by an elbow. The others
enter from the side at an angle. The network's equations do the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

from floorplan.air.fittings import OPEN_GATE, branch_entry, elbow, reducer
from floorplan.air.friction import GALVANIZED_DUCT, Wall, flexible_hose
from floorplan.air.lattice import Spot
from floorplan.air.losses import Fitting
from floorplan.air.network import BRANCH_FLOOR, MAIN_FLOOR, Collector, Port, Segment, System
from floorplan.air.properties import STANDARD_AIR, Air
from floorplan.units import TOLERANCE

Way = tuple[float, float, float]
"""Direction of a straight leg, a unit vector."""
STEEP = 0.5**0.5
"""A leg that rises by more than this share of its length is a riser [1]."""
_TAPER = 30.0
_HOSE, _ELBOW, _ENTRY = flexible_hose(), elbow(), branch_entry(45.0)


@dataclass(frozen=True, slots=True)
class Start:
    """Where a machine's run may begin: a point, and the hose from the port to it [m]."""

    spot: Spot
    hose: float


@dataclass(frozen=True, slots=True)
class Terminal:
    """A port that needs air.

    `across` is the port's own diameter [m], `needs` the flow it should get [m3/s], `starts` where
    its run may begin.
    """

    port: Port
    across: float
    needs: float
    starts: tuple[Start, ...]

    @property
    def name(self) -> str:
        """The port's name."""
        return self.port.name


@dataclass(frozen=True, slots=True)
class Making:
    """How duct is made: walls, a right-angled elbow, the entry of a branch, the least velocities.

    `radius_ratio` is the elbows' centreline radius over the diameter [1]; floors [m/s].
    """

    wall: Wall = GALVANIZED_DUCT
    hose: Wall = _HOSE
    elbow: Fitting = _ELBOW
    entry: Fitting = _ENTRY
    radius_ratio: float = 1.5
    branch_floor: float = BRANCH_FLOOR.constant
    main_floor: float = MAIN_FLOOR.constant


@dataclass(frozen=True, slots=True)
class Stretch:
    """Duct between two junctions, in the direction of the air.

    `path` are its corners, one point where it has no length. `into` is the index of the stretch
    that it flows into, None at the collector; `terminal` that of the port it begins at. At its end
    it `enters` the next from the side, or `turns` into it by an elbow, or simply goes on. `hose` is
    the length of hose before it [m].
    """

    path: tuple[Spot, ...]
    into: int | None = None
    terminal: int | None = None
    enters: bool = False
    turns: bool = False
    hose: float = 0.0

    @property
    def legs(self) -> tuple[tuple[Spot, Spot], ...]:
        """Straight pieces."""
        return tuple(pairwise(self.path))

    @property
    def length(self) -> float:
        """Along the middle line [m]."""
        return sum(leg_length(a, b) for a, b in self.legs)

    @property
    def elbows(self) -> int:
        """Right-angled turns, the one into the next stretch with them."""
        return max(len(self.path) - 2, 0) + self.turns

    @property
    def rises(self) -> bool:
        """Whether air goes up steeply somewhere along it."""
        return any(b[2] - a[2] > STEEP * leg_length(a, b) for a, b in self.legs)


@dataclass(frozen=True, slots=True)
class DuctTree:
    """Stretches, what flows into a stretch always before it; the last ends at the collector."""

    stretches: tuple[Stretch, ...]

    @property
    def length(self) -> float:
        """Of all duct, hoses not counted [m]."""
        return sum(s.length for s in self.stretches)

    @property
    def elbows(self) -> int:
        """Number of elbows."""
        return sum(s.elbows for s in self.stretches)

    @property
    def entries(self) -> int:
        """Number of branch entries."""
        return sum(s.enters for s in self.stretches)

    @property
    def hose(self) -> float:
        """Of all hoses [m]."""
        return sum(s.hose for s in self.stretches)

    def path(self, terminal: int) -> tuple[int, ...]:
        """Indices of the stretches from a port to the collector."""
        at: int | None = next(i for i, s in enumerate(self.stretches) if s.terminal == terminal)
        way = []
        while at is not None:
            way.append(at)
            at = self.stretches[at].into
        return tuple(way)

    def feeders(self, stretch: int) -> tuple[int, ...]:
        """Indices of the stretches that flow into one."""
        return tuple(i for i, s in enumerate(self.stretches) if s.into == stretch)


def leg_length(a: Spot, b: Spot) -> float:
    """Distance of two points [m]."""
    return hypot(b[0] - a[0], b[1] - a[1], b[2] - a[2])


def way_of(a: Spot, b: Spot) -> Way:
    """Unit vector from one point to another."""
    size = leg_length(a, b)
    return (b[0] - a[0]) / size, (b[1] - a[1]) / size, (b[2] - a[2]) / size


def same_way(one: Way | None, other: Way | None) -> bool:
    """Whether two legs run the same way."""
    if one is None or other is None:
        return False
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2] > 1.0 - 1e-9


def corners(points: Sequence[Spot]) -> tuple[Spot, ...]:
    """A path without the points at which it does not turn, or that repeat."""
    kept: list[Spot] = []
    for point in points:
        if kept and leg_length(kept[-1], point) <= TOLERANCE:
            continue
        if len(kept) > 1 and same_way(way_of(kept[-2], kept[-1]), way_of(kept[-1], point)):
            kept[-1] = point
        else:
            kept.append(point)
    return tuple(kept)


def tree_of(
    following: Mapping[int, int],
    starts: Sequence[tuple[int, float]],
    root: int,
    spot_of: Sequence[Spot],
    beyond: Sequence[Spot] = (),
    needs: Sequence[float] = (),
) -> DuctTree:
    """Return the tree in which each node is followed by one other, down to the root.

    Nodes are indices of `spot_of`; those that follow each other along one line differ by the same
    number.

    `starts` gives each terminal's node and hose [m]. `beyond` are the corners that the common
    duct still passes behind the root, such as a sleeve through a wall. Where no stretch comes in
    straight, the one goes on whose way is longest times its port's need squared.
    """
    sources: dict[int, list[int]] = {}
    for node, after in following.items():
        sources.setdefault(after, []).append(node)
    begins: dict[int, list[int]] = {}
    for terminal, (node, _) in enumerate(starts):
        begins.setdefault(node, []).append(terminal)
    made: list[Stretch] = []

    def is_junction(node: int) -> bool:
        return len(sources.get(node, ())) + len(begins.get(node, ())) > 1

    def onward(node: int) -> tuple[tuple[Spot, ...], int | None]:
        """Corners from a node to the next junction, and that junction."""
        points, step = [spot_of[node]], 0
        while node != root:
            after = following[node]
            if step and after - node != step:
                points.append(spot_of[node])
            node, step = after, after - node
            if is_junction(node):
                return (*points, spot_of[node]), node
        return corners([*points, spot_of[root], *beyond]), None

    indices: dict[int, int] = {}
    junctions = [n for n in {*sources, *begins} if is_junction(n)]
    depth = {n: _depth(following, n) for n in junctions}
    ordered = sorted(junctions, key=lambda n: (-depth[n], n))
    for terminal, (node, hose) in enumerate(starts):
        points, ends = ((spot_of[node],), node) if is_junction(node) else onward(node)
        made.append(Stretch(points, ends, terminal, hose=hose))
    for node in ordered:
        indices[node] = len(made)
        points, ends = onward(node)
        made.append(Stretch(points, ends))
    weights = [need**2 for need in needs] or [1.0] * len(starts)
    return DuctTree(tuple(_joined(made, indices, weights)))


def _depth(following: Mapping[int, int], node: int) -> int:
    steps = 0
    while node in following:
        node, steps = following[node], steps + 1
    return steps


def _joined(
    made: Sequence[Stretch], indices: Mapping[int, int], weights: Sequence[float]
) -> list[Stretch]:
    """Stretches that name what they flow into instead of a node, and how they join it."""
    linked = [replace(s, into=None if s.into is None else indices[s.into]) for s in made]
    far = _hardest(linked, weights)
    out = list(linked)
    for into in {s.into for s in linked if s.into is not None}:
        feeders = [i for i, s in enumerate(linked) if s.into == into]
        onward = _first_way(linked[into])
        arrives = {i: _last_way(linked[i]) for i in feeders}
        through = max(
            feeders,
            key=lambda i: (same_way(arrives[i], onward), arrives[i] is not None, far[i], -i),
        )
        for i in feeders:
            if i != through:
                out[i] = replace(linked[i], enters=True)
            elif None not in (arrives[i], onward) and not same_way(arrives[i], onward):
                out[i] = replace(linked[i], turns=True)
    return out


def _hardest(linked: Sequence[Stretch], weights: Sequence[float]) -> list[float]:
    """For each stretch the longest way from a port to its end, by the port's weight."""
    out = [0.0] * len(linked)
    for first, stretch in enumerate(linked):
        way, at = stretch.hose, first if stretch.terminal is not None else None
        while at is not None:
            way += linked[at].length
            out[at] = max(out[at], way * weights[stretch.terminal or 0])
            at = linked[at].into
    return out


def _first_way(stretch: Stretch) -> Way | None:
    return way_of(*stretch.path[:2]) if len(stretch.path) > 1 else None


def _last_way(stretch: Stretch) -> Way | None:
    return way_of(*stretch.path[-2:]) if len(stretch.path) > 1 else None


def system_of(
    tree: DuctTree,
    sizes: Sequence[float],
    terminals: Sequence[Terminal],
    making: Making,
    collector: Collector,
    air: Air = STANDARD_AIR,
) -> System:
    """Return the network of a tree with a diameter [m] for each stretch."""
    names = stretch_names(tree, terminals)
    segments: list[Segment] = []
    for i, (stretch, size) in enumerate(zip(tree.stretches, sizes, strict=True)):
        terminal = None if stretch.terminal is None else terminals[stretch.terminal]
        fittings: list[Fitting] = []
        if terminal is not None:
            segments += _machine_end(terminal, stretch, size, names[i], making)
            if terminal.port.gate is not None:
                fittings.append(Fitting("gate", "blast gate", OPEN_GATE.constant, OPEN_GATE))
        fittings += [making.elbow] * stretch.elbows
        fittings += [making.entry] if stretch.enters else []
        branch = terminal is not None or stretch.rises
        segments.append(
            Segment(
                names[i],
                stretch.length,
                size,
                None if stretch.into is None else names[stretch.into],
                making.wall,
                tuple(fittings),
                riser=stretch.rises,
                floor=making.branch_floor if branch else making.main_floor,
            )
        )
    return System(tuple(segments), collector, air)


def _machine_end(
    terminal: Terminal, stretch: Stretch, size: float, name: str, making: Making
) -> tuple[Segment, Segment]:
    """The port, without length and of its own size, and the hose behind it."""
    port, hose = f"{name}, port", f"{name}, hose"
    # the gate's own loss belongs to the duct behind the hose
    gate = None if terminal.port.gate is None else replace(terminal.port.gate, open_coefficient=0.0)
    entry = replace(terminal.port, gate=gate)
    return (
        Segment(port, 0.0, terminal.across, hose, port=entry, floor=0.0),
        Segment(
            hose,
            stretch.hose,
            size,
            name,
            making.hose,
            narrowing(terminal.across, size),
            floor=making.branch_floor,
        ),
    )


def narrowing(large: float, small: float) -> tuple[Fitting, ...]:
    """The reducer where a port is larger than its hose [m], if it is."""
    if large <= small + TOLERANCE:
        return ()
    return (reducer(angle=_TAPER, large=large, small=small),)


def stretch_names(tree: DuctTree, terminals: Sequence[Terminal]) -> tuple[str, ...]:
    """A name for each stretch: its port's, or `main`, numbered towards the collector."""
    mains = [i for i, s in enumerate(tree.stretches) if s.terminal is None]
    taken = {t.name for t in terminals}
    word = "main"
    while any(name == word or name.startswith(f"{word} ") for name in taken):
        word = f"common {word}"
    out = []
    for i, stretch in enumerate(tree.stretches):
        if stretch.terminal is not None:
            out.append(terminals[stretch.terminal].name)
        else:
            out.append(word if len(mains) == 1 else f"{word} {mains.index(i) + 1}")
    return tuple(out)
