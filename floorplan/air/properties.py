"""The air itself: density and viscosity with temperature and altitude, and velocity pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from floorplan.air.registry import Entry, Range

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", float, FloatArray)

_ZERO_CELSIUS = 273.15  # [K]
_SEA_LEVEL_PRESSURE = 101_325.0  # [Pa]
_SEA_LEVEL_TEMPERATURE = 288.15  # [K]
_LAPSE = 0.0065  # [K/m]
_PRESSURE_EXPONENT = 9.80665 / (287.053 * _LAPSE)  # g / (R L) of the standard atmosphere

STANDARD_DENSITY = Entry(
    id="air.density.standard",
    about="Density at which velocity pressures, losses and fan curves are stated",
    unit="kg/m3",
    source="ACGIH, Industrial Ventilation: 0.075 lb/ft3",
    mark="published",
    value=1.2014,
)
STANDARD_VISCOSITY = Entry(
    id="air.viscosity.standard",
    about="Dynamic viscosity near 20 degrees C",
    unit="Pa s",
    source="Sutherland's formula at 20 degrees C, rounded",
    mark="computed",
    value=1.81e-5,
)
GAS_LAW = Entry(
    id="air.density.gas-law",
    about="Ideal-gas density of dry air, p / (287.055 T)",
    unit="kg/m3",
    source="ideal gas law, gas constant of dry air 287.055 J/(kg K)",
    mark="published",
    ranges=(Range("temperature", -40.0, 60.0, "degrees C"),),
)
SUTHERLAND = Entry(
    id="air.viscosity.sutherland",
    about="Dynamic viscosity, 1.458e-6 T^1.5 / (T + 110.4)",
    unit="Pa s",
    source="U.S. Standard Atmosphere, 1976, equation 51",
    mark="published",
    ranges=(Range("temperature", -40.0, 60.0, "degrees C"),),
)
ATMOSPHERE = Entry(
    id="air.pressure.altitude",
    about="Pressure with altitude in the lowest layer",
    unit="Pa",
    source="U.S. Standard Atmosphere, 1976, equation 33a",
    mark="published",
    ranges=(Range("altitude", -500.0, 11_000.0, "m"),),
)
VELOCITY_PRESSURE = Entry(
    id="air.velocity-pressure",
    about="Velocity pressure, rho V^2 / 2",
    unit="Pa",
    source="Bernoulli; ACGIH, Industrial Ventilation",
    mark="published",
)

ENTRIES = (
    STANDARD_DENSITY,
    STANDARD_VISCOSITY,
    GAS_LAW,
    SUTHERLAND,
    ATMOSPHERE,
    VELOCITY_PRESSURE,
)


@dataclass(frozen=True, slots=True)
class Air:
    """Density [kg/m3] and dynamic viscosity [Pa s] of the air that is moved."""

    density: float
    viscosity: float

    def __post_init__(self) -> None:
        for name, value in (("density", self.density), ("viscosity", self.viscosity)):
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"the {name} of air must be above zero, not {value}")

    @property
    def density_factor(self) -> float:
        """Density over the standard density [1]; it multiplies each loss and the fan pressure."""
        return self.density / STANDARD_DENSITY.constant


def air_at(*, temperature: float, altitude: float = 0.0) -> Air:
    """Return dry air at a temperature [degrees C] and an altitude [m], with weather left out.

    Raises OutsideRangeError outside -40 to 60 degrees C or -500 to 11 000 m.
    Sources: air.pressure.altitude, air.density.gas-law, air.viscosity.sutherland.
    """
    return Air(
        density(pressure=atmospheric_pressure(altitude), temperature=temperature),
        viscosity(temperature),
    )


def atmospheric_pressure(altitude: float) -> float:
    """Return the standard atmosphere's pressure [Pa] at an altitude [m]."""
    ATMOSPHERE.require(altitude=altitude)
    cooling = 1.0 - _LAPSE * altitude / _SEA_LEVEL_TEMPERATURE
    return float(_SEA_LEVEL_PRESSURE * cooling**_PRESSURE_EXPONENT)


def density(*, pressure: float, temperature: float) -> float:
    """Return the density of dry air [kg/m3] at a pressure [Pa] and temperature [degrees C]."""
    GAS_LAW.require(temperature=temperature)
    return pressure / (287.055 * (temperature + _ZERO_CELSIUS))


def viscosity(temperature: float) -> float:
    """Return the dynamic viscosity of air [Pa s] at a temperature [degrees C]."""
    SUTHERLAND.require(temperature=temperature)
    kelvin = temperature + _ZERO_CELSIUS
    return float(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


STANDARD_AIR = Air(STANDARD_DENSITY.constant, STANDARD_VISCOSITY.constant)
"""Air as published losses and fan curves assume it."""


def velocity_pressure(velocity: Number, air: Air = STANDARD_AIR) -> Number:
    """Return the velocity pressure [Pa] of air moving at `velocity` [m/s]."""
    return 0.5 * air.density * velocity * velocity


def velocity_of_pressure(pressure: float, air: Air = STANDARD_AIR) -> float:
    """Return the velocity [m/s] whose velocity pressure is `pressure` [Pa]."""
    return math.sqrt(2.0 * pressure / air.density)


def duct_area(diameter: Number) -> Number:
    """Return the area [m2] of a round duct of `diameter` [m]."""
    return 0.25 * math.pi * diameter * diameter


def duct_velocity(flow: float, diameter: float) -> float:
    """Return the mean velocity [m/s] of `flow` [m3/s] in a round duct of `diameter` [m]."""
    return flow / duct_area(diameter)


def largest_diameter(flow: float, velocity: float) -> float:
    """Return the largest diameter [m] in which `flow` [m3/s] still moves at `velocity` [m/s]."""
    return math.sqrt(4.0 * flow / (math.pi * velocity))
