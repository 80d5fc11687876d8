"""A map of levelling feet: each foot where it stands, with the length to set it to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from pathlib import Path

import shapely
from shapely import LineString, Point, Polygon

from floorplan.checks.feet import FeetAnswer, Foot
from floorplan.drawing.arrangement import COLUMN, RATIOS, Arrangement, Printing, choose
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.column import Row, flow, paragraph, set_text, table
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.one_plan import plan_within, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import Box, beside
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    FURNITURE_FACE,
    MACHINE_FACE,
    MEDIUM,
    NAME_SIZE,
    THIN,
    drawing_defaults,
)
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.shop.scene import Scene
from floorplan.units import System, format_length

AROUND = 0.25
"""Shown beyond the two things [m]."""
FOOT_RADIUS = 0.02


def feet_sheet(
    scene: Scene,
    answer: FeetAnswer,
    head: str,
    sentences: Sequence[str],
    out_dir: str | Path,
    name: str,
    *,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """The map on one sheet, `head` and `sentences` beside it. Raises OSError."""
    return save(feet_page(scene, answer, head, sentences), Path(out_dir) / name, formats)


@drawing_defaults()
def feet_page(
    scene: Scene,
    answer: FeetAnswer,
    head: str,
    sentences: Sequence[str],
    printing: Printing | None = None,
) -> Page:
    """The map on one sheet, not yet saved; as large as the paper takes it."""
    if printing is not None:
        printing = replace(printing, ratio=RATIOS[answer.shop.system][0])
    shop = answer.shop
    rows = _rows(answer, head, sentences)
    west, south, east, north = feet_bounds(scene, answer)
    texts = caution_texts(scene)

    def fits(arrangement: Arrangement) -> bool:
        return flow(rows, arrangement.columns).left_over == 0

    where = choose(
        east - west, north - south, shop.system, partial(foot_height, texts), fits, printing
    )
    subject = f"Feet of {answer.thing.name}"
    page = Page(where.width, where.height, f"{shop.name}: {subject}")
    plan = plan_within(page, scene, where, (west, south, east, north))
    draw_feet(plan, answer)
    set_text(page, rows, where.columns, goes_on=printing is not None)
    of = 1 if printing is None else 0
    draw_title(page, Title(subject, shop, where.paper, where.ratio, of=of), where.title)
    draw_foot(page, where.foot, where.ratio, shop.system, texts)
    return page


def feet_bounds(scene: Scene, answer: FeetAnswer) -> tuple[float, float, float, float]:
    """The two things and a little around them [m]."""
    bodies = [scene.things[n][0].volume.bounds for n in _names(scene, answer)]
    west, south = (min(b[i] for b in bodies) - AROUND for i in (0, 1))
    east, north = (max(b[i] for b in bodies) + AROUND for i in (2, 3))
    return west, south, east, north


def _names(scene: Scene, answer: FeetAnswer) -> tuple[str, ...]:
    """The thing, and what it is levelled with where that stands."""
    names = (answer.thing.name, answer.other.name)
    return tuple(name for name in names if name in scene.things)


def _rows(answer: FeetAnswer, head: str, sentences: Sequence[str]) -> list[Row]:
    system, known = answer.shop.system, answer.shop.measurements
    rows = title_rows(head, ALERT if answer.verdict == "fails" else BLACK)
    cells: list[tuple[str, ...]] = [("foot", "set to", "needed", "±", "shim", "floor")]
    for foot in answer.feet:
        set_to, needed, floor = (
            format_length(v, system) for v in (foot.length, foot.needed.value, foot.floor.value)
        )
        error = format_length(foot.needed.error(known), system, rounding="up")
        cells.append((str(foot.number), set_to, needed, error, _shim(foot, system), floor))
    rows.extend(table(cells, (9.0, 15.0, 17.0, 12.0, 15.0, 14.0), right=frozenset(range(1, 6))))
    for sentence in sentences:
        rows.extend(paragraph(sentence, COLUMN, before=0.8))
    return rows


def _shim(foot: Foot, system: System) -> str:
    if foot.shim > 0:
        return format_length(foot.shim, system)
    return "perhaps" if foot.reach == "unsure" else "none"


def draw_feet(plan: Plan, answer: FeetAnswer) -> None:
    """Both bodies, and each foot with what to set it to."""
    page, scene = plan.page, plan.scene
    for name in _names(scene, answer):
        body = scene.things[name][0].volume.polygon
        face = FURNITURE_FACE if name == answer.thing.name else MACHINE_FACE
        page.area(plan.shape(body), face=face, width=MEDIUM, z=3.0, gid=f"thing: {name}")
        inside = plan.box(body)
        label = Label((name,), NAME_SIZE, bold=1)
        if label.extent[0] > inside.width and inside.height > inside.width:
            label = replace(label, upright=True)
        x, y = inside.centre
        page.text(
            x, y, name, size=NAME_SIZE, bold=True, ha="center", middle=True,
            turn=90.0 if label.upright else 0.0,
        )  # fmt: skip
        plan.placer.taken.append(Box.about(x, y, *label.extent))
    edges = _edges(plan, answer)
    plan.placer.taken += [plan.box(_spot(foot)) for foot in answer.feet]
    for foot in answer.feet:
        _draw_foot(plan, foot, edges)


def _spot(foot: Foot) -> Polygon:
    return Point(foot.x.value, foot.y.value).buffer(FOOT_RADIUS)


def _edges(plan: Plan, answer: FeetAnswer) -> list[Box]:
    """Short pieces of the outlines, which labels are not to cross [mm]."""
    pieces = []
    for name in _names(plan.scene, answer):
        body = plan.scene.things[name][0].volume.polygon
        points = shapely.get_coordinates(shapely.segmentize(body.exterior, 0.05))
        ends = pairwise(points)
        pieces += [plan.box(LineString(two)).grown(0.2) for two in ends]
    return pieces


def _draw_foot(plan: Plan, foot: Foot, edges: Sequence[Box]) -> None:
    colour = ALERT if foot.verdict == "fails" else BLACK
    plan.page.area(
        plan.shape(_spot(foot)), face=colour if foot.shim > 0 else "none", edge=colour,
        width=THIN, z=6.0, gid=f"foot {foot.number}",
    )  # fmt: skip
    lines = [f"{foot.number}: {format_length(foot.length, plan.system)}"]
    if foot.shim > 0:
        lines.append(f"+ shim {format_length(foot.shim, plan.system)}")
    label = Label(tuple(lines), NAME_SIZE, bold=1)
    place = plan.placer.find(beside(plan.box(_spot(foot)), *label.extent, reach=25.0), busy=edges)
    if place is not None:
        plan.write(label, place, colour=colour)
