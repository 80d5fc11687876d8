"""What a placement search is given and gives back; it knows convex pieces and nothing of shops."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.pieces import Piece

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """One thing to be placed: its pieces at each allowed turn, about its reference point."""

    name: str
    turns: tuple[float, ...]
    """[deg] counter-clockwise"""
    pieces: tuple[tuple[Piece, ...], ...]
    """one tuple a turn, the same pieces in the same order in each"""
    within: tuple[float, float, float, float] | Array | None = None
    """limits of the reference point: x0, y0, x1, y1, which may coincide, or the corners (n, 2) of
    a convex polygon counter-clockwise, two corners for a line [m]"""

    def __post_init__(self) -> None:
        """Refuse an item whose turns and pieces do not belong together."""
        if not self.turns or len(self.turns) != len(self.pieces):
            raise ValueError(f"{self.name}: {len(self.turns)} turns, {len(self.pieces)} outlines")


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Items to be placed among fixed pieces.

    The outside of a room is given as fixed pieces. Pieces of one item never conflict.
    """

    items: tuple[Item, ...]
    fixed: tuple[Piece, ...]
    conflict: Callable[[int, int], bool]
    """whether pieces of these two classes may not overlap; asked once for every two classes"""
    bounds: tuple[float, float, float, float]
    """x0, y0, x1, y1 within which all reference points lie [m]; they must not reach past the outer
    side of the fixed pieces, since nothing is forbidden there"""


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Where every item stands. The search changes states in place: copy one to keep it."""

    turn: NDArray[np.intp]
    """(n,) index into the turns of each item"""
    xy: Array
    """(n, 2) reference points [m]"""
    placed: NDArray[np.bool_]
    """(n,) false for items that stand nowhere; their turn and xy mean nothing"""

    @classmethod
    def empty(cls, count: int) -> "State":
        """Return the state in which none of `count` items is placed."""
        return cls(np.zeros(count, np.intp), np.zeros((count, 2)), np.zeros(count, np.bool_))

    @classmethod
    def of(cls, poses: list[tuple[int, float, float]]) -> "State":
        """Return the state with all items placed: (index of the turn, x [m], y [m]) of each."""
        turn = np.array([pose[0] for pose in poses], dtype=np.intp)
        xy = np.array([pose[1:] for pose in poses], dtype=np.float64).reshape(-1, 2)
        return cls(turn, xy, np.ones(len(poses), np.bool_))

    def copy(self) -> "State":
        """Return a state of its own."""
        return State(self.turn.copy(), self.xy.copy(), self.placed.copy())

    def put(self, item: int, turn: int, xy: Array) -> None:
        """Place an item."""
        self.turn[item], self.xy[item], self.placed[item] = turn, xy, True

    def assign(self, other: "State") -> None:
        """Take over everything from another state."""
        self.turn[:], self.xy[:], self.placed[:] = other.turn, other.xy, other.placed


@dataclass(frozen=True, slots=True, eq=False)
class States:
    """Several states in which the same items are placed, side by side."""

    turn: NDArray[np.intp]
    """(s, n) as in each state"""
    xy: Array
    """(s, n, 2) as in each state [m]"""
    placed: NDArray[np.bool_]
    """(n,) the same in all of them"""

    @classmethod
    def of(cls, states: list[State]) -> "States":
        """Put complete states side by side."""
        turn, xy = np.array([s.turn for s in states]), np.array([s.xy for s in states])
        return cls(turn, xy, np.ones(turn.shape[1], np.bool_))

    @classmethod
    def alone(cls, state: State) -> "States":
        """Return one state as several; it shares its numbers with this."""
        return cls(state.turn[None], state.xy[None], state.placed)

    def one(self, number: int) -> State:
        """Return one of them; it shares its numbers with this."""
        return State(self.turn[number], self.xy[number], self.placed)

    def some(self, which: NDArray[np.intp]) -> "States":
        """Return copies of some of them."""
        return States(self.turn[which], self.xy[which], self.placed)


class Objective(Protocol):
    """The cost to be made small. Methods must not change or keep the state."""

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:
        """Return x and y coordinates [m] of the reference point that may be cheapest."""

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:
        """(k,) cost with the item at each of (k, 2), up to one constant for all turns.

        The item itself and those not placed do not count.
        """

    def total(self, state: State) -> float:
        """Return the cost of a state in which all items are placed."""

    def settled(self, state: State, cost: float) -> float:
        """Return the cost of such a state when it is kept, given its total.

        It is the same where the total says everything.  A total may price what must not be so low
        that a search passes through it; what is kept is priced in full.
        """


class Unpriced:
    """The objective of someone who only asks whether everything fits."""

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:  # noqa: ARG002
        """Return none."""
        return np.empty(0), np.empty(0)

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:  # noqa: ARG002
        """(k,) zeros."""
        return np.zeros(len(xy))

    def total(self, state: State) -> float:  # noqa: ARG002
        """Return zero."""
        return 0.0

    def settled(self, state: State, cost: float) -> float:  # noqa: ARG002
        """Return the cost."""
        return cost
