"""A sheet with one plan on it: the plan in its middle, a column of text, room kept for a chart."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from floorplan.drawing.arrangement import BAND, COLUMN, RULER, Arrangement, Printing, choose
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.column import Row, flow, heading, set_text
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.lettering import wrapped
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import EDGE, Detail, draw_plan
from floorplan.drawing.style import BLACK, HEAD_SIZE
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.shop.scene import Scene

SHOWN = Detail(zones=False, corners=False, ruler=False)
Bounds = tuple[float, float, float, float]
"""West, south, east, north [m]."""


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn at the head of the first column, above the text."""

    height: float
    """Kept for it [mm]."""
    draw: Callable[[Page, Box], None]


@dataclass(frozen=True, slots=True)
class OnePlan:
    """What stands on a sheet of one plan."""

    subject: str
    """In the title."""
    heading: str
    """The subject as the document is called."""
    bounds: Bounds
    rows: Sequence[Row]
    draw: Callable[[Plan], None]
    """Over the plan of the shop."""
    chart: Chart | None = None


def one_plan_page(
    scene: Scene, made: OnePlan, sheet: int = 1, of: int = 1, printing: Printing | None = None
) -> Page:
    """The sheet, not yet saved.  Raises ValueError where no paper is large enough."""
    shop, texts, rows = scene.shop, caution_texts(scene), made.rows
    west, south, east, north = made.bounds
    high = 0.0 if made.chart is None else made.chart.height

    def fits(arrangement: Arrangement) -> bool:
        columns = arrangement.columns
        if made.chart is not None:
            if not columns or columns[0].height < high:
                return False
            columns = below(columns, high)
        return flow(rows, columns).left_over == 0

    where = choose(
        east - west, north - south, shop.system, partial(foot_height, texts), fits, printing,
        chart=high,
    )  # fmt: skip
    page = Page(where.width, where.height, f"{shop.name}: {made.heading}")
    plan = plan_within(page, scene, where, made.bounds)
    draw_plan(plan, detail=SHOWN)
    made.draw(plan)
    columns = where.columns
    if made.chart is not None and columns and columns[0].height >= high:
        made.chart.draw(page, columns[0])
        columns = below(columns, high)
    set_text(page, rows, columns, goes_on=printing is not None)
    draw_title(page, Title(made.subject, shop, where.paper, where.ratio, sheet, of), where.title)
    draw_foot(page, where.foot, where.ratio, shop.system, texts)
    return page


def bounds_with(scene: Scene, others: Iterable[Sequence[float]]) -> Bounds:
    """The building and the bounds of what is drawn over it [m]."""
    boxes = np.array([drawn_bounds(scene), *others])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def below(columns: Sequence[Box], height: float) -> tuple[Box, ...]:
    """Columns of which the first has given up so much at its head [mm]."""
    first = columns[0]
    return (Box(first.left, first.bottom, first.right, first.top - height), *columns[1:])


def plan_within(page: Page, scene: Scene, where: Arrangement, bounds: Bounds) -> Plan:
    """An empty plan of some bounds [m] in the middle of a sheet's plan area."""
    west, south, east, north = bounds
    unit = 1000.0 / where.ratio
    middle = (
        (where.plan.left + RULER + where.plan.right - BAND) / 2,
        (where.plan.bottom + RULER + where.plan.top - BAND) / 2,
    )
    origin = (middle[0] - (west + east) / 2 * unit, middle[1] - (south + north) / 2 * unit)
    view = Box(
        origin[0] + west * unit, origin[1] + south * unit,
        origin[0] + east * unit, origin[1] + north * unit,
    )  # fmt: skip
    return Plan(page, scene, where.ratio, origin, view.grown(EDGE))


def title_rows(title: str, colour: str = BLACK) -> list[Row]:
    """A heading that may take several lines."""
    lines = wrapped(title, COLUMN, HEAD_SIZE, bold=True)
    first = heading(lines[0], colour)
    return [first, *(replace(heading(line, colour), before=0.0) for line in lines[1:])]
