"""The longest board each machine takes where it stands, in a straight line before and behind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine, Array, Outline, affine
from floorplan.shop import building
from floorplan.shop.feeding import feed_box, pusher
from floorplan.shop.model import AT_REST, Cutter, Shop, Thing, Window
from floorplan.shop.scene import Frame, Scene, frame_of
from floorplan.units import TOLERANCE

LOOK = 12.0
"""How far a board is followed through an open door or window [m]."""
_AHEAD = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


@dataclass(frozen=True, slots=True)
class LongestBoard:
    """What limits the length of a board at one machine."""

    machine: str
    length: float
    """[m]"""
    before: str
    """What ends the way before the cutter, empty where nothing does."""
    behind: str
    through: tuple[str, ...]
    """Doors and windows that a board of this length reaches into, and that have to be open."""


Stop = tuple[float, float, str]
"""From, to along the feed from the blade [m], whose."""


def longest_boards(scene: Scene) -> Iterator[LongestBoard]:
    """Every machine that stands somewhere and has work fed through it."""
    for thing in scene.shop.things:
        if thing.cutter is not None and scene.layout.pose(thing.name) is not None:
            yield longest_board(scene, thing, thing.cutter)


def longest_board(scene: Scene, thing: Thing, cutter: Cutter) -> LongestBoard:
    """The longest board with its pusher before the machine and its push-through behind.

    A person cannot stand in a wall, so the tail may have to stop short of a door and the person
    stand on this side of it, or go on until they stand outside.
    """
    rules = scene.shop.rules
    stand, push = rules.value("feed-standing-room"), rules.value("feed-push-through")
    board = affine(rules.value("board-width") / 2)
    person = pusher(cutter, -board, board, affine(rules.value("standing-width")))
    table = cutter.table.value
    lane = _strip(scene, thing, cutter, -board, board)
    heights = (table, table + rules.value("board-thickness"))
    stops = list(_stops(scene, thing, cutter, lane, heights))
    front, back = cutter.front.value, cutter.back.value
    behind = min(((a, name) for a, b, name in stops if b > back), default=(LOOK, ""))
    before = min(((-b, name) for a, b, name in stops if a < -front), default=(LOOK, ""))
    tail = min(before[0], front + max(behind[0] - back - push, 0.0))
    limit = before[1] if before[0] <= tail + TOLERANCE else ""
    body = _strip(scene, thing, cutter, *person)
    people = list(_stops(scene, thing, cutter, body, (0.0, rules.value("person-height"))))
    for near, far, name in sorted((-b, -a, n) for a, b, n in people if a < -front)[::-1]:
        if near - stand + TOLERANCE < tail < far - TOLERANCE:
            tail, limit = near - stand, name
    length = max(tail - front, 0.0)
    reached = _strip_between(scene, thing, cutter, -board, board, -tail, back + length + push)
    return LongestBoard(
        thing.name, length, limit,
        behind[1] if length + TOLERANCE >= behind[0] - back - push else "",
        tuple(_openings_in(scene.shop, reached)),
    )  # fmt: skip


def _frame(scene: Scene, thing: Thing) -> Frame:
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    return frame_of(thing, pose)


def _strip(scene: Scene, thing: Thing, cutter: Cutter, left: Affine, right: Affine) -> Polygon:
    return _strip_between(scene, thing, cutter, left, right, -LOOK, LOOK)


def _strip_between(
    scene: Scene,
    thing: Thing,
    cutter: Cutter,
    left: Affine,
    right: Affine,
    start: float,
    end: float,
) -> Polygon:
    box = feed_box(cutter, affine(start), affine(end), left, right)
    return Polygon(_frame(scene, thing).place(box).points)


def _stops(
    scene: Scene, thing: Thing, cutter: Cutter, strip: Polygon, band: tuple[float, float]
) -> Iterator[Stop]:
    """Where solids and walls cross a strip at some heights, along the feed from the blade."""
    frame = _frame(scene, thing)
    x, y = frame.point(cutter.x, cutter.y)
    blade, way = np.array([x.value, y.value]), np.array(frame.heading(*_AHEAD[cutter.feed]))
    task = next((t.name for t in scene.shop.tasks_using(thing.name)), AT_REST)
    for element in scene.solids(task):
        own = element.owner == thing.name and not element.blocks_feed
        if not own and element.volume.in_band(*band):
            yield from _crossings(element.volume.polygon, strip, blade, way, element.owner)
    for name, shape in _walls(scene.shop, band):
        yield from _crossings(shape, strip, blade, way, name)


def _crossings(
    shape: BaseGeometry, strip: Polygon, blade: Array, way: Array, name: str
) -> Iterator[Stop]:
    common = shape.intersection(strip)
    for part in getattr(common, "geoms", [common]):
        if part.geom_type == "Polygon" and part.area > TOLERANCE**2:
            reach = (np.asarray(part.exterior.coords) - blade) @ way
            if np.ptp(reach) > TOLERANCE:
                yield float(reach.min()), float(reach.max()), name


def _walls(shop: Shop, band: tuple[float, float]) -> Iterator[tuple[str, BaseGeometry]]:
    """Walls at some heights, all doors open and windows left out where the heights pass them."""
    holes = [
        Polygon(_window_box(shop, window).points)
        for window in shop.windows
        if window.sill.value <= band[0] + TOLERANCE and window.head.value >= band[1] - TOLERANCE
    ]
    for piece in building.opened_walls(shop, tuple(door.name for door in shop.doors)):
        if piece.volume.in_band(*band):
            shape: BaseGeometry = piece.volume.polygon
            for hole in holes:
                shape = shape.difference(hole)
            yield piece.wall, shape


def _window_box(shop: Shop, window: Window) -> Outline:
    line = building.frame(shop.room.wall(window.wall))
    thick = shop.room.wall_thickness.value
    return line.box(window.start, window.start + window.width, 0.01, -(thick + 0.01))


def _openings_in(shop: Shop, strip: Polygon) -> Iterable[str]:
    for door in shop.doors:
        if building.doorway(shop, door).intersection(strip).area > TOLERANCE:
            yield door.name
    for window in shop.windows:
        if Polygon(_window_box(shop, window).points).intersection(strip).area > TOLERANCE:
            yield window.name
