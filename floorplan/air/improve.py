"""What to change when a port gets too little air: each change is made and the system solved again.

No rule of thumb ranks the changes; the gain of each is the difference of two operating points.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from floorplan.air.fittings import branch_entry
from floorplan.air.network import NetworkError, System
from floorplan.air.operating import OperatingPoint, operating_point

STOCK_DIAMETERS = (0.1016, 0.127, 0.1524, 0.1778, 0.2032)
"""Common sizes of small-shop duct [m]; common practice, no source."""
BRANCH_ANGLES = (30.0, 45.0)
"""Entry angles of common branch fittings [degrees]; common practice, no source."""
FAN_STEPS = (1.1, 1.25)
"""Wheel diameters tried, as ratios [1] at the same speed."""
HOSE_LEFT = (0.75, 0.5)
"""Shares of a hose that are tried [1]."""

_ANGLE_TOLERANCE = 1e-9


class Change(Protocol):
    """One change that can be tried on a system."""

    def apply(self, system: System) -> System:
        """Return the changed system."""

    def __str__(self) -> str:
        """Say the change in words [SI]."""


@dataclass(frozen=True, slots=True)
class ShorterHose:
    """Cut the hose of a segment to `length` [m]."""

    segment: str
    length: float

    def apply(self, system: System) -> System:
        """Return the system with the shorter hose. Raises NetworkError if it is not shorter."""
        old = system.segment(self.segment)
        if not self.length < old.length:
            raise NetworkError(f"segment {self.segment} is {old.length} m, not longer")
        return system.with_segments([replace(old, length=self.length)])

    def __str__(self) -> str:
        return f"cut the hose {self.segment} to {self.length:.2f} m"


@dataclass(frozen=True, slots=True)
class OtherSize:
    """Lay segments in another `diameter` [m]; their coefficients stay."""

    segments: tuple[str, ...]
    diameter: float

    def apply(self, system: System) -> System:
        """Return the system with those segments in the other size."""
        found = [system.segment(name) for name in self.segments]
        return system.with_segments(replace(s, diameter=self.diameter) for s in found)

    def __str__(self) -> str:
        return f"lay {', '.join(self.segments)} in {1000 * self.diameter:.1f} mm"


@dataclass(frozen=True, slots=True)
class OtherBranchAngle:
    """Let a branch enter its main at `angle` [degrees]."""

    segment: str
    angle: float

    def apply(self, system: System) -> System:
        """Return the system with the entry replaced. Raises NetworkError if there is none."""
        old = system.segment(self.segment)
        if not any(fitting.kind == "branch entry" for fitting in old.fittings):
            raise NetworkError(f"segment {self.segment} has no branch entry")
        entry = branch_entry(self.angle)
        fittings = tuple(entry if f.kind == "branch entry" else f for f in old.fittings)
        return system.with_segments([replace(old, fittings=fittings)])

    def __str__(self) -> str:
        return f"let {self.segment} enter at {self.angle:g} degrees"


@dataclass(frozen=True, slots=True)
class BiggerFan:
    """Take a similar fan, by ratios of `speed` [1] and wheel `size` [1]. Source: fan.laws."""

    speed: float = 1.0
    size: float = 1.0

    def apply(self, system: System) -> System:
        """Return the system with the scaled fan; its separator and filter stay."""
        fan = system.collector.fan.scaled(speed=self.speed, size=self.size)
        return replace(system, collector=replace(system.collector, fan=fan))

    def __str__(self) -> str:
        return f"take a fan of {self.size:g} x the wheel and {self.speed:g} x the speed"


@dataclass(frozen=True, slots=True)
class Gain:
    """What a change brings: `port_gain`, `total_gain` [m3/s], and the new operating point.

    `breaks_floor` names open segments that kept their transport velocity before and no longer do.
    Gains are NaN when the changed fan and run do not meet.
    """

    change: Change
    port_gain: float
    total_gain: float
    breaks_floor: tuple[str, ...]
    after: OperatingPoint


def rank_changes(
    system: System,
    target: str,
    *,
    open_ports: Collection[str] | None = None,
    candidates: Sequence[Change] | None = None,
    dirty: bool = False,
) -> tuple[Gain, ...]:
    """Try each change and rank them by what the target port gains, largest first.

    `open_ports` defaults to the target alone, `candidates` to `default_changes`. Changes that let
    dust settle where it moved before come after all that do not; those that lead to no operating
    point come last. Raises NetworkError when there is no operating point to begin with or the
    target is shut.
    """
    opened = (target,) if open_ports is None else tuple(open_ports)
    before = operating_point(system, opened, dirty=dirty)
    if target not in before.open_ports:
        raise NetworkError(f"the gate of {target} is shut")
    chosen = default_changes(system, target) if candidates is None else candidates
    gains = [_tried(system, change, before, target, dirty) for change in chosen]

    def rank(gain: Gain) -> tuple[bool, bool, float]:
        nowhere = math.isnan(gain.port_gain)
        return nowhere, bool(gain.breaks_floor), 0.0 if nowhere else -gain.port_gain

    return tuple(sorted(gains, key=rank))


def _tried(
    system: System, change: Change, before: OperatingPoint, target: str, dirty: bool
) -> Gain:
    after = operating_point(change.apply(system), before.open_ports, dirty=dirty)
    old_total, new_total = before.flow, after.flow
    if old_total is None:
        raise NetworkError(f"there is no operating point to improve: {before.meeting}")
    if new_total is None:
        return Gain(change, math.nan, math.nan, (), after)
    return Gain(
        change,
        after.port_flow(target) - before.port_flow(target),
        new_total - old_total,
        tuple(sorted(_short(after) - _short(before))),
        after,
    )


def _short(point: OperatingPoint) -> set[str]:
    """Segments in which dust may settle."""
    return {
        s.name for s in point.segments if s.velocity_margin is not None and s.velocity_margin < 0
    }


def default_changes(
    system: System, target: str, *, diameters: Sequence[float] = STOCK_DIAMETERS
) -> tuple[Change, ...]:
    """Return what could help a port: its hoses, sizes, branch entries, and the fan.

    `diameters` [m] are the stock sizes. Each segment of the port's path is tried in the next sizes
    down and up, and the whole path in every size.
    """
    path = system.path(target)
    changes: list[Change] = []
    for segment in path:
        if segment.wall.hose and segment.length > 0:
            changes += [ShorterHose(segment.name, share * segment.length) for share in HOSE_LEFT]
        for size in _next_sizes(segment.diameter, diameters):
            changes.append(OtherSize((segment.name,), size))
        entries = [f for f in segment.fittings if f.kind == "branch entry"]
        for angle in BRANCH_ANGLES:
            better = branch_entry(angle).coefficient + _ANGLE_TOLERANCE
            if any(better < entry.coefficient for entry in entries):
                changes.append(OtherBranchAngle(segment.name, angle))
    names = tuple(segment.name for segment in path)
    if len(path) > 1:
        same = {segment.diameter for segment in path}
        changes += [OtherSize(names, size) for size in diameters if same != {size}]
    changes += [BiggerFan(size=step) for step in FAN_STEPS]
    return tuple(changes)


def _next_sizes(diameter: float, stock: Sequence[float]) -> tuple[float, ...]:
    """Return the stock sizes next below and next above a diameter [m]."""
    below = [size for size in stock if size < diameter * (1 - 1e-6)]
    above = [size for size in stock if size > diameter * (1 + 1e-6)]
    return (*([max(below)] if below else []), *([min(above)] if above else []))
