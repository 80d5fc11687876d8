"""The parts of a lot in which a shed is looked for: along each wall, and beside the building."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.search.shed_ground import AROUND, Ground, allowed_walls, grounds, outer_room
from floorplan.shop.model import Shop
from floorplan.shop.shed_body import at_place, local_outlines
from floorplan.units import TOLERANCE

SMALLEST = 0.3
"""Sides of the lot and nooks narrower than this are no part of their own [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class LotPart:
    """One part of the lot: along a wall, or where the middle of a shed lies that stands alone."""

    name: str
    wall: str | None
    region: BaseGeometry
    """[m]; empty along a wall."""


def parts_of_lot(shop: Shop) -> tuple[LotPart, ...]:
    """The allowed walls, and the ground on each side of the building, by compass."""
    site = shop.site
    assert site is not None
    assert site.shed is not None
    out: list[LotPart] = []
    if site.shed.attached != "no":
        out += [LotPart(f"against the {w.name}", w.name, Polygon()) for w in allowed_walls(shop)]
    if site.shed.attached != "yes":
        out += [LotPart(f"standing alone, {where}", None, region) for where, region in _sides(shop)]
    return tuple(out)


def _sides(shop: Shop) -> Iterator[tuple[str, BaseGeometry]]:
    assert shop.site is not None
    lot, room = Polygon(shop.site.lot.points), outer_room(shop)
    west, south, east, north = room.bounds
    far = AROUND
    rows = {
        "north of the shop": box(west - far, north, east + far, north + far),
        "east of the shop": box(east, south, east + far, north),
        "south of the shop": box(west - far, south - far, east + far, south),
        "west of the shop": box(west - far, south, west, north),
        "in a nook of the shop": box(west, south, east, north).difference(room),
    }
    for where, region in rows.items():
        part = region.intersection(lot)
        if not part.buffer(-SMALLEST / 2).is_empty:
            yield where, part


def grounds_in(
    shop: Shop, part: LotPart | None, *, reserve: bool = False, dropped: Iterable[str] = ()
) -> tuple[Ground, ...]:
    """Legal ground in one part of the lot, in all of it for None."""
    if part is None:
        return grounds(shop, reserve=reserve, dropped=dropped)
    assert shop.site is not None
    assert shop.site.shed is not None
    wanted = (
        replace(shop.site.shed, attached="no") if part.wall is None
        else replace(shop.site.shed, attached="yes", walls=(part.wall,))
    )  # fmt: skip
    there = replace(shop, site=replace(shop.site, shed=wanted))
    found = (within(shop, ground, part) for ground in grounds(there, reserve=reserve,
                                                              dropped=dropped))  # fmt: skip
    return tuple(ground for ground in found if not ground.places.is_empty)


def within(shop: Shop, ground: Ground, part: LotPart) -> Ground:
    """As much of some ground as lies in a part."""
    if part.wall is not None or ground.wall is not None:
        same = part.wall is not None and part.wall == ground.wall
        return ground if same else replace(ground, places=Polygon())
    assert shop.site is not None
    assert shop.site.shed is not None
    here = at_place(local_outlines(shop.site.shed, None), ground.place(0.0, 0.0))
    x, y = here.walls.points.mean(axis=0)
    # a place names the west and south points; the middle lies so far from them
    region = affinity.translate(part.region, -float(x), -float(y)).buffer(TOLERANCE)
    return replace(ground, places=shapely.intersection(ground.places, region))
