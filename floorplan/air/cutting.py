"""Straight duct cut from stock lengths: the fewest sticks.

Cutting stock in one dimension, the kerf of shears or a saw in thin metal taken as none. Small
lists are solved exactly by branch and bound; the bound is the total length over the stick's. Pieces
longer than a stick are whole sticks joined with one piece left over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from floorplan.units import TOLERANCE

MOST_STEPS = 200_000
"""Work after which the best cutting found is taken as it is."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """What each stick is cut into [m]; `exact`: surely no fewer sticks do."""

    sticks: tuple[tuple[float, ...], ...]
    exact: bool

    @property
    def count(self) -> int:
        """Number of sticks."""
        return len(self.sticks)


def cut(lengths: Sequence[float], stick: float) -> Cutting:
    """Return the fewest sticks of a length [m] that give straight pieces of `lengths` [m].

    Raises ValueError for a stick or a piece that is not longer than nothing.
    """
    if stick <= TOLERANCE or any(length <= 0 for length in lengths):
        raise ValueError("sticks and pieces are longer than nothing")
    whole: list[tuple[float, ...]] = []
    rest: list[float] = []
    for length in lengths:
        left = length
        while left > stick + TOLERANCE:
            whole.append((stick,))
            left -= stick
        if left > stick - TOLERANCE:
            whole.append((left,))
        elif left > TOLERANCE:
            rest.append(left)
    packed, exact = _packed(sorted(rest, reverse=True), stick)
    return Cutting((*whole, *packed), exact)


def _packed(pieces: Sequence[float], stick: float) -> tuple[tuple[tuple[float, ...], ...], bool]:
    """Pieces no longer than a stick, longest first, packed into the fewest sticks."""
    if not pieces:
        return (), True
    search = _Packing(pieces, stick)
    search.place(0, [])
    return tuple(tuple(s) for s in search.best), search.steps <= MOST_STEPS


class _Packing:
    """Puts each piece into every stick that is not like one tried before, or a new one."""

    def __init__(self, pieces: Sequence[float], stick: float) -> None:
        self.pieces = pieces
        self.stick = stick
        self.best = _first_fit(pieces, stick)
        self.least = ceil(sum(pieces) / stick - TOLERANCE)
        self.steps = 0

    def place(self, index: int, open_sticks: list[list[float]]) -> None:
        self.steps += 1
        if self.steps > MOST_STEPS or len(self.best) == self.least:
            return
        if index == len(self.pieces):
            if len(open_sticks) < len(self.best):
                self.best = [list(s) for s in open_sticks]
            return
        piece, tried = self.pieces[index], set()
        for stick in open_sticks:
            left = round(self.stick - sum(stick), 6)
            if piece > left + TOLERANCE or left in tried:
                continue
            tried.add(left)
            stick.append(piece)
            self.place(index + 1, open_sticks)
            stick.pop()
        if len(open_sticks) + 1 < len(self.best):
            open_sticks.append([piece])
            self.place(index + 1, open_sticks)
            open_sticks.pop()


def _first_fit(pieces: Sequence[float], stick: float) -> list[list[float]]:
    """Each piece into the first stick that has room, longest pieces first."""
    sticks: list[list[float]] = []
    for piece in pieces:
        for one in sticks:
            if sum(one) + piece <= stick + TOLERANCE:
                one.append(piece)
                break
        else:
            sticks.append([piece])
    return sticks
