"""The order of moves as a strip of small plans, one for each step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, dist
from pathlib import Path

from shapely import Point, Polygon

from floorplan.checks.finding import amount
from floorplan.drawing.arrangement import COLUMN, GUTTER, TITLE_HEIGHT, papers
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.carry import strobe
from floorplan.drawing.column import Cell, Row, flow, paragraph
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.equipment import draw_equipment
from floorplan.drawing.page import FORMATS, MARGIN, Page, save
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import place_plan
from floorplan.drawing.room import draw_room
from floorplan.drawing.style import (
    BLACK,
    BLUE,
    HEAD_SIZE,
    LIGHT,
    MEDIUM,
    WHITE,
    drawing_defaults,
    tint,
)
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.motion.turning import outline_at
from floorplan.search.relocation import Relocation, Step
from floorplan.shop.scene import scene
from floorplan.units import System

RATIOS = {
    System.IMPERIAL: (16, 24, 32, 48, 64, 96, 128),
    System.METRIC: (20, 25, 50, 75, 100, 125),
}
CAPTION = 13.0
"""Height of the words below each plan [mm]."""
AIR = 4.0
"""Free room round a small plan [mm]."""
_FACE = 0.10
_HEAD = 2.6  # length of an arrow's head [mm]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A sheet one way up [mm]."""

    width: float
    height: float
    title: Box
    foot: Box
    area: Box
    """For the plans."""

    @classmethod
    def of(cls, width: float, height: float, texts: Sequence[str]) -> _Sheet:
        """Title and cautions below, the plans above [mm]."""
        title = Box(width - MARGIN - COLUMN, MARGIN, width - MARGIN, MARGIN + TITLE_HEIGHT)
        right = title.left - GUTTER
        foot = Box(MARGIN, MARGIN, right, MARGIN + foot_height(texts, right - MARGIN))
        area = Box(MARGIN, max(title.top, foot.top) + 3.0, width - MARGIN, height - MARGIN)
        return cls(width, height, title, foot, area)


@dataclass(frozen=True, slots=True)
class _Strip:
    """How the small plans are set."""

    ratio: int
    columns: int
    rows: int
    cell: tuple[float, float]
    pitch: float
    """From one row to the next: the rows spread over the height [mm]."""


