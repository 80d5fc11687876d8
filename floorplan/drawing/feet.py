"""A map of levelling feet: each foot where it stands, with the length to set it to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from shapely import Point

from floorplan.checks.feet import FeetAnswer, Foot
from floorplan.drawing.arrangement import COLUMN, RATIOS, Arrangement, Printing, choose
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.column import Row, flow, paragraph, set_text, table
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.one_plan import plan_within, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import beside
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
from floorplan.units import format_length

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
    system = answer.shop.system
    rows = title_rows(head, ALERT if answer.verdict == "fails" else BLACK)
    cells: list[tuple[str, ...]] = [("foot", "set to", "shim", "floor")]
    for foot in answer.feet:
        lengths = (foot.length, foot.shim, foot.floor.value)
        cells.append((str(foot.number), *(format_length(v, system) for v in lengths)))
    rows.extend(table(cells, (12.0, 22.0, 22.0, 22.0), right=frozenset((1, 2, 3))))
    for sentence in sentences:
        rows.extend(paragraph(sentence, COLUMN, before=0.8))
    return rows


def draw_feet(plan: Plan, answer: FeetAnswer) -> None:
    """Both bodies, and each foot with what to set it to."""
    page, scene = plan.page, plan.scene
    for name in _names(scene, answer):
        body = scene.things[name][0].volume.polygon
        face = FURNITURE_FACE if name == answer.thing.name else MACHINE_FACE
        page.area(plan.shape(body), face=face, width=MEDIUM, z=3.0, gid=f"thing: {name}")
        label = Label((name,), NAME_SIZE, bold=1)
        x, y = plan.box(body).centre
        page.text(x, y, label.lines[0], size=NAME_SIZE, bold=True, ha="center", middle=True)
    for foot in answer.feet:
        _draw_foot(plan, foot)


def _draw_foot(plan: Plan, foot: Foot) -> None:
    colour = ALERT if foot.verdict == "fails" else BLACK
    spot = plan.shape(Point(foot.x.value, foot.y.value).buffer(FOOT_RADIUS))
    plan.page.area(
        spot, face=colour if foot.shim > 0 else "none", edge=colour, width=THIN, z=6.0,
        gid=f"foot {foot.number}",
    )  # fmt: skip
    lines = [f"{foot.number}: {format_length(foot.length, plan.system)}"]
    if foot.shim > 0:
        lines.append(f"+ shim {format_length(foot.shim, plan.system)}")
    label = Label(tuple(lines), NAME_SIZE, bold=1)
    box = plan.box(Point(foot.x.value, foot.y.value).buffer(FOOT_RADIUS))
    place = plan.placer.find(beside(box, *label.extent, reach=25.0))
    if place is not None:
        plan.write(label, place, colour=colour)
