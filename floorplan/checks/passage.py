"""One thing moved from pose to pose: the way that was found, and what it sweeps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import ceil, cos, hypot

import numpy as np
import shapely
from shapely.geometry import MultiPoint
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Verdict
from floorplan.checks.mobile import Mobile, Mover
from floorplan.checks.rolling_floor import RollingFloor
from floorplan.motion.turning import Body, Pose, outline_at
from floorplan.shop.model import Side
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE

_WIDEST_STEP = 0.2  # a turn is cut into steps no wider, so that its hull stays tight [rad]


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A part of a passage during which whoever moves the thing stays at one side of it."""

    mover: Mover | None
    body: Body
    """Everything that moves, as drawn."""
    path: tuple[Pose, ...]
    """Of the thing's middle; straight steps between them."""

    @property
    def side(self) -> Side | None:
        """Where whoever moves it is, nobody's room being asked for: None."""
        return None if self.mover is None else self.mover.side

    @property
    def length(self) -> float:
        """[m]"""
        return sum(hypot(b.x - a.x, b.y - a.y) for a, b in pairwise(self.path))

    @property
    def turned(self) -> float:
        """Total angle [rad]."""
        return sum(abs(b.angle - a.angle) for a, b in pairwise(self.path))


@dataclass(frozen=True, eq=False)
class Passage:
    """The answer for one thing from one pose to another."""

    verdict: Verdict
    mobile: Mobile
    stretches: tuple[Stretch, ...] = ()
    """Empty without a way; a way that is only `unsure` is free as drawn."""
    doors: tuple[str, ...] = ()
    """Doors that stand open meanwhile."""
    reserve: float = 0.0
    """What the tape may be off along the way [m]."""
    blocked_by: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        """Way of the thing's middle [m]."""
        return sum(stretch.length for stretch in self.stretches)

    @property
    def turned(self) -> float:
        """Total angle [rad]."""
        return sum(stretch.turned for stretch in self.stretches)

    @property
    def path(self) -> tuple[Pose, ...]:
        """All poses from start to goal."""
        joined = [pose for stretch in self.stretches for pose in stretch.path]
        return tuple(p for i, p in enumerate(joined) if i == 0 or p != joined[i - 1])

    @cached_property
    def _swept(self) -> tuple[tuple[Mobile, Mover | None, BaseGeometry, BaseGeometry], ...]:
        """For each stretch what it sweeps as drawn, and with the reserve away from the ends."""
        out = []
        for stretch in self.stretches:
            wide = self.mobile.body(stretch.mover, self.reserve)
            ends = [outline_at(wide, self.path[i]) for i in (0, -1)]
            more = shapely.difference(swept_area(wide, stretch.path), shapely.union_all(ends))
            out.append((self.mobile, stretch.mover, swept_area(stretch.body, stretch.path), more))
        return tuple(out)

    def clear_of(self, floor: RollingFloor, others: Iterable[Element]) -> bool:
        """Whether the same way surely keeps clear of other things too."""
        solids = list(others)
        for mobile, mover, drawn, more in self._swept:
            bands = mobile.bands(mover)
            for element in solids:
                if not floor.may_block(element, bands):
                    continue
                shape = element.volume.polygon.buffer(-TOLERANCE, join_style="mitre")
                if shape.intersects(drawn) or shape.intersects(more):
                    return False
        return True


@dataclass(frozen=True, slots=True)
class Spare:
    """What is left over along a way, the two ends left aside."""

    margin: float
    """Everything that moves could be so much larger on every side, as far as is certified [m]."""
    error: float
    """What the tape may be off [m]."""
    pose: Pose
    """Where it is tightest."""
    beside: tuple[str, ...]


def swept_area(body: Body, path: Sequence[Pose]) -> BaseGeometry:
    """A plan that holds all a body sweeps along a path [m]."""
    parts = swept_parts(body, path)
    return shapely.union_all(parts) if parts else outline_at(body, path[0])


def swept_parts(body: Body, path: Sequence[Pose]) -> list[BaseGeometry]:
    """Convex plans that together hold all a body sweeps along a path [m]."""
    parts: list[BaseGeometry] = []
    for start, end in pairwise(path):
        count = max(1, ceil(abs(end.angle - start.angle) / _WIDEST_STEP))
        stops = np.linspace([start.x, start.y, start.angle], [end.x, end.y, end.angle], count + 1)
        # a corner strays from its chord by no more than the rise of its arc
        rise = body.radius * (1.0 - cos(abs(end.angle - start.angle) / count / 2))
        for one, other in pairwise(stops):
            ends = [body.all_at(angle) for angle in (one[2], other[2])]
            for before, after in zip(*ends, strict=True):
                hull = MultiPoint(np.vstack([before + one[:2], after + other[:2]])).convex_hull
                parts.append(hull.buffer(rise) if rise > 0.0 else hull)
    return parts
