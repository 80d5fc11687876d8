"""What comes nearest to a volume, or is in its way: shared by the checks that ask for free room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import Gap, Volume, gap
from floorplan.shop import building
from floorplan.shop.model import Shop
from floorplan.shop.scene import Element, Scene, may_not_overlap

NEAR = 0.05
"""Gaps wider than this [m] are reported once, for the nearest obstacle only."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something that may be in the way, and how near it comes."""

    name: str
    """Name of the thing, wall or door."""
    label: str
    gap: Gap


@lru_cache(maxsize=8)
def _solid_walls(shop: Shop) -> tuple[Element, ...]:
    return tuple(
        Element(piece.wall, "body", "solid", piece.volume, building=True)
        for piece in building.solid_walls(shop.room)
    )


@lru_cache(maxsize=64)
def _opened_walls(shop: Shop, doors: tuple[str, ...]) -> tuple[Element, ...]:
    return tuple(
        Element(piece.wall, "body", "solid", piece.volume, building=True)
        for piece in building.opened_walls(shop, doors)
    )


@lru_cache(maxsize=8)
def ceiling(shop: Shop) -> Element:
    """Everything above the ceiling, as a solid."""
    return Element("ceiling", "body", "solid", building.ceiling(shop.room), building=True)


def walls_about(scene: Scene, volume: Volume, task: str | None) -> tuple[Element, ...]:
    """The walls as a volume meets them: with openings where it reaches into an open door.

    Where no open doorway is entered the walls reach far out, so that the depth by which
    something sticks into a wall is measured into the room.
    """
    doors = scene.open_doors(task) if task else ()
    entered = tuple(
        name
        for name in doors
        if building.doorway(scene.shop, scene.shop.door(name)).intersects(volume.polygon)
    )
    return _opened_walls(scene.shop, doors) if entered else _solid_walls(scene.shop)


def bounds_gap(a: Volume, b: Volume) -> float:
    """A lower bound of the plan distance of two volumes [m]."""
    wa, sa, ea, na = a.bounds
    wb, sb, eb, nb = b.bounds
    dx, dy = max(wb - ea, wa - eb, 0.0), max(sb - na, sa - nb, 0.0)
    return float((dx * dx + dy * dy) ** 0.5)


def obstacles(
    volume: Volume, candidates: Iterable[Element], *, near: float = NEAR
) -> tuple[Obstacle, ...]:
    """Everything within `near` [m] of a volume, one per owner, and the nearest in any case.

    Sorted from the deepest in the way to the farthest.
    """
    ranked = sorted(
        ((bounds_gap(volume, element.volume), i, element) for i, element in enumerate(candidates)),
        key=lambda row: row[:2],
    )
    best: dict[str, Obstacle] = {}
    least = float("inf")
    for bound, _, element in ranked:
        if bound > max(near, least):
            break
        found = gap(volume, element.volume)
        distance = found.distance.value
        least = min(least, distance)
        known = best.get(element.owner)
        if known is None or distance < known.gap.distance.value:
            best[element.owner] = Obstacle(element.owner, element.label, found)
    ordered = sorted(best.values(), key=lambda o: (o.gap.distance.value, o.name))
    return tuple(o for i, o in enumerate(ordered) if i == 0 or o.gap.distance.value <= near)


def in_the_way(scene: Scene, element: Element, task: str) -> list[Element]:
    """All elements that may not overlap a zone or moving part while a task is done."""
    others = [
        other
        for other in scene.elements
        if other is not element
        and other.nature != "moving"
        and other.presence.during(task)
        and not (other.nature == "zone" and (other.advised or element.advised))
        and may_not_overlap(element, other)
    ]
    return [*others, *walls_about(scene, element.volume, task), ceiling(scene.shop)]


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
    for element in elements:
        x, y = element.volume.outline.nearest(point)
        away = (x.value - point[0]) ** 2 + (y.value - point[1]) ** 2
        if best is None or away < best[0]:
            best = (away, element.owner, (x, y))
    assert best is not None
    return best[1], best[2]
