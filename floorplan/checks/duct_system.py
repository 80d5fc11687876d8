"""From runs of duct in a layout to the network of segments whose flow can be worked out.

A run is cut where others enter it. The hose from a port to its run is measured at the layout.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from floorplan.air.fan import FanCurve
from floorplan.air.fittings import OPEN_GATE, branch_entry, elbow, hood, hose_bend, reducer
from floorplan.air.friction import GALVANIZED_DUCT, PVC_PIPE, Wall, flexible_hose
from floorplan.air.losses import Fitting, Gate, Hood, RatedLoss
from floorplan.air.needs import usual_need
from floorplan.air.network import Collector, Port, Segment, System
from floorplan.air.operating import OperatingPoint, SegmentState, operating_point
from floorplan.air.properties import STANDARD_AIR, Air, air_at
from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.air import AirPlan, Drop, Elbows, Rated, Run, Spot, distance, turn_between
from floorplan.shop.model import Shop
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import TOLERANCE

TAPER = 30.0
"""Full angle of the reducers that are taken where a duct narrows [degrees]; common practice."""
STRAIGHT = 0.5
"""Turns of a path below this are none [degrees]."""


@dataclass(frozen=True, slots=True)
class HoseWay:
    """The way from a port to its run, in one layout."""

    run: str
    machine: str
    port: Spot
    straight: Affine
    """Distance from the port to the beginning of the run [m]."""
    length: Affine
    """Of the hose, as bought or as the layout needs it [m]."""
    across: float
    """Diameter of the port [m]."""


@dataclass(frozen=True, slots=True)
class GateState:
    """The gates of some machines open, all others shut."""

    machines: tuple[str, ...]
    runs: tuple[str, ...]
    clean: OperatingPoint
    dirty: OperatingPoint | None

    @property
    def worst(self) -> OperatingPoint:
        """With the dirty filter where one is known."""
        return self.clean if self.dirty is None else self.dirty

    @property
    def words(self) -> str:
        """Which machines run."""
        if len(self.machines) == 1:
            return f"{self.machines[0]} alone"
        return f"{', '.join(self.machines[:-1])} and {self.machines[-1]} together"


@dataclass(frozen=True)
class Ducts:
    """All runs of a shop in one layout."""

    plan: AirPlan
    system: System | None
    """None without a collector, or without any machine that has its place."""
    hoses: Mapping[str, HoseWay]
    """By run."""
    left_out: tuple[str, ...]
    """Runs whose machine has no place."""
    run_of: Mapping[str, str]
    """Segment -> run."""
    inexact: Mapping[str, float]
    """Segment -> how far its length may be off [m]."""
    from_side: frozenset[str] = frozenset()
    """Runs that enter another from the side."""

    @cached_property
    def machines(self) -> Mapping[str, tuple[str, ...]]:
        """Machine -> its runs that are in the network."""
        out: dict[str, tuple[str, ...]] = {}
        for run in self.plan.runs:
            if run.drop is not None and run.name in self.hoses:
                out[run.drop.machine] = (*out.get(run.drop.machine, ()), run.name)
        return out

    @cached_property
    def states(self) -> tuple[GateState, ...]:
        """Each machine alone, then the combinations that the file lists."""
        if self.system is None:
            return ()
        groups: list[tuple[str, ...]] = [(machine,) for machine in self.machines]
        groups += [group for group in self.plan.together if all(m in self.machines for m in group)]
        return tuple(self._state(self.system, group) for group in dict.fromkeys(groups))

    def _state(self, system: System, group: tuple[str, ...]) -> GateState:
        runs = tuple(run for machine in group for run in self.machines[machine])
        has_dirty = system.collector.dirty_filter is not None
        return GateState(
            group,
            runs,
            solved(system, runs, False),
            solved(system, runs, True) if has_dirty else None,
        )

    def off(self, state: GateState, run: str) -> float:
        """Least share of the flow at a run's port that the tape leaves sure [1].

        Its own way is taken as long as the tape allows and all others as short.
        """
        point = state.worst
        if self.system is None or not point.meets or not any(self.inexact.values()):
            return 1.0
        own = {segment.name for segment in self.system.path(run)}
        worse = self.system.with_segments(
            replace(
                s, length=max(s.length + (1 if s.name in own else -1) * self.inexact[s.name], 0)
            )
            for s in self.system.segments
        )
        other = solved(worse, state.runs, point.dirty)
        return other.port_flow(run) / point.port_flow(run) if other.meets else 0.0


@lru_cache(maxsize=512)
def solved(system: System, runs: tuple[str, ...], dirty: bool) -> OperatingPoint:
    """The operating point with the gates of some runs open; layouts that agree share it."""
    return operating_point(system, runs, dirty=dirty)


def shares(ducts: Ducts, state: GateState) -> Mapping[str, float]:
    """Run -> flow got over flow needed [1], where the file says what is needed."""
    out = {}
    for name in state.runs:
        drop = ducts.plan.run(name).drop
        if drop is not None and drop.needs:
            got = state.worst.port_flow(name) if state.worst.meets else 0.0
            out[name] = got / drop.needs
    return out


def slowest_segment(point: OperatingPoint) -> SegmentState | None:
    """The open segment with the least velocity over its floor, None without a point."""
    rows = [s for s in point.segments if s.floor]
    return min(rows, key=lambda s: s.velocity / (s.floor or 1.0), default=None)


def port_spot(scene: Scene, drop: Drop) -> Spot | None:
    """Where a machine's port is in this layout, None when the machine has no place."""
    thing, pose = scene.shop.thing(drop.machine), scene.layout.pose(drop.machine)
    if pose is None:
        return None
    port = next(p for p in thing.ports if p.name == drop.port)
    x, y = frame_of(thing, pose).point(port.x, port.y)
    return x, y, port.height


