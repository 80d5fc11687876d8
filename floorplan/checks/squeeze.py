"""How the room at a best place follows what limits it.

Where something may move about for the most room, the room is the best value of a small linear
programme: the place moves, each limit gives way along its own direction.  Its multipliers say how
the best value follows each limit (linear programming duality).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from floorplan.geometry.affine import Affine, Array

_MOST = 10
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
    found = _solve(np.array(rows).reshape(-1, 4), reach)
    if found is None:
        return None
    corner, chosen, shares = found
    room = Affine(float(corner[2]))
    for index, share in zip(chosen, shares, strict=True):
        if index < len(nearest) and share > 1e-12:
            room = room + Affine(0.0, (nearest[index].distance * float(share)).terms)
    return Best(corner[:2], room)


def step_to_room(
    distances: Array, away: Array, inside: Array, inward: Array, reach: float
) -> Array | None:
    """The step to the most room: distances (n,) should grow, (m,) must stay positive [m].

    None when there is no more room to gain.
    """
    near = np.argsort(distances, kind="stable")[:_MOST]
    counted = np.column_stack([-away[near], np.ones(len(near)), distances[near]])
    kept = inside < 2 * reach
    bound = np.column_stack([-inward[kept], np.zeros(int(kept.sum())), inside[kept]])
    found = _solve(np.vstack([counted, bound]), reach)
    if found is None or found[0][2] <= distances.min() + _FEASIBLE:
        return None
    return found[0][:2]


@lru_cache(maxsize=32)
def _triples(count: int) -> NDArray[np.intp]:
    return np.array(list(combinations(range(count), 3)))


def _solve(limits: Array, reach: float) -> tuple[Array, NDArray[np.intp], Array] | None:
    """The corner (x, y, room) of most room with `limits[:, :3] . corner <= limits[:, 3]`.

    With it the three rows that meet there and their multipliers, all positive at the best corner.
    Rows after the limits hold the step within `reach` along x and y.
    """
    table = np.vstack(
        [limits, [[1, 0, 0, reach], [-1, 0, 0, reach], [0, 1, 0, reach], [0, -1, 0, reach]]]
    )
    chosen = _triples(len(table))
    normals = table[chosen][:, :, :3]
    sound = np.abs(np.linalg.det(normals)) > 1e-9
    chosen, normals = chosen[sound], normals[sound]
    if not len(chosen):
        return None
    inverse = np.linalg.inv(normals)
    corners = (inverse @ table[chosen][:, :, 3:])[:, :, 0]
    shares = inverse[:, 2, :]
    proven = (shares >= -_FEASIBLE).all(axis=1)
    proven &= (corners @ table[:, :3].T <= table[:, 3] + _FEASIBLE).all(axis=1)
    if not proven.any():
        return None
    pick = int(np.flatnonzero(proven)[0])
    return corners[pick], chosen[pick], shares[pick]
