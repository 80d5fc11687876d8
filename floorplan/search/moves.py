"""The moves of a placement search on one state: take out, put back, exchange."""

import random
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from floorplan.search.candidates import sites_of
from floorplan.search.problem import Array, Item, Objective, Problem, State

halted: Callable[[], bool] = bool
"""Whether this process has been told to stop searching; another function where that can be."""

NOWHERE = (np.empty(0, dtype=np.intp), np.empty((0, 2)), np.empty(0))


class Budget:
    """How much a search may try. Seconds only cut it short, they decide nothing else."""

    def __init__(self, effort: int, seconds: float | None) -> None:
        self.effort = effort
        self.tried = 0
        self.began = time.perf_counter()
        self.deadline = float("inf") if seconds is None else self.began + seconds

    @property
    def elapsed(self) -> float:
        """Seconds since the beginning [s]."""
        return time.perf_counter() - self.began

    @property
    def late(self) -> bool:
        """Whether the seconds are over, or nobody waits any more."""
        return time.perf_counter() >= self.deadline or halted()

    @property
    def spent(self) -> bool:
        """Whether to stop."""
        return self.tried >= self.effort or self.late


class Mover:
    """A state and everything that changes it."""

    def __init__(self, problem: Problem, objective: Objective, seed: int, budget: Budget) -> None:
        self.problem = problem
        self.objective = objective
        self.sites = sites_of(problem)
        self.count = len(problem.items)
        self.budget = budget
        self.dice = random.Random(seed)
        self.noise = np.random.Generator(np.random.PCG64(seed))
        self.state = State.empty(self.count)
        self.sizes = [_size(item) for item in problem.items]
        self.middles = [_middles(item) for item in problem.items]
        self.alike = _alike(problem.items)

    def options(self, item: int) -> tuple[NDArray[np.intp], Array, Array]:
        """Return turns (k,), positions (k, 2) [m] and scores (k,) of all feasible places."""
        state, objective = self.state, self.objective
        self.budget.tried += 1
        turns = range(len(self.problem.items[item].turns))
        guides = [objective.guides(item, t, state) for t in turns]
        turn, xy = self.sites.positions(item, state, guides)
        if not len(turn):
            return NOWHERE
        ends = np.searchsorted(turn, np.arange(len(turns) + 1)).tolist()
        scores = [
            objective.score(item, t, xy[ends[t] : ends[t + 1]], state)
            for t in turns
            if ends[t] < ends[t + 1]
        ]
        return turn, xy, np.concatenate(scores)

    def place(self, item: int, heat: float = 0.0) -> bool:
        """Put an item at its cheapest place; with heat, now and then at another one.

        The noise makes a place more expensive by d chosen less often by a factor exp(d / heat).
        """
        turn, xy, scores = self.options(item)
        if not len(turn):
            return False
        if heat > 0:
            scores = scores - heat * self.noise.gumbel(size=len(scores))
        self._put(item, turn, xy, int(scores.argmin()))
        return True

    def place_near(self, item: int, spot: Array) -> bool:
        """Put an item where its middle is nearest to a spot (2,) [m], cheapest of the nearest."""
        turn, xy, scores = self.options(item)
        if not len(turn):
            return False
        away = np.hypot(*(xy + self.middles[item][turn] - spot).T)
        nearest = np.flatnonzero(away <= away.min() + 0.05)
        self._put(item, turn, xy, int(nearest[scores[nearest].argmin()]))
        return True

    def place_outward(self, item: int) -> bool:
        """Put an item as far as it goes in a random direction, as one fills a box from a corner."""
        turn, xy, _ = self.options(item)
        if not len(turn):
            return False
        angle = self.dice.choice((0.25, 0.75, 1.25, 1.75)) + self.dice.uniform(-0.24, 0.24)
        way = np.array([np.cos(np.pi * angle), np.sin(np.pi * angle)])
        self._put(item, turn, xy, int(np.argmax((xy + self.middles[item][turn]) @ way)))
        return True

    def _put(self, item: int, turn: NDArray[np.intp], xy: Array, at: int) -> None:
        self.state.put(item, int(turn[at]), xy[at])

    def take_out(self, items: list[int]) -> None:
        """Remove items from the state."""
        self.state.placed[items] = False

    def middle(self, item: int, state: State) -> Array:
        """(2,) middle of a placed item [m]."""
        spot: Array = state.xy[item] + self.middles[item][state.turn[item]]
        return spot

    def exchange(self, a: int, b: int) -> None:
        """Swap two items of the same footprint; what was feasible stays so."""
        self.budget.tried += 1
        state = self.state
        state.turn[[a, b]] = state.turn[[b, a]]
        state.xy[[a, b]] = state.xy[[b, a]]

    def some(self, count: int, state: State | None = None) -> list[int]:
        """Pick placed items, either anywhere or near one another, in the own state or another."""
        state = state or self.state
        (placed,) = state.placed.nonzero()
        pool: list[int] = placed.tolist()
        count = min(count, len(pool))
        if count < 2 or self.dice.random() < 0.5:
            return self.dice.sample(pool, count)
        first = self.dice.choice(pool)
        spot = self.middle(first, state)
        away = [
            (
                float(np.hypot(*(self.middle(item, state) - spot))) * self.dice.uniform(0.5, 1.5),
                item,
            )
            for item in pool
            if item != first
        ]
        away.sort()
        return [first, *(item for _, item in away[: count - 1])]

    @property
    def complete(self) -> bool:
        """Whether all items are placed."""
        return bool(self.state.placed.all())


def _size(item: Item) -> float:
    """How hard an item is to place: the area of the box round all of its pieces [m2]."""
    x0, y0, x1, y1 = _bounds(item, 0)
    return (x1 - x0) * (y1 - y0)


def _bounds(item: Item, turn: int) -> tuple[float, float, float, float]:
    bounds = np.array([piece.bounds for piece in item.pieces[turn]])
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _middles(item: Item) -> Array:
    """(t, 2) middle of the box round all pieces at each turn, from the reference point [m]."""
    boxes = np.array([_bounds(item, turn) for turn in range(len(item.turns))])
    middles: Array = 0.5 * (boxes[:, :2] + boxes[:, 2:])
    return middles


def _alike(items: tuple[Item, ...]) -> list[tuple[int, int]]:
    """Return the pairs of items that can change places because their pieces are the same."""
    keys = [
        (
            item.turns,
            None if item.within is None else np.asarray(item.within).tobytes(),
            tuple(
                (piece.outline.tobytes(), piece.bottom, piece.top, piece.label)
                for pieces in item.pieces
                for piece in pieces
            ),
        )
        for item in items
    ]
    count = len(items)
    return [(a, b) for a in range(count) for b in range(a + 1, count) if keys[a] == keys[b]]
