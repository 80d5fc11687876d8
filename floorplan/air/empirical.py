"""The empirical duct friction of the ventilation trade, an alternative to Colebrook.

Loss in velocity pressures per metre = a V^b / Q^c, published for ft, ft/min and ft3/min and turned
here into SI. It is what hand worksheets use; the network uses Colebrook.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from floorplan.air.properties import STANDARD_AIR, Air, FloatArray, duct_area
from floorplan.air.registry import Entry, OutOfRange, Range

_RANGES = (Range("velocity", 12.7, 30.48, "m/s"), Range("diameter", 0.1, 0.21, "m"))


@dataclass(frozen=True, slots=True)
class EmpiricalFriction:
    """Coefficient `a` in SI (velocity pressures per metre) and the exponents `b`, `c` [1]."""

    entry: Entry
    a: float
    b: float
    c: float

    def velocity_pressures(self, flow: ArrayLike, diameter: ArrayLike) -> FloatArray:
        """Return the loss in velocity pressures per metre [1/m].

        `flow` [m3/s] and `diameter` [m] are broadcast against each other.
        """
        volume = np.asarray(flow, dtype=float)
        velocity = volume / duct_area(np.asarray(diameter, dtype=float))
        return np.asarray(self.a * velocity**self.b / volume**self.c)

    def gradient(self, flow: ArrayLike, diameter: ArrayLike, air: Air = STANDARD_AIR) -> FloatArray:
        """Return the pressure lost per length [Pa/m] of `flow` [m3/s] in `diameter` [m]."""
        velocity = np.asarray(flow, dtype=float) / duct_area(np.asarray(diameter, dtype=float))
        pressure = 0.5 * air.density * velocity**2
        return np.asarray(self.velocity_pressures(flow, diameter) * pressure)

    def outside(self, flow: ArrayLike, diameter: ArrayLike) -> tuple[OutOfRange, ...]:
        """Report where `flow` [m3/s] in `diameter` [m] leaves the range compared with Colebrook."""
        size = np.asarray(diameter, dtype=float)
        velocity = np.asarray(flow, dtype=float) / duct_area(size)
        return self.entry.outside(velocity=velocity, diameter=size)


EMPIRICAL_GALVANIZED = EmpiricalFriction(
    Entry(
        "friction.empirical.galvanized",
        "Empirical friction of galvanized duct, 0.0307 V^0.533 / Q^0.612 per foot",
        "1/m",
        "ACGIH, Industrial Ventilation, as used in a public design worksheet",
        "reproduction",
        ranges=_RANGES,
    ),
    a=0.015499616772445638,
    b=0.533,
    c=0.612,
)
EMPIRICAL_SMOOTH = EmpiricalFriction(
    Entry(
        "friction.empirical.smooth",
        "Empirical friction of black iron, aluminium, stainless and PVC, 0.0425 V^0.465 / Q^0.602",
        "1/m",
        "ACGIH, Industrial Ventilation, as used in a public design worksheet",
        "reproduction",
        ranges=_RANGES,
    ),
    a=0.016174516638474003,
    b=0.465,
    c=0.602,
)
EMPIRICAL_FLEXIBLE = EmpiricalFriction(
    Entry(
        "friction.empirical.flexible",
        "Empirical friction of fabric over wire, 0.0311 V^0.604 / Q^0.639 per foot",
        "1/m",
        "ACGIH, Industrial Ventilation, from memory",
        "from memory",
        ranges=_RANGES,
    ),
    a=0.018578976208031752,
    b=0.604,
    c=0.639,
)

ENTRIES = (EMPIRICAL_GALVANIZED.entry, EMPIRICAL_SMOOTH.entry, EMPIRICAL_FLEXIBLE.entry)
