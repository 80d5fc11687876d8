"""Solve the pressure equations of a tree for many gate states at once.

Newton's method with the tree eliminated from the ports down: a step costs a few array operations
a segment. Junctions balance exactly at each step, because a segment's flow is the sum of what
enters it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from floorplan.air.hydraulics import BoolArray, Equations, FallingCurve
from floorplan.air.properties import FloatArray

_MAX_STEPS = 60
_SETTLED = 1e-7  # relative step; the next one would be its square
_STEP_KEPT = 0.1  # a flow falls to no less than this share of itself in a step
_DAMPED_AFTER = 12  # steps; every other one is halved, against jumping to and fro over a kink


@dataclass(frozen=True, slots=True)
class Solution:
    """Flow in each segment [m3/s], suction at its start [Pa], and how far it is settled.

    `step` is the last relative change of any flow [1]; `settled` says whether that is enough.
    """

    flow: FloatArray
    suction: FloatArray
    step: FloatArray
    settled: BoolArray


def solve_equations(system: Equations, fan: FallingCurve) -> Solution:
    """Find the flows at which each junction has one suction and the fan meets the run."""
    flow, suction = _first_guess(system, fan)
    change = np.full(flow.shape[1], np.inf)
    for step in range(_MAX_STEPS):
        damped = step >= _DAMPED_AFTER and step % 2 == 0
        flow, suction, change = _newton_step(system, fan, flow, suction, damped)
        if not damped and (change <= _SETTLED).all():
            break
    return Solution(flow, suction, change, change <= _SETTLED)


def _first_guess(system: Equations, fan: FallingCurve) -> tuple[FloatArray, FloatArray]:
    """All losses taken as quadratic at a common velocity, the tree added up, split back."""
    at_transport = np.sqrt(240.0 / system.head)  # flow at which the velocity pressure is 240 Pa
    loss, _ = system.losses(np.broadcast_to(at_transport, system.quadratic.shape))
    own = loss / at_transport**2
    conductance = np.zeros_like(own)  # flow per root of suction at a segment's end
    upstream = np.zeros_like(own)
    for k, feeders in enumerate(system.feeders):
        resistance = own[k].copy()
        if feeders:
            upstream[k] = conductance[list(feeders)].sum(axis=0)
            with np.errstate(divide="ignore"):
                resistance += upstream[k] ** -2
        conductance[k] = np.where(system.tight[k], 0.0, resistance**-0.5)
    total = _quadratic_meeting(system, fan, conductance[-1])
    flow = np.zeros_like(own)
    flow[-1] = total
    suction = np.zeros_like(own)
    for k in range(len(own) - 1, -1, -1):
        if system.feeders[k]:
            with np.errstate(divide="ignore", invalid="ignore"):
                root = np.where(upstream[k] > 0, flow[k] / upstream[k], 0.0)
            suction[k] = root**2
            for feeder in system.feeders[k]:
                flow[feeder] = conductance[feeder] * root
    return flow, suction


def _quadratic_meeting(
    system: Equations, fan: FallingCurve, conductance: FloatArray
) -> FloatArray:
    """Flow at which the fan meets a run of that conductance, linear losses left out."""
    with np.errstate(divide="ignore"):
        resistance = conductance**-2 + system.collector_quadratic
    edges = fan.flows[1:-1]
    piece = np.searchsorted(-fan.pressures[1:-1] / edges**2, -resistance)
    slope = fan.slopes[piece]
    offset = fan.pressures[piece] - slope * fan.flows[piece]
    linear = system.collector_linear - slope
    with np.errstate(invalid="ignore"):
        total = 2.0 * offset / (linear + np.sqrt(linear**2 + 4.0 * resistance * offset))
    return np.where(conductance > 0, total, 0.0)


def _newton_step(
    system: Equations, fan: FallingCurve, flow: FloatArray, suction: FloatArray, damped: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One step: eliminate from the ports down, substitute back up, keep flows above zero."""
    loss, slope = system.losses(flow)
    pressure = system.head * flow * flow
    pressure_slope = 2.0 * system.head * flow
    into = system.into[:-1]
    pays = system.flowing[:-1] & (pressure[into] > pressure[:-1])
    miss = np.empty_like(flow)
    miss[:-1] = suction[into] - suction[:-1] - loss[:-1]
    miss[:-1] -= np.where(pays, pressure[into] - pressure[:-1], 0.0)
    slope[:-1] -= np.where(pays, pressure_slope[:-1], 0.0)
    downstream = np.where(pays, pressure_slope[into], 0.0)
    slope[system.tight] = np.inf

    available, available_slope = fan.at(flow[-1])
    own, own_slope = system.collector_loss(flow[-1])
    miss[-1] = available - own - suction[-1] - loss[-1]
    slope[-1] += own_slope - available_slope

    gain, offset, node_gain, node_offset = _eliminate(system, slope, miss, downstream)
    flow_step = np.zeros_like(flow)
    suction_step = np.zeros_like(flow)
    flow_step[-1] = offset[-1]
    for k in range(len(flow) - 1, -1, -1):
        if not system.feeders[k]:
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            rise = (flow_step[k] - node_offset[k]) / node_gain[k]
        suction_step[k] = np.where(node_gain[k] > 0, rise, 0.0)
        for feeder in system.feeders[k]:
            drive = suction_step[k] - downstream[feeder] * flow_step[k]
            flow_step[feeder] = gain[feeder] * drive + offset[feeder]
    return _updated(system, flow, suction, flow_step, suction_step, damped)


def _eliminate(
    system: Equations, slope: FloatArray, miss: FloatArray, downstream: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Flow step of each segment as gain x (suction step behind it) + offset, and of each node."""
    gain, offset = np.empty_like(slope), np.empty_like(slope)
    node_gain, node_offset = np.zeros_like(slope), np.zeros_like(slope)
    for k, feeders in enumerate(system.feeders):
        if not feeders:
            gain[k] = 1.0 / slope[k]
            offset[k] = miss[k] * gain[k]
            continue
        braking = np.ones_like(slope[k])
        for feeder in feeders:
            node_gain[k] += gain[feeder]
            node_offset[k] += offset[feeder]
            braking += gain[feeder] * downstream[feeder]
        node_gain[k] /= braking
        node_offset[k] /= braking
        with np.errstate(invalid="ignore"):
            share = 1.0 / (1.0 + node_gain[k] * slope[k])
            gain[k] = np.where(system.tight[k], 0.0, node_gain[k] * share)
            offset[k] = np.where(
                system.tight[k], 0.0, (node_gain[k] * miss[k] + node_offset[k]) * share
            )
    return gain, offset, node_gain, node_offset


def _updated(
    system: Equations,
    flow: FloatArray,
    suction: FloatArray,
    flow_step: FloatArray,
    suction_step: FloatArray,
    damped: bool,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    scale = 0.5 if damped else 1.0
    new_flow = np.maximum(flow + scale * flow_step, _STEP_KEPT * flow)
    for k, feeders in enumerate(system.feeders):
        if feeders:
            new_flow[k] = new_flow[list(feeders)].sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        change = np.where(flow > 0, np.abs(flow_step) / flow, 0.0).max(axis=0)
    return new_flow, suction + scale * suction_step, change
