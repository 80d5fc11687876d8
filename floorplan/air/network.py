"""A dust-collection system: a tree of duct segments from ports through mains to one collector."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from floorplan.air.fan import FanCurve
from floorplan.air.friction import GALVANIZED_DUCT, Wall
from floorplan.air.losses import Fitting, Gate, Hood, RatedLoss
from floorplan.air.properties import STANDARD_AIR, Air
from floorplan.air.registry import Entry, Range

_PRACTICE = "common practice, no source; ACGIH design velocities for wood span 15 to 23 m/s"
BRANCH_FLOOR = Entry(
    "velocity.branch",
    "Least transport velocity in branches and risers (4000 ft/min)",
    "m/s",
    _PRACTICE,
    "common practice",
    20.32,
    (Range("velocity", 12.7, 23.0, "m/s"),),
)
MAIN_FLOOR = Entry(
    "velocity.main",
    "Least transport velocity in mains (3500 ft/min)",
    "m/s",
    _PRACTICE,
    "common practice",
    17.78,
    (Range("velocity", 12.7, 23.0, "m/s"),),
)
VELOCITY_WARNED = Entry(
    "velocity.warned",
    "Below this chips may settle in any duct (3000 ft/min)",
    "m/s",
    _PRACTICE,
    "common practice",
    15.24,
)
VELOCITY_REFUSED = Entry(
    "velocity.refused",
    "Below this dust settles in any duct (2500 ft/min)",
    "m/s",
    _PRACTICE,
    "common practice",
    12.7,
)
ENTRIES = (BRANCH_FLOOR, MAIN_FLOOR, VELOCITY_WARNED, VELOCITY_REFUSED)


class NetworkError(ValueError):
    """A system that cannot be: a loop, a loose end, a size below zero, an unknown name."""


@dataclass(frozen=True, slots=True)
class Port:
    """Where a machine's air enters: its hood, its cabinet's own losses, and its gate.

    `losses` are those of the machine (cabinet), taken whether its gate is open or leaks. A port
    without a gate is always open.
    """

    name: str
    hood: Hood
    losses: tuple[RatedLoss, ...] = ()
    gate: Gate | None = None


@dataclass(frozen=True, slots=True)
class Segment:
    """One piece of round duct of one size: `length` [m], `diameter` [m], wall and fittings.

    `into` names the segment that it runs into; None for the one at the collector. A segment with
    a `port` is the upper end of a branch. `floor` [m/s] is its least transport velocity; without
    one, risers and segments with a port take the branch default and others the main default.
    """

    name: str
    length: float
    diameter: float
    into: str | None = None
    wall: Wall = GALVANIZED_DUCT
    fittings: tuple[Fitting, ...] = ()
    losses: tuple[RatedLoss, ...] = ()
    port: Port | None = None
    riser: bool = False
    floor: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.length) and self.length >= 0):
            raise NetworkError(f"segment {self.name}: a length cannot be {self.length} m")
        if not (math.isfinite(self.diameter) and self.diameter > 0):
            raise NetworkError(f"segment {self.name}: a diameter cannot be {self.diameter} m")
        if self.wall.factor is None and self.wall.roughness > 0.05 * self.diameter:
            raise NetworkError(f"segment {self.name}: rougher than Colebrook's formula holds for")
        if self.floor is not None and not (math.isfinite(self.floor) and self.floor >= 0):
            raise NetworkError(f"segment {self.name}: a velocity floor cannot be {self.floor} m/s")

    @property
    def velocity_floor(self) -> float:
        """Least transport velocity [m/s]. Sources: velocity.branch, velocity.main."""
        if self.floor is not None:
            return self.floor
        role = BRANCH_FLOOR if self.riser or self.port is not None else MAIN_FLOOR
        return role.constant

    @property
    def coefficient(self) -> float:
        """Sum of the fittings' coefficients [1]."""
        return math.fsum(fitting.coefficient for fitting in self.fittings)


@dataclass(frozen=True, slots=True)
class Collector:
    """Fan with what it must pull or push through: separator, filter clean and dirty, the rest."""

    fan: FanCurve
    clean_filter: RatedLoss | None = None
    dirty_filter: RatedLoss | None = None
    losses: tuple[RatedLoss, ...] = ()

    def all_losses(self, *, dirty: bool) -> tuple[RatedLoss, ...]:
        """Return what the fan works against besides the duct.

        Raises NetworkError when `dirty` is asked and no dirty filter is given.
        """
        if dirty and self.dirty_filter is None:
            raise NetworkError("the collector has no dirty filter to reckon with")
        chosen = self.dirty_filter if dirty else self.clean_filter
        return self.losses if chosen is None else (*self.losses, chosen)


@dataclass(frozen=True, slots=True)
class System:
    """Segments in any order, the collector that they end at, and the air.

    Raises NetworkError unless the segments are one tree with a port at each upper end.
    """

    segments: tuple[Segment, ...]
    collector: Collector
    air: Air = STANDARD_AIR

    def __post_init__(self) -> None:
        _check_names(self.segments)
        _check_tree(self.segments)

    @property
    def ports(self) -> tuple[Port, ...]:
        """The ports in the order of their segments."""
        return tuple(s.port for s in self.segments if s.port is not None)

    def segment(self, name: str) -> Segment:
        """Return the segment of that name. Raises NetworkError for an unknown one."""
        for segment in self.segments:
            if segment.name == name:
                return segment
        raise NetworkError(f"there is no segment {name}")

    def path(self, port: str) -> tuple[Segment, ...]:
        """Return the segments from a port to the collector. Raises NetworkError if unknown."""
        by_name = {segment.name: segment for segment in self.segments}
        for segment in self.segments:
            if segment.port is not None and segment.port.name == port:
                way = [segment]
                while (into := way[-1].into) is not None:
                    way.append(by_name[into])
                return tuple(way)
        raise NetworkError(f"there is no port {port}")

    def with_segments(self, changed: Iterable[Segment]) -> System:
        """Return the system with segments of the same names replaced."""
        by_name = {segment.name: segment for segment in changed}
        segments = tuple(by_name.get(segment.name, segment) for segment in self.segments)
        return replace(self, segments=segments)


def _check_names(segments: tuple[Segment, ...]) -> None:
    ports = [segment.port.name for segment in segments if segment.port is not None]
    for what, names in (("segment", [s.name for s in segments]), ("port", ports)):
        twice = [name for name, count in Counter(names).items() if count > 1]
        if twice:
            raise NetworkError(f"two {what}s are named {twice[0]}")


def _check_tree(segments: tuple[Segment, ...]) -> None:
    by_name = {segment.name: segment for segment in segments}
    roots = [segment.name for segment in segments if segment.into is None]
    if len(roots) != 1:
        raise NetworkError(f"one segment must end at the collector, not {len(roots)}")
    entered = {segment.into for segment in segments if segment.into is not None}
    for name in entered - by_name.keys():
        raise NetworkError(f"a segment runs into {name}, which is not there")
    for segment in segments:
        if segment.port is not None and segment.name in entered:
            raise NetworkError(f"segment {segment.name} has a port but others run into it")
        if segment.port is None and segment.name not in entered:
            raise NetworkError(f"segment {segment.name} has neither a port nor a branch")
        at, steps = segment, 0
        while at.into is not None:
            at, steps = by_name[at.into], steps + 1
            if steps > len(segments):
                raise NetworkError(f"segment {segment.name} runs in a circle")
