"""Friction of straight round duct: Darcy-Weisbach with Colebrook, and the empirical formula.

The two families differ: the empirical formula for galvanized duct lies 6 to 12 % above Colebrook
with 0.09 mm and within 3 % of Colebrook with 0.15 mm. Colebrook is what the network uses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from floorplan.air.properties import STANDARD_AIR, Air, FloatArray, duct_area
from floorplan.air.registry import Entry, OutsideRangeError, Range

LAMINAR_END = 2300.0
"""Reynolds number up to which the flow is laminar [1]."""
TURBULENT_START = 4000.0
"""Reynolds number from which Colebrook holds [1]."""

_LOG_SCALE = 2.0 / math.log(10.0)
_START = 7.0  # middle of the 1/sqrt(f) of ducts, 3 to 12
_NEWTON_STEPS = 4  # from _START the error falls to 1e-1, 1e-4, 1e-11, rounding

COLEBROOK = Entry(
    id="friction.colebrook",
    about="1/sqrt(f) = -2 log10(eps/(3.7 D) + 2.51/(Re sqrt(f)))",
    unit="1",
    source="Colebrook (1939); ASHRAE Handbook Fundamentals, duct design chapter",
    mark="published",
    ranges=(
        Range("reynolds", TURBULENT_START, 1e8, "1"),
        Range("relative roughness", 0.0, 0.05, "1"),
    ),
)
LAMINAR = Entry(
    id="friction.laminar",
    about="f = 64/Re",
    unit="1",
    source="Hagen-Poiseuille",
    mark="published",
    ranges=(Range("reynolds", 0.0, LAMINAR_END, "1"),),
)
TRANSITION = Entry(
    id="friction.transition",
    about="Between laminar and turbulent flow f is interpolated linearly in Re",
    unit="1",
    source="common practice, no source",
    mark="common practice",
    ranges=(Range("reynolds", LAMINAR_END, TURBULENT_START, "1"),),
)
PLAUSIBLE = Entry(
    id="friction.plausible",
    about="Friction factors that a duct or hose can have",
    unit="1",
    source="Moody chart, with room for corrugated hose",
    mark="common practice",
    ranges=(Range("friction factor", 0.008, 0.1, "1"),),
)
HOSE_MULTIPLIER = Entry(
    id="friction.hose-multiplier",
    about="Friction of flexible hose over smooth-walled duct of the same size",
    unit="1",
    source="common practice, no source; published tables and roughnesses span 1.5 to 4",
    mark="common practice",
    value=3.0,
    ranges=(Range("multiplier", 1.5, 4.0, "1"),),
)
CORRUGATED_HOSE = Entry(
    id="friction.corrugated-hose",
    about="Constant friction factor of corrugated vacuum hose",
    unit="1",
    source="common practice, no source",
    mark="common practice",
    value=0.04,
    ranges=(Range("diameter", 0.025, 0.075, "m"),),
)


def _roughness(id_: str, about: str, value: float, source: str, low: float, high: float) -> Entry:
    limits = (Range("roughness", low, high, "m"),)
    return Entry(f"roughness.{id_}", about, "m", source, "reproduction", value, limits)


_ASHRAE = "ASHRAE duct roughness table, as reproduced"
SMOOTH_PLASTIC = _roughness(
    "plastic", "Smooth plastic without joints", 1.5e-6, "public roughness table", 1.5e-6, 7e-6
)
JOINTED_PVC = _roughness(
    "jointed-pvc", "PVC pipe with joints", 4.572e-5, _ASHRAE, 9.144e-6, 4.572e-5
)
GALVANIZED = _roughness(
    "galvanized", "Galvanized steel, average", 9.144e-5, _ASHRAE, 4.8768e-5, 1.2192e-4
)
GALVANIZED_JOINTED = _roughness(
    "galvanized-jointed", "Galvanized steel with many joints", 1.524e-4, _ASHRAE, 1.5e-4, 1.524e-4
)
FLEXIBLE = _roughness(
    "flexible", "Flexible duct, wire, fully extended", 9.144e-4, _ASHRAE, 9.144e-5, 9.144e-4
)


@dataclass(frozen=True, slots=True)
class Wall:
    """The inside of a duct: `roughness` [m] and a `multiplier` [1] on the friction it gives.

    `factor` [1] is a constant friction factor that replaces Colebrook, for corrugated hose.
    Raises ValueError for what no duct can be. `hose` marks what may be shortened or replaced.
    """

    name: str
    roughness: float = GALVANIZED.constant
    multiplier: float = 1.0
    factor: float | None = None
    hose: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.roughness) and self.roughness >= 0):
            raise ValueError(f"{self.name}: a roughness cannot be {self.roughness} m")
        if not (math.isfinite(self.multiplier) and self.multiplier >= 1):
            raise ValueError(f"{self.name}: a friction multiplier is at least 1")
        if self.factor is not None:
            PLAUSIBLE.require(**{"friction factor": self.factor})


GALVANIZED_DUCT = Wall("galvanized steel", GALVANIZED.constant)
PVC_PIPE = Wall("PVC pipe", JOINTED_PVC.constant)


def flexible_hose(multiplier: float = HOSE_MULTIPLIER.constant) -> Wall:
    """Return hose with `multiplier` [1] times the friction of galvanized duct of its size.

    A multiplier outside 1.5 to 4 is used as given and reported by the network.
    """
    return Wall("flexible hose", GALVANIZED.constant, multiplier, hose=True)


def corrugated_hose(factor: float = CORRUGATED_HOSE.constant) -> Wall:
    """Return vacuum hose with a constant friction factor [1]."""
    return Wall("corrugated hose", factor=factor, hose=True)


def colebrook(
    reynolds: FloatArray, relative_roughness: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return Colebrook's f [1] and its slope d ln f / d ln Re [1], no range looked at.

    Newton's method on x = 1/sqrt(f): x + 2 log10(a + b x) is concave and rising, so it converges
    from any start; four steps leave rounding only (tests compare with an independent library).
    """
    rough, viscous = relative_roughness / 3.7, 2.51 / reynolds
    x = np.full(np.broadcast_shapes(rough.shape, viscous.shape), _START)
    for _ in range(_NEWTON_STEPS):
        inner = rough + viscous * x
        x -= (x + _LOG_SCALE * np.log(inner)) / (1.0 + _LOG_SCALE * viscous / inner)
    share = _LOG_SCALE * viscous / (rough + viscous * x)
    return 1.0 / (x * x), -2.0 * share / (1.0 + share)


