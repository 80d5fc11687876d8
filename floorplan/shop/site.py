"""What lies outside the room: the lot, what stands on it, the owner's local limits, the shed.

Everything is in the room's coordinates. A shed has its own: origin at its rear left corner, x to
the right, y to the rear, so it lies at negative y; at turn 0 its front faces south.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from floorplan.geometry.affine import ZERO, Affine, Outline, Point

ShedSide = Literal["front", "back", "left", "right"]
SHED_SIDES: tuple[ShedSide, ...] = ("front", "right", "back", "left")
"""Counter-clockwise; each a quarter turn after the one before."""
Attached = Literal["yes", "no", "either"]
MeasuredTo = Literal["wall", "eave"]


@dataclass(frozen=True, slots=True)
class LotLine:
    """One straight side of the lot, the lot on its left."""

    name: str
    start: Point
    end: Point
    setback: float | None
    """What the owner's local rules keep free along it [m]; None: the file does not say."""


@dataclass(frozen=True, slots=True, eq=False)
class SiteBuilding:
    """Another building on the lot or beside it."""

    name: str
    outline: Outline
    height: Affine | None
    """[m]; None: not told, taken as taller than anything."""
    separation: float
    """What the local rules keep free between it and the shed [m]."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Spot:
    """A named point outside, and how far a shed keeps off it."""

    name: str
    x: Affine
    y: Affine
    keep: Affine = ZERO
    """[m]"""
    line: int = 0
    trunk: Affine = ZERO
    """Diameter of a tree's trunk [m]; 0: not told, and nobody meets it."""


@dataclass(frozen=True, slots=True)
class Receiver:
    """Where somebody hears the collector."""

    name: str
    x: Affine
    y: Affine
    height: Affine
    """Above the ground [m]."""
    limit: float | None
    """Sound level allowed there [dB]; None: the file does not say."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Limits:
    """The owner's local limits; None where the file does not say."""

    area: float | None = None
    """[m2]"""
    height: float | None = None
    """[m]"""
    noise_at_line: float | None = None
    """[dB]"""


@dataclass(frozen=True, slots=True)
class ShedDoor:
    """The door of a shed, in the middle of one side unless said otherwise."""

    side: ShedSide
    width: Affine
    room: Affine
    """Free ground before it [m]."""
    at: Affine | None = None
    """From the left end of that side, seen from outside [m]; None: in the middle."""


@dataclass(frozen=True, slots=True)
class ShedBin:
    """The dust bin, pulled out straight through the door."""

    width: Affine
    depth: Affine
    pull: Affine
    """How far out of the door it is pulled to be carried off [m]."""


@dataclass(frozen=True, slots=True)
class ShedPower:
    """The circuit that feeds the collector, single phase."""

    start: str
    x: Affine
    y: Affine
    """Where it begins [m]."""
    amps: float
    volts: float
    gauge: int
    """American wire gauge."""
    make: Literal["solid", "stranded"]
    length: Affine | None = None
    """Of the cable one way, as measured [m]; None: along the walls."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class ShedPlace:
    """Where a shed stands: its walls' westernmost and southernmost points, and its turn."""

    x: Affine
    y: Affine
    turn: float
    """Counter-clockwise [deg]."""
    wall: str | None = None
    """The wall of the room that it stands against."""
    side: ShedSide = "back"
    """Its side at that wall."""


@dataclass(frozen=True, slots=True, eq=False)
class Shed:
    """The collector's shed as it is or as it is planned."""

    width: Affine
    depth: Affine
    height: Affine
    """Outside, walls to walls, and to the highest point of its roof [m]."""
    eave: Affine = ZERO
    """How far its roof reaches beyond its walls [m]."""
    attached: Attached = "either"
    walls: tuple[str, ...] = ()
    """Walls of the room to which it may be attached and through which its duct may go; empty:
    all."""
    door: ShedDoor | None = None
    bin: ShedBin | None = None
    noise: tuple[float, float] | None = None
    """Sound level [dB] and the distance from it at which that was measured [m]."""
    power: ShedPower | None = None
    return_air: bool = False
    opening: float | None = None
    """Free area through which air comes in again [m2]."""
    place: ShedPlace | None = None
    there: bool = True
    """Whether it is there at this stage; before, only its ground is kept."""
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """Everything under `site:`."""

    lot: Outline
    """Corners, counter-clockwise [m]."""
    lines: tuple[LotLine, ...]
    """One for each side of the lot, in order."""
    measured_to: MeasuredTo
    """What the setbacks are measured to."""
    room_separation: float = 0.0
    """What the local rules keep free between the room's building and a shed of its own [m]."""
    buildings: tuple[SiteBuilding, ...] = ()
    trees: tuple[Spot, ...] = ()
    house_door: Spot | None = None
    receivers: tuple[Receiver, ...] = ()
    limits: Limits = Limits()
    shed: Shed | None = None
    line: int = 0

    @property
    def unset(self) -> tuple[str, ...]:
        """Lot lines for which the file states no setback."""
        return tuple(line.name for line in self.lines if line.setback is None)
