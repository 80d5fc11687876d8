"""How far a bench is from taking a machine's outfeed, and where it would: tables by turn.

A link depends on the turns of two things and on how they lie to each other; all that the turns
decide is worked out beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.affine import Array
from floorplan.search.sides import Side
from floorplan.shop.model import OutfeedLink

Indices = NDArray[np.intp]

LAP = 0.05
"""A bench may also begin or end this far beyond the middle of the piece [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class OutfeedWish:
    """One link between a machine with u turns and a bench with t turns."""

    gap: tuple[float, float]
    """Least and most between table and bench [m]."""
    along: Array
    """(u, 2) direction of feed."""
    across: Array
    """(u, 2)"""
    table_edge: Array
    """(u,) reach of the table along the feed [m]"""
    middle: Array
    """(u,) middle of the piece across the feed [m]"""
    covered: Array
    """(u,) how far along the feed the bench must reach [m]"""
    bench: Array
    """(u, t, 4) reach of the bench: from, to along the feed, from, to across it [m]"""
    steps: Array
    """(u, t, 5, 2) places of the bench from the machine that hold the link [m]"""

    @classmethod
    def of(
        cls, link: OutfeedLink, machines: Sequence[Side], benches: Sequence[Side]
    ) -> OutfeedWish:
        """Tables of a link, for the sides of machine and bench at each of their turns."""
        cover = 0.0 if link.cover is None else link.cover.value
        return cls(
            gap=(link.gap_least.value, link.gap_most.value),
            along=np.array([saw.along for saw in machines]),
            across=np.array([saw.across for saw in machines]),
            table_edge=np.array([saw.table_edge for saw in machines]),
            middle=np.array([saw.middle for saw in machines]),
            covered=np.array([saw.spindle + cover for saw in machines]),
            bench=np.array(
                [
                    [(*side.extent(saw.along), *side.extent(saw.across)) for side in benches]
                    for saw in machines
                ]
            ),
            steps=np.array([[_steps(saw, side, link) for side in benches] for saw in machines]),
        )

    def missed(self, machine: Indices, bench: Indices, away: Array) -> Array:
        """(k,) how far the link is from holding [m].

        Turns of machine and bench are (k,), `away` (k, 2) leads from the one to the other [m].
        """
        near, far, left, right = self.bench[machine, bench].T
        along = (away * self.along[machine]).sum(axis=1)
        across = (away * self.across[machine]).sum(axis=1)
        gap = along + near - self.table_edge[machine]
        middle = self.middle[machine]
        out: Array = np.maximum(self.gap[0] - gap, 0.0) + np.maximum(gap - self.gap[1], 0.0)
        out += np.maximum(self.covered[machine] - (along + far), 0.0)
        out += np.maximum(across + left - middle, 0.0)
        out += np.maximum(middle - (across + right), 0.0)
        return out


def _steps(saw: Side, bench: Side, link: OutfeedLink) -> Array:
    """(5, 2) ways from a machine to a bench behind it, flush or centred on its piece [m]."""
    gap = (link.gap_least.value + link.gap_most.value) / 2
    near, _ = bench.extent(saw.along)
    left, right = bench.extent(saw.across)
    saw_left, saw_right = saw.extent(saw.across)
    across = np.array(
        [
            saw.middle - (left + right) / 2,
            saw_left - left,
            saw_right - right,
            saw.middle - left - LAP,
            saw.middle - right + LAP,
        ]
    )
    found: Array = saw.along * (saw.table_edge + gap - near) + saw.across * across[:, None]
    return found
