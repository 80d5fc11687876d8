"""Sheets of text in a printed set: what goes on from a plan, and what no plan can show."""

from __future__ import annotations

from collections.abc import Sequence

from floorplan.drawing.arrangement import COLUMN, GUTTER, TITLE_HEIGHT, Printing
from floorplan.drawing.column import Row, set_text
from floorplan.drawing.page import MARGIN, Page
from floorplan.drawing.placing import Box
from floorplan.drawing.style import drawing_defaults
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.shop.model import Shop


@drawing_defaults()
def text_pages(
    rows: Sequence[Row], shop: Shop, subject: str, cautions: Sequence[str], printing: Printing
) -> tuple[Page, ...]:
    """As many upright sheets as the rows take; they are numbered with the whole set."""
    pages: list[Page] = []
    while rows:
        page = Page(printing.paper.width, printing.paper.height, f"{shop.name}: {subject}")
        right = page.width - MARGIN
        title = Box(right - COLUMN, MARGIN, right, MARGIN + TITLE_HEIGHT)
        width = title.left - GUTTER - MARGIN
        foot = Box(MARGIN, MARGIN, title.left - GUTTER, MARGIN + foot_height(cautions, width))
        set_text(page, rows, _columns(page, max(title.top, foot.top) + 3.0), goes_on=True)
        draw_title(page, Title(subject, shop, printing.paper.name, None, of=0), title)
        draw_foot(page, foot, None, shop.system, cautions)
        if len(page.rest) == len(rows):
            raise ValueError(f"a line of text is too long for {printing.paper.name} paper")
        rows = page.rest
        pages.append(page)
    return tuple(pages)


def _columns(page: Page, bottom: float) -> tuple[Box, ...]:
    """Side by side from the left, all of the usual width."""
    step = COLUMN + GUTTER
    count = int((page.width - 2 * MARGIN + GUTTER) // step)
    lefts = (MARGIN + i * step for i in range(count))
    return tuple(Box(left, bottom, left + COLUMN, page.height - MARGIN) for left in lefts)
