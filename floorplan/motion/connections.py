"""How free positions at neighbouring angles hang together, refined until the answer is certain.

At chosen angles (the slices) the free positions are exact polygons, whose parts are the nodes of
a graph. In the turn between two slices, a part of the positions free for the swept hull surely
links the slice parts that hold its ends, and a part of the positions not blocked throughout
groups all slice parts that any motion within the turn could link. Sure links prove a way,
missing groups prove that there is none, and turns about which the two differ are halved where
the best remaining way needs them. (Soft subdivision: Wang, Chiang and Yap, On soft predicates in
subdivision motion planning, Computational Geometry 48 (2015) 589-605.)
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count, pairwise
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from floorplan.motion.drift import drifts
from floorplan.motion.positions import CarrySpace
from floorplan.motion.turning import Body, Pose, swept

Verdict = Literal["passes", "fails", "unsure"]
Part = tuple["Slice", int]
"""A slice and which of its parts."""

BASE_TURN = math.radians(10)
"""Widest turn between two slices to begin with [rad]."""
_ON_EDGE = 1e-7  # a point this near to a part counts as in it [m]
_SQUARE_TO = 4  # directions of solids to which the body is tried square and along
_SLIVER = 1e-12  # an area that is numerical noise [m2]
_SURE_COST = 1e-3  # against 1 and more for a link that is only possible


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
        return self.space.free(self.body.at(self.angle))

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
    def _in_place(self) -> list[SureTurn]:
        return self._surely((0.0, 0.0), cut=False)

    @property
    def sure(self) -> list[SureTurn]:
        """Links proved by a swept hull."""
        return self._in_place + self.extra

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
            found = [s for s in self._surely(drift) if s.low == low and s.high == high]
            if found:
                self.extra += found
                return True
        return False

    def halved(self) -> tuple[Turn, Turn]:
        """Cut at a new slice half-way."""
        between = Slice(self.low.space, self.low.body, self.middle)
        return (
            Turn(self.low, between, self.middle, self.level + 1),
            Turn(between, self.high, self.end, self.level + 1),
        )

    def _surely(self, drift: tuple[float, float], *, cut: bool = True) -> list[SureTurn]:
        if not (len(self.low.parts) and len(self.high.parts)):
            return []
        body = self.low.body
        free = self.low.space.free(*swept(body, self.middle, self.half, drift, cut=cut))
        free = free[shapely.area(free) > _SLIVER]
        if not len(free):
            return []
        shift = np.asarray(drift) * math.sin(self.half)
        ends = zip(
            self.low.holding(free, -shift), self.high.holding(free, shift), free, strict=True
        )
        return [SureTurn(self, low, high, positions, drift) for low, high, positions in ends]


class Connections:
    """The graph for one body between two poses; `decide` refines it until it knows.

    `start` and `goal` are the slice parts of the two poses, None where the pose is not free.
    With a `band` of rising angles [rad], which holds those of both poses, only motions within it
    are looked at: it can still prove a way, but not that there is none.
    """

    def __init__(
        self,
        space: CarrySpace,
        body: Body,
        start: Pose,
        goal: Pose,
        band: Sequence[float] | None = None,
    ) -> None:
        self.space = space
        self.body = body
        angles = band or _first_angles(space, body, start.angle, goal.angle)
        slices = [Slice(space, body, angle) for angle in angles]
        turns = [Turn(a, b, b.angle) for a, b in pairwise(slices)]
        if band is None:
            turns.append(Turn(slices[-1], slices[0], slices[0].angle + body.period))
        self._above = {turn.low: turn for turn in turns}
        self._below = {turn.high: turn for turn in turns}
        self.start = _pose_part(slices, start, body.period)
        self.goal = _pose_part(slices, goal, body.period)

    def around(self, part: Part) -> list[Turn]:
        """Return the turns that begin or end at a part's slice."""
        found = self._below.get(part[0]), self._above.get(part[0])
        return [turn for turn in found if turn is not None]

    def sure_links(self, part: Part) -> Iterator[tuple[SureTurn, Part]]:
        """Yield the proved links of a part, with the part at the other end."""
        for turn in self.around(part):
            for link in turn.sure:
                if link.low == part:
                    yield link, link.high
                if link.high == part:
                    yield link, link.low

    def decide(self, finest: float) -> Verdict:
        """Refine until a way or its absence is proved, or corners move less than `finest` [m]."""
        if self.start is None or self.goal is None:
            return "fails"
        if self._surely_linked(self.start, self.goal):
            return "passes"
        smallest = finest / self.body.radius
        while True:
            way = self._likely_way(self.start, self.goal, smallest)
            if way is None:
                whole = self._likely_way(self.start, self.goal, 0.0)
                return "fails" if whole is None else "unsure"
            doubtful = [step for step in way if step is not None]
            if not doubtful:
                return "passes"
            for turn, one, other in doubtful:
                if not turn.try_drifts(one, other) and self._above[turn.low] is turn:
                    self._halve(turn)

    def possibly_linked(self, part: Part) -> set[Part]:
        """All parts that no proof so far separates from this one."""
        reached = {part}
        waiting = [part]
        while waiting:
            for turn in self.around(waiting.pop()):
                for group in turn.groups:
                    if not reached.isdisjoint(group):
                        waiting += [other for other in group if other not in reached]
                        reached.update(group)
        return reached

    def _halve(self, turn: Turn) -> None:
        first, second = turn.halved()
        for half in (first, second):
            self._above[half.low] = half
            self._below[half.high] = half

    def _surely_linked(self, start: Part, goal: Part) -> bool:
        reached = {start}
        waiting = [start]
        while waiting and goal not in reached:
            for _, other in self.sure_links(waiting.pop()):
                if other not in reached:
                    reached.add(other)
                    waiting.append(other)
        return goal in reached

    def _likely_way(
        self, start: Part, goal: Part, smallest: float
    ) -> list[tuple[Turn, Part, Part] | None] | None:
        """Way with the fewest doubtful turns: a row of them, None for each proved link.

        Turns of `smallest` [rad] and less are taken only where they are proved.
        """
        costs = {start: 0.0}
        came: dict[Part, tuple[Part, Turn | None]] = {}
        order = count()  # parts themselves have none
        queue = [(0.0, next(order), start)]
        done: set[Part] = set()
        while queue:
            cost, _, part = heapq.heappop(queue)
            if part in done:
                continue
            done.add(part)
            if part == goal:
                return _retrace(came, goal)
            for other, step, doubt in self._steps(part, smallest):
                if cost + step < costs.get(other, math.inf):
                    costs[other] = cost + step
                    came[other] = part, doubt
                    heapq.heappush(queue, (cost + step, next(order), other))
        return None

    def _steps(self, part: Part, smallest: float) -> Iterator[tuple[Part, float, Turn | None]]:
        for _, other in self.sure_links(part):
            yield other, _SURE_COST, None
        for turn in self.around(part):
            if 2 * turn.half > smallest:
                for group in turn.groups:
                    if part in group:
                        for other in group:
                            yield other, 1.0 + turn.level, turn


