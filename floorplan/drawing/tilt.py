"""A piece turned upright where it is: its strip on the plan, and from the side what hangs above."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import cos, hypot, sin
from pathlib import Path

import numpy as np
from shapely import box as rectangle
from shapely.geometry import Polygon

from floorplan.checks.finding import amount
from floorplan.checks.tilting import Overhead, Tilt, overhead
from floorplan.drawing.arrangement import COLUMN, Printing
from floorplan.drawing.canvas import Plan
from floorplan.drawing.column import paragraph
from floorplan.drawing.one_plan import Chart, OnePlan, bounds_with, one_plan_page, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import Box
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    BLUE,
    HEAVY,
    LIGHT,
    MEDIUM,
    SMALL_SIZE,
    THIN,
    drawing_defaults,
    tint,
)
from floorplan.shop.scene import Scene

SIDE_VIEW = 78.0
"""Height kept for the view from the side [mm]."""
STAGES = 5
"""Positions of the piece drawn while it turns, both ends among them."""
ARC = 60
"""Corners of the drawn curve over the turn."""
Paper = Callable[[float, float], tuple[float, float]]
"""From along the piece and height [m] to the sheet [mm]."""


def tilt_sheet(
    scene: Scene,
    tilt: Tilt,
    sentences: Sequence[str],
    out_dir: str | Path,
    name: str,
    *,
    sheet: int = 1,
    of: int = 1,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """One turned piece on one sheet: `out_dir/name.svg` and so on.  Raises OSError."""
    return save(tilt_page(scene, tilt, sentences, sheet, of), Path(out_dir) / name, formats)


@drawing_defaults()
def tilt_page(
    scene: Scene,
    tilt: Tilt,
    sentences: Sequence[str],
    sheet: int = 1,
    of: int = 1,
    printing: Printing | None = None,
) -> Page:
    """One turned piece on one sheet, not yet saved."""
    rows = title_rows(f"{tilt.carry.piece} turned upright {tilt.stand.words}", _colour(tilt))
    for sentence in sentences:
        rows.extend(paragraph(sentence, COLUMN, before=0.8))

    def draw(plan: Plan) -> None:
        plan.page.area(
            plan.shape(tilt.strip.polygon), face=tint(_colour(tilt), 0.3), edge=_colour(tilt),
            width=MEDIUM, alpha=0.7, z=9.5, gid="strip of the turn",
        )  # fmt: skip

    subject = f"{tilt.carry.piece} turned upright"
    chart = Chart(SIDE_VIEW, lambda page, column: draw_side_view(page, scene, tilt, column))
    bounds = bounds_with(scene, [tilt.strip.bounds])
    one = OnePlan(subject, subject, bounds, rows, draw, chart)
    return one_plan_page(scene, one, sheet, of, printing)


def _colour(tilt: Tilt) -> str:
    return ALERT if tilt.margin.value < 0 else BLUE


def draw_side_view(page: Page, scene: Scene, tilt: Tilt, column: Box) -> None:
    """Along the piece from the corner that stays: the turn, its highest point, what is above."""
    shop, wanted = scene.shop, tilt.carry
    long, wide, low = wanted.length.value, wanted.width.value, tilt.low.value
    peak = low + hypot(long, wide)
    above = overhead(scene, tilt)
    top = max([peak, *(o.bottom for o in above if o.bottom < 2 * peak)]) * 1.06
    at = Box(column.left + 2.0, column.top - SIDE_VIEW + 12.0, column.right - 2.0, column.top - 8.0)
    unit = min(at.width / (long + wide), at.height / top)
    shift = (at.width - (long + wide) * unit) / 2

    def paper(along: float, height: float) -> tuple[float, float]:
        return at.left + shift + (along + long) * unit, at.bottom + height * unit

    page.text(column.left, column.top - 3.5, "The turn from the side", size=SMALL_SIZE)
    page.line([paper(-long, 0.0), paper(wide, 0.0)], width=HEAVY, gid="floor of the turn")
    for other in above:
        _draw_above(page, other, paper, top, limits=other.name == tilt.nearest.owner)
    for k in range(STAGES):
        page.area(
            _turned(long, wide, low, k / (STAGES - 1) * np.pi / 2, paper),
            edge=_colour(tilt), width=MEDIUM if k in (0, STAGES - 1) else THIN, z=9.5,
            gid=f"turn {k + 1}",
        )  # fmt: skip
    reach = hypot(long, wide)
    curve = [
        paper(x, low + (max(reach**2 - x**2, 0.0)) ** 0.5)
        for x in np.linspace(-long, wide, ARC).tolist()
    ]
    page.line(
        curve, width=MEDIUM, colour=_colour(tilt), dashes=(4.0, 2.0), z=9.6, gid="over the turn"
    )
    x, y = paper(0.0, peak)
    page.line([(x, paper(0.0, 0.0)[1]), (x, y)], width=LIGHT, dashes=(1.5, 1.5), z=9.4)
    words = f"{amount(shop, peak, 'up')} at its highest"
    page.text(x - 1.0, at.bottom + 1.0, words, size=SMALL_SIZE, ha="right")


def _draw_above(page: Page, other: Overhead, paper: Paper, top: float, *, limits: bool) -> None:
    """One thing in the strip, from the side."""
    left, bottom = paper(other.near, other.bottom)
    right, high = paper(other.far, min(other.top, top))
    colour = ALERT if limits else BLACK
    page.area(
        rectangle(left, bottom, max(right, left + 0.4), max(high, bottom + 0.4)),
        face=tint(colour, 0.3), edge=colour, width=LIGHT, z=9.0, gid=f"above: {other.name}",
    )  # fmt: skip
    down = bottom + 0.8 if high - bottom > 5.0 else bottom - 2.8
    page.text((left + right) / 2, down, other.name, size=SMALL_SIZE, ha="center", colour=colour)


def _turned(long: float, wide: float, low: float, turn: float, paper: Paper) -> Polygon:
    """The piece turned up by so much about its lower corner, on paper."""
    c, s = cos(turn), sin(turn)
    # lying, it reaches back from the corner that stays; it turns until that end stands on top
    corners = ((0.0, 0.0), (-long, 0.0), (-long, wide), (0.0, wide))
    return Polygon([paper(x * c + y * s, low - x * s + y * c) for x, y in corners])
