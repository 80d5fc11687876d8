"""What stands on every sheet: title block, north arrow, scale bar and caution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.patches import Polygon as Patch

from floorplan.drawing.arrangement import scale_words
from floorplan.drawing.lettering import line_height, shortened, wrapped
from floorplan.drawing.page import MARGIN, Page
from floorplan.drawing.placing import Box
from floorplan.drawing.style import (
    BLACK,
    LIGHT,
    MEDIUM,
    NAME_SIZE,
    SMALL_SIZE,
    THIN,
    TITLE_SIZE,
    WHITE,
)
from floorplan.shop.model import Shop
from floorplan.units import System, format_length


@dataclass(frozen=True, slots=True)
class Title:
    """What the title block says."""

    subject: str
    """What the sheet shows."""
    shop: Shop
    paper: str
    ratio: float | None
    """None: a sheet of text."""
    sheet: int = 1
    of: int = 1
    """0: numbered once the whole set is there."""


def draw_title(page: Page, title: Title, at: Box) -> None:
    """The title block, lower right."""
    corners = [
        (at.left, at.bottom), (at.right, at.bottom), (at.right, at.top), (at.left, at.top),
        (at.left, at.bottom),
    ]  # fmt: skip
    page.line(corners, width=MEDIUM, z=15.0, gid="title block")
    inner = at.width - 4.0
    scale = "" if title.ratio is None else f"Scale {scale_words(title.ratio, title.shop.system)} "
    rows = (
        (title.shop.name, TITLE_SIZE, True),
        (title.subject, NAME_SIZE + 0.5, False),
        (f"{scale or 'Text '}on {title.paper}", NAME_SIZE, True),
        (_sizes(title), SMALL_SIZE, False),
    )  # fmt: skip
    y = at.top - 1.6
    for i, (text, size, bold) in enumerate(rows):
        y -= line_height(size)
        page.text(at.left + 2.0, y + 0.8, shortened(text, inner, size, bold), size=size, bold=bold)
        if i == 1:
            page.line([(at.left, y - 0.7), (at.right, y - 0.7)], width=THIN, z=15.0)
            y -= 1.4
    if title.of:
        number_sheet(page, title.sheet, title.of)
    if title.shop.date:
        date = shortened(title.shop.date, inner / 2, SMALL_SIZE)
        page.text(at.left + 2.0, at.bottom + 1.6, date, size=SMALL_SIZE)


def _sizes(title: Title) -> str:
    """How sizes on the plan are to be read; nothing on a sheet of text."""
    if title.ratio is None:
        return ""
    metric = title.shop.system is System.METRIC
    return "Sizes west to east x south to north" + (", all in mm" if metric else "")


def number_sheet(page: Page, sheet: int, of: int) -> None:
    """`sheet 2 of 5`, in the title block."""
    page.text(
        page.width - MARGIN - 2.0, MARGIN + 1.6, f"sheet {sheet} of {of}",
        size=SMALL_SIZE, ha="right",
    )  # fmt: skip


BAR_HEIGHT = 10.5
"""Of north arrow and scale bar [mm]."""


def foot_height(texts: Sequence[str], width: float) -> float:
    """Height of the foot with these cautions [mm]."""
    return BAR_HEIGHT + len(_cautions(texts, width)) * line_height(SMALL_SIZE) + 0.5


def _cautions(texts: Sequence[str], width: float) -> tuple[str, ...]:
    """All of them in one running text, as narrow columns would take twice the room."""
    return wrapped("Cautions. " + " ".join(texts), width, SMALL_SIZE)


def draw_foot(
    page: Page, at: Box, ratio: float | None, system: System, texts: Sequence[str]
) -> None:
    """North arrow, scale bar and cautions, lower left; only cautions on a sheet of text."""
    if ratio is not None:
        _north(page, at.left + 4.0, at.top - 4.6)
        _scale_bar(page, at.left + 13.0, at.top - 4.8, at.width - 14.0, ratio, system)
    y = at.top - BAR_HEIGHT
    for line in _cautions(texts, at.width):
        y -= line_height(SMALL_SIZE)
        page.text(at.left, y + 0.7, line, size=SMALL_SIZE)


def _north(page: Page, x: float, y: float) -> None:
    for side, face in ((-1.0, BLACK), (1.0, WHITE)):
        page.axes.add_patch(
            Patch(
                [(x, y + 4.0), (x + side * 2.0, y - 3.0), (x, y - 1.6)], closed=True,
                facecolor=face, edgecolor=BLACK, linewidth=THIN, zorder=15.0,
            )
        )  # fmt: skip
    page.text(x + 2.6, y + 1.6, "N", size=NAME_SIZE, bold=True)


def _scale_bar(page: Page, x: float, y: float, room: float, ratio: float, system: System) -> None:
    """Alternating fields of 1 ft or 0.5 m, as many as are useful, and how to print."""
    step, unit, each = (0.3048, "ft", 1.0) if system is System.IMPERIAL else (0.5, "m", 0.5)
    field = step * 1000.0 / ratio
    group = next(n for n in (1, 2, 4, 8, 16, 32) if n * field >= 5.0)
    count = max(2, min(4, int(min(room, 70.0) // (group * field))))
    for i in range(count):
        left, right = x + i * group * field, x + (i + 1) * group * field
        corners = [(left, y), (right, y), (right, y + 1.3), (left, y + 1.3)]
        page.axes.add_patch(
            Patch(corners, closed=True, facecolor=BLACK if i % 2 == 0 else WHITE,
                  edgecolor=BLACK, linewidth=LIGHT, zorder=15.0)
        )  # fmt: skip
    for i in range(count + 1):
        last = f" {unit}" if i == count else ""
        text = f"{i * group * each:g}"
        page.text(
            x + i * group * field, y + 2.0, text + last, size=SMALL_SIZE,
            ha="left" if last else "center",
        )  # fmt: skip
    length = f"{count * group * each:g} {unit}"
    page.text(
        x, y - 2.9, f"Print at 100 %, then measure this bar: {length} = "
        f"{_on_paper(count * group * field, system)} on paper.", size=SMALL_SIZE,
    )  # fmt: skip


def _on_paper(millimetres: float, system: System) -> str:
    if system is System.METRIC:
        return f"{millimetres:g} mm"
    return format_length(millimetres / 1000.0, system)
