"""The building on a plan: walls cut by their openings, doors with their swing, posts and beams."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, radians, sin

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.drawing.canvas import Label, Plan, heights
from floorplan.drawing.placing import Box, beside, inside
from floorplan.drawing.style import (
    BLACK,
    FINE,
    HEAVY,
    LIGHT,
    MEDIUM,
    SMALL_SIZE,
    THIN,
    WALL_FACE,
    WHITE,
    tint,
)
from floorplan.shop import building
from floorplan.shop.building import Frame, frame
from floorplan.shop.model import Door, Room, Shop, Window
from floorplan.units import System

HEADROOM = 1.9
"""What begins higher is walked under and drawn dashed [m]; common practice, no source."""
DASHES = (6.0, 3.0)


def wall_ring(room: Room) -> BaseGeometry:
    """All walls at their thickness, mitred at the corners, openings not yet cut [m]."""
    floor = building.floor_polygon(room)
    outer = floor.buffer(room.wall_thickness.value, join_style="mitre", mitre_limit=4.0)
    return outer.difference(floor)


def openings(shop: Shop) -> tuple[Door | Window, ...]:
    """Doors and windows."""
    return (*shop.doors, *shop.windows)


def opening_box(room: Room, opening: Door | Window) -> Polygon:
    """The hole that a door or window leaves in its wall [m]."""
    line = frame(room.wall(opening.wall))
    end = opening.start + opening.width
    return Polygon(line.box(opening.start, end, 0.0, -room.wall_thickness.value).points)


def wall_boxes(plan: Plan) -> list[Box]:
    """Boxes of the walls on the sheet, for labels to keep off [mm]."""
    room = plan.scene.shop.room
    thick = room.wall_thickness.value
    lines = [frame(wall) for wall in room.walls]
    return [plan.box(Polygon(line.box(0.0, line.length, 0.0, -thick).points)) for line in lines]


def draw_room(plan: Plan) -> None:
    """Floor, walls, doors, windows, posts and beams; no lettering yet."""
    shop = plan.scene.shop
    page = plan.page
    floor = plan.shape(plan.scene.floor, cut=False)
    page.area(floor, face=WHITE, edge="none", width=0.0, z=0.0, gid="floor")
    ring = wall_ring(shop.room)
    for opening in openings(shop):
        ring = ring.difference(opening_box(shop.room, opening).buffer(1e-6, join_style="mitre"))
    walls = plan.shape(ring, cut=False)
    page.area(walls, face=WALL_FACE, edge=BLACK, width=HEAVY, z=6.0, gid="walls")
    for window in shop.windows:
        _draw_window(plan, window)
    for door in shop.doors:
        _draw_door(plan, door)
    for name, volume in building.fixture_volumes(shop.room):
        overhead = volume.bottom.value >= HEADROOM
        page.area(
            plan.shape(volume.polygon),
            face="none" if overhead else WALL_FACE,
            width=MEDIUM,
            dashes=DASHES if overhead else (),
            z=7.0 if overhead else 5.9,
            gid=f"fixed: {name}",
        )


def _along(
    plan: Plan, line: Frame, start: float, end: float, inward: float
) -> list[tuple[float, float]]:
    return [
        plan.to_paper(point[0].value, point[1].value)
        for point in (line.at(start, inward), line.at(end, inward))
    ]


def _draw_window(plan: Plan, window: Window) -> None:
    line = frame(plan.scene.shop.room.wall(window.wall))
    thick = plan.scene.shop.room.wall_thickness.value
    start, end = window.start.value, (window.start + window.width).value
    for share in (0.0, 0.5, 1.0):
        points = _along(plan, line, start, end, -share * thick)
        plan.page.line(points, width=THIN, z=6.5)


def _draw_door(plan: Plan, door: Door) -> None:
    shop = plan.scene.shop
    line = frame(shop.room.wall(door.wall))
    start, end = door.start.value, (door.start + door.width).value
    for inward in (0.0, -shop.room.wall_thickness.value):
        plan.page.line(
            _along(plan, line, start, end, inward), width=FINE, z=6.5, colour=tint(BLACK, 0.6)
        )
    if door.kind == "hinged":
        _draw_leaf(plan, door)
    elif door.kind == "sliding":
        aside = 1.0 if (door.hand == "left") == (line.ccw > 0) else -1.0
        open_at = door.start + door.width * aside
        leaf = line.box(open_at, open_at + door.width, 0.0, building.LEAF_THICKNESS)
        plan.page.area(
            plan.shape(Polygon(leaf.points)), face=WHITE, width=LIGHT, z=6.6,
            gid=f"leaf: {door.name}",
        )  # fmt: skip
    elif door.kind == "overhead":
        space = building.overhead_space(shop, door)
        if space is not None:
            plan.page.area(
                plan.shape(space.polygon), width=LIGHT, dashes=(7.0, 4.0), z=7.0,
                edge=tint(BLACK, 0.65), gid=f"leaf: {door.name}",
            )  # fmt: skip


def _draw_leaf(plan: Plan, door: Door) -> None:
    """Open leaf as a line and the arc of its free edge."""
    pivot, heading, turn = building.door_hinge(plan.scene.shop, door)
    px, py, radius = pivot[0].value, pivot[1].value, door.width.value

    def at(angle: float) -> tuple[float, float]:
        return plan.to_paper(px + radius * cos(radians(angle)), py + radius * sin(radians(angle)))

    steps = 24
    arc = [at(heading + turn * i / steps) for i in range(steps + 1)]
    plan.page.line(arc, width=FINE, z=6.6, gid=f"swing: {door.name}")
    plan.page.line([plan.to_paper(px, py), arc[-1]], width=MEDIUM, z=6.7, gid=f"leaf: {door.name}")


# --- lettering -------------------------------------------------------------------------------


def letter_room(plan: Plan, *, wall_names: bool = True) -> None:
    """Names of doors, windows, posts and walls, each where it covers nothing."""
    shop = plan.scene.shop
    for door in shop.doors:
        size = f"{plan.length(door.width.value)} x {plan.length((door.head - door.sill).value)}"
        _letter_opening(plan, door, (f"{door.name} {size}", door.name))
        if door.kind == "overhead":
            _letter_overhead(plan, door)
    for window in shop.windows:
        sill = f"{window.name} sill {plan.length(window.sill.value)}"
        _letter_opening(plan, window, (sill, window.name))
    for name, volume in building.fixture_volumes(shop.room):
        place = plan.seen(volume.polygon)
        if place is None:
            continue
        over = volume.bottom.value >= HEADROOM
        text = f"{name}, bottom {plan.length(volume.bottom.value)}" if over else name
        if not over and abs(volume.top.value - shop.room.height.value) > 1e-3:
            text += f", {heights(volume, plan.system)}"
        _find_and_write(plan, [Label((text,), SMALL_SIZE)], place, reach=25.0)
    if wall_names:
        for wall in shop.room.walls:
            line = frame(wall)
            texts = (f"{wall.name} {plan.length(line.length.value)}", wall.name)
            busy = [
                plan.box(opening_box(shop.room, o)).grown(4.5)
                for o in openings(shop)
                if o.wall == wall.name
            ]
            # apart from those of openings, or both would read as one
            _in_band(plan, line, 0.0, line.length.value, texts, busy=busy, apart=3.0)


def _find_and_write(plan: Plan, labels: list[Label], place: Box, *, reach: float) -> bool:
    busy = [*wall_boxes(plan), place]
    for label in labels:
        found = plan.placer.find(beside(place, *label.extent, reach=reach), busy=busy)
        if found is not None:
            plan.write(label, found)
            return True
    return False


def _letter_opening(plan: Plan, opening: Door | Window, texts: tuple[str, ...]) -> None:
    if plan.seen(opening_box(plan.scene.shop.room, opening)) is None:
        return
    line = frame(plan.scene.shop.room.wall(opening.wall))
    start, end = opening.start.value, (opening.start + opening.width).value
    if not _in_band(plan, line, start, end, texts, beyond=6.0):
        place = plan.box(opening_box(plan.scene.shop.room, opening))
        _find_and_write(plan, [Label((texts[-1],), SMALL_SIZE)], place, reach=20.0)


def _in_band(
    plan: Plan,
    line: Frame,
    start: float,
    end: float,
    texts: tuple[str, ...],
    *,
    beyond: float = 0.0,
    busy: Sequence[Box] = (),
    apart: float = 0.0,
) -> bool:
    """Letter along a wall, outside it, on a stretch [m] and up to `beyond` [mm] past that."""
    unit = plan.ratio / 1000.0
    upright = abs(float(line.along[1])) > 0.8
    out = -(plan.scene.shop.room.wall_thickness.value + 1.9 * unit)
    for text in texts:
        label = Label((text,), SMALL_SIZE, upright=upright)
        half = max(label.extent) / 2 * unit
        low, high = start + half - beyond * unit, end - half + beyond * unit
        if low > high:
            continue
        centres = [(low + high) / 2 + (high - low) / 2 * s for s in _SHARES]
        boxes = [
            Box.about(*plan.to_paper(p[0].value, p[1].value), *label.extent).grown(apart)
            for p in (line.at(c, out) for c in centres)
        ]
        found = plan.placer.find(boxes, busy=busy, most=0.0, within=plan.view.grown(apart))
        if found is not None:
            plan.write(label, found.grown(-apart))
            return True
    return False


_SHARES = (0.0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1.0, -1.0)


def _letter_overhead(plan: Plan, door: Door) -> None:
    space = building.overhead_space(plan.scene.shop, door)
    if space is None:
        return
    bottom, top = plan.length(space.bottom.value), plan.length(space.top.value)
    text = f"open leaf and tracks, {bottom} to {top} high"
    label = Label((text,), SMALL_SIZE)
    place = plan.seen(space.polygon)
    if place is None:
        return
    edge = Box(place.left + 1.0, place.top - 3.4, place.right - 1.0, place.top - 0.4)
    found = plan.placer.find(inside(edge, *label.extent), busy=body_boxes(plan))
    if found is not None:
        plan.write(label, found, colour=tint(BLACK, 0.75))


def body_boxes(plan: Plan) -> list[Box]:
    """Boxes of all bodies on the sheet [mm]."""
    return [plan.box(e.volume.polygon) for e in plan.scene.of("solid") if e.name == "body"]


# --- ruler -----------------------------------------------------------------------------------

RULER_OFF = 4.2
"""From the outer face of the wall [mm]."""


def draw_ruler(plan: Plan) -> None:
    """Feet or half metres from the west and south walls, to read positions off the sheet."""
    floor = plan.scene.floor
    west, south, east, north = floor.bounds
    thick = plan.scene.shop.room.wall_thickness.value
    left, bottom = plan.to_paper(west - thick, south - thick)
    left, bottom = left - RULER_OFF, bottom - RULER_OFF
    step, often, unit = _graduation(plan)
    for length, upright in ((east - west, False), (north - south, True)):
        ends = [plan.to_paper(west, south), plan.to_paper(east, north)]
        axis = 1 if upright else 0
        line = [(left, e[1]) if upright else (e[0], bottom) for e in ends]
        plan.page.line(
            line, width=THIN, z=6.0, gid=f"ruler {'south to north' if upright else 'west to east'}"
        )
        for i, along in enumerate(_ticks(length, step)):
            at = ends[0][axis] + along * 1000.0 / plan.ratio
            deep = 1.5 if i % often == 0 else 0.9
            tick = (
                [(left, at), (left - deep, at)] if upright else [(at, bottom), (at, bottom - deep)]
            )
            plan.page.line(tick, width=THIN, z=6.0)
            if i % often == 0:
                _number(plan, f"{i * unit[0]:g}{unit[1]}", at, left if upright else bottom, upright)


def _number(plan: Plan, text: str, at: float, base: float, upright: bool) -> None:
    label = Label((text,), SMALL_SIZE, upright=upright)
    middle = (base - 3.0, at) if upright else (at, base - 3.0)
    plan.write(label, Box.about(*middle, *label.extent))


def _graduation(plan: Plan) -> tuple[float, int, tuple[float, str]]:
    """Step [m], numbers every so many, and what one step is called."""
    room = 1000.0 / plan.ratio
    if plan.system is System.IMPERIAL:
        often = next(n for n in (1, 2, 4, 8, 16) if n * 0.3048 * room >= 8.0)
        return 0.3048, often, (1.0, "'")
    often = next(n for n in (1, 2, 4, 10, 20) if n * 0.5 * room >= 9.0)
    return 0.5, often, (0.5, " m")


def _ticks(length: float, step: float) -> Iterator[float]:
    i = 0
    while i * step <= length + 1e-6:
        yield i * step
        i += 1
