"""Losses of fittings and hoods as data, each table with its source."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from floorplan.air.losses import Fitting, Hood, Law, RatedLoss
from floorplan.air.properties import STANDARD_AIR, Air
from floorplan.air.registry import Entry, Mark, Range

# --- tables --------------------------------------------------------------------------------------

_SMACNA = "SMACNA, HVAC Systems Duct Design, 4th ed., table A-7, reprint"
_ASHRAE = "ASHRAE Handbook Fundamentals 2009, ch. 21, reprint"
_FIG_3_16 = "ACGIH, Industrial Ventilation, 24th ed. (2001), fig. 3-16, handout reprint"
_MEMORY = "ACGIH, Industrial Ventilation, from memory"

ElbowMake = Literal["smooth", "5-piece", "4-piece", "3-piece"]
_ELBOWS: dict[ElbowMake, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "smooth": ((0.5, 0.75, 1.0, 1.5, 2.0, 2.5), (0.71, 0.33, 0.22, 0.15, 0.13, 0.12)),
    "5-piece": ((0.5, 0.75, 1.0, 1.5, 2.0, 2.5), (0.98, 0.46, 0.33, 0.24, 0.19, 0.17)),
    "4-piece": ((0.75, 1.0, 1.5, 2.0, 2.5), (0.50, 0.37, 0.27, 0.24, 0.23)),
    "3-piece": ((0.75, 1.0, 1.5, 2.0, 2.5), (0.54, 0.42, 0.34, 0.33, 0.33)),
}
_ELBOW_ENTRIES = {
    make: Entry(
        f"elbow.{make}",
        f"90 degree round elbow, {make}, by centreline radius over diameter",
        "1",
        _SMACNA + ("" if make in ("smooth", "5-piece") else "; r/d 2.5 from memory of ACGIH"),
        "reproduction",
        ranges=(Range("r/d", ratios[0], ratios[-1], "1"),),
    )
    for make, (ratios, _) in _ELBOWS.items()
}
_ELBOW_ANGLES = (
    (0.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0, 110.0, 180.0),
    (0.0, 0.31, 0.45, 0.60, 0.78, 0.90, 1.00, 1.13, 1.40),
)
ELBOW_ANGLE = Entry(
    "elbow.angle",
    "Share of the 90 degree loss by angle",
    "1",
    _SMACNA,
    "reproduction",
    ranges=(Range("angle", 0.0, 180.0, "degrees"),),
)
_STAMPED = ((0.075, 0.1, 0.125, 0.15, 0.18, 0.2), (0.30, 0.21, 0.16, 0.14, 0.12, 0.11))
STAMPED_ELBOW = Entry(
    "elbow.stamped",
    "Stamped 90 degree elbow, r/d 1.5, by duct diameter (CD3-1)",
    "1",
    _ASHRAE,
    "reproduction",
    ranges=(Range("diameter", 0.075, 0.25, "m"),),
)
_PLEATED = ((0.1, 0.15, 0.2), (0.57, 0.43, 0.34))
PLEATED_ELBOW = Entry(
    "elbow.pleated",
    "Pleated 90 degree elbow by duct diameter (CD3-5)",
    "1",
    _ASHRAE,
    "reproduction",
    ranges=(Range("diameter", 0.1, 0.2, "m"),),
)
_MITRE = (
    (0.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0),
    (0.0, 0.08, 0.16, 0.34, 0.55, 0.81, 1.2),
)
MITRE = Entry(
    "elbow.mitre",
    "Mitred bend without vanes, for Re from 1.4e5 (1.09 times as much at 6e4, 1.4 at 1e4)",
    "1",
    _SMACNA,
    "reproduction",
    ranges=(Range("angle", 0.0, 90.0, "degrees"), Range("reynolds", 1.4e5, 1e8, "1")),
)
_BRANCH = (
    (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 90.0),
    (0.09, 0.12, 0.15, 0.18, 0.21, 0.25, 0.28, 0.32, 0.44, 1.00),
)
BRANCH_ENTRY = Entry(
    "branch.entry",
    "Branch entry by angle, on the branch's velocity pressure; the main loses nothing",
    "1",
    _MEMORY,
    "from memory",
    ranges=(Range("angle", 15.0, 90.0, "degrees"),),
)
_TAPER = (
    (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 45.0, 60.0),
    (0.05, 0.06, 0.08, 0.10, 0.11, 0.13, 0.20, 0.30),
)
REDUCER = Entry(
    "reducer.taper",
    "Tapered reducer by full angle, on the rise of velocity pressure; abrupt 0.50",
    "1",
    _MEMORY,
    "from memory",
    ranges=(Range("angle", 5.0, 60.0, "degrees"),),
)
EXPANSION = Entry(
    "expansion.sudden",
    "Sudden expansion (1 - A1/A2)^2 on the small end's velocity pressure",
    "1",
    "Borda-Carnot",
    "published",
)
EXIT = Entry("exit", "Exit to the room", "1", "the whole velocity pressure is lost", "published")
OPEN_GATE = Entry(
    "gate.open",
    "Blast gate, fully open",
    "1",
    "common practice, no source",
    "common practice",
    0.2,
    (Range("coefficient", 0.05, 0.2, "1"),),
)
ORIFICE = Entry(
    "orifice",
    "Leak of a shut gate, Q = Cd A sqrt(2 dp / rho), Cd 0.6",
    "m3/s",
    "sharp-edged orifice, rounded discharge coefficient",
    "published",
)

HoodShape = Literal[
    "plain pipe end",
    "flanged pipe end",
    "bell mouth",
    "straight takeoff",
    "tapered takeoff",
    "cone 30",
    "cone 60",
    "cone 90",
    "cone 120",
]


def _hood(shape: HoodShape, about: str, source: str, mark: Mark, entry_loss: float) -> Entry:
    return Entry(f"hood.{shape.replace(' ', '-')}", about, "1", source, mark, entry_loss)


_CFR = "29 CFR 1910.94(b)(3)(ii), reproduction"
_CONE = "public table of hood entry losses"
_HOODS: dict[HoodShape, Entry] = {
    "plain pipe end": _hood("plain pipe end", "Plain pipe end", _FIG_3_16, "reproduction", 0.93),
    "flanged pipe end": _hood(
        "flanged pipe end", "Flanged pipe end", _FIG_3_16, "reproduction", 0.49
    ),
    "bell mouth": _hood("bell mouth", "Bell mouth", _FIG_3_16, "reproduction", 0.04),
    "straight takeoff": _hood(
        "straight takeoff", "Wheel hood, straight takeoff", _CFR, "reproduction", 0.65
    ),
    "tapered takeoff": _hood(
        "tapered takeoff",
        "Wheel hood, tapered takeoff (0.40 in ACGIH fig. 3-16)",
        _CFR,
        "reproduction",
        0.45,
    ),
    "cone 30": _hood("cone 30", "Round cone, 30 degrees included", _MEMORY, "from memory", 0.08),
    "cone 60": _hood("cone 60", "Round cone, 60 degrees included", _CONE, "reproduction", 0.08),
    "cone 90": _hood("cone 90", "Round cone, 90 degrees included", _CONE, "reproduction", 0.15),
    "cone 120": _hood("cone 120", "Round cone, 120 degrees included", _CONE, "reproduction", 0.25),
}


PartName = Literal[
    "machine cabinet",
    "cyclone",
    "drum-lid separator",
    "clean filter",
    "seasoned filter",
    "filter due for cleaning",
    "muffler or return duct",
]


def _part(name: PartName, typical: float, low: float, high: float) -> Entry:
    return Entry(
        f"part.{name.replace(' ', '-')}",
        f"Typical loss at the rated flow: {name}",
        "Pa",
        "common practice, no source; measure or read the maker's figure",
        "common practice",
        typical,
        (Range("pressure", low, high, "Pa"),),
    )


_PARTS: dict[PartName, Entry] = {
    "machine cabinet": _part("machine cabinet", 500.0, 250.0, 500.0),
    "cyclone": _part("cyclone", 750.0, 500.0, 1000.0),
    "drum-lid separator": _part("drum-lid separator", 375.0, 250.0, 500.0),
    "clean filter": _part("clean filter", 100.0, 75.0, 125.0),
    "seasoned filter": _part("seasoned filter", 375.0, 250.0, 500.0),
    "filter due for cleaning": _part("filter due for cleaning", 750.0, 500.0, 1000.0),
    "muffler or return duct": _part("muffler or return duct", 100.0, 50.0, 125.0),
}
HOSE_BEND = Entry(
    "hose.bend",
    "A bend in flexible hose loses about twice a smooth elbow",
    "1",
    "common practice, no source",
    "common practice",
    2.0,
)


def _read(table: tuple[tuple[float, ...], tuple[float, ...]], at: float) -> float:
    return float(np.interp(at, *table))


# --- fittings ------------------------------------------------------------------------------------


def elbow(
    *, radius_ratio: float = 1.5, make: ElbowMake = "5-piece", angle: float = 90.0
) -> Fitting:
    """Return a round elbow by r/d [1], make and angle [degrees], read between the table's points.

    Raises OutsideRangeError outside r/d 0.5 (3- and 4-piece: 0.75) to 2.5 or above 180 degrees.
    """
    entry = _ELBOW_ENTRIES[make]
    entry.require(**{"r/d": radius_ratio})
    ELBOW_ANGLE.require(angle=angle)
    loss = _read(_ELBOWS[make], radius_ratio) * _read(_ELBOW_ANGLES, angle)
    return Fitting("elbow", f"{angle:g} degree {make} elbow, r/d {radius_ratio:g}", loss, entry)


def stamped_elbow(diameter: float) -> Fitting:
    """Return a stamped 90 degree elbow, r/d 1.5, for a duct of `diameter` [m], 0.075 to 0.25."""
    STAMPED_ELBOW.require(diameter=diameter)
    return Fitting("elbow", "stamped elbow", _read(_STAMPED, diameter), STAMPED_ELBOW)


def pleated_elbow(diameter: float) -> Fitting:
    """Return a pleated 90 degree elbow for a duct of `diameter` [m], 0.1 to 0.2."""
    PLEATED_ELBOW.require(diameter=diameter)
    return Fitting("elbow", "pleated elbow", _read(_PLEATED, diameter), PLEATED_ELBOW)


def mitre(angle: float = 90.0) -> Fitting:
    """Return a mitred bend of `angle` [degrees], 0 to 90, without vanes."""
    MITRE.require(angle=angle)
    return Fitting("mitre", f"{angle:g} degree mitre", _read(_MITRE, angle), MITRE)


def branch_entry(angle: float) -> Fitting:
    """Return the entry of a branch into its main at `angle` [degrees], 15 to 90.

    It belongs to the branch's last segment. From memory of the ACGIH table.
    """
    BRANCH_ENTRY.require(angle=angle)
    name = f"{angle:g} degree branch entry"
    return Fitting("branch entry", name, _read(_BRANCH, angle), BRANCH_ENTRY)


def reducer(*, angle: float | None, large: float, small: float) -> Fitting:
    """Return a reducer from `large` [m] to `small` [m], full taper `angle` [degrees] 5 to 60.

    `angle` None is an abrupt one. The coefficient belongs to the small duct and holds the loss
    alone: the network adds the acceleration. From memory of the ACGIH table.
    """
    if not 0 < small <= large:
        raise ValueError(f"a reducer goes from large to small, not {large} m to {small} m")
    if angle is not None:
        REDUCER.require(angle=angle)
    share = 0.5 if angle is None else _read(_TAPER, angle)
    rise = 1.0 - (small / large) ** 4
    name = "abrupt reducer" if angle is None else f"{angle:g} degree reducer"
    return Fitting("reducer", name, share * rise, REDUCER)


def sudden_expansion(*, small: float, large: float) -> Fitting:
    """Return the expansion from `small` [m] to `large` [m] as a loss of total pressure.

    The network never credits a slowing stream with its velocity pressure, which is more than
    this loss, so it needs no expansion of its own.
    """
    if not 0 < small <= large:
        raise ValueError(f"an expansion goes from small to large, not {small} m to {large} m")
    return Fitting("expansion", "sudden expansion", (1.0 - (small / large) ** 2) ** 2, EXPANSION)


def exit_to_room() -> Fitting:
    """Return the exit of a duct to the open air."""
    return Fitting("exit", "exit", 1.0, EXIT)


def hood(shape: HoodShape) -> Hood:
    """Return a hood or pipe end of a tabulated shape; cones by included angle, round."""
    entry = _HOODS[shape]
    return Hood(shape, entry.constant, entry)


def hood_static_pressure(velocity_pressure: float, entry_loss: float) -> float:
    """Return how far below the room [Pa] the duct behind a hood is: (1 + Fh) VP [Pa]."""
    return (1.0 + entry_loss) * velocity_pressure


def hose_bend(*, radius_ratio: float = 1.5, angle: float = 90.0) -> Fitting:
    """Return a bend of flexible hose by r/d [1] and angle [degrees]; r/d 1.5 or more is good."""
    smooth = elbow(radius_ratio=radius_ratio, make="smooth", angle=angle)
    loss = HOSE_BEND.constant * smooth.coefficient
    return Fitting("elbow", f"{angle:g} degree bend of hose", loss, HOSE_BEND)


def typical_loss(part: PartName, *, flow: float) -> RatedLoss:
    """Return the middle of what is usual for a part at its rated `flow` [m3/s].

    Filters lose linearly in flow, the others quadratically. No source stands behind it.
    """
    entry = _PARTS[part]
    law: Law = "linear" if "filter" in part else "quadratic"
    return RatedLoss(part, entry.constant, flow, law, entry)


def orifice_flow(
    *, area: float, pressure: float, discharge: float = 0.6, air: Air = STANDARD_AIR
) -> float:
    """Return the flow [m3/s] through an opening of `area` [m2] under `pressure` [Pa]."""
    return discharge * area * math.sqrt(2.0 * pressure / air.density)


ENTRIES = (
    *_ELBOW_ENTRIES.values(),
    ELBOW_ANGLE,
    STAMPED_ELBOW,
    PLEATED_ELBOW,
    MITRE,
    BRANCH_ENTRY,
    REDUCER,
    EXPANSION,
    EXIT,
    OPEN_GATE,
    ORIFICE,
    HOSE_BEND,
    *_HOODS.values(),
    *_PARTS.values(),
)
