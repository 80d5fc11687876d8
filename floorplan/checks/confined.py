"""What is surely in the way of what surely moves, and from where that has no way at all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from floorplan.checks.mobile import Mobile
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.geometry.affine import ZERO
from floorplan.motion.carry import CarrySpace, Pose, carry
from floorplan.shop.model import Door
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE

_HAIR = 4 * TOLERANCE
"""What stands touches what it touches; a body less this on every side touches nothing [m]."""


def passable_doors(
    floor: RollingFloor, mobile: Mobile, doors: Iterable[Door], lean: float
) -> tuple[Door, ...]:
    """Doors that a thing rolls through, by their heights; lean 1 surely, -1 perhaps."""
    known = floor.shop.measurements
    low, high = mobile.band if lean > 0 else mobile.core_band
    kept = []
    for door in doors:
        lacks = (high - low - door.head, door.sill - ZERO)
        if all(v.value + lean * v.error(known) <= TOLERANCE for v in lacks):
            kept.append(door)
    return tuple(kept)


def surely_in_way(
    floor: RollingFloor, mobile: Mobile, others: Sequence[Element]
) -> tuple[BaseGeometry, tuple[Element, ...]]:
    """The ground with every door open that may let it through, and the solids at its heights."""
    solids = tuple(
        e
        for e in (*floor.staying, *others)
        if e.nature == "solid" and floor.reaches(e.volume, (mobile.core_band,), -1.0)
    )
    return floor.ground(passable_doors(floor, mobile, floor.outside, -1.0), mobile), solids


def confined(
    floor: RollingFloor, mobile: Mobile, start: Pose, goal: Pose, finest: float
) -> BaseGeometry | None:
    """Places of the thing's middle from which it has surely no way to `goal`, all else gone.

    They are those to which what surely moves is pushed from `start`, not turned: if there were a
    way from any of them, there would be one from `start` too.  None: that is not sure.
    """
    ground, solids = surely_in_way(floor, mobile, ())
    least = mobile.least(floor.reserve(mobile, ()) + _HAIR)
    space = CarrySpace(ground, [e.volume.polygon for e in solids])
    floor.carried += 1
    found = carry(space, least, start=start, goal=goal, finest=finest, margin=False)
    if found.verdict != "fails" or found.blocked_at is None or found.blocked_at.reason == "start":
        return None
    parts = space.free(*least.all_at(start.angle))
    at = Point(start.x, start.y)
    return shapely.union_all(parts[shapely.dwithin(parts, at, TOLERANCE)])