def friction_factor_and_slope(
    reynolds: FloatArray, relative_roughness: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the Darcy friction factor [1] and d ln f / d ln Re [1] for any Reynolds number.

    f Re^2 rises without a jump: 64/Re below 2300, Colebrook from 4000, linear in Re between.
    """
    turbulent = np.maximum(reynolds, TURBULENT_START)
    factor, slope = colebrook(turbulent, relative_roughness)
    if reynolds.size and reynolds.min() < TURBULENT_START:
        low = 64.0 / LAMINAR_END
        gain = (factor - low) / (TURBULENT_START - LAMINAR_END)
        between = low + gain * (reynolds - LAMINAR_END)
        laminar = 64.0 / np.maximum(reynolds, 1e-12)
        is_laminar, is_turbulent = reynolds < LAMINAR_END, reynolds >= TURBULENT_START
        with np.errstate(divide="ignore", invalid="ignore"):
            rising = gain * reynolds / between
        factor = np.where(is_turbulent, factor, np.where(is_laminar, laminar, between))
        slope = np.where(is_turbulent, slope, np.where(is_laminar, -1.0, rising))
    return factor, slope


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> FloatArray:
    """Return the Darcy friction factor [1], the inputs broadcast against each other.

    Holds for Re [1] to 1e8 and relative roughness [1] to 0.05; raises OutsideRangeError for
    more, or for what is not above zero. Sources: friction.colebrook, friction.laminar.
    """
    re = np.asarray(reynolds, dtype=float)
    rough = np.asarray(relative_roughness, dtype=float)
    COLEBROOK.require(**{"relative roughness": rough})
    if not np.all((re > 0) & (re <= 1e8)):
        raise OutsideRangeError("friction.colebrook: the Reynolds number must be in (0, 1e8]")
    factor: FloatArray = friction_factor_and_slope(re, rough)[0]
    return factor


def reynolds_number(flow: ArrayLike, diameter: ArrayLike, air: Air = STANDARD_AIR) -> FloatArray:
    """Return rho V D / mu [1] of `flow` [m3/s] in a round duct of `diameter` [m]."""
    size = np.asarray(diameter, dtype=float)
    velocity = np.asarray(flow, dtype=float) / duct_area(size)
    return np.asarray(air.density * velocity * size / air.viscosity)


def friction_gradient(
    flow: ArrayLike, diameter: ArrayLike, wall: Wall = GALVANIZED_DUCT, air: Air = STANDARD_AIR
) -> FloatArray:
    """Return the pressure lost per length of straight duct [Pa/m], by Darcy-Weisbach.

    `flow` [m3/s] and `diameter` [m] are broadcast against each other.
    """
    size = np.asarray(diameter, dtype=float)
    velocity = np.asarray(flow, dtype=float) / duct_area(size)
    if wall.factor is not None:
        factor = np.asarray(wall.factor)
    else:
        factor = friction_factor(reynolds_number(flow, size, air), wall.roughness / size)
    return np.asarray(wall.multiplier * factor / size * 0.5 * air.density * velocity**2)


def measured_friction_factor(
    *, pressure: float, length: float, diameter: float, flow: float, air: Air = STANDARD_AIR
) -> float:
    """Return the friction factor [1] that a measured loss implies.

    `pressure` [Pa] lost over `length` [m] of duct of `diameter` [m] at `flow` [m3/s]. Raises
    OutsideRangeError when no duct can have it, since then one of the numbers is wrong.
    """
    velocity = flow / duct_area(diameter)
    factor = pressure * diameter / (length * 0.5 * air.density * velocity**2)
    PLAUSIBLE.require(**{"friction factor": factor})
    return factor


def equivalent_length(coefficient: float, diameter: float, factor: float) -> float:
    """Return the straight duct [m] that loses as much as a fitting of `coefficient` [1]."""
    return coefficient * diameter / factor


ENTRIES = (
    COLEBROOK,
    LAMINAR,
    TRANSITION,
    PLAUSIBLE,
    HOSE_MULTIPLIER,
    CORRUGATED_HOSE,
    SMOOTH_PLASTIC,
    JOINTED_PVC,
    GALVANIZED,
    GALVANIZED_JOINTED,
    FLEXIBLE,
)