def _retrace(
    came: dict[Part, tuple[Part, Turn | None]], goal: Part
) -> list[tuple[Turn, Part, Part] | None]:
    steps: list[tuple[Turn, Part, Part] | None] = []
    part = goal
    while part in came:
        before, turn = came[part]
        steps.append(None if turn is None else (turn, before, part))
        part = before
    return steps[::-1]


def _first_angles(space: CarrySpace, body: Body, start: float, goal: float) -> list[float]:
    """Angles of both poses and of sides that lie along solids, no further apart than the base.

    A body as wide as a doorway passes only when it is exactly square to it, so those are slices.
    """
    ahead = np.roll(body.outline, -1, axis=0) - body.outline
    sides = np.arctan2(ahead[:, 1], ahead[:, 0])
    square = (space.side_angles(_SQUARE_TO)[:, None] - sides[None, :]).ravel()
    square = (square[:, None] + np.arange(4) * math.pi / 2).ravel()
    kept = [start % body.period]
    for angle in np.mod([goal, *square], body.period):
        gaps = np.abs(np.array(kept) - angle)
        if np.minimum(gaps, body.period - gaps).min() > 1e-9:
            kept.append(float(angle))
    kept.sort()
    angles: list[float] = []
    for low, high in pairwise([*kept, kept[0] + body.period]):
        count = math.ceil((high - low) / BASE_TURN - 1e-9)
        angles += [low + (high - low) * k / count for k in range(count)]
    return angles


def _pose_part(slices: list[Slice], pose: Pose, period: float) -> Part | None:
    gaps = [abs((s.angle - pose.angle + period / 2) % period - period / 2) for s in slices]
    return slices[int(np.argmin(gaps))].part_at(pose.x, pose.y)


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
