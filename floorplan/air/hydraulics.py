"""The pressure equations of a system, as arrays: one row a segment, one column a gate state.

Suction is how far the static pressure lies below the room's. Along a segment it grows by the
friction and fittings. Where a stream enters a segment in which the air is faster, it pays the rise
of velocity pressure; where the air is slower it regains nothing, as the trade's worksheets assume.
(They speed up the flow-weighted mean of the streams; each paying its own is the same for streams
of like velocity.) So suction at a junction is common to all that enter it. Suction rises with flow
along each path, so a system has one answer, and duct added anywhere never adds flow; the tests try
both on random trees.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.air.fan import FanCurve
from floorplan.air.friction import TURBULENT_START, colebrook, friction_factor_and_slope
from floorplan.air.losses import Gate, RatedLoss
from floorplan.air.network import Port, Segment, System
from floorplan.air.properties import Air, FloatArray, duct_area

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Equations:
    """A system in a batch of gate states; rows run from the ports down to the collector.

    Columns of coefficients: `head` velocity pressure per flow squared [Pa s2/m6], `quadratic`
    [Pa s2/m6] and `linear` [Pa s/m3] losses, `friction` Darcy loss per flow squared and factor
    [Pa s2/m6], `reynolds` per flow [s/m3], `relative_roughness` [1], `fixed_factor` [1] or NaN.
    `flowing` rows have an open port upstream, `tight` rows pass nothing. `into[k]` is the row that
    row k enters (the last row enters none), `feeders[k]` are those that enter it.
    """

    into: IntArray
    feeders: tuple[tuple[int, ...], ...]
    head: FloatArray
    quadratic: FloatArray
    linear: FloatArray
    friction: FloatArray
    reynolds: FloatArray
    relative_roughness: FloatArray
    fixed_factor: FloatArray
    flowing: BoolArray
    tight: BoolArray
    collector_quadratic: float
    collector_linear: float

    def losses(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return each segment's loss [Pa] and its slope [Pa s/m3] at `flow` [m3/s]."""
        reynolds = self.reynolds * flow
        if reynolds.min() >= TURBULENT_START:
            factor, slope = colebrook(reynolds, self.relative_roughness)
        else:
            factor, slope = friction_factor_and_slope(reynolds, self.relative_roughness)
        constant = ~np.isnan(self.fixed_factor)
        if constant.any():
            factor = np.where(constant, self.fixed_factor, factor)
            slope = np.where(constant, 0.0, slope)
        friction = self.friction * factor * flow
        turbulent = self.quadratic * flow
        loss = (friction + turbulent + self.linear) * flow
        return loss, friction * (2.0 + slope) + 2.0 * turbulent + self.linear

    def collector_loss(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the collector's own loss [Pa] and its slope [Pa s/m3] at `flow` [m3/s]."""
        turbulent = self.collector_quadratic * flow
        return (turbulent + self.collector_linear) * flow, 2 * turbulent + self.collector_linear


@dataclass(frozen=True, slots=True)
class FallingCurve:
    """The steady, falling part of a fan curve; its end pieces go on so that a root exists."""

    flows: FloatArray
    pressures: FloatArray
    slopes: FloatArray

    def at(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return pressure [Pa] and slope [Pa s/m3] at `flow` [m3/s]."""
        piece = np.searchsorted(self.flows[1:-1], flow, side="right")
        slope = self.slopes[piece]
        return self.pressures[piece] + slope * (flow - self.flows[piece]), slope


def falling_curve(fan: FanCurve, air: Air) -> FallingCurve:
    """Return the part of the curve right of its peak, in the system's air."""
    flows = np.array(fan.flows[fan.peak :])
    pressures = np.array(fan.pressures[fan.peak :]) * (air.density / fan.density)
    return FallingCurve(flows, pressures, np.diff(pressures) / np.diff(flows))


def row_order(system: System) -> tuple[int, ...]:
    """Return segment indices from the upper ends down to the collector."""
    index = {segment.name: i for i, segment in enumerate(system.segments)}
    depth = {}
    for name, start in index.items():
        steps, at = 0, system.segments[start]
        while at.into is not None:
            steps, at = steps + 1, system.segments[index[at.into]]
        depth[name] = steps
    return tuple(sorted(index.values(), key=lambda i: (-depth[system.segments[i].name], i)))


def equations(system: System, states: BoolArray, *, dirty: bool) -> Equations:
    """Write a system's equations for gate `states`, one row a state, one column a port."""
    rows = [system.segments[i] for i in row_order(system)]
    place = {segment.name: i for i, segment in enumerate(rows)}
    into = np.array([-1 if s.into is None else place[s.into] for s in rows], dtype=np.int64)
    feeders = tuple(
        tuple(i for i, target in enumerate(into) if target == k) for k in range(len(rows))
    )
    half_density = 0.5 * system.air.density
    area = np.array([duct_area(s.diameter) for s in rows])[:, None]
    head = half_density / area**2
    port_quadratic, flowing, tight = _port_rows(system, rows, states, head)
    for k, sources in enumerate(feeders):
        if sources:
            flowing[k] = flowing[list(sources)].any(axis=0)
            tight[k] = tight[list(sources)].all(axis=0)
    factor = system.air.density_factor
    rated = [_rated(_losses_of(s), factor) for s in rows]
    fittings = np.array([s.coefficient for s in rows])[:, None] * head
    quadratic = port_quadratic + fittings + np.array([q for q, _ in rated])[:, None]
    diameter = np.array([s.diameter for s in rows])[:, None]
    run = np.array([s.wall.multiplier * s.length / s.diameter for s in rows])[:, None]
    fixed = [np.nan if s.wall.factor is None else s.wall.factor for s in rows]
    collector = _rated(system.collector.all_losses(dirty=dirty), factor)
    return Equations(
        into=into,
        feeders=feeders,
        head=head,
        quadratic=quadratic,
        linear=np.array([linear for _, linear in rated])[:, None],
        friction=run * head,
        reynolds=system.air.density * diameter / (area * system.air.viscosity),
        relative_roughness=np.array([s.wall.roughness for s in rows])[:, None] / diameter,
        fixed_factor=np.array(fixed)[:, None],
        flowing=flowing,
        tight=tight,
        collector_quadratic=collector[0],
        collector_linear=collector[1],
    )


def _port_rows(
    system: System, rows: Sequence[Segment], states: BoolArray, head: FloatArray
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Entry losses with the gate as it stands [Pa s2/m6], and what flows or is tight."""
    shape = (len(rows), len(states))
    quadratic = np.zeros(shape)
    flowing, tight = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    columns = {port.name: i for i, port in enumerate(system.ports)}
    for k, segment in enumerate(rows):
        if segment.port is None:
            continue
        is_open = states[:, columns[segment.port.name]]
        opened, shut = _gate_losses(segment.port, float(head[k, 0]), system.air)
        entry = (1.0 + segment.port.hood.entry_loss) * float(head[k, 0])
        quadratic[k] = entry + np.where(is_open, opened, 0.0 if shut is None else shut)
        flowing[k] = is_open
        tight[k] = ~is_open if shut is None else False
    return quadratic, flowing, tight


def _gate_losses(port: Port, head: float, air: Air) -> tuple[float, float | None]:
    """Loss of the gate per flow squared [Pa s2/m6], open and shut; None: shut means tight."""
    gate: Gate | None = port.gate
    if gate is None:
        return 0.0, 0.0
    if gate.leak_area == 0:
        return gate.open_coefficient * head, None
    leak = 0.5 * air.density / (gate.discharge * gate.leak_area) ** 2
    return gate.open_coefficient * head, leak


def _losses_of(segment: Segment) -> tuple[RatedLoss, ...]:
    return segment.losses if segment.port is None else segment.losses + segment.port.losses


def _rated(losses: Iterable[RatedLoss], density_factor: float) -> tuple[float, float]:
    """Sum rated losses into a quadratic [Pa s2/m6] and a linear [Pa s/m3] coefficient."""
    quadratic = linear = 0.0
    for loss in losses:
        if loss.law == "quadratic":
            quadratic += density_factor * loss.pressure / loss.flow**2
        else:
            linear += density_factor * loss.pressure / loss.flow
    return quadratic, linear
