"""Exact placement search: take a few items out, put each back at its best feasible position.

A large neighbourhood search (Shaw, Using constraint programming and local search methods to solve
vehicle routing problems, CP 1998) whose every state is feasible to the tolerance, with the
acceptance of simulated annealing (Kirkpatrick, Gelatt, Vecchi, Optimization by simulated
annealing, Science 220 (1983) 671-680), cooled in cycles that become longer.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from floorplan.search.archive import Archive, ClearlyDifferent
from floorplan.search.clashes import Clash, untangle, violations
from floorplan.search.filling import fill
from floorplan.search.moves import Budget, Mover
from floorplan.search.problem import Objective, Problem, State, Unpriced

CYCLE = 250
"""Rounds of the first cooling; each later one is longer by half, up to LONGEST."""

LONGEST = 1000
"""Rounds of the longest cooling."""

HOT, COLD = 0.24, 0.024
"""Temperatures at the beginning and the end of a cooling, as shares of the cost per item."""


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


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """The answer of a search."""

    best: State
    """the cheapest feasible state, or the one with the least overlap if none was found"""
    cost: float
    """of best; infinite if it is not feasible"""
    feasible: bool
    clashes: tuple[Clash, ...]
    """the pieces that overlap in best; none if it is feasible"""
    archive: tuple[tuple[float, State], ...]
    """costs and states clearly different from each other, cheapest first"""
    tried: int
    """items put back, or swapped"""
    trace: tuple[tuple[float, float], ...]
    """(seconds since the start, cost) of each improvement"""
    interrupted: bool
    """whether the user stopped it"""
    cut_short: bool
    """whether it ran out of seconds before the effort was spent"""


def first_feasible(
    problem: Problem,
    objective: Objective | None = None,
    *,
    seed: int = 1,
    effort: int = 20_000,
    seconds: float | None = None,
    start: State | None = None,
) -> State | None:
    """Return some feasible state, or none if it was not found within the effort.

    Parameters are those of `search`.
    """
    mover = Mover(problem, objective or Unpriced(), seed, Budget(effort, seconds))
    if start is not None:
        _begin_from(mover, start)
    return mover.state.copy() if fill(mover) else None


def search(
    problem: Problem,
    objective: Objective | None = None,
    *,
    seed: int = 1,
    effort: int = 20_000,
    seconds: float | None = None,
    start: State | None = None,
    keep: int = 8,
    distinct: Callable[[State, State], bool] | None = None,
    on_progress: Callable[[Progress], None] | None = None,
) -> Outcome:
    """Search the cheapest feasible state.

    Parameters
    ----------
    problem
        items, fixed pieces and what may not overlap
    objective
        the cost; without one the first feasible state is the answer
    seed, effort
        the same two give the same answer, byte for byte; effort counts items put back
    seconds
        may cut the search short [s], and decides nothing else
    start
        a state to begin from; items that overlap in it are moved
    keep
        how many clearly different states to return
    distinct
        whether two states are clearly different; by default an item stands 3 ft away, or turned
        and 1 ft away
    on_progress
        called now and then

    A keyboard interrupt ends the search and returns the best so far.
    """
    budget = Budget(effort, seconds)
    mover = Mover(problem, objective or Unpriced(), seed, budget)
    run = _Run(mover, Archive(keep, distinct or ClearlyDifferent(problem)), on_progress)
    interrupted = False
    try:
        if start is not None:
            _begin_from(mover, start)
        if fill(mover) and objective is not None:
            run.anneal()
        elif mover.complete:
            run.note(0.0)
    except KeyboardInterrupt:
        interrupted = True
    return _outcome(run, interrupted=interrupted)


class _Run:
    """One search under way: the state, the best, the archive and the trace."""

    def __init__(
        self, mover: Mover, archive: Archive, on_progress: Callable[[Progress], None] | None
    ) -> None:
        self.mover = mover
        self.archive = archive
        self.on_progress = on_progress
        self.best: State | None = None
        self.cost = math.inf
        self.trace: list[tuple[float, float]] = []
        self.reported = 0

    def note(self, cost: float) -> None:
        """Take notice of the state of the mover and its cost."""
        first = self.best is None
        if cost < self.cost:
            self.cost, self.best = cost, self.mover.state.copy()
            self.trace.append((self.mover.budget.elapsed, cost))
        self.archive.offer(cost, self.mover.state)
        self.report(at_once=first)

    def report(self, *, at_once: bool = False) -> None:
        """Tell the progress every hundred trials, and the first feasible state at once."""
        budget = self.mover.budget
        if self.on_progress is not None and (at_once or budget.tried >= self.reported + 100):
            self.reported = budget.tried
            self.on_progress(Progress(budget.tried, budget.effort, self.cost, budget.elapsed))

    def anneal(self) -> None:
        """Cool again and again, by turns from a fresh state and from the best one."""
        mover, rounds, cycle = self.mover, float(CYCLE), 0
        # Exchanges are quick but change little, so where there are many, rounds are many too.
        more = 1 / (1 - exchange_share(mover))
        while not mover.budget.spent:
            self._cool(int(more * rounds))
            rounds = min(1.5 * rounds, LONGEST)
            cycle += 1
            if self.best is not None:
                mover.state.assign(self.best)
            if cycle % 2 and not self._afresh():
                return

    def _afresh(self) -> bool:
        """Begin from another feasible state."""
        self.mover.take_out(list(range(self.mover.count)))
        return fill(self.mover)

    def _cool(self, rounds: int) -> None:
        """Change the state round by round, accepting worse ones more and more rarely."""
        mover = self.mover
        cost = mover.objective.total(mover.state)
        self.note(cost)
        kept = mover.state.copy()
        scale = abs(cost) / mover.count if cost else 1.0
        for step in range(rounds):
            if mover.budget.spent:
                return
            heat = scale * HOT * (COLD / HOT) ** (step / rounds)
            if change(mover, heat):
                found = mover.objective.total(mover.state)
                if found <= cost - heat * math.log(1 - mover.dice.random()):
                    if found != cost:
                        self.note(found)
                    cost = found
                    kept.assign(mover.state)
                    continue
            mover.state.assign(kept)
            self.report()


def change(mover: Mover, heat: float) -> bool:
    """Make one random change; whether all items found a place."""
    dice = mover.dice
    if mover.alike and dice.random() < exchange_share(mover):
        mover.exchange(*dice.choice(mover.alike))
        return True
    out = mover.some(dice.choice((1, 1, 2, 2, 2, 3, 3, 4)))
    dice.shuffle(out)
    if len(out) == 2 and dice.random() < 0.4:
        spots = [mover.middle(item) for item in out]
        mover.take_out(out)
        return mover.place_near(out[0], spots[1]) and mover.place(out[1])
    mover.take_out(out)
    return all(mover.place(item, heat if item != out[-1] else 0.0) for item in out)


def exchange_share(mover: Mover) -> float:
    """How often two items of the same footprint change places; more often if many could."""
    pairs = mover.count * (mover.count - 1) / 2
    return 0.95 * math.sqrt(len(mover.alike) / pairs) if mover.alike else 0.0


def _begin_from(mover: Mover, start: State) -> None:
    """Take over a state, and take out items until nothing in it overlaps."""
    mover.state.assign(start)
    while True:
        wrong = [
            item
            for item in range(mover.count)
            if mover.state.placed[item] and not mover.sites.fits(item, mover.state)
        ]
        if not wrong:
            return
        mover.take_out([min(wrong, key=lambda item: mover.sizes[item])])


def _outcome(run: _Run, *, interrupted: bool) -> Outcome:
    mover, budget = run.mover, run.mover.budget
    best, cost = run.best, run.cost
    if best is None:
        best = mover.state if interrupted else untangle(mover, 40 * mover.count)
    return Outcome(
        best=best,
        cost=cost,
        feasible=run.best is not None,
        clashes=() if run.best is not None else violations(mover.problem, best),
        archive=tuple((kept.cost, kept.state) for kept in run.archive.kept),
        tried=budget.tried,
        trace=tuple(run.trace),
        interrupted=interrupted,
        cut_short=not interrupted and budget.late and budget.tried < budget.effort,
    )
