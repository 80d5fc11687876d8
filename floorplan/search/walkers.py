"""Many states that are changed by the same moves in step, each to its own best.

Numpy spends as long on one small state as on a dozen, so a dozen walkers cost little more than one.
All take out the same items; where these go, and whether the change is kept, differs.
"""

import numpy as np
from numpy.typing import NDArray

from floorplan.search.moves import Mover
from floorplan.search.pricing import pricing_of
from floorplan.search.problem import Array, State, States

Indices = NDArray[np.intp]

NEAREST = 0.05
"""Places this much farther than the nearest one are as near [m]."""


class Walkers:
    """Complete states of one problem, and the moves that change them all.

    `alive` are the numbers of the walkers for which every item found a place so far.
    """

    def __init__(self, mover: Mover, states: list[State]) -> None:
        self.mover = mover
        self.states = States.of(states)
        self.count = len(states)
        self.every = np.arange(self.count)
        self.pricing = pricing_of(mover.objective, mover.problem)

    def set(self, number: int, state: State) -> None:
        """Let one walker stand in a complete state."""
        self.states.one(number).assign(state)

    def take_out(self, items: list[int]) -> None:
        """Remove the same items from all states."""
        self.states.placed[items] = False

    def middles(self, item: int) -> Array:
        """(s, 2) middle of an item in all states [m]."""
        spots: Array = self.states.xy[:, item] + self.mover.middles[item][self.states.turn[:, item]]
        return spots

    def place(self, item: int, alive: Indices, heat: float = 0.0) -> Indices:
        """Put an item at its cheapest places; with heat, now and then at others.

        The noise makes a place more expensive by d chosen less often by a factor exp(d / heat).
        Returns the walkers that found a place.
        """
        which, turn, xy, scores = self._options(item, alive)
        if heat > 0:
            scores = scores - heat * self.mover.noise.gumbel(size=len(scores))
        return self._put(item, alive, which, turn, xy, scores)

    def place_near(self, item: int, spots: Array, alive: Indices) -> Indices:
        """Put an item where its middle is nearest to spots (s, 2) [m], cheapest of the nearest."""
        which, turn, xy, scores = self._options(item, alive)
        away = np.hypot(*(xy + self.mover.middles[item][turn] - spots[alive[which]]).T)
        least = np.full(len(alive), np.inf)
        np.minimum.at(least, which, away)
        near = np.where(away <= least[which] + NEAREST, scores, np.inf)
        return self._put(item, alive, which, turn, xy, near)

    def exchange(self, a: int, b: int) -> None:
        """Swap two items of the same footprint; what was feasible stays so."""
        self.mover.budget.tried += self.count
        states = self.states
        states.turn[:, [a, b]] = states.turn[:, [b, a]]
        states.xy[:, [a, b]] = states.xy[:, [b, a]]

    def totals(self, which: Indices) -> Array:
        """(k,) costs of some walkers; what an incomplete state costs means nothing."""
        return self.pricing.total_each(self.states.some(which))

    def _options(self, item: int, alive: Indices) -> tuple[Indices, Indices, Array, Array]:
        """(k,) which of the living walkers, turn, (k, 2) position [m] and (k,) score."""
        self.mover.budget.tried += len(alive)
        states = self.states.some(alive) if len(alive) < self.count else self.states
        guides = self.pricing.guides_each(item, states)
        which, turn, xy = self.mover.sites.positions_each(item, states, *guides)
        return which, turn, xy, self.pricing.score_each(item, which, turn, xy, states)

    def _put(
        self, item: int, alive: Indices, which: Indices, turn: Indices, xy: Array, scores: Array
    ) -> Indices:
        """Let every walker take its cheapest option; return those that have any."""
        self.states.placed[item] = True
        if not len(which):
            return alive[:0]
        starts = np.flatnonzero(np.diff(which, prepend=-1))
        sizes = np.diff(starts, append=len(which))
        least = np.minimum.reduceat(scores, starts)
        cheapest = np.flatnonzero(scores == np.repeat(least, sizes))
        mine = which[cheapest]
        chosen = cheapest[np.diff(mine, prepend=-1) > 0]
        alive = alive[which[chosen]]
        self.states.turn[alive, item] = turn[chosen]
        self.states.xy[alive, item] = xy[chosen]
        return alive
