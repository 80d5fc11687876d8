"""Flow through one open path, for many choices of its sizes at once.

With one gate open and the others tight a tree is a row of segments, and the flow is the one number
at which the fan gives what the row takes. The equations are the network's own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from floorplan.air.friction import friction_factor_and_slope
from floorplan.air.hydraulics import FallingCurve
from floorplan.air.lattice import BoolArray
from floorplan.air.properties import FloatArray

_MOST_STEPS = 60
_SETTLED = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Paths of segments: (k,) losses that go with flow squared [Pa s2/m6] and with flow [Pa s/m3];

    (k, n) Darcy loss per flow squared and friction factor [Pa s2/m6], Reynolds number per flow
    [s/m3] and relative roughness [1] of each segment. Segments that are not there have no
    friction and any Reynolds number above zero.
    """

    quadratic: FloatArray
    linear: FloatArray
    friction: FloatArray
    reynolds: FloatArray
    roughness: FloatArray


def row_flows(rows: Rows, fan: FallingCurve) -> tuple[FloatArray, BoolArray]:
    """Return (k,) flows [m3/s] and whether each lies on the measured part of the fan's curve.

    Newton's method between two bounds that close in; the balance falls with flow all the way.
    """
    count = len(rows.quadratic)
    low = np.zeros(count)
    high = np.full(count, _no_pressure(fan))
    flow = np.full(count, 0.5 * float(fan.flows[-1]))
    for _ in range(_MOST_STEPS):
        balance, slope = _balance(rows, fan, flow)
        low = np.where(balance > 0, flow, low)
        high = np.where(balance > 0, high, flow)
        step = flow - balance / slope
        inside = (step >= low * (1.0 - _SETTLED)) & (step <= high * (1.0 + _SETTLED))
        following = np.where(inside, step, 0.5 * (low + high))
        settled = np.abs(following - flow) <= _SETTLED * following
        flow = following
        if settled.all():
            break
    slack = 1e-9 * float(fan.flows[-1])
    on_curve = (flow >= fan.flows[0] - slack) & (flow <= fan.flows[-1] + slack)
    return flow, on_curve


def _no_pressure(fan: FallingCurve) -> float:
    """A flow above which the fan, its last piece drawn on, gives nothing [m3/s]."""
    last, slope = float(fan.pressures[-1]), float(fan.slopes[-1])
    if slope < 0:
        return float(fan.flows[-1]) + last / -slope + 1e-9
    return 10.0 * float(fan.flows[-1])


def _balance(rows: Rows, fan: FallingCurve, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What the fan gives beyond what the path takes [Pa], and its slope [Pa s/m3]."""
    factor, slope = friction_factor_and_slope(rows.reynolds * flow[:, None], rows.roughness)
    friction = rows.friction * factor
    given, given_slope = fan.at(flow)
    taken = ((friction.sum(axis=1) + rows.quadratic) * flow + rows.linear) * flow
    rise = (friction * (2.0 + slope)).sum(axis=1) + 2.0 * rows.quadratic
    return given - taken, given_slope - rise * flow - rows.linear
