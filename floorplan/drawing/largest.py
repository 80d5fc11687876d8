"""Largest sizes drawn over the plan, and the frontier of width against depth."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from shapely.geometry import Polygon

from floorplan.checks.judge import judge
from floorplan.drawing.arrangement import COLUMN
from floorplan.drawing.canvas import Plan
from floorplan.drawing.column import Row, heading, paragraph, table
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.sheets import plan_sheet
from floorplan.drawing.style import (
    BLUE,
    GREEN,
    MEDIUM,
    ORANGE,
    PURPLE,
    SMALL_SIZE,
    VERMILLION,
    drawing_defaults,
)
from floorplan.geometry.affine import rotation
from floorplan.search.largest import Largest, Size
from floorplan.units import System, format_length

INKS = (BLUE, GREEN, PURPLE, ORANGE, VERMILLION)
DASHES = ((6.0, 3.0), (2.0, 2.0), (9.0, 3.0, 2.0, 3.0), (12.0, 3.0), (4.0, 1.5))
"""Sizes differ by dashes and by letter, not by colour alone."""


def largest_sheet(
    found: Largest, out_dir: str | Path, name: str, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """The plan as it stands with every largest size over it. Raises OSError."""
    return save(largest_page(found), Path(out_dir) / name, formats)


@drawing_defaults()
def largest_page(found: Largest) -> Page:
    """The sheet, not yet saved."""
    judged = judge(found.shop, found.layout)
    subject = f"Largest sizes of {found.thing}"
    page, plan = plan_sheet(judged, subject=subject, lead=_rows(found))
    for i, size in enumerate(found.sizes):
        _draw_size(plan, size, i)
    return page


def _rows(found: Largest) -> list[Row]:
    system = found.shop.system
    rows: list[Row] = [heading(f"How big {found.thing} can be")]
    if not found.sizes:
        return [*rows, *paragraph("No size fits.", COLUMN)]
    if not found.reserve:
        rows += paragraph("As drawn only: less to spare than the tape may be off.", COLUMN)
    cells = [("", "wide", "deep", "deeper it meets")]
    for i, size in enumerate(found.sizes):
        wide, deep = _length(size.width, system), _length(size.depth, system)
        cells.append((letter(i), wide, deep, "; ".join(size.stopped_by)))
    rows += table(cells, (6.0, 18.0, 18.0, COLUMN - 42.0), size=SMALL_SIZE)
    if found.edges:
        grows = [
            (edge.side, _length(edge.grows, system), "; ".join(edge.stopped_by))
            for edge in found.edges
        ]
        rows += table(
            [("side", "grows", "stopped by"), *grows], (14.0, 18.0, COLUMN - 32.0), size=SMALL_SIZE
        )
    return rows


def letter(index: int) -> str:
    """Letter of a size, A being the narrowest."""
    return chr(ord("A") + index)


def _length(metres: float, system: System) -> str:
    return format_length(metres, system, rounding="down")


def _draw_size(plan: Plan, size: Size, index: int) -> None:
    corners = rotation(size.turn)
    local = [(0.0, 0.0), (size.width, 0.0), (size.width, size.depth), (0.0, size.depth)]
    points = [corners @ point for point in local]
    low_x, low_y = min(p[0] for p in points), min(p[1] for p in points)
    outline = Polygon([(p[0] - low_x + size.x, p[1] - low_y + size.y) for p in points])
    ink, dashes = INKS[index % len(INKS)], DASHES[index % len(DASHES)]
    plan.page.area(
        plan.shape(outline), edge=ink, width=MEDIUM * 1.5, dashes=dashes, z=7.0,
        gid=f"size {letter(index)}",
    )  # fmt: skip
    x, y = plan.to_paper(*outline.exterior.coords[0])
    plan.page.text(x + 1.2 + 4.0 * index, y + 1.2, letter(index), bold=True, colour=ink, z=21.0)
