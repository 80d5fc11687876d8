"""What overlaps in a state, and the state that overlaps least."""

from dataclasses import dataclass

import numpy as np

from floorplan.geometry.pieces import Piece, conflicting_pairs, penetration
from floorplan.search.candidates import conflict_of
from floorplan.search.moves import Mover
from floorplan.search.problem import Array, Problem, State
from floorplan.units import TOLERANCE

TRIALS = 400
"""Positions compared when an item looks for the one with the least overlap."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Two pieces that overlap by more than the tolerance."""

    item: int
    """index of the item"""
    piece: int
    """index among its pieces"""
    other: int | None
    """index of the other item; none for a fixed piece"""
    other_piece: int
    """index among the pieces of the other item, or among the fixed ones"""
    labels: tuple[int, int]
    """classes of the two pieces"""
    depth: float
    """how far one would have to move to be free of the other [m]"""


def violations(problem: Problem, state: State) -> tuple[Clash, ...]:
    """Return every two conflicting pieces that overlap; straight from the pieces, no tables."""
    conflict = conflict_of(problem)
    placed = [
        tuple(
            piece.at(float(state.xy[i, 0]), float(state.xy[i, 1]))
            for piece in item.pieces[int(state.turn[i])]
        )
        if state.placed[i]
        else ()
        for i, item in enumerate(problem.items)
    ]
    found = []
    for i, own in enumerate(placed):
        rivals: list[tuple[int | None, tuple[Piece, ...]]] = [(None, problem.fixed)]
        rivals += [(j, placed[j]) for j in range(i + 1, len(placed))]
        for j, pieces in rivals:
            for a, b in conflicting_pairs(own, pieces, conflict):
                depth = penetration(own[a].outline, pieces[b].outline)
                if depth > TOLERANCE:
                    labels = (own[a].label, pieces[b].label)
                    found.append(Clash(i, int(a), j, int(b), labels, depth))
    return tuple(found)


def untangle(mover: Mover, effort: int) -> State:
    """Return a complete state with little overlap, from the state of the mover on.

    One overlapping item after the other moves to the position where the sum of its overlap depths
    is least among some hundred, so the sum over all pairs never grows.
    """
    for item in range(mover.count):
        if not mover.state.placed[item]:
            _settle(mover, item)
    best, least = mover.state.copy(), _overlap(mover)
    for _ in range(effort):
        if least <= 0 or mover.budget.late:
            break
        worst = [item for item in range(mover.count) if not mover.sites.fits(item, mover.state)]
        if not worst:
            break
        out = mover.dice.sample(worst, min(len(worst), mover.dice.choice((1, 1, 2))))
        if mover.dice.random() < 0.3:
            out += [item for item in mover.some(1) if item not in out]
        mover.take_out(out)
        for item in out:
            _settle(mover, item)
        overlap = _overlap(mover)
        if overlap < least:
            best, least = mover.state.copy(), overlap
        elif overlap > 1.5 * least:
            mover.state.assign(best)
    return best


def _overlap(mover: Mover) -> float:
    """Sum of the overlap depths over all items [m]; two items that overlap count twice."""
    state = mover.state
    return sum(
        float(mover.sites.depths(i, int(state.turn[i]), state.xy[i : i + 1], state)[0])
        for i in range(mover.count)
    )


def _settle(mover: Mover, item: int) -> None:
    """Place one item where it overlaps least among the crossings of no-fit sides."""
    boxes = mover.sites.forbidden_boxes(item, mover.state)
    best: tuple[float, int, Array] | None = None
    for turn in range(len(mover.problem.items[item].turns)):
        x0, y0, x1, y1 = mover.sites.bounds(item, turn)
        if np.isnan(x0):
            x0, y0, x1, y1 = mover.problem.bounds
        xs = _within(boxes[turn][:, [0, 2]], x0, x1)
        ys = _within(boxes[turn][:, [1, 3]], y0, y1)
        points = np.column_stack(
            [mover.noise.choice(xs, size=TRIALS), mover.noise.choice(ys, size=TRIALS)]
        )
        depths = mover.sites.depths(item, turn, points, mover.state)
        at = int(depths.argmin())
        if best is None or depths[at] < best[0]:
            best = (float(depths[at]), turn, points[at])
    assert best is not None
    mover.state.put(item, best[1], best[2])


def _within(sides: Array, low: float, high: float) -> Array:
    """Return the coordinates between two limits, both of these, and some steps between them."""
    inside = sides[(sides > low) & (sides < high)]
    return np.concatenate([np.linspace(low, high, 9), inside])
