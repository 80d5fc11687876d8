"""The way of every cord on the floor, with the length that it takes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from floorplan.checks.cords import Reach
from floorplan.drawing.arrangement import Printing
from floorplan.drawing.canvas import Label, Plan, drawn_bounds
from floorplan.drawing.column import Row, table
from floorplan.drawing.one_plan import OnePlan, one_plan_page, title_rows
from floorplan.drawing.page import Page
from floorplan.drawing.placing import around
from floorplan.drawing.style import ALERT, BLUE, MEDIUM, SMALL_SIZE, drawing_defaults
from floorplan.shop.scene import Scene
from floorplan.units import format_length

SUBJECT = "Cords to the outlets"


def draw_cords(plan: Plan, ways: Iterable[Reach]) -> None:
    """Each cord from its plug to its outlet; straight and dashed where it cannot lie."""
    for way in ways:
        points = [plan.to_paper(x, y) for x, y in way.line.coords]
        shut = way.length.value == inf
        plan.page.line(
            points, width=MEDIUM, colour=ALERT if shut else BLUE, dashes=(3.0, 2.0) if shut else (),
            z=9.4, gid=f"cord: {way.thing}",
        )  # fmt: skip
        words = "no way" if shut else format_length(way.length.value, plan.system, rounding="up")
        label = Label((words,), SMALL_SIZE, bold=1)
        middle = way.line.interpolate(0.5, normalized=True)
        at = plan.to_paper(middle.x, middle.y)
        found = plan.placer.find(around(*at, *label.extent, first=0.8, reach=12.0))
        if found is not None:
            plan.write(label, found, colour=ALERT if shut else BLUE)


@drawing_defaults()
def cords_page(
    scene: Scene,
    ways: Sequence[Reach],
    tables: Sequence[tuple[str, Sequence[Sequence[str]]]],
    printing: Printing | None = None,
) -> Page:
    """One sheet with the cords and their tables, each a title with rows, not yet saved."""
    rows: list[Row] = []
    for title, cells in tables:
        rows += title_rows(title)
        rows += table([tuple(row) for row in cells], (30.0, 22.0, 15.0, 15.0)[: len(cells[0])])
    made = OnePlan(SUBJECT, SUBJECT, drawn_bounds(scene), rows, lambda plan: draw_cords(plan, ways))
    return one_plan_page(scene, made, of=0 if printing else 1, printing=printing)
