"""What to tape on the floor: two corners of each thing from two walls, diagonals as a check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import hypot
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from shapely import Point

from floorplan.drawing.arrangement import COLUMN, Arrangement, Printing, choose
from floorplan.drawing.canvas import Label, Plan, drawn_bounds
from floorplan.drawing.column import Row, flow, heading, paragraph, set_text, table
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.one_plan import plan_within
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import beside
from floorplan.drawing.plan import Detail, draw_plan
from floorplan.drawing.style import BLACK, FINE, SMALL_SIZE, drawing_defaults
from floorplan.drawing.tape import Reading, reading_words, readings_at
from floorplan.drawing.tape_points import drops, hole_words, outlets, point_words, wall_holes
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.shop.model import PLACES, Pose, Room, Shop, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import System, format_length

Array = NDArray[np.float64]
SHOWN = Detail(zones=False, parts=False, sizes=False, corners=False, ruler=False)
DOT = 0.015
"""Radius of the mark at a corner [m]."""


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of a body."""

    name: str
    """`A` or `B`."""
    at: tuple[float, float]
    """[m]"""
    across: Reading
    """From a west or east wall."""
    up: Reading
    """From a south or north wall."""


@dataclass(frozen=True, slots=True)
class Taped:
    """How to tape one thing."""

    number: int
    """In the order of taping, from 1."""
    thing: str
    place: str
    corners: tuple[Corner, Corner]
    """A, and B at the other end of the longest side from it."""
    side: float
    """From A to B [m]."""
    diagonals: tuple[float, float]
    """From A, and from B, to the corner of the body farthest from it [m]."""


def taped(scene: Scene) -> tuple[Taped, ...]:
    """Everything that stands, what is nearest to its two walls first.

    So one works from the walls to the middle.
    """
    rows = []
    for thing in scene.shop.things:
        for place in PLACES:
            pose = scene.layout.pose(thing.name, place)
            if pose is not None:
                rows.append((thing.name, place, *_corners(scene.shop.room, thing, pose)))

    def near(row: tuple[str, str, tuple[Corner, Corner], float, tuple[float, float]]) -> float:
        first = row[2][0]
        return first.across.distance + first.up.distance

    rows.sort(key=near)
    return tuple(Taped(number, *row) for number, row in enumerate(rows, 1))


def _corners(
    room: Room, thing: Thing, pose: Pose
) -> tuple[tuple[Corner, Corner], float, tuple[float, float]]:
    points = frame_of(thing, pose).place(thing.body).points
    count = len(points)
    readings = [readings_at(room, (float(x), float(y))) for x, y in points]
    a = min(range(count), key=lambda i: sum(reading.distance for reading in readings[i]))
    b = max(((a - 1) % count, (a + 1) % count), key=lambda i: _apart(points, a, i))
    corners = tuple(
        Corner(name, (float(points[i][0]), float(points[i][1])), *readings[i])
        for name, i in (("A", a), ("B", b))
    )
    farthest = tuple(max(_apart(points, i, j) for j in range(count)) for i in (a, b))
    return (corners[0], corners[1]), _apart(points, a, b), (farthest[0], farthest[1])


def _apart(points: Array, i: int, j: int) -> float:
    return hypot(*(points[i] - points[j]))


# --- words and drawing -------------------------------------------------------------------------


def tape_sheet(
    scene: Scene, out_dir: str | Path, name: str, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """The tape sheet: `out_dir/name.svg` and so on. Raises OSError."""
    return save(tape_page(scene), Path(out_dir) / name, formats)


@drawing_defaults()
def tape_page(scene: Scene, printing: Printing | None = None) -> Page:
    """The tape sheet, not yet saved."""
    shop = scene.shop
    rows_of = taped(scene)
    rows = [*_rows(rows_of, shop.system), *_point_rows(shop)]
    west, south, east, north = drawn_bounds(scene)
    texts = caution_texts(scene)

    def fits(arrangement: Arrangement) -> bool:
        return flow(rows, arrangement.columns).left_over == 0

    where = choose(
        east - west, north - south, shop.system, partial(foot_height, texts), fits, printing
    )
    page = Page(where.width, where.height, f"{shop.name}: tape sheet")
    plan = plan_within(page, scene, where, (west, south, east, north))
    draw_plan(plan, detail=SHOWN)
    for row in rows_of:
        _mark(plan, row)
    _mark_points(plan)
    set_text(page, rows, where.columns, goes_on=printing is not None)
    of = 1 if printing is None else 0
    draw_title(page, Title("Tape sheet", shop, where.paper, where.ratio, of=of), where.title)
    draw_foot(page, where.foot, where.ratio, shop.system, texts)
    return page


def _rows(rows_of: Sequence[Taped], system: System) -> list[Row]:
    rows = [heading("To tape on the floor, in this order")]
    rows += paragraph(
        "Two corners of each from two walls, square to the walls. Then check the side from A to B "
        "and the diagonals, from A and from B to the farthest corner.", COLUMN,
    )  # fmt: skip
    for row in rows_of:
        name = row.thing if row.place == "standing" else f"{row.thing}, {row.place}"
        rows.append(heading(f"{row.number}  {name}"))
        cells: list[tuple[str, ...]] = [("corner", "across", "up")]
        for corner in row.corners:
            words = (reading_words(r, system) for r in (corner.across, corner.up))
            cells.append((f"{row.number}{corner.name}", *words))
        rows += (replace(line, keep=True) for line in table(cells, (12.0, 35.0, 35.0)))
        side, first, second = (format_length(v, system) for v in (row.side, *row.diagonals))
        rows += paragraph(f"check: side {side}, diagonals {first} and {second}", COLUMN)
    return rows


def point_lists(shop: Shop) -> Iterator[tuple[str, list[tuple[str, tuple[float, float], str]]]]:
    """Headings, and under each the short name, the point [m] and the words of each mark."""
    system = shop.system
    yield (
        "Holes in walls",
        [(f"H{i}", hole.at, hole_words(hole, shop)) for i, hole in enumerate(wall_holes(shop), 1)],
    )
    for title, letter, points in (
        ("Drops of duct", "D", drops(shop)), ("Outlets", "E", outlets(shop)),
    ):  # fmt: skip
        yield (
            title,
            [(f"{letter}{i}", p.at, point_words(p, system)) for i, p in enumerate(points, 1)],
        )


def _point_rows(shop: Shop) -> list[Row]:
    rows: list[Row] = []
    for title, marks in point_lists(shop):
        if marks:
            rows.append(heading(title))
        for mark, _, words in marks:
            rows += paragraph(f"{mark}  {words}", COLUMN, before=0.3)
    return rows


def _mark(plan: Plan, row: Taped) -> None:
    for corner in row.corners:
        name = f"{row.number}{corner.name}"
        _dot(plan, corner.at, name, f"corner {name}: {row.thing}")


def _mark_points(plan: Plan) -> None:
    for title, marks in point_lists(plan.scene.shop):
        for mark, at, _ in marks:
            _dot(plan, at, mark, f"{title.lower()}: {mark}")


def _dot(plan: Plan, at: tuple[float, float], name: str, gid: str) -> None:
    spot = Point(at).buffer(DOT)
    plan.page.area(plan.shape(spot), face=BLACK, width=FINE, z=8.0, gid=gid)
    label = Label((name,), SMALL_SIZE, bold=1)
    place = plan.placer.find(beside(plan.box(spot), *label.extent, reach=12.0))
    if place is not None:
        plan.write(label, place)
