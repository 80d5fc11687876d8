"""How the room at a best place follows what limits it.

Where something may move about for the most room, the room is the best value of a small linear
programme: the place moves, each limit gives way along its own direction.  Its multipliers say how
the best value follows each limit (linear programming duality).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from floorplan.geometry.affine import Affine, Array

_MOST = 14
"""Limits looked at, the nearest first."""
_FEASIBLE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Limit:
    """Something whose distance should be large, or must not become negative."""

    distance: Affine
    """How far away it is [m]."""
    away: Array
    """Unit direction in which the distance grows."""
    counts: bool = True
    """Whether the room is at most this distance; else the distance must just not be negative."""


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """The best place near by, and the room there."""

    step: Array
    room: Affine
    """[m]"""


def best_room(limits: Sequence[Limit], reach: float) -> Best | None:
    """The step, within `reach` [m], to the most room, as far as the limits run straight."""
    nearest = sorted(limits, key=lambda limit: limit.distance.value)[:_MOST]
    rows = [(*(-limit.away), float(limit.counts), limit.distance.value) for limit in nearest]
    rows += [(1.0, 0.0, 0.0, reach), (-1.0, 0.0, 0.0, reach)]
    rows += [(0.0, 1.0, 0.0, reach), (0.0, -1.0, 0.0, reach)]
    table = np.array(rows)
    chosen = np.array(list(combinations(range(len(rows)), 3)))
    normals = table[chosen][:, :, :3]
    sound = np.abs(np.linalg.det(normals)) > 1e-9
    chosen, normals = chosen[sound], normals[sound]
    if not len(chosen):
        return None
    corners = np.linalg.solve(normals, table[chosen][:, :, 3:])[:, :, 0]
    shares = np.linalg.solve(normals.transpose(0, 2, 1), np.array([[0.0], [0.0], [1.0]]))[:, :, 0]
    inside = (corners @ table[:, :3].T <= table[:, 3] + _FEASIBLE).all(axis=1)
    proven = inside & (shares >= -_FEASIBLE).all(axis=1)
    if not proven.any():
        return None
    pick = int(np.flatnonzero(proven)[0])
    room = Affine(float(corners[pick, 2]))
    for index, share in zip(chosen[pick], shares[pick], strict=True):
        if index < len(nearest) and share > 1e-12:
            scaled = nearest[index].distance * float(share)
            room = room + Affine(0.0, scaled.terms)
    return Best(corners[pick, :2], room)
