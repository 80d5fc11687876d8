"""What limits the room where one stands, and how that room follows what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.squeeze import Best, Limit, best_room
from floorplan.geometry.affine import Affine, Array, Outline
from floorplan.geometry.volume import Volume
from floorplan.shop.scene import Element

_SHARE = 0.995
"""An erosion with arcs of chords is trusted to this share of its radius."""
_ABOUT = 0.1
"""Limits so much farther off than the nearest one are looked at [m]."""
_STEPS = 12


def standing_room(
    pool: Iterable[Element], zone: Volume, area: BaseGeometry, floor: BaseGeometry, width: float
) -> tuple[Mapping[str, float], tuple[str, ...]]:
    """Sensitivities of the widest disc centred in an area, `width` [m], and what it touches."""
    eroded = area.intersection(floor.buffer(-width / 2 * _SHARE, quad_segs=16))
    if eroded.is_empty:
        return {}, ()
    centre = np.asarray(shapely.point_on_surface(eroded).coords)[0]
    near = [e for e in pool if _bounds_off(e.volume, centre) < width / 2 + 2 * _ABOUT]
    best: Best | None = None
    for _ in range(_STEPS):
        limits = [limit for _, limit in _limits(near, centre, width / 2 + _ABOUT)]
        found = best_room([*limits, *_inside(zone.outline, centre)], _ABOUT)
        if found is None:
            return {}, ()
        best = found
        if float(np.hypot(*found.step)) < 1e-9:
            break
        centre = centre + found.step
    if best is None or abs(2 * best.room.value - width) > 1e-4:
        return {}, ()
    names = [
        name
        for name, limit in _limits(near, centre, width / 2 + 1e-5)
        if limit.distance.value < width / 2 + 1e-5
    ]
    return {n: 2 * w for n, w in best.room.terms.items()}, tuple(dict.fromkeys(names))


def _bounds_off(volume: Volume, point: Array) -> float:
    west, south, east, north = volume.bounds
    dx = max(west - point[0], point[0] - east, 0.0)
    dy = max(south - point[1], point[1] - north, 0.0)
    return float(np.hypot(dx, dy))


def _limits(pool: Iterable[Element], centre: Array, reach: float) -> Iterator[tuple[str, Limit]]:
    """Every edge within reach as something to keep away from."""
    for element in pool:
        outline = element.volume.outline
        start = outline.points
        edge = np.roll(start, -1, axis=0) - start
        span = np.maximum((edge * edge).sum(axis=1), 1e-30)
        share = np.clip(((centre - start) * edge).sum(axis=1) / span, 0.0, 1.0)
        off = centre - (start + share[:, None] * edge)
        away = np.hypot(off[:, 0], off[:, 1])
        for i in np.flatnonzero((away < reach) & (away > 1e-9)):
            x, y = outline.between(int(i), (int(i) + 1) % len(start), float(share[i]))
            unit = off[i] / away[i]
            terms = (x * float(-unit[0]) + y * float(-unit[1])).terms
            yield element.owner, Limit(Affine(float(away[i]), terms), unit)


def _inside(zone: Outline, centre: Array) -> Iterator[Limit]:
    """The edges of the zone, which the centre must not leave."""
    points = zone.points
    if not Polygon(points).exterior.is_ccw:
        points = points[::-1]
        zone = Outline(points, {n: w[::-1] for n, w in zone.terms.items()})
    for i in range(len(points)):
        j = (i + 1) % len(points)
        edge = points[j] - points[i]
        unit = np.array([-edge[1], edge[0]]) / float(np.hypot(*edge))
        x, y = zone.vertex(i)
        terms = (x * float(-unit[0]) + y * float(-unit[1])).terms
        yield Limit(Affine(float((centre - points[i]) @ unit), terms), unit, counts=False)
