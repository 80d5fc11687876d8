"""The cost of many states at once; an objective that cannot do this is asked state by state."""

from itertools import pairwise
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from floorplan.search.problem import Array, Objective, Problem, State, States

Indices = NDArray[np.intp]


@runtime_checkable
class Pricing(Protocol):
    """What an objective may offer besides, where numpy prices many states as fast as one."""

    def guides_each(self, item: int, states: States) -> tuple[Array, Array]:
        """(s, t, g) `Objective.guides` in x and in y for every state and turn; nan is left out."""

    def score_each(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) `Objective.score` with the item at (k, 2), at turn (k,), in state (k,)."""

    def total_each(self, states: States) -> Array:
        """(s,) `Objective.total` of every state."""


class ManyFirst:
    """An objective that prices many states at once; one state is many of which there is one."""

    def guides_each(self, item: int, states: States) -> tuple[Array, Array]:
        """(s, t, g) `Pricing.guides_each`."""
        raise NotImplementedError

    def score_each(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) `Pricing.score_each`."""
        raise NotImplementedError

    def total_each(self, states: States) -> Array:
        """(s,) `Pricing.total_each`."""
        raise NotImplementedError

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:
        """Coordinates worth trying in one state."""
        x, y = (each[0, turn] for each in self.guides_each(item, States.alone(state)))
        return x[~np.isnan(x)], y[~np.isnan(y)]

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:
        """(k,) cost with the item at each of (k, 2) in one state."""
        which = np.zeros(len(xy), dtype=np.intp)
        return self.score_each(item, which, np.full_like(which, turn), xy, States.alone(state))

    def total(self, state: State) -> float:
        """Cost of one whole state."""
        return float(self.total_each(States.alone(state))[0])


def pricing_of(objective: Objective, problem: Problem) -> Pricing:
    """Return the objective itself if it prices many states, else something that loops."""
    return objective if isinstance(objective, Pricing) else OneByOne(objective, problem)


class OneByOne:
    """Prices many states by asking about one after the other."""

    def __init__(self, objective: Objective, problem: Problem) -> None:
        self.objective = objective
        self.turns = [len(item.turns) for item in problem.items]

    def guides_each(self, item: int, states: States) -> tuple[Array, Array]:
        """(s, t, g) guides in x and in y, filled up with nan."""
        turns = range(self.turns[item])
        found = [
            self.objective.guides(item, turn, states.one(s))
            for s in range(len(states.xy))
            for turn in turns
        ]
        shape = (len(states.xy), len(turns), -1)
        x, y = _padded([x for x, _ in found]), _padded([y for _, y in found])
        return x.reshape(shape), y.reshape(shape)

    def score_each(
        self, item: int, which: Indices, turn: Indices, xy: Array, states: States
    ) -> Array:
        """(k,) scores; positions come in order of state and turn."""
        scores = np.empty(len(xy))
        kind = which * self.turns[item] + turn
        starts = np.flatnonzero(np.diff(kind, prepend=-1)).tolist()
        for start, end in pairwise([*starts, len(xy)]):
            state = states.one(int(which[start]))
            scores[start:end] = self.objective.score(item, int(turn[start]), xy[start:end], state)
        return scores

    def total_each(self, states: States) -> Array:
        """(s,) totals."""
        return np.array([self.objective.total(states.one(s)) for s in range(len(states.xy))])


def _padded(rows: list[Array]) -> Array:
    """(r, g) rows of several lengths in one array, filled up with nan; g is 1 at least."""
    packed = np.full((len(rows), max(1, *(len(row) for row in rows))), np.nan)
    for k, row in enumerate(rows):
        packed[k, : len(row)] = row
    return packed
