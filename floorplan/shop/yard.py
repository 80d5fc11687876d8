"""What stands outside before the doors: other buildings on the lot, and the collector's shed.

They are solids as those of the room are: for who goes out, for what is carried in or out, and for
a board that reaches out of an open door. Ducts do not see them: outside, a run keeps to the wall
and ends in the shed.
"""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Outline, affine
from floorplan.geometry.volume import Volume
from floorplan.shop.building import FAR, frame
from floorplan.shop.element import Element
from floorplan.shop.model import Door, Shop
from floorplan.shop.shed_body import placed
from floorplan.shop.site import Spot
from floorplan.units import TOLERANCE

SHED = "shed"
_BEHIND = 0.3
"""A building that begins nearer than this behind a door is what the door leads into [m]."""


def yard_elements(shop: Shop) -> Iterator[Element]:
    """Buildings and the shed, where they stand farther out than a wall with a door outside.

    A building without a height is taken as taller than anything. A shed counts with its walls: its
    eave is above whoever walks below it; a tree with its trunk, where the file tells how thick.
    """
    site = shop.site
    if site is None:
        return
    standing = [
        (b.name, b.outline, affine(FAR) if b.height is None else b.height, b.line)
        for b in site.buildings
    ]
    standing += [
        (tree.name, trunk_outline(tree), affine(FAR), tree.line)
        for tree in site.trees
        if tree.trunk.value > 0.0
    ]
    shed = site.shed
    if shed is not None and shed.place is not None:
        name = f"{SHED} outside" if shop.has(SHED) else SHED
        standing.append((name, placed(shed, shed.place).walls, shed.height, shed.line))
    doors = [door for door in shop.doors if door.leads_to == "outside"]
    for name, outline, height, line in standing:
        if any(_is_before(shop, door, outline) for door in doors):
            volume = Volume(outline, ZERO, height)
            yield Element(name, "", "solid", volume, building=True, line=line)


def trunk_outline(tree: Spot) -> Outline:
    """The square round a tree's trunk, no smaller than the trunk."""
    half = tree.trunk / 2
    return Outline.box(
        left=tree.x - half, right=tree.x + half, south=tree.y - half, north=tree.y + half
    )


def is_of_yard(element: Element) -> bool:
    """Whether it stands outside: its only part has no name of its own."""
    return element.building and element.name == ""


def _is_before(shop: Shop, door: Door, outline: Outline) -> bool:
    """Whether any of it lies farther out than the outer face of the door's wall."""
    line = frame(shop.room.wall(door.wall))
    origin = [number.value for number in line.origin]
    outward = -((outline.points - origin) @ line.inward)
    return bool(outward.max() > shop.room.wall_thickness.value + TOLERANCE)


def is_led_into(shop: Shop, door: Door, element: Element) -> bool:
    """Whether a door that does not lead outside leads into this building."""
    if not (is_of_yard(element) and door.leads_to != "outside"):
        return False
    line, thick = frame(shop.room.wall(door.wall)), shop.room.wall_thickness.value
    box = line.box(door.start, door.start + door.width, -thick, -(thick + _BEHIND))
    return bool(Polygon(box.points).intersects(element.volume.polygon))
