"""The building as volumes: walls with their openings, posts and beams, doors and their leaves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Affine, Array, Outline, Point
from floorplan.geometry.volume import Volume
from floorplan.shop.model import Door, Room, Shop, Wall, Window
from floorplan.units import TOLERANCE

FAR = 12.0
"""How far a wall is taken to reach outwards where nothing is known beyond it [m]."""
LEAF_THICKNESS = 0.045
"""Thickness of a hinged or sliding leaf [m]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A wall as a measuring line: where it begins, along it, and into the room."""

    origin: Point
    """West or south end of the wall, inside face [m]."""
    along: Array
    """Unit vector from that end to the other."""
    inward: Array
    """Unit vector into the room."""
    ccw: float
    """+1 when `along` keeps the room on its left, else -1."""
    length: Affine

    def at(self, along: Affine | float, inward: Affine | float = 0.0) -> Point:
        """The point `along` the wall and `inward` from its face [m]."""
        out = []
        for axis in (0, 1):
            number = self.origin[axis]
            for step, direction in ((along, self.along), (inward, self.inward)):
                weight = float(direction[axis])
                if weight:
                    number = number + step * weight
            out.append(number)
        return out[0], out[1]

    def box(
        self,
        start: Affine | float,
        end: Affine | float,
        near: Affine | float,
        far: Affine | float,
    ) -> Outline:
        """The box from `start` to `end` along the wall, `near` to `far` inward, ccw [m]."""
        corners = [self.at(start, near), self.at(end, near), self.at(end, far), self.at(start, far)]
        outline = Outline.of(corners)
        return outline if signed_area(outline.points) > 0 else Outline.of(corners[::-1])


def signed_area(points: Array) -> float:
    """Area of a polygon, positive when counter-clockwise [m2]."""
    x, y = points[:, 0], points[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def frame(wall: Wall) -> Frame:
    """The measuring line of a wall: from its west end, or its south end when it runs north."""
    start = np.array([wall.start[0].value, wall.start[1].value])
    end = np.array([wall.end[0].value, wall.end[1].value])
    step = end - start
    length = float(np.hypot(*step))
    unit = step / length
    unit[np.abs(unit) < 1e-12] = 0.0
    left = np.array([-unit[1], unit[0]])
    forward = unit[0] > 1e-9 or (abs(unit[0]) <= 1e-9 and unit[1] > 0)
    size = (wall.end[0] - wall.start[0]) * float(unit[0]) + (wall.end[1] - wall.start[1]) * float(
        unit[1]
    )
    if forward:
        return Frame(wall.start, unit, left, 1.0, size)
    return Frame(wall.end, -unit, left, -1.0, size)


def floor_polygon(room: Room) -> Polygon:
    """The inside floor of the room."""
    return Polygon(room.floor.points)


def _reach(room: Room, wall: Wall) -> float:
    """How far a wall may be taken to reach outwards without reaching the room again [m]."""
    line = frame(wall)
    floor = floor_polygon(room)
    inset = 2 * TOLERANCE
    probe = Polygon(line.box(inset, line.length - inset, -inset, -FAR).points)
    again = probe.intersection(floor)
    if again.area < TOLERANCE**2:
        return FAR
    face = np.array([line.origin[0].value, line.origin[1].value])
    nearest = min(
        float(-(np.asarray(point) - face) @ line.inward)
        for part in getattr(again, "geoms", [again])
        if part.geom_type == "Polygon"
        for point in part.exterior.coords
    )
    return max(nearest, TOLERANCE)


@dataclass(frozen=True, eq=False)
class WallPiece:
    """One stretch of a wall as a volume."""

    wall: str
    volume: Volume


def solid_walls(room: Room) -> tuple[WallPiece, ...]:
    """Every wall without openings, reaching as far out as nothing else begins.

    Beyond the corners that point outwards lies a piece of its own, so that the outside has no gap.
    """
    return (
        *(
            WallPiece(
                wall.name,
                Volume(
                    frame(wall).box(0.0, frame(wall).length, 0.0, -_reach(room, wall)),
                    ZERO,
                    _overhead(room),
                ),
            )
            for wall in room.walls
        ),
        *_corner_pieces(room),
    )


def _corner_pieces(room: Room) -> Iterator[WallPiece]:
    """What lies outside between two walls that meet in a corner pointing outwards."""
    floor = floor_polygon(room)
    for wall, following in zip(room.walls, (*room.walls[1:], room.walls[0]), strict=True):
        a, b = frame(wall).inward, frame(following).inward
        turn = float(a[0] * b[1] - a[1] * b[0])  # the room is on the left: positive is convex
        if turn < 1e-6:
            continue
        reach = min(_reach(room, wall), _reach(room, following))
        x, y = wall.end
        while reach > TOLERANCE:
            steps = (0.0 * a, -a * reach, -(a + b) * reach, -b * reach)
            outline = Outline.of([(x + float(dx), y + float(dy)) for dx, dy in steps])
            if Polygon(outline.points).intersection(floor).area < TOLERANCE**2:
                break
            reach /= 2.0
        else:
            continue
        if signed_area(outline.points) < 0:
            outline = Outline(outline.points[::-1], {n: w[::-1] for n, w in outline.terms.items()})
        yield WallPiece(wall.name, Volume(outline, ZERO, _overhead(room)))


def _overhead(room: Room) -> Affine:
    return room.height + FAR


def ceiling(room: Room) -> Volume:
    """Everything above the ceiling."""
    low, high = room.floor.points.min(axis=0) - FAR, room.floor.points.max(axis=0) + FAR
    outline = Outline.box(left=low[0], right=high[0], south=low[1], north=high[1])
    return Volume(outline, room.height, _overhead(room))


def opened_walls(shop: Shop, open_doors: Iterable[str]) -> tuple[WallPiece, ...]:
    """Walls at their thickness, with the openings of the doors named left out."""
    opened = [door for door in shop.doors if door.name in set(open_doors)]
    pieces: list[WallPiece] = []
    for wall in shop.room.walls:
        doors = [door for door in opened if door.wall == wall.name]
        pieces.extend(WallPiece(wall.name, volume) for volume in _stretches(shop.room, wall, doors))
    return tuple(pieces)


def _stretches(room: Room, wall: Wall, doors: list[Door]) -> Iterator[Volume]:
    line = frame(wall)
    back = -min(room.wall_thickness.value, _reach(room, wall))
    at: Affine = ZERO
    for door in sorted(doors, key=lambda d: d.start.value):
        start, end = clear_span(line, door)
        if (start - at).value > TOLERANCE:
            yield Volume(line.box(at, start, 0.0, back), ZERO, _overhead(room))
        gap = line.box(start, end, 0.0, back)
        yield Volume(gap, door.head, _overhead(room))
        if door.sill.value > TOLERANCE:
            yield Volume(gap, ZERO, door.sill)
        at = end
    if (line.length - at).value > TOLERANCE:
        yield Volume(line.box(at, line.length, 0.0, back), ZERO, _overhead(room))


def clear_span(line: Frame, door: Door) -> tuple[Affine, Affine]:
    """Where the clear width begins and ends along the wall, the door open [m]."""
    end = door.start + door.width
    lost = door.width - door.clear
    if door.kind != "hinged":
        return door.start + lost / 2, end - lost / 2
    hinge_at_end = (door.hand == "left") == (line.ccw > 0)
    return (door.start, end - lost) if hinge_at_end else (door.start + lost, end)


def doorway(shop: Shop, door: Door, *, reach: float = 0.0, inward: float = 0.0) -> Polygon:
    """Plan of the passage through the wall, taken `reach` further outside and `inward` [m].

    To join it to the ground let it overlap: edges that only meet may miss each other by a
    rounding, and a slit without any width would close the passage.
    """
    line = frame(shop.room.wall(door.wall))
    start, end = clear_span(line, door)
    far = shop.room.wall_thickness.value + reach
    return Polygon(line.box(start, end, inward, -far).points)


def sector(pivot: Point, radius: Affine, start: float, sweep: float, steps: int = 48) -> Outline:
    """A sector that contains the true one: arcs circumscribed, straight edges exact [m, deg]."""
    step = radians(sweep) / steps
    angles = [0.0] + [step * (i + 0.5) for i in range(steps)] + [radians(sweep)]
    corners: list[Point] = [pivot]
    for i, angle in enumerate(angles):
        grown = radius if i in (0, len(angles) - 1) else radius / cos(step / 2)
        heading = radians(start) + angle
        corners.append((pivot[0] + grown * cos(heading), pivot[1] + grown * sin(heading)))
    return Outline.of(corners if sweep > 0 else corners[::-1])


def door_hinge(shop: Shop, door: Door) -> tuple[Point, float, float]:
    """Pivot of a hinged door, heading of the shut leaf, and its turn to open [deg]."""
    line = frame(shop.room.wall(door.wall))
    hinge_at_end = (door.hand == "left") == (line.ccw > 0)
    end = door.start + door.width
    pivot = line.at(end if hinge_at_end else door.start)
    shut = -line.along if hinge_at_end else line.along
    inward = line.inward if door.swing == "in" else -line.inward
    heading = float(np.degrees(np.arctan2(shut[1], shut[0])))
    cross = shut[0] * inward[1] - shut[1] * inward[0]
    return pivot, heading, 90.0 if cross > 0 else -90.0


def door_swing(shop: Shop, door: Door) -> Volume | None:
    """What a hinged leaf passes over, or the wall a sliding one runs along; inside only."""
    line = frame(shop.room.wall(door.wall))
    if door.kind == "hinged" and door.swing == "in":
        pivot, heading, turn = door_hinge(shop, door)
        return Volume(sector(pivot, door.width, heading, turn), door.sill, door.head)
    if door.kind == "sliding":
        along = 1.0 if (door.hand == "left") == (line.ccw > 0) else -1.0
        start = door.start + door.width if along > 0 else door.start - door.width
        return Volume(
            line.box(start, start + door.width, 0.0, 2 * LEAF_THICKNESS), door.sill, door.head
        )
    return None


def open_leaf(shop: Shop, door: Door) -> Volume | None:
    """The leaf where it hangs when the door is open, None when it hangs outside or in the wall."""
    if door.kind == "overhead":
        return overhead_space(shop, door)
    if door.kind != "hinged" or door.swing != "in":
        return None
    pivot, heading, turn = door_hinge(shop, door)
    open_heading = radians(heading + turn)
    side = radians(heading)
    along = (cos(open_heading), sin(open_heading))
    across = (cos(side), sin(side))
    thick = LEAF_THICKNESS

    def corner(far: bool, inner: bool) -> Point:
        reach = door.width if far else ZERO
        shift = thick if inner else 0.0
        return (
            pivot[0] + reach * along[0] + shift * across[0],
            pivot[1] + reach * along[1] + shift * across[1],
        )

    corners = [corner(False, False), corner(True, False), corner(True, True), corner(False, True)]
    outline = Outline.of(corners)
    if signed_area(outline.points) < 0:
        outline = Outline.of(corners[::-1])
    return Volume(outline, door.sill, door.head)


def overhead_space(shop: Shop, door: Door) -> Volume | None:
    """The slab under the ceiling taken by an overhead leaf with its tracks."""
    if door.leaf is None:
        return None
    line = frame(shop.room.wall(door.wall))
    reach, bottom, top = door.leaf
    outline = line.box(
        door.start - door.side_room, door.start + door.width + door.side_room, 0.0, reach
    )
    return Volume(outline, bottom, top)


def window_span(shop: Shop, window: Window) -> tuple[Array, Array]:
    """Both ends of a window on the inside face of its wall [m]."""
    line = frame(shop.room.wall(window.wall))
    ends = (line.at(window.start), line.at(window.start + window.width))
    first, last = (np.array([p[0].value, p[1].value]) for p in ends)
    return first, last


def fixture_volumes(room: Room) -> tuple[tuple[str, Volume], ...]:
    """Posts, partitions and beams as (name, volume)."""
    return tuple(
        (fixture.name, Volume(fixture.outline, fixture.bottom, fixture.top))
        for fixture in room.fixtures
    )
