"""Annealing of many states in step: moves, cooling, and where each cooling begins.

Simulated annealing (Kirkpatrick, Gelatt, Vecchi, Optimization by simulated annealing, Science 220
(1983) 671-680) over a large neighbourhood: every change takes a few items out and puts each back
at its best feasible place.
"""

import math

import numpy as np

from floorplan.search.filling import fill
from floorplan.search.moves import Mover
from floorplan.search.problem import Array, State
from floorplan.search.record import Record
from floorplan.search.walkers import Indices, Walkers

WALKERS = 16
"""States that walk in step, at most."""

WIDTH = 128
"""Items in all these states together, about; more gain no more time by walking in step."""

WALK = 1_500
"""Items that each of them puts back at least; with less effort fewer states walk."""

CYCLE = 250
"""Rounds of the first cooling; each later one is longer by half, up to LONGEST."""

LONGEST = 1000
"""Rounds of the longest cooling."""

HOT, COLD = 0.12, 0.012
"""Temperatures at the beginning and the end of a cooling, as shares of the cost per item."""


def anneal(mover: Mover, record: Record) -> None:
    """Cool again and again from the complete state of the mover on, until the budget is spent."""
    first = mover.state.copy()
    record.note(mover.objective.total(first), first)
    walkers = Walkers(mover, [first, *_fresh(mover, first, _together(mover) - 1)])
    # Exchanges are quick but change little, so where there are many, rounds are many too.
    rounds, cycle = CYCLE / (1 - exchange_share(mover)), 0
    longest = LONGEST / CYCLE * rounds
    while not mover.budget.spent:
        _cool(walkers, record, int(rounds))
        rounds = min(1.5 * rounds, longest)
        cycle += 1
        _begin_again(walkers, record, cycle)


def _together(mover: Mover) -> int:
    """How many states walk in step: few if each is much work, or if there is little effort."""
    work = mover.count * (1 - exchange_share(mover))
    return max(1, min(WALKERS, int(WIDTH / work), mover.budget.effort // WALK))


def _begin_again(walkers: Walkers, record: Record, cycle: int) -> None:
    """Half of the walkers begin from the best states known, the others afresh."""
    mover, known = walkers.mover, [kept.state for kept in record.archive.kept]
    half = walkers.count // 2 + (walkers.count % 2) * (cycle % 2)
    for number, state in enumerate(_fresh(mover, known[0], half)):
        walkers.set(number, state)
    for number in range(half, walkers.count):
        walkers.set(number, known[(number - half) % len(known)])


def _fresh(mover: Mover, fallback: State, count: int) -> list[State]:
    """Return new complete states, or copies of another where they are hard to find."""
    found: list[State] = []
    most = mover.budget.tried + count * (4 * mover.count + 20)
    for _ in range(count):
        mover.take_out(list(range(mover.count)))
        filled = mover.budget.tried < most and fill(mover, most - mover.budget.tried)
        found.append((mover.state if filled else fallback).copy())
    return found


def _cool(walkers: Walkers, record: Record, rounds: int) -> None:
    """Change the states round by round, accepting worse ones more and more rarely."""
    budget, dice = walkers.mover.budget, walkers.mover.noise
    costs = walkers.totals(walkers.every)
    _note(walkers, record, costs, walkers.every)
    turn, xy = walkers.states.turn.copy(), walkers.states.xy.copy()
    scale = float(np.abs(costs).mean()) / walkers.mover.count or 1.0
    for step in range(rounds):
        if budget.spent:
            return
        heat = scale * HOT * (COLD / HOT) ** (step / rounds)
        alive = change(walkers, heat)
        found = np.full(walkers.count, np.inf)
        found[alive] = walkers.totals(alive)
        taken = found <= costs + heat * dice.exponential(size=walkers.count)
        _note(walkers, record, found, np.flatnonzero(taken & (found != costs)))
        states = walkers.states
        turn[taken], xy[taken] = states.turn[taken], states.xy[taken]
        costs[taken] = found[taken]
        states.turn[~taken], states.xy[~taken] = turn[~taken], xy[~taken]
        record.report()


def _note(walkers: Walkers, record: Record, costs: Array, which: Indices) -> None:
    for number in which[costs[which] < record.archive.limit].tolist():
        record.note(float(costs[number]), walkers.states.one(number))


def change(walkers: Walkers, heat: float) -> Indices:
    """Make one random change; return the walkers for which all items found a place."""
    mover = walkers.mover
    dice, alive = mover.dice, walkers.every
    if mover.alike and dice.random() < exchange_share(mover):
        walkers.exchange(*dice.choice(mover.alike))
        return alive
    leader = walkers.states.one(dice.randrange(walkers.count))
    out = mover.some(dice.choice((1, 1, 2, 2, 2, 3, 3, 4)), leader)
    dice.shuffle(out)
    near = len(out) == 2 and dice.random() < 0.4
    spots = walkers.middles(out[-1])
    walkers.take_out(out)
    for item in out:
        if near and item == out[0]:
            alive = walkers.place_near(item, spots, alive)
        else:
            alive = walkers.place(item, alive, heat if item != out[-1] else 0.0)
        if not len(alive):
            break
    walkers.states.placed[:] = True
    return alive


def exchange_share(mover: Mover) -> float:
    """How often two items of the same footprint change places; more often if many could."""
    pairs = mover.count * (mover.count - 1) / 2
    return 0.95 * math.sqrt(len(mover.alike) / pairs) if mover.alike else 0.0
