"""What limits the room where one stands, and how that room follows what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from floorplan.checks.squeeze import Limit, best_room, step_to_room
from floorplan.geometry.affine import Affine, Array, Outline
from floorplan.geometry.volume import Volume
from floorplan.shop.scene import Element

_SHARE = 0.995
"""An erosion with arcs of chords is trusted to this share of its radius."""
_ABOUT = 0.05
"""Limits so much farther off than the nearest one are looked at [m]."""
_STEPS = 20
_EXACT = 1e-5
"""What is so little farther off than the nearest limit touches too [m]."""


def standing_room(
    pool: Iterable[Element], zone: Volume, area: BaseGeometry, floor: BaseGeometry, width: float
) -> tuple[Mapping[str, float], tuple[str, ...]]:
    """Sensitivities of the widest disc centred in an area, `width` [m], and what it touches."""
    eroded = area.intersection(floor.buffer(-width / 2 * _SHARE, quad_segs=16))
    if eroded.is_empty:
        return {}, ()
    centre = np.asarray(shapely.point_on_surface(eroded).coords)[0]
    near = [e for e in pool if _bounds_off(e.volume, centre) < width / 2 + 4 * _ABOUT]
    edges = _Edges.of([(e.owner, e.volume.outline) for e in near])
    rim = _Edges.of([("", _inward(zone.outline))])
    for _ in range(_STEPS):
        step = step_to_room(*edges.limits(centre), *rim.sides(centre), _ABOUT)
        if step is None:
            break
        centre = centre + step
    touched = edges.touched(centre)
    best = best_room([limit for _, limit in touched] + rim.as_limits(centre), _ABOUT)
    if best is None or abs(2 * best.room.value - width) > 10 * _EXACT:
        return {}, ()
    names = tuple(dict.fromkeys(name for name, _ in touched))
    return {name: 2 * weight for name, weight in best.room.terms.items()}, names


def _bounds_off(volume: Volume, point: Array) -> float:
    west, south, east, north = volume.bounds
    dx = max(west - point[0], point[0] - east, 0.0)
    dy = max(south - point[1], point[1] - north, 0.0)
    return float(np.hypot(dx, dy))


def _inward(outline: Outline) -> Outline:
    """The outline counter-clockwise, so that its inside is on the left of every edge."""
    x, y = outline.points[:, 0], outline.points[:, 1]
    if float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) > 0:
        return outline
    return Outline(outline.points[::-1], {n: w[::-1] for n, w in outline.terms.items()})


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Edges of several outlines in one table."""

    owners: tuple[tuple[str, Outline, int], ...]
    """Whose each edge is, of which outline and which number there."""
    start: Array
    step: Array

    @classmethod
    def of(cls, outlines: Iterable[tuple[str, Outline]]) -> _Edges:
        """All edges of named outlines."""
        rows = list(outlines)
        owners = tuple((n, o, i) for n, o in rows for i in range(len(o.points)))
        start = np.vstack([o.points for _, o in rows] or [np.zeros((0, 2))])
        step = np.vstack(
            [np.roll(o.points, -1, axis=0) - o.points for _, o in rows] or [np.zeros((0, 2))]
        )
        return cls(owners, start, step)

    def _nearest(self, centre: Array) -> tuple[Array, Array]:
        """Share along each edge of its point nearest to the centre, and the way from there."""
        span = np.maximum((self.step * self.step).sum(axis=1), 1e-30)
        share = np.clip(((centre - self.start) * self.step).sum(axis=1) / span, 0.0, 1.0)
        return share, centre - (self.start + share[:, None] * self.step)

    def limits(self, centre: Array) -> tuple[Array, Array]:
        """Distances (n,) [m] and directions (n, 2) away from the edges near the nearest one."""
        _, off = self._nearest(centre)
        away = np.hypot(off[:, 0], off[:, 1])
        near = (away <= away.min(initial=np.inf) + _ABOUT) & (away > 1e-9)
        return away[near], off[near] / away[near, None]

    def sides(self, centre: Array) -> tuple[Array, Array]:
        """How far (n,) [m] the centre lies inside of each edge, and the ways (n, 2) inwards."""
        inward = np.column_stack([-self.step[:, 1], self.step[:, 0]])
        inward /= np.hypot(self.step[:, 0], self.step[:, 1])[:, None]
        return ((centre - self.start) * inward).sum(axis=1), inward

    def touched(self, centre: Array) -> list[tuple[str, Limit]]:
        """The nearest edges as limits, with their owners."""
        share, off = self._nearest(centre)
        away = np.hypot(off[:, 0], off[:, 1])
        out = []
        for k in np.flatnonzero((away <= away.min(initial=np.inf) + _EXACT) & (away > 1e-9)):
            owner, outline, i = self.owners[k]
            unit = off[k] / away[k]
            x, y = outline.between(i, (i + 1) % len(outline.points), float(share[k]))
            terms = (x * float(-unit[0]) + y * float(-unit[1])).terms
            out.append((owner, Limit(Affine(float(away[k]), terms), unit)))
        return out

    def as_limits(self, centre: Array) -> list[Limit]:
        """The edges next to the centre, which it must not cross."""
        inside, inward = self.sides(centre)
        out = []
        for k in np.flatnonzero(inside <= _EXACT):
            _, outline, i = self.owners[k]
            x, y = outline.vertex(i)
            terms = (x * float(-inward[k, 0]) + y * float(-inward[k, 1])).terms
            out.append(Limit(Affine(float(inside[k]), terms), inward[k], counts=False))
        return out