def ducts_of(scene: Scene) -> Ducts | None:
    """The runs of a shop in one layout, None when it has none."""
    if scene.shop.air is None or not scene.shop.air.runs:
        return None
    plan = _with_usual_needs(scene.shop.air, scene.shop)
    hoses: dict[str, HoseWay] = {}
    left_out = []
    slack = 1.0 + scene.shop.rules.value("hose-slack")
    for run in plan.runs:
        if run.drop is None:
            continue
        spot = port_spot(scene, run.drop)
        if spot is None:
            left_out.append(run.name)
            continue
        straight = distance(spot, run.path[0])
        length = run.drop.hose.length or straight * slack
        machine = scene.shop.thing(run.drop.machine)
        across = next(p for p in machine.ports if p.name == run.drop.port).diameter.value
        hoses[run.name] = HoseWay(run.name, machine.name, spot, straight, length, across)
    builder = _Network(scene, plan, hoses)
    segments = tuple(builder.segments())
    system = None
    if plan.collector is not None and segments:
        fan = FanCurve("collector", plan.collector.fan.flows, plan.collector.fan.pressures)
        losses = tuple(rated(part) for part in plan.collector.separators)
        clean, dirty = (
            None if part is None else rated(part)
            for part in (plan.collector.clean, plan.collector.dirty)
        )
        system = System(segments, Collector(fan, clean, dirty, losses), air_of(plan))
    side = builder.from_side()
    return Ducts(plan, system, hoses, tuple(left_out), builder.run_of, builder.inexact, side)


def _with_usual_needs(plan: AirPlan, shop: Shop) -> AirPlan:
    """Runs whose machine needs what is usual for its kind and port get that flow."""

    def of(run: Run) -> Run:
        if run.drop is None or not run.drop.assumed_need or run.drop.needs is not None:
            return run
        thing = shop.thing(run.drop.machine)
        port = next(p for p in thing.ports if p.name == run.drop.port)
        needs = usual_need(thing.kind, port.diameter.value)
        return replace(run, drop=replace(run.drop, needs=needs))

    return replace(plan, runs=tuple(of(run) for run in plan.runs))


USUAL_TEMPERATURE = 20.0
"""Of the air where the file tells its altitude only [degrees C]."""


def air_of(plan: AirPlan) -> Air:
    """The air that is moved: standard air where the file tells neither altitude nor temperature.

    Fan curves are taken to be those of standard air; thinner air lowers them with its density.
    """
    if plan.altitude is None and plan.temperature is None:
        return STANDARD_AIR
    warm = USUAL_TEMPERATURE if plan.temperature is None else plan.temperature
    return air_at(temperature=warm, altitude=plan.altitude or 0.0)


def rated(part: Rated) -> RatedLoss:
    """A part of the file as the physics has it."""
    return RatedLoss(part.name, part.pressure, part.flow, "linear" if part.linear else "quadratic")


