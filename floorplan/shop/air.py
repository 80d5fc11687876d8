"""Air for chips and dust as the shop file gives it: runs of duct, a collector, a vacuum.

Plain numbers and names; what they mean for the flow is worked out elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import acos, degrees
from typing import Literal

from floorplan.geometry.affine import ZERO, Affine
from floorplan.geometry.volume import Volume

Spot = tuple[Affine, Affine, Affine]
"""A point of the room: x, y and height above the floor [m]."""
Material = Literal["galvanized", "pvc", "hose"]
ElbowMake = Literal["smooth", "5-piece", "4-piece", "3-piece"]
Facing = Literal["up", "north", "south", "east", "west"]

STOCK_SIZES = (0.1016, 0.127, 0.1524)
"""Diameters taken where the file names none: 4, 5 and 6 in [m]; common practice, no source."""
DUCTS = "ducts"
"""Owner of everything that runs of duct bring into the room; its parts carry the runs' names."""


@dataclass(frozen=True, slots=True)
class Rated:
    """A part that loses `pressure` [Pa] at `flow` [m3/s]; filters do so linearly."""

    name: str
    pressure: float
    flow: float
    linear: bool = False


@dataclass(frozen=True, slots=True)
class Fan:
    """Suction [Pa] against flow [m3/s], as measured, flows rising."""

    flows: tuple[float, ...]
    pressures: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Inlet:
    """The collector's inlet: its middle, and the way it opens, into which the last duct runs."""

    spot: Spot
    faces: Facing = "up"
    in_shed: bool = False
    """It stands in the middle of the collector's shed, wherever that stands; its file names no
    point, and `spot` is known once the shed has a place."""


@dataclass(frozen=True, slots=True)
class Collector:
    """A fan with its filter, clean and dirty, and its separators."""

    fan: Fan
    clean: Rated | None = None
    dirty: Rated | None = None
    separators: tuple[Rated, ...] = ()
    inlet: Inlet | None = None
    """Known where runs are to be found."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Hose:
    """Flexible hose from a port to the beginning of its run."""

    length: Affine | None
    """As bought [m]; None: as the layout needs it."""
    diameter: Affine
    factor: float
    """Friction over that of smooth duct of its size [1]."""


@dataclass(frozen=True, slots=True)
class Drop:
    """The machine end of a run."""

    machine: str
    port: str
    hose: Hose
    gate: bool = True
    needs: float | None = None
    """Flow that the machine should get [m3/s]."""
    hood: str = "flanged pipe end"
    entry_loss: float | None = None
    """The user's own coefficient instead of the hood's [1]."""
    cabinet: Rated | None = None
    """What is lost within the machine."""
    assumed_need: bool = False
    """Nobody said what it needs; a usual flow is taken, that of its kind where `needs` is None."""


@dataclass(frozen=True, slots=True)
class Elbows:
    """How the corners of a run are made."""

    make: ElbowMake = "5-piece"
    radius: float = 1.5
    """Centreline radius over diameter [1]."""
    own: float | None = None
    """The user's own coefficient of a right angle instead [1]."""


@dataclass(frozen=True, slots=True)
class Junction:
    """Where a run enters another: how far along that one's path, and at which angle."""

    into: str
    station: float
    """From the beginning of the other run's path [m]."""
    angle: float
    """[degrees]"""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Round duct of one size along a path, given in the direction of the air."""

    name: str
    path: tuple[Spot, ...]
    diameter: Affine
    material: Material = "galvanized"
    elbows: Elbows = Elbows()
    fittings: tuple[tuple[str, float], ...] = ()
    """Further parts with the user's own coefficients [1]."""
    junction: Junction | None = None
    """None: it ends at the collector."""
    drop: Drop | None = None
    """None: it only takes the air of other runs."""
    floor: float | None = None
    """The user's own least velocity [m/s]."""
    clear: Affine = ZERO
    """Kept free all round [m]."""
    later: bool = False
    """Not there yet: only its place is kept."""
    line: int = 0

    @property
    def legs(self) -> tuple[tuple[Spot, Spot], ...]:
        """Straight stretches."""
        return tuple(pairwise(self.path))

    @property
    def length(self) -> Affine:
        """Of the whole path [m]."""
        total = ZERO
        for a, b in self.legs:
            total = total + distance(a, b)
        return total


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where duct goes through a wall: along it from its west or south end, middle's height [m]."""

    wall: str
    along: Affine
    height: Affine


