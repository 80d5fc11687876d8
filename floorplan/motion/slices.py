"""Slices of all free positions at one angle, and the turns between neighbouring slices.

A turn links parts of its two slices surely, where the positions free for a swept hull join them,
and groups those that any motion within the turn could link, where the positions not blocked
throughout hang together. Between the two lies what only narrower turns can tell.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from floorplan.motion.drift import drifts
from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body, Outline, swept, swept_by_part

Part = tuple["Slice", int]
"""A slice and which of its parts."""

_ON_EDGE = 1e-7  # a point this near to a part counts as in it [m]
_SLIVER = 1e-12  # an area that is numerical noise [m2]


@dataclass(frozen=True, slots=True, eq=False)
class SureTurn:
    """Positions [m] at the middle angle from which the whole turn is free, drifting along."""

    turn: Turn
    low: Part
    high: Part
    positions: Polygon
    drift: tuple[float, float]

    @property
    def shift(self) -> NDArray[np.float64]:
        """(2,) way from the middle to the high end [m]; to the low end it is the opposite."""
        return np.asarray(self.drift) * math.sin(self.turn.half)


@dataclass(eq=False)
class Slice:
    """All free positions at one angle [rad]; `parts` do not hang together at this angle."""

    space: CarrySpace
    body: Body
    angle: float

    @cached_property
    def parts(self) -> NDArray[np.object_]:
        """(n,) polygons [m]."""
        return self.space.free(*self.body.all_at(self.angle))

    def part_at(self, x: float, y: float) -> Part | None:
        """Return the part with this position, None if it is not free."""
        if not len(self.parts):
            return None
        distance = shapely.distance(self.parts, Point(x, y))
        nearest = int(np.argmin(distance))
        return (self, nearest) if distance[nearest] <= _ON_EDGE else None

    def holding(self, pieces: NDArray[np.object_], offset: NDArray[np.float64]) -> list[Part]:
        """Return the part that holds each of the pieces, moved by `offset` [m]."""
        if len(self.parts) == 1:
            return [(self, 0)] * len(pieces)
        inside = shapely.get_coordinates(shapely.point_on_surface(pieces)) + offset
        return [(self, k) for k in _nearest(self.parts, inside)]


@dataclass(eq=False)
class Turn:
    """The angles between two neighbouring slices; `end` may lie one period past `high.angle`."""

    low: Slice
    high: Slice
    end: float
    level: int = 0
    extra: list[SureTurn] = field(default_factory=list)

    @property
    def half(self) -> float:
        """Half the angle turned [rad]."""
        return (self.end - self.low.angle) / 2

    @property
    def middle(self) -> float:
        """Angle half-way [rad]."""
        return (self.end + self.low.angle) / 2

    @cached_property
    def in_place(self) -> list[SureTurn]:
        """Links proved by the one hull of a turn without drift."""
        return self.links_in(self.low.space.free(*self._hull()))

    @property
    def sure(self) -> list[SureTurn]:
        """Links proved by a swept hull."""
        return self.in_place + self.extra

    @cached_property
    def groups(self) -> list[list[Part]]:
        """Slice parts that a motion within this turn may link, each in one group."""
        parts = [(s, k) for s in (self.low, self.high) for k in range(len(s.parts))]
        joined = _joined(parts, [(link.low, link.high) for link in self.sure])
        if len(joined) < 2:
            return joined
        body, space = self.low.body, self.low.space
        possible = space.not_always_blocked(body, self.middle, self.half)
        groups: list[list[Part]] = [[] for _ in possible]
        for end in (self.low, self.high):
            if len(end.parts) and len(possible):
                inside = shapely.get_coordinates(shapely.point_on_surface(end.parts))
                for k, group in enumerate(_nearest(possible, inside)):
                    groups[group].append((end, k))
        return groups

    def try_drifts(self, one: Part, other: Part) -> bool:
        """Look for a drift with which the turn between two parts is free, and keep it."""
        if one[0] is other[0]:
            return False
        low, high = (one, other) if one[0] is self.low else (other, one)
        parts = low[0].parts[low[1]], high[0].parts[high[1]]
        for drift in drifts(self.low.space, self.low.body, self.middle, self.half, parts):
            outlines = swept_by_part(self.low.body, self.middle, self.half, drift)
            owners, hulls = zip(*outlines, strict=True)
            free = self.low.space.free(*hulls, parts=owners)
            links = [s for s in self.links_in(free, drift) if (s.low, s.high) == (low, high)]
            if links:
                self.extra += links
                return True
        return False

    def halved(self) -> tuple[Turn, Turn]:
        """Cut at a new slice half-way."""
        between = Slice(self.low.space, self.low.body, self.middle)
        return (
            Turn(self.low, between, self.middle, self.level + 1),
            Turn(between, self.high, self.end, self.level + 1),
        )

    def links_in(
        self, free: NDArray[np.object_], drift: tuple[float, float] = (0.0, 0.0)
    ) -> list[SureTurn]:
        """Return the links proved by the positions [m] that are free for what is swept."""
        free = free[shapely.area(free) > _SLIVER]
        if not (len(free) and len(self.low.parts) and len(self.high.parts)):
            return []
        shift = np.asarray(drift) * math.sin(self.half)
        low, high = self.low.holding(free, -shift), self.high.holding(free, shift)
        ends = zip(low, high, free, strict=True)
        return [SureTurn(self, one, other, positions, drift) for one, other, positions in ends]

    def _hull(self) -> list[Outline]:
        return swept(self.low.body, self.middle, self.half, cut=False)


def work_out(turns: Sequence[Turn], *, links: bool = True) -> None:
    """Find all slices and links in place at once, which is faster than one by one.

    Without `links` none are looked for.
    """
    space, body = turns[0].low.space, turns[0].low.body
    slices = list(dict.fromkeys(end for turn in turns for end in (turn.low, turn.high)))
    # parts that are known are kept: they are named by their numbers, and the order may differ
    fresh = [s for s in slices if "parts" not in s.__dict__]
    free = space.free_each([body.all_at(s.angle) for s in fresh]) if fresh else []
    for one, parts in zip(fresh, free, strict=True):
        one.parts = parts
    if not links:
        for turn in turns:
            turn.in_place = []
        return
    free = space.free_each([turn._hull() for turn in turns])
    for turn, positions in zip(turns, free, strict=True):
        turn.in_place = turn.links_in(positions)


def _nearest(parts: NDArray[np.object_], points: NDArray[np.float64]) -> list[int]:
    """Index of the part nearest to each point; it holds the point but for rounding."""
    if len(parts) == 1:
        return [0] * len(points)
    distance = shapely.distance(parts[:, None], shapely.points(points)[None, :])
    return [int(k) for k in np.argmin(distance, axis=0)]


def _joined(parts: list[Part], links: list[tuple[Part, Part]]) -> list[list[Part]]:
    group = {part: [part] for part in parts}
    for one, other in links:
        if group[one] is not group[other]:
            union = group[one] + group[other]
            group.update(dict.fromkeys(union, union))
    return list({id(g): g for g in group.values()}.values())