class _Network:
    """Cuts runs at their junctions into segments."""

    def __init__(self, scene: Scene, plan: AirPlan, hoses: Mapping[str, HoseWay]) -> None:
        self.scene = scene
        self.runs = {run.name: run for run in plan.runs}
        self.hoses = hoses
        self.run_of: dict[str, str] = {}
        self.inexact: dict[str, float] = {}
        self.cuts = {name: self._cuts(run) for name, run in self.runs.items() if self._live(run)}

    def _live(self, run: Run) -> bool:
        """Whether air of some machine flows through."""
        if run.drop is not None and run.name in self.hoses:
            return True
        return any(self._live(feeder) for feeder in self._feeders(run))

    def _feeders(self, run: Run) -> Iterator[Run]:
        for other in self.runs.values():
            if other.junction is not None and other.junction.into == run.name:
                yield other

    def _cuts(self, run: Run) -> tuple[float, ...]:
        """Where the pieces of a run begin; what lies before the first carries no air [m]."""
        stations = [f.junction.station for f in self._feeders(run) if f.junction and self._live(f)]
        if run.drop is not None and run.name in self.hoses:
            stations.append(0.0)
        out: list[float] = []
        for station in sorted(stations):
            if not out or station - out[-1] > TOLERANCE:
                out.append(station)
        return tuple(out)

    def _piece(self, name: str, index: int) -> str:
        return name if len(self.cuts[name]) == 1 else f"{name} {index + 1}"

    def _entered(self, run: Run) -> str | None:
        """The segment into which a run's last piece flows."""
        if run.junction is None:
            return None
        cuts = self.cuts[run.junction.into]
        index = min(range(len(cuts)), key=lambda i: abs(cuts[i] - run.junction.station))  # type: ignore[union-attr]
        return self._piece(run.junction.into, index)

    def segments(self) -> Iterator[Segment]:
        """Every segment, the upper ones first within each run."""
        for name in self.cuts:
            run = self.runs[name]
            if run.drop is not None and name in self.hoses:
                yield from self._machine_end(run, run.drop)
            yield from self._pieces(run)

    def _machine_end(self, run: Run, drop: Drop) -> Iterator[Segment]:
        """The port, a segment without length of the port's own size, and the hose behind it."""
        thing = self.scene.shop.thing(drop.machine)
        across = next(p for p in thing.ports if p.name == drop.port).diameter.value
        entry = hood(drop.hood) if drop.entry_loss is None else Hood("own", drop.entry_loss)  # type: ignore[arg-type]
        losses = () if drop.cabinet is None else (rated(drop.cabinet),)
        gate = Gate(open_coefficient=0.0) if drop.gate else None
        port, hose = f"{run.name}, port", f"{run.name}, hose"
        way = self.hoses[run.name]
        self._note(run, port, ZERO)
        yield Segment(port, 0.0, across, hose, port=Port(run.name, entry, losses, gate), floor=0.0)
        size = drop.hose.diameter.value
        self._note(run, hose, way.length)
        yield Segment(
            hose,
            way.length.value,
            size,
            self._piece(run.name, 0),
            flexible_hose(drop.hose.factor),
            _narrowing(across, size),
            floor=self._floor(run, branch=True),
        )

    def _pieces(self, run: Run) -> Iterator[Segment]:
        cuts = (*self.cuts[run.name], run.length.value)
        count, size = len(cuts) - 1, run.diameter.value
        for i in range(count):
            name = self._piece(run.name, i)
            last = i == count - 1
            length = max(cuts[i + 1] - cuts[i], 0.0)
            share = length / run.length.value
            self._note(run, name, run.length * share)
            fittings = (*self._inlet(run, i), *_corners(run, cuts[i], cuts[i + 1], last))
            if last:
                fittings += tuple(Fitting("other", what, k) for what, k in run.fittings)
                fittings += self._outlet(run)
            riser = run.drop is None and _rises(run, cuts[i], cuts[i + 1])
            yield Segment(
                name,
                length,
                size,
                self._entered(run) if last else self._piece(run.name, i + 1),
                _wall(run),
                fittings,
                riser=riser,
                floor=self._floor(run, branch=run.drop is not None or riser),
            )

    def _inlet(self, run: Run, index: int) -> tuple[Fitting, ...]:
        """The gate, and a reducer where a larger duct comes in straight."""
        size = run.diameter.value
        if index == 0 and run.drop is not None and run.name in self.hoses:
            gate = Fitting("gate", "blast gate", OPEN_GATE.constant, OPEN_GATE)
            return (
                *_narrowing(run.drop.hose.diameter.value, size),
                *((gate,) if run.drop.gate else ()),
            )
        ahead = [f.diameter.value for f in self._feeders(run) if self._straight(f)]
        return _narrowing(max(ahead, default=0.0), size) if index == 0 else ()

    def _outlet(self, run: Run) -> tuple[Fitting, ...]:
        """How it joins another run: from the side, by an elbow, or straight on."""
        if run.junction is None:
            return ()
        if not self._straight(run):
            return (branch_entry(run.junction.angle),)
        angle = _turn_into(run, self.runs[run.junction.into])
        return (bend(run.elbows, angle, hose=run.material == "hose"),) if angle > STRAIGHT else ()

    def from_side(self) -> frozenset[str]:
        """Runs that enter another from the side."""
        return frozenset(
            name for name in self.cuts
            if self.runs[name].junction is not None and not self._straight(self.runs[name])
        )  # fmt: skip

    def _straight(self, run: Run) -> bool:
        """Whether a run goes on as another one, where that begins."""
        if run.junction is None or run.name not in self.cuts:
            return False
        other = self.runs[run.junction.into]
        if other.drop is not None or run.junction.station > TOLERANCE:
            return False
        ends_there = [
            f
            for f in self._feeders(other)
            if f.junction and f.junction.station <= TOLERANCE and self._live(f)
        ]
        return goes_on(other, ends_there) is run

    def _floor(self, run: Run, *, branch: bool) -> float:
        if run.floor is not None:
            return run.floor
        return self.scene.shop.rules.value("branch-velocity" if branch else "main-velocity")

    def _note(self, run: Run, segment: str, length: Affine) -> None:
        self.run_of[segment] = run.name
        self.inexact[segment] = length.error(self.scene.shop.measurements)


