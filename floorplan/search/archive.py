"""The best of clearly different states."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from floorplan.search.problem import Problem, State

APART = 0.9144
"""An item moved this far makes a layout clearly different [m]; 3 ft."""

APART_TURNED = 0.3048
"""So does one that is turned and moved this far [m]; 1 ft."""


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """A state and its cost."""

    cost: float
    state: State


class ClearlyDifferent:
    """Whether in two states some item stands 3 ft apart, or turned and 1 ft apart.

    Distance is measured between the middles of the first pieces, the main bodies, since a turned
    thing may keep its reference point and yet move, or the other way round.
    """

    def __init__(self, problem: Problem) -> None:
        most = max(len(item.turns) for item in problem.items)
        self._middles = np.zeros((len(problem.items), most, 2))
        for i, item in enumerate(problem.items):
            for t, pieces in enumerate(item.pieces):
                x0, y0, x1, y1 = pieces[0].bounds
                self._middles[i, t] = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        self._every = np.arange(len(problem.items))

    def __call__(self, a: State, b: State) -> bool:
        """Whether the two states are clearly different."""
        moved = a.xy + self._middles[self._every, a.turn]
        moved -= b.xy + self._middles[self._every, b.turn]
        limit = np.where(a.turn == b.turn, APART, APART_TURNED)
        far = (moved * moved).sum(axis=1) >= limit * limit
        return bool(((far & a.placed & b.placed) | (a.placed != b.placed)).any())


class Archive:
    """At most `room` states, each clearly different from all others, cheapest first."""

    def __init__(self, room: int, distinct: Callable[[State, State], bool]) -> None:
        self.room = room
        self.distinct = distinct
        self.kept: list[Kept] = []

    @property
    def limit(self) -> float:
        """What costs this or more is not kept."""
        return self.kept[-1].cost if len(self.kept) == self.room else math.inf

    def offer(self, cost: float, state: State) -> bool:
        """Keep a copy of the state if it is better than all kept states that are like it."""
        if cost >= self.limit:
            return False
        alike = []
        for k, kept in enumerate(self.kept):
            if not self.distinct(kept.state, state):
                if kept.cost <= cost:
                    return False
                alike.append(k)
        kept_on = [kept for k, kept in enumerate(self.kept) if k not in alike]
        kept_on.append(Kept(cost, state.copy()))
        kept_on.sort(key=lambda kept: kept.cost)
        self.kept = kept_on[: self.room]
        return True
