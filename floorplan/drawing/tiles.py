"""A plan too large for the paper at the scale wanted, on sheets that overlap."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from shapely import box as rectangle

from floorplan.drawing.arrangement import BAND, COLUMN, GUTTER, RULER, TITLE_HEIGHT, Printing
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.judged import Judged
from floorplan.drawing.notes import notes
from floorplan.drawing.page import MARGIN, Page
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import EDGE, draw_plan
from floorplan.drawing.style import LIGHT, NAME_SIZE, THIN, WHITE, drawing_defaults
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height

OVERLAP = 20.0
"""Shown on both of two neighbouring sheets [mm]."""
CROSS = 3.0
"""Arm of the marks at which sheets are laid over each other [mm]."""
BEHIND = 1e-3
"""What is drawn beyond the window is pushed behind the white frame round it."""


@dataclass(frozen=True, slots=True)
class Cut:
    """How a plan is cut into windows of one size [mm]."""

    window: Box
    """On each sheet."""
    across: int
    down: int
    foot: Box
    title: Box

    @property
    def step(self) -> tuple[float, float]:
        """From one window to the next."""
        return self.window.width - OVERLAP, self.window.height - OVERLAP


def cut_for(judged: Judged, printing: Printing) -> Cut:
    """The fewest upright sheets that take the plan. Raises ValueError on paper too small."""
    width, height = plan_extent(judged, printing.ratio)
    paper = printing.paper
    right = paper.width - MARGIN
    title = Box(right - COLUMN, MARGIN, right, MARGIN + TITLE_HEIGHT)
    foot_width = title.left - GUTTER - MARGIN
    foot_top = MARGIN + foot_height(caution_texts(judged.scene), foot_width)
    foot = Box(MARGIN, MARGIN, title.left - GUTTER, foot_top)
    window = Box(MARGIN, max(title.top, foot.top) + 4.0, right, paper.height - MARGIN - 4.0)
    if min(window.width, window.height) <= 2 * OVERLAP:
        raise ValueError(f"{paper.name} paper is too small to cut a plan into")

    def count(whole: float, one: float) -> int:
        return max(1, ceil((whole - OVERLAP) / (one - OVERLAP) - 1e-9))

    return Cut(window, count(width, window.width), count(height, window.height), foot, title)


def plan_extent(judged: Judged, ratio: float) -> tuple[float, float]:
    """Width and height of the whole plan with its ruler [mm]."""
    west, south, east, north = drawn_bounds(judged.scene)
    unit = 1000.0 / ratio
    return (east - west) * unit + RULER + BAND, (north - south) * unit + RULER + BAND


@drawing_defaults()
def tile_pages(judged: Judged, subject: str, printing: Printing) -> tuple[Page, ...]:
    """The plan at the scale wanted, row by row from the north-west; numbered with the set."""
    cut = cut_for(judged, printing)
    return tuple(
        _tile(judged, subject, printing, cut, row, column)
        for row in range(cut.down)
        for column in range(cut.across)
    )


def tile_name(row: int, column: int) -> str:
    """`B2`: second row from the north, second sheet from the west."""
    return f"{chr(ord('A') + row)}{column + 1}"


def _tile(
    judged: Judged, subject: str, printing: Printing, cut: Cut, row: int, column: int
) -> Page:
    scene, shop = judged.scene, judged.shop
    name = tile_name(row, column)
    page = Page(printing.paper.width, printing.paper.height, f"{shop.name}: {subject} {name}")
    plan = _plan(page, judged, printing.ratio, cut, row, column)
    draw_plan(plan, notes=notes(judged.findings, shop.system), findings=judged.findings)
    for artist in page.axes.get_children():
        artist.set_zorder(artist.get_zorder() * BEHIND)
    _frame(page, cut.window)
    _marks(page, cut, row, column)
    title = Title(f"{subject}, part {name}", shop, printing.paper.name, printing.ratio, of=0)
    draw_title(page, title, cut.title)
    draw_foot(page, cut.foot, printing.ratio, shop.system, caution_texts(scene))
    return page


def _plan(page: Page, judged: Judged, ratio: float, cut: Cut, row: int, column: int) -> Plan:
    """The whole plan, shifted so that this part of it lies in the window."""
    west, south, east, north = drawn_bounds(judged.scene)
    unit = 1000.0 / ratio
    origin = (
        cut.window.left - column * cut.step[0] + RULER - west * unit,
        cut.window.top + row * cut.step[1] - BAND - north * unit,
    )
    view = Box(
        origin[0] + west * unit, origin[1] + south * unit,
        origin[0] + east * unit, origin[1] + north * unit,
    )  # fmt: skip
    return Plan(page, judged.scene, ratio, origin, view.grown(EDGE))


def _frame(page: Page, window: Box) -> None:
    """White over everything beyond the window, and a line round it."""
    around = rectangle(-1.0, -1.0, page.width + 1.0, page.height + 1.0)
    inside = rectangle(window.left, window.bottom, window.right, window.top)
    page.area(around.difference(inside), face=WHITE, edge="none", width=0.0, z=1.0, gid="frame")
    page.area(inside, width=THIN, z=1.1, gid="window")


def _marks(page: Page, cut: Cut, row: int, column: int) -> None:
    """Crosses where neighbouring sheets meet, and the names of those sheets."""
    window = cut.window
    for down, right in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        near_row, near_column = row + down, column + right
        if not (0 <= near_row < cut.down and 0 <= near_column < cut.across):
            continue
        for share in (0.25, 0.75):
            x = window.left + share * window.width
            y = window.bottom + share * window.height
            if right:
                x = (window.right if right > 0 else window.left) - right * OVERLAP / 2
            else:
                y = (window.bottom if down > 0 else window.top) + down * OVERLAP / 2
            page.line([(x - CROSS, y), (x + CROSS, y)], width=LIGHT, z=1.2)
            page.line([(x, y - CROSS), (x, y + CROSS)], width=LIGHT, z=1.2, gid="overlap mark")
        x, y = window.centre
        if right:
            x = window.right + 3.6 if right > 0 else window.left - 1.6
        else:
            y = window.bottom - 3.2 if down > 0 else window.top + 1.4
        page.text(
            x, y, f"lay over {tile_name(near_row, near_column)}, cross on cross",
            size=NAME_SIZE, ha="center", turn=90.0 if right else 0.0,
        )  # fmt: skip
