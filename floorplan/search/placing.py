"""Exact placement search: take a few items out, put each back at its best feasible position.

A large neighbourhood search (Shaw, Using constraint programming and local search methods to solve
vehicle routing problems, CP 1998) whose every state is feasible to the tolerance: first a state
into which everything fits, then annealing.
"""

from collections.abc import Callable
from dataclasses import dataclass

from floorplan.search.annealing import anneal
from floorplan.search.archive import Archive, ClearlyDifferent
from floorplan.search.clashes import Clash, untangle, violations
from floorplan.search.filling import fill
from floorplan.search.moves import Budget, Mover
from floorplan.search.problem import Objective, Problem, State, Unpriced
from floorplan.search.record import Progress, Record

__all__ = ["Outcome", "Progress", "first_feasible", "search"]


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
    seconds: float = 0.0
    """what it took [s]"""


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
    priced = objective or Unpriced()
    mover = Mover(problem, priced, seed, budget)
    archive = Archive(keep, distinct or ClearlyDifferent(problem))
    record = Record(budget, archive, priced.settled, on_progress)
    interrupted = False
    try:
        if start is not None:
            _begin_from(mover, start)
        if fill(mover) and objective is not None:
            anneal(mover, record)
        elif mover.complete:
            record.note(0.0, mover.state)
    except KeyboardInterrupt:
        interrupted = True
    return _outcome(mover, record, interrupted=interrupted)


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


def _outcome(mover: Mover, record: Record, *, interrupted: bool) -> Outcome:
    budget, best = mover.budget, record.best
    if best is None:
        best = mover.state if interrupted else untangle(mover, 40 * mover.count)
    return Outcome(
        best=best,
        cost=record.cost,
        feasible=record.best is not None,
        clashes=() if record.best is not None else violations(mover.problem, best),
        archive=tuple((kept.cost, kept.state) for kept in record.archive.kept),
        tried=budget.tried,
        trace=tuple(record.trace),
        interrupted=interrupted,
        cut_short=not interrupted and budget.late and budget.tried < budget.effort,
        seconds=budget.elapsed,
    )
