"""Getting everything in: a feasible state, whatever it costs."""

import math

from floorplan.search.moves import Mover

ROUNDS = 600
"""Rounds of ruin and repair before filling starts afresh."""


def fill(mover: Mover, most: int | None = None) -> bool:
    """Place all items that are not placed yet; false if the budget is spent before.

    The budget is that of the mover, and at `most` so many trials if given.

    Items go in by size; when one does not, some others are taken out, it is put first, and what
    then stays outside weighs less or the change is taken back. A slow cooling lets it get worse
    now and then. States are kept as they are if they are complete.
    """
    begun_with = mover.state.copy()
    attempt = 0
    limit = math.inf if most is None else mover.budget.tried + most
    while not mover.budget.spent and mover.budget.tried < limit:
        _insert(mover, by_cost=attempt == 0)
        if mover.complete or _repair(mover, limit, by_cost=attempt == 0):
            return True
        attempt += 1
        mover.state.assign(begun_with)
        if attempt > 1:  # what it began with may itself be in the way
            mover.take_out(list(range(mover.count)))
    return mover.complete


def missing(mover: Mover) -> float:
    """Size of all that is not placed [m2]."""
    placed = mover.state.placed
    return sum(size for size, there in zip(mover.sizes, placed, strict=True) if not there)


def _insert(mover: Mover, *, by_cost: bool, first: int | None = None) -> None:
    """Put in what is outside, large items first but not strictly."""
    outside = [item for item in range(mover.count) if not mover.state.placed[item]]
    keys = {item: -mover.sizes[item] * mover.dice.uniform(0.5, 1.5) for item in outside}
    if first is not None:
        keys[first] = -math.inf
    for item in sorted(outside, key=lambda item: keys[item]):
        if by_cost and mover.dice.random() < 0.5:
            mover.place(item)
        else:
            mover.place_outward(item)


def _repair(mover: Mover, limit: float, *, by_cost: bool) -> bool:
    """Ruin and repair until nothing is missing, or the rounds are over."""
    current, kept = missing(mover), mover.state.copy()
    hot = 0.3 * sum(mover.sizes) / mover.count
    for step in range(ROUNDS):
        if mover.budget.spent or mover.budget.tried >= limit:
            return False
        outside = [item for item in range(mover.count) if not mover.state.placed[item]]
        first = mover.dice.choice(outside)
        mover.take_out(mover.some(mover.dice.choice((1, 2, 2, 3, 3, 4))))
        _insert(mover, by_cost=by_cost, first=first)
        found = missing(mover)
        if found == 0:
            return True
        heat = hot * (1 - step / ROUNDS)
        if found <= current - heat * math.log(1 - mover.dice.random()):
            current = found
            kept.assign(mover.state)
        else:
            mover.state.assign(kept)
    return False
