"""Where a shed does not fit: what clashes there, and how much smaller one would."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from floorplan.geometry.affine import Affine
from floorplan.search.shed_ground import LOT, THE_SHOP, Ground, barriers, own_building
from floorplan.search.shed_parts import LotPart, grounds_in, parts_of_lot, within
from floorplan.shop.model import Shop
from floorplan.shop.shed_body import placed
from floorplan.shop.site import Shed, ShedPlace
from floorplan.units import TOLERANCE, format_length

LEAST = 0.3
"""Smaller sheds than this are none [m]."""
FINE = 0.003
"""How near to the largest size the search comes, from below [m]."""
COARSE = 0.02
"""The same for what is told of each part of the lot [m]."""


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
    place: ShedPlace
    """One place of it there."""
    walls: Polygon
    """Its outline at that place [m]."""

    @property
    def area(self) -> float:
        """[m2]"""
        return self.width * self.depth


@dataclass(frozen=True, slots=True, eq=False)
class RuledOut:
    """A part of the lot in which the shed cannot stand, with why and by how much."""

    part: LotPart
    clash: tuple[str, ...]
    """Limits that together leave no room there; empty: it does not even fit onto the ground."""
    largest: LargestShed | None
    """The largest that would fit there when only its width or only its depth shrinks."""
    drawn: bool = False
    """Whether it fits there as drawn, only not with what the tape leaves open."""


def ruled_out(shop: Shop, open_ground: Sequence[Ground]) -> tuple[RuledOut, ...]:
    """Every part of the lot in which none of the ground on which the shed can stand lies."""
    out = []
    for part in parts_of_lot(shop):
        if any(not within(shop, ground, part).places.is_empty for ground in open_ground):
            continue
        if grounds_in(shop, part):
            out.append(RuledOut(part, (), None, drawn=True))
            continue
        rows = [_largest(shop, way, part, COARSE) for way in _WAYS if way[0] != "both"]
        best = max((row for row in rows if row is not None), key=lambda r: r.area, default=None)
        out.append(RuledOut(part, clashing(shop, part), best))
    return tuple(out)


def ruled_out_words(shop: Shop, row: RuledOut) -> str:
    """A part of the lot in a sentence: what rules it out, and by how much."""
    assert shop.site is not None
    shed = shop.site.shed
    assert shed is not None
    name = row.part.name[0].upper() + row.part.name[1:]
    if row.drawn:
        return f"{name}: it fits as drawn, but not with what the tape leaves open."
    why = "the ground itself is too small"
    if row.clash:
        why = f"ruled out by {', '.join(row.clash)}"
    if row.largest is None:
        return f"{name}: {why}; not even a much smaller one fits."
    of, small, side = shed.depth.value, row.largest.depth, "deep"
    if row.largest.shrunk == "width":
        of, small, side = shed.width.value, row.largest.width, "wide"
    less = format_length(of - small, shop.system, rounding="up")
    fits = format_length(small, shop.system, rounding="down")
    return f"{name}: {why}; too {side} by {less}, one {fits} {side} would fit."


def clashing(shop: Shop, part: LotPart | None = None) -> tuple[str, ...]:
    """Barriers that together leave no room, of which dropping any one makes some.

    On all of the lot, or in one part. Empty where the shed does not even fit onto the ground.
    """
    names = list(dict.fromkeys(b.name for b in [*barriers(shop), *own_building(shop)]))
    names = [name for name in names if name not in (LOT, THE_SHOP)]
    if not grounds_in(shop, part, dropped=names):
        return ()
    dropped: list[str] = []
    for name in names:
        # what may be dropped without making room is not needed to rule every place out
        if not grounds_in(shop, part, dropped=[*dropped, name]):
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


def _largest(
    shop: Shop, way: tuple[str, Shrink], part: LotPart | None = None, fine: float = FINE
) -> LargestShed | None:
    """By halving: a smaller shed fits wherever a larger one does."""
    name, shrink = way
    assert shop.site is not None
    shed = shop.site.shed
    assert shed is not None
    longest = max(shed.width.value, shed.depth.value)
    low, high = LEAST / min(shed.width.value, shed.depth.value), 1.0
    best = next(_fitting(shop, part, *shrink(shed, low)), None) if low < high else None
    if best is None:
        return None
    while (high - low) * longest > fine:
        middle = (low + high) / 2
        ground = next(_fitting(shop, part, *shrink(shed, middle)), None)
        if ground is None:
            high = middle
        else:
            low, best = middle, ground
    width, depth = shrink(shed, low)
    inside = best.places.representative_point()
    place = best.place(inside.x, inside.y)
    small = _resized(shop, width, depth).site
    assert small is not None
    assert small.shed is not None
    walls = Polygon(placed(small.shed, place).walls.points)
    return LargestShed(name, width, depth, best, place, walls)


def _fitting(shop: Shop, part: LotPart | None, width: float, depth: float) -> Iterator[Ground]:
    """Grounds of a shed of this size, the one with most play first."""
    found = grounds_in(_resized(shop, width, depth), part)
    yield from sorted(found, key=lambda g: -(g.places.area + TOLERANCE * g.places.length))
