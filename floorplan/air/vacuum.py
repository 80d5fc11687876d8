"""A shop vacuum at the end of its hose: flow and velocity, and how long the hose may be.

A vacuum has much suction and little flow: hose size sets the velocity, and length matters less
than with a collector.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from floorplan.air.fan import FanCurve
from floorplan.air.friction import Wall, corrugated_hose
from floorplan.air.losses import Hood, RatedLoss
from floorplan.air.network import Collector, Port, Segment, System
from floorplan.air.operating import Meeting, operating_point
from floorplan.air.properties import STANDARD_AIR, Air, duct_area
from floorplan.air.registry import Entry, OutOfRange

TOOL_AND_ENTRY = Entry(
    "vacuum.entry",
    "Entry and tool at the end of a vacuum hose, acceleration not counted",
    "1",
    "common practice, no source",
    "common practice",
    2.5,
)
ENTRIES = (TOOL_AND_ENTRY,)

_LONGEST_TRIED = 1000.0  # [m]


@dataclass(frozen=True, slots=True)
class Vacuum:
    """A vacuum by its curve (suction [Pa] against flow [m3/s]), filter and separators."""

    curve: FanCurve
    filter: RatedLoss | None = None
    separators: tuple[RatedLoss, ...] = ()


@dataclass(frozen=True, slots=True)
class HoseEnd:
    """What arrives at the tool: `flow` [m3/s] and `velocity` [m/s], None if no point exists."""

    meeting: Meeting
    flow: float | None
    velocity: float | None
    out_of_range: tuple[OutOfRange, ...]


def at_hose_end(
    vacuum: Vacuum,
    *,
    length: float,
    diameter: float,
    wall: Wall | None = None,
    entry_loss: float = TOOL_AND_ENTRY.constant,
    air: Air = STANDARD_AIR,
) -> HoseEnd:
    """Return flow and velocity at the end of a hose of `length` [m] and `diameter` [m].

    `wall` defaults to corrugated hose; `entry_loss` [1] is that of the tool and its entry, in
    velocity pressures of the hose, without the acceleration.
    """
    hose = Segment(
        "hose",
        length,
        diameter,
        wall=corrugated_hose() if wall is None else wall,
        port=Port("tool", Hood("tool", entry_loss)),
    )
    collector = Collector(vacuum.curve, vacuum.filter, losses=vacuum.separators)
    point = operating_point(System((hose,), collector, air), ["tool"])
    if not point.meets:
        return HoseEnd(point.meeting, None, None, point.out_of_range)
    [state] = point.segments
    return HoseEnd(point.meeting, state.flow, state.velocity, point.out_of_range)


def longest_hose(
    vacuum: Vacuum,
    *,
    velocity: float,
    diameter: float,
    wall: Wall | None = None,
    entry_loss: float = TOOL_AND_ENTRY.constant,
    air: Air = STANDARD_AIR,
) -> float | None:
    """Return the longest hose [m] of `diameter` [m] in which air still moves at `velocity` [m/s].

    To the millimetre; infinite beyond 1000 m; None if the air is too slow with no hose at all.
    Longer hose never moves faster, so halving the interval finds it. Where the hose is freer than
    the curve tells, its last flow counts, since the true one is no less.
    """

    def fast_enough(length: float) -> bool:
        end = at_hose_end(
            vacuum, length=length, diameter=diameter, wall=wall, entry_loss=entry_loss, air=air
        )
        if end.meeting is Meeting.TOO_FREE:
            return vacuum.curve.flows[-1] / duct_area(diameter) >= velocity
        return end.velocity is not None and end.velocity >= velocity

    if not fast_enough(0.0):
        return None
    low, high = 0.0, _LONGEST_TRIED
    if fast_enough(high):
        return math.inf
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fast_enough(middle) else (low, middle)
    return low
