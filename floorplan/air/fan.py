"""Fan and vacuum curves as tables, and the fan laws."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from floorplan.air.properties import STANDARD_DENSITY
from floorplan.air.registry import Entry, OutsideRangeError

Beyond = Literal["refuse", "linear"]

FAN_LAWS = Entry(
    id="fan.laws",
    about="Q ~ N D^3, p ~ N^2 D^2 rho, power ~ N^3 D^5 rho for geometrically similar fans",
    unit="1",
    source="fan laws; ASHRAE and AMCA practice",
    mark="published",
)
ENTRIES = (FAN_LAWS,)


@dataclass(frozen=True, slots=True)
class FanCurve:
    """Suction [Pa] that a collector can pull at its inlet against flow [m3/s], as measured.

    Linear between the points, which lies below a curve that bends down. `density` [kg/m3] is that
    of the test air. `beyond`: what holds outside the table: refuse, or the last piece goes on
    (`linear`). Raises ValueError for a curve that rises again after it fell.
    """

    name: str
    flows: tuple[float, ...]
    pressures: tuple[float, ...]
    density: float = STANDARD_DENSITY.constant
    beyond: Beyond = "refuse"

    def __post_init__(self) -> None:
        if len(self.flows) != len(self.pressures) or len(self.flows) < 2:
            raise ValueError(f"{self.name}: a fan curve needs two or more (flow, pressure) points")
        if not all(map(math.isfinite, (*self.flows, *self.pressures, self.density))):
            raise ValueError(f"{self.name}: a fan curve holds finite numbers only")
        if self.flows[0] < 0 or any(b <= a for a, b in pairwise(self.flows)):
            raise ValueError(f"{self.name}: the flows must rise from zero or more")
        if min(self.pressures) < 0 or self.density <= 0:
            raise ValueError(f"{self.name}: pressures and density cannot be below zero")
        falling = self.pressures[self.peak :]
        if len(falling) < 2 or falling[0] == falling[-1]:
            raise ValueError(f"{self.name}: the curve must fall at its right end")
        if any(b > a for a, b in pairwise(falling)):
            raise ValueError(f"{self.name}: the curve rises again after it fell")

    @property
    def peak(self) -> int:
        """Index of the point of highest pressure; left of it a fan does not run steadily."""
        return int(np.argmax(self.pressures))

    def pressure(self, flow: float) -> float:
        """Return the pressure [Pa] at `flow` [m3/s].

        Raises OutsideRangeError outside the table, unless the curve states that it goes on.
        """
        first, last = self.flows[0], self.flows[-1]
        if first <= flow <= last:
            return float(np.interp(flow, self.flows, self.pressures))
        if self.beyond == "refuse" or not flow >= 0:
            raise OutsideRangeError(
                f"{self.name}: {flow:.4g} m3/s is outside the measured {first:.4g} to {last:.4g}"
            )
        at = slice(0, 2) if flow < first else slice(-2, None)
        (q0, q1), (p0, p1) = self.flows[at], self.pressures[at]
        return p0 + (p1 - p0) * (flow - q0) / (q1 - q0)

    def scaled(self, *, speed: float = 1.0, size: float = 1.0) -> FanCurve:
        """Return the curve of a geometrically similar fan by the fan laws.

        `speed` and `size` are ratios [1] of rotational speed and wheel diameter. Source: fan.laws.
        """
        if not (speed > 0 and size > 0):
            raise ValueError("speed and size ratios of a fan must be above zero")
        flow, pressure = speed * size**3, speed**2 * size**2
        change = "".join(
            f", {word} x {ratio:g}"
            for word, ratio in (("speed", speed), ("size", size))
            if ratio != 1
        )
        return FanCurve(
            self.name + change,
            tuple(flow * q for q in self.flows),
            tuple(pressure * p for p in self.pressures),
            self.density,
            self.beyond,
        )


def power_ratio(*, speed: float = 1.0, size: float = 1.0) -> float:
    """Return how the shaft power changes [1] with speed and size ratios [1] by the fan laws."""
    return speed**3 * size**5


def air_power(flow: float, pressure: float) -> float:
    """Return the power given to the air [W] by `flow` [m3/s] at `pressure` [Pa]."""
    return flow * pressure
