"""Finds places for labels so that none covers another; all in paper millimetres."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

GAP = 0.35
"""Least free room between two labels [mm]."""
_GROW = np.array([-GAP, -GAP, GAP, GAP])
_AT_ONCE = 24  # candidates weighed together: few enough to stop early


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle on paper [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    @classmethod
    def about(cls, x: float, y: float, width: float, height: float) -> Box:
        """A box round a centre [mm]."""
        return cls(x - width / 2, y - height / 2, x + width / 2, y + height / 2)

    @property
    def centre(self) -> tuple[float, float]:
        """Its middle [mm]."""
        return (self.left + self.right) / 2, (self.bottom + self.top) / 2

    @property
    def width(self) -> float:
        """[mm]"""
        return self.right - self.left

    @property
    def height(self) -> float:
        """[mm]"""
        return self.top - self.bottom

    def grown(self, by: float) -> Box:
        """Larger by a margin on every side [mm]."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def contains(self, other: Box) -> bool:
        """Whether the other lies wholly within."""
        return (
            other.left >= self.left
            and other.right <= self.right
            and other.bottom >= self.bottom
            and other.top <= self.top
        )

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """The point of the box nearest to a point [mm]."""
        return min(max(x, self.left), self.right), min(max(y, self.bottom), self.top)


def _overlaps(candidates: Array, boxes: Array) -> Array:
    """Area that each candidate shares with all boxes together [mm2]."""
    wide = np.minimum(candidates[:, None, 2], boxes[:, 2])
    wide -= np.maximum(candidates[:, None, 0], boxes[:, 0])
    high = np.minimum(candidates[:, None, 3], boxes[:, 3])
    high -= np.maximum(candidates[:, None, 1], boxes[:, 1])
    np.maximum(wide, 0.0, out=wide)
    np.maximum(high, 0.0, out=high)
    return np.asarray(np.einsum("ij,ij->i", wide, high))


@dataclass(slots=True)
class Placer:
    """Remembers where labels are and offers the best of the places asked for."""

    within: Box
    """Labels stay inside this."""
    taken: list[Box] = field(default_factory=list)
    """Labels and markers: never covered."""

    def find(
        self,
        candidates: Iterable[Box],
        *,
        busy: Sequence[Box] = (),
        most: float = float("inf"),
        within: Box | None = None,
    ) -> Box | None:
        """Take the first candidate that covers nothing, else the one that covers least.

        `busy` is covered only where nothing else is free, and by `most` [mm2] at most.  None
        when every candidate would cover a label or leave the area.
        """
        taken, crossed = _array(self.taken), _array(busy)
        best: tuple[float, Box] | None = None
        area = within or self.within
        waiting = (box for box in candidates if area.contains(box))
        while some := tuple(islice(waiting, _AT_ONCE)):
            boxes = _array(some)
            costs = _overlaps(boxes, crossed)
            costs[_overlaps(boxes + _GROW, taken) > 0.0] = np.inf
            i = int(np.argmin(costs))
            cost = float(costs[i])
            if cost <= most and cost < (np.inf if best is None else best[0]):
                best = (cost, some[i])
            if cost == 0.0:
                break
        if best is None:
            return None
        self.taken.append(best[1])
        return best[1]


def _array(boxes: Sequence[Box]) -> Array:
    rows = [(b.left, b.bottom, b.right, b.top) for b in boxes]
    return np.array(rows, dtype=float).reshape(-1, 4)


def beside(box: Box, width: float, height: float, *, reach: float) -> Iterator[Box]:
    """Places right, left, above and below a box, nearest first, up to `reach` away [mm]."""
    x, y = box.centre
    away = 1.5
    while away <= reach:
        for share in (0.0, 0.5, -0.5, 1.0, -1.0):
            side_y = y + share * (box.height + height) / 2
            side_x = x + share * (box.width + width) / 2
            yield Box.about(box.right + away + width / 2, side_y, width, height)
            yield Box.about(box.left - away - width / 2, side_y, width, height)
            yield Box.about(side_x, box.top + away + height / 2, width, height)
            yield Box.about(side_x, box.bottom - away - height / 2, width, height)
        away += 2.0


def around(
    x: float, y: float, width: float, height: float, *, first: float, reach: float
) -> Iterator[Box]:
    """Boxes round a point, nearest first: rings of twelve from `first` to `reach` [mm]."""
    distance = first
    while distance <= reach:
        for turn in (30, 150, 330, 210, 0, 180, 90, 270, 60, 120, 300, 240):
            c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
            yield Box.about(
                x + float(c) * (distance + width / 2), y + float(s) * (distance + height / 2),
                width, height,
            )  # fmt: skip
        distance += 2.5


def inside(area: Box, width: float, height: float, *, steps: int = 5) -> Iterator[Box]:
    """Boxes within an area, the middle first, then rows of others; none when it is too small."""
    wide, high = area.width - width, area.height - height
    if wide < 0 or high < 0:
        return
    x, y = area.centre
    offsets = sorted(
        ((i, j) for i in range(-steps, steps + 1) for j in range(-steps, steps + 1)),
        key=lambda o: (abs(o[0]) + abs(o[1]), o),
    )
    seen: set[tuple[float, float]] = set()
    for i, j in offsets:
        at = (x + wide / 2 * i / steps, y + high / 2 * j / steps)
        if at not in seen:
            seen.add(at)
            yield Box.about(*at, width, height)