def goes_on(other: Run, ends_there: Sequence[Run]) -> Run:
    """Which of the runs that end where another begins goes on as that one.

    The one that comes in straight, else the first in the file; the others enter from the side.
    """
    turns = [_turn_into(run, other) for run in ends_there]
    straight = [r for r, t in zip(ends_there, turns, strict=True) if t <= STRAIGHT]
    return (straight or list(ends_there))[0]


def _turn_into(run: Run, other: Run) -> float:
    """By how much a run turns where it ends and another begins [degrees]."""
    return turn_between(run.path[-2], run.path[-1], other.path[1])


def _wall(run: Run) -> Wall:
    if run.material == "hose":
        return flexible_hose()
    return PVC_PIPE if run.material == "pvc" else GALVANIZED_DUCT


def _narrowing(large: float, small: float) -> tuple[Fitting, ...]:
    if large <= small + TOLERANCE:
        return ()
    return (reducer(angle=TAPER, large=large, small=small),)


def _rises(run: Run, start: float, end: float) -> bool:
    """Whether air goes up steeply somewhere between two stations."""
    passed = 0.0
    for a, b in run.legs:
        length = distance(a, b).value
        inside = min(passed + length, end) - max(passed, start)
        if inside > TOLERANCE and b[2].value - a[2].value > 0.5**0.5 * length:
            return True
        passed += length
    return False


def _corners(run: Run, start: float, end: float, last: bool) -> tuple[Fitting, ...]:
    """The elbows from one station up to another; one at a junction belongs to what follows."""
    out, passed = [], 0.0
    for i in range(1, len(run.path) - 1):
        passed += distance(run.path[i - 1], run.path[i]).value
        angle = turn_between(*run.path[i - 1 : i + 2])
        if angle > STRAIGHT and start - TOLERANCE <= passed < end - (0 if last else TOLERANCE):
            out.append(bend(run.elbows, angle, hose=run.material == "hose"))
    return tuple(out)


def bend(elbows: Elbows, angle: float, *, hose: bool = False) -> Fitting:
    """An elbow as the file wants it, by its angle [degrees]."""
    made = elbow(radius_ratio=elbows.radius, make=elbows.make, angle=angle)
    if elbows.own is not None:
        right = elbow(radius_ratio=elbows.radius, make=elbows.make)
        share = made.coefficient / right.coefficient
        return Fitting("elbow", f"{angle:.0f} degree elbow", elbows.own * share)
    if hose:
        return hose_bend(radius_ratio=elbows.radius, angle=angle)
    return replace(made, name=f"{angle:.0f} degree elbow, {elbows.make}")
