"""Sorts places by subdivision: passes, fails, or neither proved at half an inch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import GeometryCollection
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Array
from floorplan.search.walk_space import Flags, Geometries, Trial
from floorplan.units import TOLERANCE

FINEST = 0.0127
"""Cells are cut down to this [m]: half an inch."""
COARSEST = 0.8
"""Cells as large as this are cut before anything is asked [m]."""
BIGGEST = 0.45
"""Larger cells are cut without asking whether they fail [m]."""
MOST_CELLS = 20_000
"""Cells asked for one turn; what is open then stays unsure."""


@dataclass(frozen=True, slots=True, eq=False)
class Certified:
    """Places sorted by what was proved about them, as areas, lines and points [m]."""

    passes: BaseGeometry
    unsure: BaseGeometry
    fails: tuple[tuple[str, BaseGeometry], ...]
    """(whose way out, places that block it)"""


def certify(places: BaseGeometry, trials: Sequence[Trial], *, finest: float = FINEST) -> Certified:
    """Sort places of the reference point by whether everybody keeps a way out.

    Parameters
    ----------
    places
        areas, lines and points at which all else passes [m]
    trials
        the walks to be kept open
    finest
        where a cell of this side is still open it stays unsure [m]
    """
    trials = [t for t in trials if t.own or (t.solids and t.others)]
    pieces = shapely.get_parts(places)
    if not trials or not len(pieces):
        return Certified(places, GeometryCollection(), ())
    lines = [t.critical() for t in trials]
    critical = (
        np.unique(np.concatenate([x for x, _ in lines])),
        np.unique(np.concatenate([y for _, y in lines])),
    )
    passed: list[Geometries] = []
    failed: dict[str, list[Geometries]] = {}
    unsure: list[Geometries] = []
    # a walk that is open for a cell is so for every part of it
    is_kept = np.zeros((len(pieces), len(trials)), dtype=np.bool_)
    asked = 0
    while len(pieces):
        cells = shapely.bounds(pieces).reshape(-1, 4)
        side = np.maximum(cells[:, 2] - cells[:, 0], cells[:, 3] - cells[:, 1])
        small = side <= COARSEST
        is_open = np.ones(len(pieces), dtype=np.bool_)
        asked += int(small.sum())
        if small.any():
            which = np.flatnonzero(small)
            kept, why = _ask(cells[which], trials, is_kept[which])
            is_kept[which] = kept
            good = kept.all(axis=1)
            passed.append(pieces[which[good]])
            for name in sorted({w for w in why if w}):
                failed.setdefault(name, []).append(pieces[which[why == name]])
            is_open[which[good | (why != "")]] = False
        done = is_open & ((side <= finest * (1 + 1e-9)) | (asked > MOST_CELLS))
        unsure.append(pieces[done])
        is_open &= ~done
        pieces, parent = _halved(pieces[is_open], cells[is_open], critical)
        is_kept = is_kept[is_open][parent]
    return Certified(
        _joined(passed),
        _joined(unsure),
        tuple((name, _joined(parts)) for name, parts in sorted(failed.items())),
    )


def _ask(cells: Array, trials: Sequence[Trial], known: Flags) -> tuple[Flags, Geometries]:
    """(k, trials) which each cell surely passes, and whose way out it surely blocks, or ""."""
    kept = known.copy()
    why = np.full(len(cells), "", dtype=object)
    for number, trial in enumerate(trials):
        rest = np.flatnonzero((why == "") & ~kept[:, number])
        if not len(rest):
            continue
        passes = trial.passes(cells[rest])
        kept[rest[passes], number] = True
        doubt = rest[~passes]
        # a cell larger than the body has no core that could block a way
        doubt = doubt[np.minimum(*(cells[doubt][:, 2:] - cells[doubt][:, :2]).T) < BIGGEST]
        if len(doubt):
            blocked = trial.fails(cells[doubt])
            names = np.array([*trial.names, ""], dtype=object)
            why[doubt] = names[blocked]
    return kept, why


def _halved(
    pieces: Geometries, cells: Array, critical: tuple[Array, Array]
) -> tuple[Geometries, NDArray[np.intp]]:
    """Cut each piece across its longer side, where something begins to block or in the middle.

    With each part comes the piece of which it is one.
    """
    if not len(pieces):
        return pieces, np.empty(0, dtype=np.intp)
    wide = (cells[:, 2] - cells[:, 0]) >= (cells[:, 3] - cells[:, 1])
    low, high = cells.copy(), cells.copy()
    for axis, mask in ((0, wide), (1, ~wide)):
        at = _cuts(cells[mask, axis], cells[mask, axis + 2], critical[axis])
        low[mask, axis + 2] = at
        high[mask, axis] = at
    halves = [_clipped(pieces, half) for half in (low, high)]
    return np.concatenate([p for p, _ in halves]), np.concatenate([at for _, at in halves])


def _clipped(pieces: Geometries, cells: Array) -> tuple[Geometries, NDArray[np.intp]]:
    cut = shapely.intersection(pieces, shapely.box(*cells.T))
    parts, at = shapely.get_parts(cut, return_index=True)
    # a cut leaves lines and points of an area behind: they belong to the other half
    keep = shapely.get_dimensions(parts) == shapely.get_dimensions(pieces)[at]
    areas = shapely.get_dimensions(parts) == 2
    bounds = shapely.bounds(parts).reshape(-1, 4)
    thin = np.minimum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1]) < 0.1 * TOLERANCE
    keep &= ~(areas & thin) & ~shapely.is_empty(parts)
    return np.asarray(parts[keep], dtype=object), at[keep]


def _cuts(low: Array, high: Array, critical: Array) -> Array:
    """Where to cut from `low` to `high`: the critical place nearest the middle, if well inside."""
    middle = 0.5 * (low + high)
    if not len(critical):
        return middle
    after = np.clip(np.searchsorted(critical, middle), 1, max(len(critical) - 1, 1))
    after = np.minimum(after, len(critical) - 1)
    before = np.maximum(after - 1, 0)
    near = np.where(
        np.abs(critical[after] - middle) < np.abs(critical[before] - middle),
        critical[after],
        critical[before],
    )
    inside = np.abs(near - middle) < 0.25 * (high - low)
    # at the end any critical place inside a cell may settle it
    tiny = (high - low < 4 * FINEST) & (near > low + TOLERANCE) & (near < high - TOLERANCE)
    return np.where(inside | tiny, near, middle)


def _joined(parts: list[Geometries]) -> BaseGeometry:
    every = np.concatenate([*parts, np.empty(0, dtype=object)])
    return shapely.union_all(every)
