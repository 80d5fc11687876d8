"""The ground one walks on: room, open doorways and the land outside, less what stands on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from floorplan.geometry.volume import Volume
from floorplan.shop import building
from floorplan.shop.model import Door, Shop, Task
from floorplan.shop.scene import Element, Scene
from floorplan.shop.yard import yard_elements
from floorplan.units import TOLERANCE

APRON = 1.5
"""How much ground outside a door is looked at [m]."""
BEFORE_DOOR = 0.75
"""How far outside one is out [m]."""


def ways_out(shop: Shop) -> tuple[Door, ...]:
    """Doors that lead outside; only these are a way out."""
    return tuple(door for door in shop.doors if door.leads_to == "outside")


def apron(shop: Shop, door: Door) -> Polygon | MultiPolygon:
    """The ground before a door on its outer side, as far as the walls leave it."""
    line = building.frame(shop.room.wall(door.wall))
    thick = shop.room.wall_thickness.value
    end = door.start + door.width
    box = line.box(door.start - APRON, end + APRON, -thick, -(thick + APRON))
    built = building.floor_polygon(shop.room).buffer(thick, join_style="mitre")
    return Polygon(box.points).difference(built)


@lru_cache(maxsize=16)
def open_ground(shop: Shop) -> Polygon | MultiPolygon:
    """Room, doorways at their clear width, and the ground outside every door that leads there.

    A doorway into the house ends within the wall: nobody gets out that way.
    """
    short = -min(0.01, shop.room.wall_thickness.value / 4)
    parts: list[BaseGeometry] = [building.floor_polygon(shop.room)]
    for door in shop.doors:
        outside = door.leads_to == "outside"
        far = TOLERANCE if outside else short
        parts.append(building.doorway(shop, door, reach=far, inward=TOLERANCE))
        if outside:
            parts.append(apron(shop, door))
    return unary_union(parts)


@lru_cache(maxsize=16)
def goal(shop: Shop) -> BaseGeometry:
    """Where one is out: beyond every door that leads outside.

    Where something stands before a door, one is out as well beside the doorway, as far off.
    """
    out = []
    yard = unary_union([element.volume.polygon for element in yard_elements(shop)])
    for door in ways_out(shop):
        line = building.frame(shop.room.wall(door.wall))
        thick = shop.room.wall_thickness.value
        start, end = building.clear_span(line, door)
        far = thick + BEFORE_DOOR
        out.append(Polygon(line.box(start, end, -far, -(far + 0.05)).points))
        before = apron(shop, door)
        if before.intersects(yard):
            out += [
                Polygon(line.box(low, low + 0.05, -thick, -far).points).intersection(before)
                for low in (start - (BEFORE_DOOR + 0.05), end + BEFORE_DOOR)
            ]
    return unary_union(out)


def walker_obstacles(scene: Scene, *tasks: str) -> tuple[Element, ...]:
    """Solids that reach into the band of a walking person in a task, or tasks at one time."""
    tall = scene.shop.rules.value("way-out-height")
    return tuple(e for e in scene.solids(*tasks) if e.volume.in_band(0.0, tall))


def free_floor(scene: Scene, obstacles: Sequence[Element]) -> Polygon | MultiPolygon:
    """The open ground less what stands on it."""
    key = tuple(id(e) for e in obstacles)
    known = scene.free_floors.get(key)
    if known is None:
        standing = unary_union([e.volume.polygon for e in obstacles])
        known = open_ground(scene.shop).difference(standing)
        scene.free_floors[key] = known
    return known


@lru_cache(maxsize=16)
def door_edges(shop: Shop) -> tuple[Element, ...]:
    """Jambs and walls as volumes with all doors open: what limits a way besides things."""
    doors = tuple(door.name for door in shop.doors)
    return tuple(
        Element(piece.wall, "body", "solid", piece.volume, building=True)
        for piece in building.opened_walls(shop, doors)
    )


@dataclass(frozen=True, slots=True)
class Standing:
    """A place where somebody stands while a task is done."""

    owner: str
    name: str
    task: str
    volume: Volume
    line: int

    def within(self, floor: Polygon) -> Polygon | MultiPolygon:
        """As much of it as lies in the room; nobody stands in a wall or in a doorway."""
        inside = self.volume.polygon.intersection(floor)
        parts = [p for p in getattr(inside, "geoms", [inside]) if isinstance(p, Polygon)]
        return MultiPolygon(parts) if len(parts) != 1 else parts[0]


def standing_places(scene: Scene, task: Task) -> tuple[Standing, ...]:
    """Every standing place of a task, the place from which a piece is pushed included."""
    return tuple(
        Standing(e.owner, e.name, task.name, e.volume, e.line)
        for e in scene.of("zone")
        if e.purpose in ("stand", "push")
        and e.presence.only is not None
        and task.name in e.presence.only
        and e.presence.during(task.name)
    )
