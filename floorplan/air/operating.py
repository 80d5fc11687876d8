"""Operating points: where the fan curve meets the run, for one gate state or for all of them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum
from itertools import product

import numpy as np

from floorplan.air.friction import COLEBROOK, HOSE_MULTIPLIER
from floorplan.air.hydraulics import (
    BoolArray,
    Equations,
    equations,
    falling_curve,
    row_order,
)
from floorplan.air.network import NetworkError, Segment, System
from floorplan.air.newton import Solution, solve_equations
from floorplan.air.properties import FloatArray, duct_area
from floorplan.air.registry import OutOfRange


class Meeting(StrEnum):
    """Whether and how the fan curve meets the run."""

    MEETS = "meets"
    EXTRAPOLATED = "meets where the curve was drawn on beyond its table"
    SHUT = "all gates are shut and tight: no air moves"
    UNSTEADY = "the run needs more pressure than the fan gives right of its peak: it would stall"
    TOO_TIGHT = "the run is tighter than the curve's first point tells"
    TOO_FREE = "the run is freer than the curve's last point tells"
    UNSOLVED = "the flows did not settle"


@dataclass(frozen=True, slots=True)
class SegmentState:
    """One segment at the operating point.

    `flow` [m3/s], `velocity` [m/s]; `floor` [m/s] is None where only leaks flow; static pressures
    at both ends against the room [Pa], below zero; `loss` [Pa] from the room (port) or from the
    junction to the end, acceleration not counted.
    """

    name: str
    flow: float
    velocity: float
    floor: float | None
    static_start: float
    static_end: float
    loss: float

    @property
    def velocity_margin(self) -> float | None:
        """Velocity above its floor [m/s], below zero when short; None where only leaks flow."""
        return None if self.floor is None else self.velocity - self.floor


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """What flows in one gate state.

    `flow` [m3/s] through the fan and `pressure` [Pa] that it gives there; `duct_suction` [Pa] at
    the collector's inlet. All are None, and `segments` empty, if the fan does not meet the run.
    """

    open_ports: tuple[str, ...]
    dirty: bool
    meeting: Meeting
    flow: float | None
    pressure: float | None
    duct_suction: float | None
    port_flows: tuple[tuple[str, float], ...]
    segments: tuple[SegmentState, ...]
    out_of_range: tuple[OutOfRange, ...]

    @property
    def meets(self) -> bool:
        """Whether there is an operating point."""
        return self.meeting in (Meeting.MEETS, Meeting.EXTRAPOLATED)

    @property
    def floors_met(self) -> bool:
        """Whether there is an operating point and each open path keeps its transport velocity."""
        margins = (segment.velocity_margin for segment in self.segments)
        return self.meets and all(margin is None or margin >= 0 for margin in margins)

    def port_flow(self, port: str) -> float:
        """Return the flow [m3/s] at a port. Raises NetworkError if none is known."""
        for name, flow in self.port_flows:
            if name == port:
                return flow
        raise NetworkError(f"no flow at {port}: {self.meeting}")


@dataclass(frozen=True, slots=True)
class GateStates:
    """The operating points of many gate states; arrays have one row a state.

    `open` by port; `flow` [m3/s], `static_start` and `static_end` [Pa] by segment, in the order of
    the system; `pressure` [Pa] of the fan. Rows without an operating point are NaN.
    """

    system: System
    dirty: bool
    open: BoolArray
    flow: FloatArray
    static_start: FloatArray
    static_end: FloatArray
    pressure: FloatArray
    meetings: tuple[Meeting, ...]

    def __len__(self) -> int:
        return len(self.meetings)

    def point(self, state: int) -> OperatingPoint:
        """Return one state in full, with every formula used outside its range."""
        ports = self.system.ports
        opened = tuple(
            port.name for port, is_open in zip(ports, self.open[state], strict=True) if is_open
        )
        meeting = self.meetings[state]
        if meeting not in (Meeting.MEETS, Meeting.EXTRAPOLATED):
            return OperatingPoint(opened, self.dirty, meeting, None, None, None, (), (), ())
        segments = self._segment_states(state, set(opened))
        flows = {s.name: s.flow for s in segments}
        root = next(s for s in self.system.segments if s.into is None)
        root_state = next(s for s in segments if s.name == root.name)
        return OperatingPoint(
            open_ports=opened,
            dirty=self.dirty,
            meeting=meeting,
            flow=root_state.flow,
            pressure=float(self.pressure[state]),
            duct_suction=-root_state.static_end,
            port_flows=tuple(
                (s.port.name, flows[s.name]) for s in self.system.segments if s.port is not None
            ),
            segments=segments,
            out_of_range=_out_of_range(self.system, flows),
        )

    def _segment_states(self, state: int, opened: set[str]) -> tuple[SegmentState, ...]:
        carrying = {s.name for port in opened for s in self.system.path(port)}
        found = []
        for i, segment in enumerate(self.system.segments):
            flow = float(self.flow[state, i])
            start = float(self.static_start[state, i])
            end = float(self.static_end[state, i])
            floor = segment.velocity_floor if segment.name in carrying else None
            velocity = flow / duct_area(segment.diameter)
            found.append(SegmentState(segment.name, flow, velocity, floor, start, end, start - end))
        return tuple(found)


def operating_point(
    system: System, open_ports: Collection[str], *, dirty: bool = False
) -> OperatingPoint:
    """Return what flows with the gates of `open_ports` open and all others shut.

    Ports without a gate are open anyway. Raises NetworkError for an unknown port, or when the
    dirty filter is asked for and not given.
    """
    names = [port.name for port in system.ports]
    for name in open_ports:
        if name not in names:
            raise NetworkError(f"there is no port {name}")
    return gate_states(system, [[name in open_ports for name in names]], dirty=dirty).point(0)


def gate_states(
    system: System, states: Iterable[Iterable[bool]] | BoolArray, *, dirty: bool = False
) -> GateStates:
    """Return the operating points of many gate states, one row a state, one column a port.

    Junctions conserve flow exactly; suctions agree at each junction to about 1e-10 of the fan's.
    """
    chosen = np.atleast_2d(np.asarray(list(states), dtype=bool))
    if chosen.shape[1] != len(system.ports):
        raise NetworkError(f"a gate state names {len(system.ports)} ports, not {chosen.shape[1]}")
    chosen = chosen | np.array([port.gate is None for port in system.ports])
    written = equations(system, chosen, dirty=dirty)
    fan = falling_curve(system.collector.fan, system.air)
    solution = solve_equations(written, fan)
    loss, _ = written.losses(solution.flow)
    meetings = _meetings(system, written, solution)
    moves = np.array([m in (Meeting.MEETS, Meeting.EXTRAPOLATED) for m in meetings])
    order = np.argsort(row_order(system))

    def rows(values: FloatArray) -> FloatArray:
        return np.where(moves[:, None], values.T[:, order], np.nan)

    return GateStates(
        system=system,
        dirty=dirty,
        open=chosen,
        flow=rows(solution.flow),
        static_start=rows(-solution.suction),
        static_end=rows(-(solution.suction + loss)),
        pressure=np.where(moves, fan.at(solution.flow[-1])[0], np.nan),
        meetings=meetings,
    )


def all_gate_states(system: System, *, dirty: bool = False) -> GateStates:
    """Return the operating points of every combination of open gates, none open first."""
    choices = [(True,) if port.gate is None else (False, True) for port in system.ports]
    return gate_states(system, np.array(list(product(*choices))), dirty=dirty)


def _meetings(system: System, written: Equations, solution: Solution) -> tuple[Meeting, ...]:
    fan = system.collector.fan
    total = solution.flow[-1]
    slack = 1e-9 * fan.flows[-1]
    too_low = total < fan.flows[fan.peak] - slack
    beyond = total > fan.flows[-1] + slack
    goes_on = fan.beyond == "linear"
    low = Meeting.UNSTEADY if fan.peak else Meeting.EXTRAPOLATED if goes_on else Meeting.TOO_TIGHT
    high = Meeting.EXTRAPOLATED if goes_on else Meeting.TOO_FREE
    choices = (Meeting.SHUT, Meeting.UNSOLVED, low, high, Meeting.MEETS)
    conditions = (written.tight[-1], ~solution.settled, too_low, beyond)
    return tuple(choices[i] for i in np.select(conditions, range(4), default=4))


def _out_of_range(system: System, flows: dict[str, float]) -> tuple[OutOfRange, ...]:
    reports: list[OutOfRange] = []
    for segment in system.segments:
        flow = flows[segment.name]
        if flow > 0:
            reports += _segment_reports(system, segment, flow)
    worst: dict[tuple[str, str], OutOfRange] = {}
    for report in reports:
        key = (report.entry, report.quantity)
        if key not in worst or _excess(report) > _excess(worst[key]):
            worst[key] = report
    return tuple(worst.values())


def _segment_reports(system: System, segment: Segment, flow: float) -> list[OutOfRange]:
    velocity = flow / duct_area(segment.diameter)
    reynolds = system.air.density * velocity * segment.diameter / system.air.viscosity
    reports = [
        report
        for fitting in segment.fittings
        if fitting.entry is not None
        for report in fitting.entry.outside(reynolds=reynolds, coefficient=fitting.coefficient)
    ]
    if segment.length > 0 and segment.wall.factor is None:
        rough = segment.wall.roughness / segment.diameter
        reports += COLEBROOK.outside(reynolds=reynolds, **{"relative roughness": rough})
        if segment.wall.multiplier > 1:
            reports += HOSE_MULTIPLIER.outside(multiplier=segment.wall.multiplier)
    return reports


def _excess(report: OutOfRange) -> float:
    return max(report.low - report.value, report.value - report.high)
