"""A thing's own points at one turn: where one stops at it, how far it reaches, where it feeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from floorplan.geometry.affine import Array, rotation
from floorplan.shop.feeding import feeds_of, lane
from floorplan.shop.model import Cutter, Shop, Thing


@dataclass(frozen=True, slots=True)
class Side:
    """A thing's own points at one turn, from its reference point [m]."""

    stop: Array
    low: Array
    high: Array
    table_edge: float
    """Reach of the table along the feed, from the reference point."""
    spindle: float
    middle: float
    """Middle of the usual piece, across the feed."""
    along: Array
    across: Array

    def extent(self, way: Array) -> tuple[float, float]:
        """Reach of the thing's bounding box along a direction [m]."""
        corners = np.array(
            [[x, y] for x in (self.low[0], self.high[0]) for y in (self.low[1], self.high[1])]
        )
        reach = corners @ way
        return float(reach.min()), float(reach.max())


def side_of(shop: Shop, thing: Thing, turn: float) -> Side:
    """The points of a thing at a turn [deg]."""
    matrix = rotation(turn)
    body = thing.body.points @ matrix.T
    shift = -body.min(axis=0)

    def at(x: float, y: float) -> Array:
        found: Array = matrix @ np.array([x, y]) + shift
        return found

    stop = at(*_stop(shop, thing))
    edge = spindle = middle = 0.0
    along, across = np.array([0.0, 1.0]), np.array([1.0, 0.0])
    cutter = thing.cutter
    if cutter is not None:
        along, across = _directions(cutter, matrix)
        here = at(cutter.x.value, cutter.y.value)
        edge = float(((body + shift) @ along).max())
        spindle = float(here @ along)
        middle = float(here @ across) + _piece_middle(shop, thing)
    return Side(
        stop, (body + shift).min(axis=0), (body + shift).max(axis=0),
        edge, spindle, middle, along, across,
    )  # fmt: skip


def _piece_middle(shop: Shop, thing: Thing) -> float:
    feeds = feeds_of(shop, thing)
    if not feeds:
        return 0.0
    left, right = lane(feeds[0][1])
    return (left.value + right.value) / 2


def _stop(shop: Shop, thing: Thing) -> tuple[float, float]:
    for zone in thing.zones:
        if zone.purpose == "stand" and not zone.advised:
            x, y = zone.outline.points.mean(axis=0)
            return float(x), float(y)
    deep = shop.rules.value("standing-depth")
    return thing.width.value / 2, -thing.depth.value - deep / 2


def _directions(cutter: Cutter, matrix: Array) -> tuple[Array, Array]:
    along = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}[cutter.feed]
    across = (along[1], -along[0])
    return matrix @ np.array(along), matrix @ np.array(across)
