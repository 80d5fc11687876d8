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

_MAX_STEPS = 100
_SETTLED = 1e-7  # relative step; the one after it would be its square
_KEPT = 0.1  # flows and suctions fall to no less than this share of themselves in one step


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
    """Find the flows at which each junction has one suction and the fan meets the run.

    A step that does not lessen the largest imbalance is halved, each state for itself. Half a
    million gate states of random trees, most of them far from sensible, all settled.
    """
    flow, suction = _first_guess(system, fan)
    flow_step, suction_step, imbalance = _newton_step(system, fan, flow, suction)
    change = _relative_change(flow, flow_step)
    share = np.ones_like(imbalance)
    for _ in range(_MAX_STEPS):
        if (change <= _SETTLED).all():
            break
        trial_flow = _summed(system, np.maximum(flow + share * flow_step, _KEPT * flow))
        trial_suction = np.maximum(suction + share * suction_step, _KEPT * suction)
        new_flow_step, new_suction_step, new_imbalance = _newton_step(
            system, fan, trial_flow, trial_suction
        )
        better = new_imbalance <= imbalance * (1.0 - 1e-4 * share)
        better &= change > _SETTLED
        flow = np.where(better, trial_flow, flow)
        suction = np.where(better, trial_suction, suction)
        flow_step = np.where(better, new_flow_step, flow_step)
        suction_step = np.where(better, new_suction_step, suction_step)
        imbalance = np.where(better, new_imbalance, imbalance)
        change = _relative_change(flow, flow_step)
        share = np.where(better, 1.0, 0.5 * share)
    settled = change <= _SETTLED
    last = np.where(settled, 1.0, 0.0)
    return Solution(
        _summed(system, flow + last * flow_step), suction + last * suction_step, change, settled
    )


def _relative_change(flow: FloatArray, flow_step: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        change = np.where(flow > 0, np.abs(flow_step) / flow, 0.0)
    return np.asarray(change.max(axis=0))


def _summed(system: Equations, flow: FloatArray) -> FloatArray:
    """Make the flow of each segment the sum of what enters it, so that junctions conserve."""
    for k, feeders in enumerate(system.feeders):
        if feeders:
            flow[k] = flow[feeders[0]]
            for feeder in feeders[1:]:
                flow[k] += flow[feeder]
    return flow


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


def _quadratic_meeting(system: Equations, fan: FallingCurve, conductance: FloatArray) -> FloatArray:
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
    system: Equations, fan: FallingCurve, flow: FloatArray, suction: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return steps of flow and suction, and the largest imbalance of pressure [Pa] before them."""
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
    imbalance = np.where(system.tight, 0.0, np.abs(miss)).max(axis=0)

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
    return flow_step, suction_step, imbalance


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
