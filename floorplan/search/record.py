"""What a search has reached: the best state, the archive, the trace; and telling of it."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from floorplan.search.archive import Archive
from floorplan.search.moves import Budget
from floorplan.search.problem import State


@dataclass(frozen=True, slots=True)
class Progress:
    """What has been reached so far."""

    tried: int
    """items put back, or swapped"""
    effort: int
    """how many will be tried"""
    best: float
    """lowest cost so far, infinite before the first feasible state"""
    seconds: float
    """since the start [s]"""


class Record:
    """What one search has reached."""

    def __init__(
        self,
        budget: Budget,
        archive: Archive,
        settled: Callable[[State, float], float],
        on_progress: Callable[[Progress], None] | None,
    ) -> None:
        self.budget = budget
        self.settled = settled
        self.archive = archive
        self.on_progress = on_progress
        self.best: State | None = None
        self.cost = math.inf
        self.trace: list[tuple[float, float]] = []
        self.reported = 0

    def note(self, cost: float, state: State) -> None:
        """Take notice of a feasible state and its total."""
        first = self.best is None
        if cost >= min(self.cost, self.archive.limit):
            self.report()
            return
        cost = self.settled(state, cost)
        if cost < self.cost:
            self.cost, self.best = cost, state.copy()
            self.trace.append((self.budget.elapsed, cost))
        self.archive.offer(cost, state)
        self.report(at_once=first)

    def report(self, *, at_once: bool = False) -> None:
        """Tell the progress every hundred trials, and the first feasible state at once."""
        budget = self.budget
        if self.on_progress is not None and (at_once or budget.tried >= self.reported + 100):
            self.reported = budget.tried
            self.on_progress(Progress(budget.tried, budget.effort, self.cost, budget.elapsed))
