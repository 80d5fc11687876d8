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
from itertools import count, pairwise
from typing import Literal

import numpy as np

from floorplan.motion.positions import CarrySpace
from floorplan.motion.slices import Part, Slice, SureTurn, Turn, work_out
from floorplan.motion.turning import Body, Pose

Verdict = Literal["passes", "fails", "unsure"]

BASE_TURN = math.radians(10)
"""Widest turn between two slices to begin with [rad]."""

MOST_HALVED = 800
"""So many turns are halved before a question is left open: then hairs decide at many angles."""

_SQUARE_TO = 4  # directions of solids to which the body is tried square and along
_SURE_COST = 1e-3  # against 1 and more for a link that is only possible


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

    def decide(self, finest: float, most: int = MOST_HALVED) -> Verdict:
        """Refine until a way or its absence is proved, or corners move less than `finest` [m].

        Gives up after `most` turns have been halved.
        """
        if self.start is None or self.goal is None:
            return "fails"
        if self.start == self.goal:
            return "passes"
        work_out(list(self._above.values()))
        if self._surely_linked(self.start, self.goal):
            return "passes"
        smallest = finest / self.body.radius
        last = len(self._above) + most
        while len(self._above) < last:
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
        return "unsure"

    def may_link(self) -> bool:
        """Whether start and goal hang together as far as the first turns can tell."""
        if self.start is None or self.goal is None:
            return False
        work_out(list(self._above.values()), links=False)
        return self.start == self.goal or self.goal in self.possibly_linked(self.start, self.goal)

    def possibly_linked(self, part: Part, until: Part | None = None) -> set[Part]:
        """All parts that no proof so far separates from this one, or those found up to one."""
        reached = {part}
        waiting = [part]
        while waiting and until not in reached:
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
    ahead = np.vstack([np.roll(o, -1, axis=0) - o for o in body.outlines])
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