def moves_sheets(
    found: Relocation, out_dir: str | Path, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """All steps, as many to a sheet as are readable: `moves.svg`, `moves-2.svg`.  Raises OSError.

    Raises ValueError where the building is too large for a small plan.
    """
    files: tuple[Path, ...] = ()
    for i, page in enumerate(moves_pages(found), 1):
        name = "moves" if i == 1 else f"moves-{i}"
        files += save(page, Path(out_dir) / name, formats)
    return files


@drawing_defaults()
def moves_pages(found: Relocation) -> tuple[Page, ...]:
    """The sheets, not yet saved; none without steps."""
    shop = found.shop
    made = scene(shop, found.today)
    texts = caution_texts(made)
    paper = papers(shop.system)[0]
    ways = ((paper.height, paper.width), (paper.width, paper.height))
    sheet_ways = [_Sheet.of(*way, texts) for way in ways]
    made_of, strip = _strip(found, sheet_ways)
    width, height, title, foot, area = (
        made_of.width, made_of.height, made_of.title, made_of.foot, made_of.area
    )  # fmt: skip
    each = strip.columns * strip.rows
    sheets = ceil(len(found.steps) / each)
    pages = []
    for sheet in range(sheets):
        page = Page(width, height, f"{shop.name}: order of moves {sheet + 1}")
        for i, step in enumerate(found.steps[sheet * each : (sheet + 1) * each]):
            _draw_cell(page, found, strip, area, (sheet * each + i + 1, i), step)
        draw_title(
            page, Title("Order of moves", shop, paper.name, strip.ratio, sheet + 1, sheets), title
        )
        draw_foot(page, foot, strip.ratio, shop.system, texts)
        pages.append(page)
    return tuple(pages)


def _strip(found: Relocation, sheets: Sequence[_Sheet]) -> tuple[_Sheet, _Strip]:
    """The largest scale at which all steps are on one sheet, else the smallest on several.

    Where both ways up take them, that with fewer places left empty.
    """
    bounds = [drawn_bounds(scene(found.shop, step.before)) for step in found.steps]
    bounds += [p.bounds for step in found.steps for p in _outlines(step)]
    wide = max(b[2] for b in bounds) - min(b[0] for b in bounds)
    deep = max(b[3] for b in bounds) - min(b[1] for b in bounds)
    last: list[tuple[_Sheet, _Strip]] = []
    for ratio in RATIOS[found.shop.system]:
        made = [(s, _set_out(s.area, ratio, wide, deep, len(found.steps))) for s in sheets]
        last = [(s, strip) for s, strip in made if strip is not None] or last
        whole = [m for m in last if m[1].columns * m[1].rows >= len(found.steps)]
        if whole:
            return min(whole, key=lambda m: m[1].columns * m[1].rows)
    if not last:
        raise ValueError("the building is too large for a small plan")
    return max(last, key=lambda m: m[1].columns * m[1].rows)


def _set_out(area: Box, ratio: int, wide: float, deep: float, steps: int) -> _Strip | None:
    """Plans of a size [m] in rows and columns, no more rows than are needed; None: none fits."""
    cell = wide * 1000.0 / ratio + AIR, deep * 1000.0 / ratio + AIR
    columns = int((area.width + GUTTER) // (max(cell[0], 40.0) + GUTTER))
    rows = int((area.height + GUTTER) // (cell[1] + CAPTION + GUTTER))
    if columns < 1 or rows < 1:
        return None
    rows = min(rows, ceil(steps / columns))
    columns = min(columns, ceil(steps / rows))
    across = (area.width - (columns - 1) * GUTTER) / columns
    return _Strip(ratio, columns, rows, (across, cell[1]), (area.height + GUTTER) / rows)


def _outlines(step: Step):  # type: ignore[no-untyped-def]
    body = step.passage.mobile.body(None)
    return [outline_at(body, pose) for pose in step.passage.path]


def _draw_cell(
    page: Page, found: Relocation, strip: _Strip, area: Box, place: tuple[int, int], step: Step
) -> None:
    position, index = place
    row, column = divmod(index, strip.columns)
    left = area.left + column * (strip.cell[0] + GUTTER)
    top = area.top - row * strip.pitch
    middle = (left + strip.cell[0] / 2, top - strip.cell[1] / 2)
    plan = place_plan(page, scene(found.shop, step.before), middle, strip.ratio)
    draw_room(plan)
    draw_equipment(plan, details=False)
    _draw_step(plan, step)
    below = Box(left, top - strip.cell[1] - CAPTION, left + strip.cell[0], top - strip.cell[1])
    flow(_caption(found, position, step, strip.cell[0]), [below]).draw(page)


def _caption(found: Relocation, position: int, step: Step, width: float) -> list[Row]:
    parked = ", to wait" if step.parked else ""
    far = amount(found.shop, step.passage.length, "up")
    spare = amount(found.shop, step.spare.margin, "down")
    sides = " then ".join(s.side for s in step.passage.stretches if s.side is not None)
    somebody = f", somebody at its {sides}" if sides else ""
    head = Row((Cell(f"{position}  {step.thing}{parked}", bold=True),), HEAD_SIZE)
    return [head, *paragraph(f"{far}{somebody}; {spare} to spare all round", width)]


def _draw_step(plan: Plan, step: Step) -> None:
    """Hatched where it stands, solid where it goes, what is passed over, and with whom."""
    page = plan.page
    alone = step.passage.mobile.body(None)
    for stretch in step.passage.stretches:
        for pose in strobe(stretch.body, stretch.path, 0.6):
            page.area(
                plan.shape(outline_at(stretch.body, pose)), face=BLUE, edge="none", width=0.0,
                alpha=_FACE, z=9.0,
            )  # fmt: skip
    path = step.passage.path
    start, end = (plan.shape(outline_at(alone, pose)) for pose in (path[0], path[-1]))
    page.area(start, face=WHITE, edge=BLUE, width=LIGHT, hatch="////", z=9.2)
    page.area(end, face=tint(BLUE, 0.55), edge=BLUE, width=MEDIUM, z=9.3)
    points = [plan.to_paper(p.x, p.y) for p in path]
    page.line(points, width=MEDIUM, z=9.5, gid=f"path: {step.thing}")
    page.area(Point(points[0]).buffer(0.7), face=BLACK, edge="none", width=0.0, z=9.6)
    head = _arrow_head(points)
    if head is not None:
        page.area(head, face=BLACK, edge="none", width=0.0, z=9.6)


def _arrow_head(points: Sequence[tuple[float, float]]) -> Polygon | None:
    """At the end of a way, as the last leg points [mm]; None for a turn on the spot."""
    (x, y) = points[-1]
    for a, b in reversed(points[:-1]):
        far = dist((a, b), (x, y))
        if far > 0.5:
            along, up = (x - a) / far * _HEAD, (y - b) / far * _HEAD
            back = x - along, y - up
            return Polygon([
                (x, y), (back[0] - up / 3, back[1] + along / 3),
                (back[0] + up / 3, back[1] - along / 3),
            ])  # fmt: skip
    return None
