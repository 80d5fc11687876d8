"""Air that a collector outside takes out of the shop: how it comes in again, and its heat."""

from __future__ import annotations

from math import sqrt

from floorplan.air.properties import STANDARD_AIR, Air
from floorplan.air.registry import Entry, Range

DISCHARGE = Entry(
    "make-up.discharge",
    "Discharge coefficient of a sharp-edged opening in a wall",
    "1",
    "common practice, no source",
    "common practice",
    0.6,
)
OPENING = Entry(
    "make-up.opening",
    "Q = Cd A sqrt(2 dp / rho) through an opening in a wall",
    "m3/s",
    "Bernoulli's equation with a discharge coefficient",
    "computed",
    ranges=(Range("pressure", 1.0, 100.0, "Pa"),),
)
HEAT_CAPACITY = Entry(
    "make-up.heat-capacity",
    "Specific heat of air at constant pressure",
    "J/(kg K)",
    "from memory, not verified",
    "from memory",
    1006.0,
)
ENTRIES = (DISCHARGE, OPENING, HEAT_CAPACITY)


def opening_area(
    flow: float,
    pressure: float,
    *,
    air: Air = STANDARD_AIR,
    discharge: float = DISCHARGE.constant,
) -> float:
    """Free area [m2] through which `flow` [m3/s] comes in at a `pressure` difference [Pa].

    Raises ValueError for a pressure that is not above 0. Source: make-up.opening.
    """
    if not pressure > 0.0:
        raise ValueError("no air comes in without a difference of pressure")
    return flow / (discharge * sqrt(2.0 * pressure / air.density))


def opening_pressure(
    flow: float, area: float, *, air: Air = STANDARD_AIR, discharge: float = DISCHARGE.constant
) -> float:
    """Difference of pressure [Pa] that draws `flow` [m3/s] through a free `area` [m2].

    Raises ValueError for an area that is not above 0. Source: make-up.opening.
    """
    if not area > 0.0:
        raise ValueError("no air comes in through an opening without area")
    return air.density / 2.0 * (flow / (discharge * area)) ** 2


def heat_lost(flow: float, difference: float, *, air: Air = STANDARD_AIR) -> float:
    """Heat [W] that goes out with `flow` [m3/s] at a `difference` of temperature [K]."""
    return air.density * HEAT_CAPACITY.constant * flow * difference


def air_changes(flow: float, volume: float) -> float:
    """Air changes an hour [1/h] of a room of `volume` [m3] from which `flow` [m3/s] is taken."""
    return flow * 3600.0 / volume