@dataclass(frozen=True, slots=True, eq=False)
class Find:
    """Runs are to be found: for which machines, of what, and where they may leave the room."""

    machines: tuple[str, ...] = ()
    """Empty: every machine with a port."""
    needs: Mapping[str, float] = field(default_factory=dict)
    """Machine -> flow [m3/s]."""
    sizes: tuple[float, ...] = STOCK_SIZES
    """Diameters that can be bought [m]."""
    crossing: Crossing | Literal["found"] | None = None
    hose: float = 0.9144
    """Longest hose from a port to its run [m]."""
    hose_factor: float = 3.0
    stick: float | None = None
    """Length in which straight duct is sold [m]; None: the rule's."""
    clear: float = 0.0
    """Kept free all round [m]."""
    prices: Mapping[float, Mapping[str, float]] = field(default_factory=dict)
    """Diameter [m] -> part -> price of one."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Cabinet:
    """The cupboard that a vacuum with its separator stands in."""

    height: Affine | None = None
    """Inside [m]."""
    opening: tuple[Affine, Affine] | None = None
    """For the motor's warm air: width and height [m]."""


@dataclass(frozen=True, slots=True)
class Vacuum:
    """A shop vacuum that is rolled or stays, and its hose."""

    thing: str
    fan: Fan
    diameter: Affine
    """Of its hose [m]."""
    length: Affine | None = None
    """Of its hose [m]; None: as long as the farthest place needs."""
    factor: float | None = None
    """Friction factor of its hose [1]."""
    clean: Rated | None = None
    dirty: Rated | None = None
    separators: tuple[Rated, ...] = ()
    separator_height: Affine | None = None
    cabinet: Cabinet | None = None
    power: float | None = None
    """Of its motor [W]."""
    serves: tuple[str, ...] | None = None
    """Things that its hose must reach; None: it would be good to reach all."""
    needs: float | None = None
    """Flow wanted at the tool [m3/s]."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class AirPlan:
    """Everything under `air:`."""

    runs: tuple[Run, ...] = ()
    collector: Collector | None = None
    vacuum: Vacuum | None = None
    together: tuple[tuple[str, ...], ...] = ()
    """Machines whose gates are open at one time."""
    line: int = 0
    altitude: float | None = None
    """Of the shop above the sea [m]; None, as the temperature too: standard air."""
    temperature: float | None = None
    """Of the air that is moved [degrees C]."""
    find: Find | None = None
    """Runs are to be found; `runs` are those found in one layout, none before."""
    no_way: tuple[str, ...] = ()
    """Why runs could not be found, in words."""
    earlier: tuple[tuple[str, Volume], ...] = ()
    """What stands at earlier stages, out of which found runs keep: its name and its room."""
    stick: float | None = None
    """Length in which straight duct is sold [m]; None: the rule's."""
    prices: Mapping[float, Mapping[str, float]] = field(default_factory=dict)
    """Diameter [m] -> part -> price of one."""

    def run(self, name: str) -> Run:
        """The run of that name; KeyError when there is none."""
        return {run.name: run for run in self.runs}[name]


def distance(a: Spot, b: Spot) -> Affine:
    """Straight distance of two points, with its sensitivities [m]."""
    steps = [q - p for p, q in zip(a, b, strict=True)]
    length = sum(step.value**2 for step in steps) ** 0.5
    if length < 1e-9:
        # of two points that coincide only their errors are known
        return steps[0] + steps[1] + steps[2]
    total = ZERO
    for step in steps:
        total = total + step * (step.value / length)
    return Affine(length, total.terms)


def turn_between(a: Spot, b: Spot, c: Spot) -> float:
    """The angle by which a path turns at `b` [degrees]."""
    one = [q.value - p.value for p, q in zip(a, b, strict=True)]
    two = [q.value - p.value for p, q in zip(b, c, strict=True)]
    size = (sum(x * x for x in one) * sum(x * x for x in two)) ** 0.5
    cosine = sum(x * y for x, y in zip(one, two, strict=True)) / size
    return degrees(acos(min(max(cosine, -1.0), 1.0)))
