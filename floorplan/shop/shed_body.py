"""A shed where it stands: walls, eaves, the ground before its door, the way of its bin."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees

from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.shop.building import LEAF_THICKNESS, frame, signed_area
from floorplan.shop.model import Room, Wall
from floorplan.shop.site import SHED_SIDES, Shed, ShedPlace, ShedSide
from floorplan.units import System, format_exact

_HEADING = {"front": 270.0, "right": 0.0, "back": 90.0, "left": 180.0}
"""Where each side looks at turn 0 [deg]."""


@dataclass(frozen=True, slots=True, eq=False)
class ShedBody:
    """Outlines of a shed at a place, in the room's coordinates [m]."""

    walls: Outline
    eaves: Outline
    """The roof's outline, flush with the walls where it is attached."""
    door: Outline | None
    """Ground that the door and whoever opens it need."""
    bin: Outline | None
    """Ground over which the bin is pulled out."""
    opening: Outline | None
    """The shut leaf of the door, within the shed's wall."""


def side_length(shed: Shed, side: ShedSide) -> Affine:
    """Length of one side of the shed [m]."""
    return shed.width if side in ("front", "back") else shed.depth


def side_depth(shed: Shed, side: ShedSide) -> Affine:
    """How far the shed reaches from that side to the one across [m]."""
    return shed.depth if side in ("front", "back") else shed.width


def local_outlines(shed: Shed, attached: ShedSide | None) -> ShedBody:
    """The outlines in the shed's own coordinates at turn 0; `attached` is its side at a wall."""
    walls = Outline.box(left=0.0, right=shed.width, south=-shed.depth, north=0.0)
    reach = {side: ZERO if side == attached else shed.eave for side in SHED_SIDES}
    eaves = Outline.box(
        left=-reach["left"],
        right=shed.width + reach["right"],
        south=-shed.depth - reach["front"],
        north=reach["back"],
    )
    if shed.door is None:
        return ShedBody(walls, eaves, None, None, None)
    door = shed.door
    along = side_length(shed, door.side)
    start = door.at if door.at is not None else (along - door.width) / 2
    deep = door.room if door.room.value >= door.width.value else door.width
    ground = _before(shed, door.side, start, start + door.width, deep)
    way = None
    if shed.bin is not None:
        first = start + (door.width - shed.bin.width) / 2
        way = _before(shed, door.side, first, first + shed.bin.width, shed.bin.pull)
    leaf = _before(shed, door.side, start, start + door.width, ZERO - LEAF_THICKNESS)
    return ShedBody(walls, eaves, ground, way, leaf)


def _before(shed: Shed, side: ShedSide, start: Affine, end: Affine, deep: Affine) -> Outline:
    """A box before one side, from `start` to `end` seen from its left end outside, ccw [m]."""
    w, d = shed.width, shed.depth
    sides = {
        "front": (start, end, -d - deep, -d),
        "right": (w, w + deep, start - d, end - d),
        "back": (w - end, w - start, ZERO, deep),
        "left": (-deep, ZERO, -end, -start),
    }
    left, right, south, north = sides[side]
    outline = Outline.box(left=left, right=right, south=south, north=north)
    if signed_area(outline.points) > 0:
        return outline
    return Outline(outline.points[::-1], {n: w[::-1] for n, w in outline.terms.items()})


def placed(shed: Shed, place: ShedPlace) -> ShedBody:
    """The outlines of a shed where it stands."""
    return at_place(local_outlines(shed, place.side if place.wall else None), place)


def at_place(local: ShedBody, place: ShedPlace) -> ShedBody:
    """Local outlines turned and moved, the walls' westernmost and southernmost points at x, y."""
    turned = local.walls.turned(place.turn)
    dx, dy = place.x - turned.lowest(0), place.y - turned.lowest(1)

    def put(outline: Outline | None) -> Outline | None:
        return None if outline is None else outline.turned(place.turn).moved(dx, dy)

    walls, eaves = put(local.walls), put(local.eaves)
    assert walls is not None
    assert eaves is not None
    return ShedBody(walls, eaves, put(local.door), put(local.bin), put(local.opening))


def turn_at_wall(wall: Wall, side: ShedSide) -> float:
    """The turn at which a side of the shed lies on the outside of a wall [deg]."""
    inward = frame(wall).inward
    heading = degrees(atan2(float(inward[1]), float(inward[0])))
    return round((heading - _HEADING[side]) % 360.0, 9) % 360.0


def place_at_wall(
    room: Room, shed: Shed, wall: Wall, along: Affine | float, side: ShedSide
) -> ShedPlace:
    """A shed in contact with a wall, `along` from the wall's west or south end [m]."""
    line, thick = frame(wall), room.wall_thickness
    end = along + side_length(shed, side)
    box = line.box(along, end, -thick, -(thick + side_depth(shed, side)))
    return ShedPlace(box.lowest(0), box.lowest(1), turn_at_wall(wall, side), wall.name, side)


def written_place(room: Room, place: ShedPlace, system: System) -> dict[str, str]:
    """A place as the shop file's `at:` has it."""
    if place.wall is None:
        return {
            "x": format_exact(place.x.value, system),
            "y": format_exact(place.y.value, system),
            "turn": f"{place.turn:.6g}",
        }
    line = frame(room.wall(place.wall))
    origin = [n.value for n in line.origin]
    # its westernmost and southernmost points are those of its end that counts along the wall
    along = float(
        (place.x.value - origin[0]) * line.along[0] + (place.y.value - origin[1]) * line.along[1]
    )
    return {"wall": place.wall, "along": format_exact(along, system), "side": place.side}
