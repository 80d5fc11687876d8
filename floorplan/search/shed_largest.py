"""When a shed fits nowhere: what clashes, and how much smaller one would fit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from floorplan.geometry.affine import Affine
from floorplan.search.shed_ground import (
    Ground,
    barriers,
    grounds,
    own_building,
)
from floorplan.shop.model import Shop
from floorplan.shop.site import Shed
from floorplan.units import TOLERANCE

LEAST = 0.3
"""Smaller sheds than this are none [m]."""
FINE = 0.003
"""How near to the largest size the search comes, from below [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class LargestShed:
    """The largest shed that fits when only some of its sides shrink."""

    shrunk: str
    """`width`, `depth` or `both`, in proportion."""
    width: float
    depth: float
    """[m]"""
    ground: Ground
    """Where it fits."""

    @property
    def area(self) -> float:
        """[m2]"""
        return self.width * self.depth


def clashing(shop: Shop) -> tuple[str, ...]:
    """Barriers that together leave no room, of which dropping any one makes some.

    Empty where the shed does not even fit onto the lot.
    """
    names = list(dict.fromkeys(b.name for b in [*barriers(shop), *own_building(shop)]))
    names.remove("the lot")
    if not grounds(shop, reserve=False, dropped=names):
        return ()
    dropped: list[str] = []
    for name in names:
        # what may be dropped without making room is not needed to rule every place out
        if not grounds(shop, reserve=False, dropped=[*dropped, name]):
            dropped.append(name)
    return tuple(name for name in names if name not in dropped)


def largest_sheds(shop: Shop) -> tuple[LargestShed, ...]:
    """The largest sheds that fit with less width, less depth or less of both, largest first."""
    found = [row for shrink in _WAYS if (row := _largest(shop, shrink)) is not None]
    return tuple(sorted(found, key=lambda row: -row.area))


def _resized(shop: Shop, width: float, depth: float) -> Shop:
    """The shop with a planned shed of another size; its door and bin shrink along if they must."""
    assert shop.site is not None
    shed = shop.site.shed
    assert shed is not None
    new = replace(shed, width=Affine(width), depth=Affine(depth), place=None)
    if shed.door is not None:
        side = width if shed.door.side in ("front", "back") else depth
        wide = Affine(min(shed.door.width.value, side))
        new = replace(new, door=replace(shed.door, width=wide, at=None))
    return replace(shop, site=replace(shop.site, shed=new))


Shrink = Callable[[Shed, float], tuple[float, float]]
_WAYS: tuple[tuple[str, Shrink], ...] = (
    ("depth", lambda shed, share: (shed.width.value, shed.depth.value * share)),
    ("width", lambda shed, share: (shed.width.value * share, shed.depth.value)),
    ("both", lambda shed, share: (shed.width.value * share, shed.depth.value * share)),
)


def _largest(shop: Shop, way: tuple[str, Shrink]) -> LargestShed | None:
    """By halving: a smaller shed fits wherever a larger one does."""
    name, shrink = way
    assert shop.site is not None
    shed = shop.site.shed
    assert shed is not None
    longest = max(shed.width.value, shed.depth.value)
    low, high = LEAST / min(shed.width.value, shed.depth.value), 1.0
    best = next(_fitting(shop, *shrink(shed, low)), None) if low < high else None
    if best is None:
        return None
    while (high - low) * longest > FINE:
        middle = (low + high) / 2
        ground = next(_fitting(shop, *shrink(shed, middle)), None)
        if ground is None:
            high = middle
        else:
            low, best = middle, ground
    width, depth = shrink(shed, low)
    return LargestShed(name, width, depth, best)


def _fitting(shop: Shop, width: float, depth: float) -> Iterator[Ground]:
    """Grounds of a shed of this size, the one with most play first."""
    found = grounds(_resized(shop, width, depth), reserve=False)
    yield from sorted(found, key=lambda g: -(g.places.area + TOLERANCE * g.places.length))
