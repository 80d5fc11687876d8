"""Where one item can stand while the others stay: exactly feasible positions, quickly.

The no-fit sets of every two items at every two turns are worked out once, relative to each other;
a position of the others only shifts them.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.arrangement import (
    Slanted,
    box_depth,
    free_of,
    grid_corners,
    slanted_corners,
)
from floorplan.geometry.convex import Outline
from floorplan.geometry.nofit import no_fit_sets
from floorplan.geometry.pieces import Conflict, Piece, conflict_matrix
from floorplan.search.problem import Array, Item, Problem, State, States
from floorplan.units import TOLERANCE

NO_GUIDES: tuple[Array, Array] = (np.empty(0), np.empty(0))


class Sites:
    """The no-fit sets of a problem, ready to be shifted."""

    def __init__(self, problem: Problem) -> None:
        items = problem.items
        self.problem = problem
        self.count = len(items)
        conflict = conflict_of(problem)
        most_turns = max(len(item.turns) for item in items)
        self._boxes: list[Array] = []
        self._slanted: list[list[list[list[Slanted]]]] = []
        self._any_slanted: list[list[bool]] = []
        self._fixed: list[Array] = []
        self._fixed_slanted: list[list[Slanted]] = []
        self._bounds: list[Array] = []
        pairs = _pair_sets(items, conflict)
        for number, item in enumerate(items):
            self._add_pairs(number, most_turns, pairs)
            self._add_fixed(item, conflict)

    def _add_pairs(self, item: int, most_turns: int, pairs: "PairSets") -> None:
        """Collect the no-fit sets of one item with every other one at the origin."""
        turns = len(self.problem.items[item].turns)
        slanted = [
            [
                [pairs[item, t, j, u][1] for u in range(len(other.turns))]
                for j, other in enumerate(self.problem.items)
            ]
            for t in range(turns)
        ]
        most = max(len(boxes) for key, (boxes, _) in pairs.items() if key[0] == item)
        packed = np.full((self.count, most_turns, turns, most, 4), np.nan)
        for (i, t, j, u), (boxes, _) in pairs.items():
            if i == item:
                packed[j, u, t, : len(boxes)] = boxes
        self._boxes.append(packed)
        self._slanted.append(slanted)

    def _add_fixed(self, item: Item, conflict: Conflict) -> None:
        """Work out the no-fit sets with fixed pieces, and the bounds that they leave."""
        bounds, beyond = _limits(item, self.problem)
        found: list[tuple[Array, Slanted, Array]] = []
        for own in item.pieces:
            sets = no_fit_sets(own, self.problem.fixed, conflict)
            outlines = [*sets.outlines, *beyond]
            found.append(_narrowed(merged(sets.boxes), outlines, bounds))
        most = max(len(boxes) for boxes, _, _ in found)
        packed = np.full((len(found), most, 4), np.nan)
        for t, (boxes, _, _) in enumerate(found):
            packed[t, : len(boxes)] = boxes
        self._fixed.append(packed)
        self._fixed_slanted.append([slanted for _, slanted, _ in found])
        self._bounds.append(np.array([narrow for _, _, narrow in found]))
        self._any_slanted.append(
            [
                bool(len(slanted.sizes)) or any(len(s.sizes) for per in pairs for s in per)
                for (_, slanted, _), pairs in zip(found, self._slanted[-1], strict=True)
            ]
        )

    def forbidden_boxes(self, item: int, state: State) -> Array:
        """(t, k, 4) the no-fit boxes of an item at each of its turns, where the others stand."""
        boxes: Array = self._forbidden_boxes(item, States.alone(state))[0]
        return boxes

    def _forbidden_boxes(self, item: int, states: States) -> Array:
        """(s, t, k, 4) the same in every state."""
        others = states.placed.copy()
        others[item] = False
        (j,) = others.nonzero()
        xy = states.xy[:, j]
        boxes = self._boxes[item][j, states.turn[:, j]]
        boxes += np.concatenate([xy, xy], axis=2)[:, :, None, None, :]
        count, _, turns = boxes.shape[:3]
        moved = boxes.transpose(0, 2, 1, 3, 4).reshape(count, turns, -1, 4)
        fixed = self._fixed[item]
        if not fixed.shape[1]:
            return moved
        return np.concatenate([np.broadcast_to(fixed, (count, *fixed.shape)), moved], axis=2)

    def forbidden_slanted(self, item: int, turn: int, state: State) -> Slanted:
        """Return the no-fit sets that are not boxes, where the others stand."""
        if not self._any_slanted[item][turn]:
            return NO_SLANTED
        parts = [self._fixed_slanted[item][turn]]
        for j in np.flatnonzero(state.placed):
            pair = self._slanted[item][turn][j][state.turn[j]]
            if j != item and len(pair.sizes):
                parts.append(pair.moved(state.xy[j]))
        return Slanted.joined(parts)

    def positions(
        self, item: int, state: State, guides: list[tuple[Array, Array]]
    ) -> tuple[NDArray[np.intp], Array]:
        """Return all feasible corner and guide positions of an item at all its turns.

        `guides` are, for each turn, x and y coordinates worth trying [m]. The answer is (k,)
        indices of turns in rising order, and (k, 2) reference points [m].
        """
        guide_x, guide_y = _padded([g[0] for g in guides]), _padded([g[1] for g in guides])
        _, turn, xy = self.positions_each(item, States.alone(state), guide_x[None], guide_y[None])
        return turn, xy

    def positions_each(
        self, item: int, states: States, guide_x: Array, guide_y: Array
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], Array]:
        """Return the same for many states: (k,) which state, (k,) turn, (k, 2) position [m].

        `guide_x` and `guide_y` are (s, t, g) for every state and turn [m], filled up with nan. The
        answer is in order of state and turn.
        """
        boxes = self._forbidden_boxes(item, states)
        count, turns = boxes.shape[:2]
        row, xy = grid_corners(
            boxes.reshape(count * turns, -1, 4),
            np.tile(self._bounds[item], (count, 1)),
            guide_x.reshape(count * turns, -1),
            guide_y.reshape(count * turns, -1),
        )
        if any(self._any_slanted[item]):
            ends = np.searchsorted(row, np.arange(count * turns + 1)).tolist()
            found = [
                self._clear_of_slanted(
                    item, t, states.one(s), boxes[s, t], (guide_x[s, t], guide_y[s, t]),
                    xy[ends[s * turns + t] : ends[s * turns + t + 1]],
                )
                for s in range(count)
                for t in range(turns)
            ]  # fmt: skip
            row = np.repeat(np.arange(len(found)), [len(mine) for mine in found])
            xy = np.concatenate(found)
        which, turn = np.divmod(row, turns)
        return which, turn, xy

    def _clear_of_slanted(
        self,
        item: int,
        turn: int,
        state: State,
        boxes: Array,
        guides: tuple[Array, Array],
        corners: Array,
    ) -> Array:
        """Return the corners that slanted sets leave free, and those that they add."""
        bounds = self._bounds[item][turn]
        slanted = self.forbidden_slanted(item, turn, state)
        if not len(slanted.sizes) or np.isnan(bounds[0]):
            return corners
        left = free_of(corners, boxes, slanted)
        return np.concatenate([left, slanted_corners(slanted, boxes, bounds, *guides)])

    def depths(self, item: int, turn: int, points: Array, state: State) -> Array:
        """(k,) sum over all no-fit sets of how deep each point (k, 2) is inside [m]."""
        boxes = self.forbidden_boxes(item, state)[turn]
        deep = box_depth(boxes[~np.isnan(boxes[:, 0])], points)
        slanted = self.forbidden_slanted(item, turn, state).depth(points)
        every = np.concatenate([deep, slanted], axis=1)
        return np.asarray(np.where(every > TOLERANCE, every, 0.0).sum(axis=1))

    def fits(self, item: int, state: State) -> bool:
        """Whether a placed item is feasible where it stands."""
        turn = int(state.turn[item])
        x0, y0, x1, y1 = self._bounds[item][turn]
        x, y = state.xy[item]
        slack = TOLERANCE
        if not (x0 - slack <= x <= x1 + slack and y0 - slack <= y <= y1 + slack):
            return False
        return bool(self.depths(item, turn, state.xy[item : item + 1], state)[0] == 0.0)

    def bounds(self, item: int, turn: int) -> Array:
        """(4,) x0, y0, x1, y1 of what fixed pieces leave to the reference point; nan for none."""
        limits: Array = self._bounds[item][turn]
        return limits


@lru_cache(maxsize=8)
def sites_of(problem: Problem) -> Sites:
    """Return the no-fit sets of a problem; kept for the next question about the same one."""
    return Sites(problem)


def feasible_positions(
    problem: Problem,
    state: State,
    item: int,
    turn: int,
    guides: tuple[Array, Array] = NO_GUIDES,
) -> Array:
    """(k, 2) feasible reference points [m] of an item at one turn, all other placed items staying.

    These are the outward corners of its free region, and the points where guide lines meet its
    edges or each other. Where the region bends inwards no cost is least, so such corners may be
    left out.
    """
    empty = NO_GUIDES
    every = [guides if t == turn else empty for t in range(len(problem.items[item].turns))]
    turns, xy = sites_of(problem).positions(item, state, every)
    found: Array = xy[turns == turn]
    return found


def conflict_of(problem: Problem) -> Conflict:
    """Ask the problem once about every two classes that occur."""
    pieces: list[Piece] = list(problem.fixed)
    for item in problem.items:
        pieces += [piece for turn in item.pieces for piece in turn]
    return conflict_matrix(1 + max(piece.label for piece in pieces), problem.conflict)


PairSets = dict[tuple[int, int, int, int], tuple[Array, Slanted]]
"""(item, its turn, other item, its turn) -> no-fit sets of the item, the other at the origin"""


def _pair_sets(items: tuple[Item, ...], conflict: Conflict) -> PairSets:
    """Work out the no-fit sets of every two items; the other way round they are point-mirrored."""
    sets: PairSets = {}
    for i, item in enumerate(items):
        for j in range(i, len(items)):
            for t, own in enumerate(item.pieces):
                for u, pieces in enumerate(items[j].pieces):
                    found = no_fit_sets(own, pieces if j != i else (), conflict)
                    boxes = merged(found.boxes)
                    sets[i, t, j, u] = boxes, Slanted.of(found.outlines)
                    mirrored = [-outline for outline in found.outlines]
                    sets[j, u, i, t] = -boxes[:, [2, 3, 0, 1]], Slanted.of(mirrored)
    return sets


def merged(boxes: Array) -> Array:
    """Join forbidden boxes (k, 4) whose union is a box, and drop those inside another."""
    left = [tuple(map(float, box)) for box in boxes]
    done: list[tuple[float, ...]] = []
    while left:
        box = left.pop()
        for k, other in enumerate(left):
            union = _union(box, other)
            if union is not None:
                left[k] = union
                break
        else:
            done.append(box)
    return np.array(done).reshape(-1, 4)


def _union(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, ...] | None:
    """Return the union of two open boxes if it is an open box itself."""
    hull = (min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3]))
    if hull in (a, b):
        return hull
    for x in (0, 1):  # alike in one direction, overlapping in the other
        y = 1 - x
        alike = a[x] == b[x] and a[x + 2] == b[x + 2]
        if alike and min(a[y + 2], b[y + 2]) - max(a[y], b[y]) > 2 * TOLERANCE:
            return hull
    return None


def _limits(item: Item, problem: Problem) -> tuple[Array, list[Outline]]:
    """Return bounds of the reference point, and what lies beyond a polygon as forbidden sets."""
    bounds = np.array(problem.bounds, dtype=np.float64)
    if item.within is None:
        return bounds, []
    within = np.asarray(item.within, dtype=np.float64)
    corners = within if within.ndim == 2 else within.reshape(2, 2)
    low, high = corners.min(axis=0), corners.max(axis=0)
    bounds = np.concatenate([np.maximum(bounds[:2], low), np.minimum(bounds[2:], high)])
    if within.ndim == 1:
        return bounds, []
    far = 4 * float(np.hypot(*(high - low)))
    beyond = []
    for a, b in zip(within, np.roll(within, -1, axis=0), strict=True):
        along = (b - a) / np.hypot(*(b - a))
        out = np.array([along[1], -along[0]])
        a, b = a - far * along, b + far * along
        beyond.append(np.array([b, a, a + far * out, b + far * out]))
    return bounds, beyond


def _narrowed(boxes: Array, outlines: list[Outline], bounds: Array) -> tuple[Array, Slanted, Array]:
    """Shrink bounds to the box round all free corners, and drop the sets out of its reach."""
    none = np.empty((1, 0))
    if np.any(bounds[:2] > bounds[2:]):
        return boxes, Slanted.of(outlines), np.full(4, np.nan)
    slanted = Slanted.of(outlines)
    _, corners = grid_corners(boxes[None], bounds[None], none, none)
    corners = free_of(corners, boxes, slanted)
    if outlines:
        corners = np.concatenate(
            [corners, slanted_corners(slanted, boxes, bounds, none[0], none[0])]
        )
    if not len(corners):
        return boxes, slanted, np.full(4, np.nan)
    x0, y0 = corners.min(axis=0)
    x1, y1 = corners.max(axis=0)
    gap = TOLERANCE
    across = (boxes[:, 0] < x1 - gap) & (boxes[:, 2] > x0 + gap)
    up = (boxes[:, 1] < y1 - gap) & (boxes[:, 3] > y0 + gap)
    flat_x, flat_y = x1 - x0 <= 2 * gap, y1 - y0 <= 2 * gap
    near = (across | flat_x) & (up | flat_y)
    return boxes[near], slanted, np.array([x0, y0, x1, y1])


def _padded(rows: list[Array]) -> Array:
    """(t, g) rows of several lengths in one array, filled up with nan."""
    longest = max(len(row) for row in rows)
    packed = np.full((len(rows), longest), np.nan)
    for k, row in enumerate(rows):
        packed[k, : len(row)] = row
    return packed


NO_SLANTED = Slanted.of([])
