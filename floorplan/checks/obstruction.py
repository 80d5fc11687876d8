"""What comes nearest to a volume, or is in its way: shared by the checks that ask for free room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from shapely.geometry import Polygon

from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import Gap, Volume, certainty, gap
from floorplan.shop import building
from floorplan.shop.model import Shop
from floorplan.shop.scene import Element, Scene, may_not_overlap

NEAR = 0.05
"""Gaps wider than this [m] are reported once, for the nearest obstacle only."""
_ERRORS = 8
"""A gap may be off by so many measured numbers at a time."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that may be in the way, and how near it comes."""

    name: str
    """Name of the thing, wall or door."""
    label: str
    gap: Gap
    certainty: int = 2
    """2 when it surely is not in the way, 0 when it surely is, 1 when nobody can tell."""
    meanwhile: str = ""
    """The other task for which it is there."""

    @property
    def rank(self) -> tuple[int, float]:
        """What stands in the way for sure comes first, then the doubtful, then the nearest."""
        return self.certainty, self.gap.distance.value

    @property
    def how(self) -> str:
        """In which sense it is near or in the way."""
        return "in height" if self.gap.by_height else "in plan"

    @property
    def phrase(self) -> str:
        """Its label, and in which other task it is there."""
        return f"{self.label} (meanwhile: {self.meanwhile})" if self.meanwhile else self.label


@lru_cache(maxsize=64)
def _walls(shop: Shop, entered: tuple[str, ...]) -> tuple[Element, ...]:
    """Walls with the openings of some doors left out; those without reach far out."""
    opened = {shop.door(name).wall for name in entered}
    pieces = [
        *(piece for piece in building.solid_walls(shop.room) if piece.wall not in opened),
        *(piece for piece in building.opened_walls(shop, entered) if piece.wall in opened),
    ]
    return tuple(
        Element(piece.wall, "body", "solid", piece.volume, building=True) for piece in pieces
    )


@lru_cache(maxsize=8)
def ceiling(shop: Shop) -> Element:
    """Everything above the ceiling, as a solid."""
    return Element("ceiling", "body", "solid", building.ceiling(shop.room), building=True)


@lru_cache(maxsize=64)
def _doorway(shop: Shop, door: str) -> Polygon:
    return building.doorway(shop, shop.door(door))


def walls_about(scene: Scene, volume: Volume, *tasks: str) -> tuple[Element, ...]:
    """The walls as a volume meets them: with openings where it reaches into an open door.

    Other walls reach far out, so that the depth by which something sticks into a wall is
    measured into the room.
    """
    entered = tuple(
        name
        for name in scene.open_doors(*tasks)
        if _doorway(scene.shop, name).intersects(volume.polygon)
    )
    return _walls(scene.shop, entered)


def bounds_gap(a: Volume, b: Volume) -> float:
    """A lower bound of the plan distance of two volumes [m]."""
    wa, sa, ea, na = a.bounds
    wb, sb, eb, nb = b.bounds
    dx, dy = max(wb - ea, wa - eb, 0.0), max(sb - na, sa - nb, 0.0)
    return float((dx * dx + dy * dy) ** 0.5)


def obstacle(
    scene: Scene, volume: Volume, element: Element, meanwhile: str = "", least: float = 0.0
) -> Obstacle:
    """How an element stands to a volume that should be `least` [m] away from it."""
    found = gap(volume, element.volume).decided(scene.shop.measurements, least)
    known = certainty(found.distance - least, scene.shop.measurements)
    return Obstacle(element.owner, element.label, found, known, meanwhile)


def look(shop: Shop, near: float = NEAR) -> float:
    """How far off something can be and still matter [m]: near, or within what may be off."""
    return near + _ERRORS * _largest_error(shop)


@lru_cache(maxsize=16)
def _largest_error(shop: Shop) -> float:
    return max((m.error for m in shop.measurements.values()), default=0.0)


def obstacles(
    scene: Scene, volume: Volume, candidates: Iterable[tuple[Element, str] | Element]
) -> tuple[Obstacle, ...]:
    """Everything near a volume or perhaps in its way, one per owner; the nearest in any case.

    Sorted from the deepest in the way to the farthest.  A candidate may come with the other task
    for which it is there.
    """
    pairs = [(c, "") if isinstance(c, Element) else c for c in candidates]
    ranked = sorted(
        ((bounds_gap(volume, element.volume), i) for i, (element, _) in enumerate(pairs))
    )
    best: dict[str, Obstacle] = {}
    least, near = float("inf"), look(scene.shop)
    for bound, i in ranked:
        if bound > max(near, least):
            break
        found = obstacle(scene, volume, *pairs[i])
        least = min(least, found.gap.distance.value)
        known = best.get(found.name)
        if known is None or found.rank < known.rank:
            best[found.name] = found
    ordered = sorted(best.values(), key=lambda o: (*o.rank, o.name))
    return tuple(
        o
        for i, o in enumerate(ordered)
        if i == 0 or o.gap.distance.value <= NEAR or o.certainty < 2
    )


def in_the_way(scene: Scene, element: Element, task: str) -> list[tuple[Element, str]]:
    """All that may not overlap a zone or moving part in a task, with the other task it is for."""
    partners = element.presence.partners(task)
    out: list[tuple[Element, str]] = []
    for other in scene.elements:
        if other is element or other.nature == "moving" or not may_not_overlap(element, other):
            continue
        zone = other.nature == "zone"
        if zone and (other.advised or element.advised):
            continue
        if other.presence.during(task):
            out.append((other, ""))
            continue
        partner = next((p for p in partners if other.presence.during(task, p)), None)
        if partner is not None:
            out.append((other, partner))
        elif zone and element.two_people:
            beside = sorted(
                t
                for t in other.presence.only or ()
                if frozenset((task, t)) in element.presence.side_by_side
            )
            out.extend((other, t) for t in beside[:1])
    # a drawer opened in a task finds the doors as they are in that task
    moment = (task,) if task in scene.tasks else (task, *partners)
    walls = walls_about(scene, element.volume, *moment)
    return [*out, *((e, "") for e in (*walls, ceiling(scene.shop)))]


def boundary_distance(
    elements: Iterable[Element], ends: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[Affine, tuple[str, ...]]:
    """The distance of two facing boundary points with its sensitivities, and whose they are."""
    (ax, ay), (bx, by) = ends
    length = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
    if length == 0.0:
        return Affine(0.0), ()
    ux, uy = (bx - ax) / length, (by - ay) / length
    pool = list(elements)
    total = Affine(length)
    names: list[str] = []
    for sign, point in ((-1.0, (ax, ay)), (1.0, (bx, by))):
        owner, (px, py) = nearest_boundary(pool, point)
        along = px * ux + py * uy
        total = total + Affine(0.0, {n: sign * w for n, w in along.terms.items()})
        names.append(owner)
    return total, tuple(names)


def nearest_boundary(
    elements: Iterable[Element], point: tuple[float, float]
) -> tuple[str, tuple[Affine, Affine]]:
    """Owner and boundary point of the outline nearest to a point."""
    best: tuple[float, str, tuple[Affine, Affine]] | None = None
    px, py = point
    for element in elements:
        west, south, east, north = element.volume.bounds
        off = max(west - px, px - east, 0.0) ** 2 + max(south - py, py - north, 0.0) ** 2
        if best is not None and off > best[0]:
            continue
        x, y = element.volume.outline.nearest(point)
        away = (x.value - px) ** 2 + (y.value - py) ** 2
        if best is None or away < best[0]:
            best = (away, element.owner, (x, y))
    assert best is not None
    return best[1], best[2]
