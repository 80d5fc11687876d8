"""Text in columns: headings, paragraphs and tables that flow from one column to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from floorplan.drawing.lettering import line_height, wrapped
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box
from floorplan.drawing.style import BLACK, HEAD_SIZE, POINTS, TEXT_SIZE, THIN

Drawer = Callable[[Page, float, float], None]
"""Draws a sign at the left end of a row: page, x of its left edge, y of the row's middle [mm]."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A text within a row."""

    text: str
    x: float = 0.0
    """From the left edge of the column [mm]; of its right end when `right`."""
    bold: bool = False
    right: bool = False
    colour: str = BLACK


@dataclass(frozen=True, slots=True)
class Row:
    """What stands on one height."""

    cells: tuple[Cell, ...]
    size: float = TEXT_SIZE
    before: float = 0.0
    """Free room above [mm]."""
    keep: bool = False
    """Stays together with the next row."""
    rule: float = 0.0
    """Length of a thin line below [mm]."""
    sign: Drawer | None = None

    @property
    def height(self) -> float:
        """With the free room above [mm]."""
        return self.before + line_height(self.size)


@dataclass(frozen=True, slots=True)
class Placed:
    """A row with the left edge of its column and its top [mm]."""

    row: Row
    x: float
    y: float


@dataclass(slots=True)
class Flow:
    """The rows that found room, and how many did not."""

    placed: list[Placed] = field(default_factory=list)
    left_over: int = 0
    kept: int = 0
    """How many of the rows that were given stand there."""

    def draw(self, page: Page) -> None:
        """Set them on a page."""
        for item in self.placed:
            _draw_row(page, item)


def flow(rows: Sequence[Row], columns: Iterable[Box]) -> Flow:
    """Fill columns in order; a row that is kept with the next moves on together with it."""
    out = Flow(kept=len(rows))
    frames = list(columns)
    index, y = 0, frames[0].top if frames else 0.0
    i = 0
    while i < len(rows):
        group = [rows[i]]
        while group[-1].keep and i + len(group) < len(rows):
            group.append(rows[i + len(group)])
        while index < len(frames) and y - _height(group, y, frames[index]) < frames[index].bottom:
            index += 1
            y = frames[index].top if index < len(frames) else 0.0
        if index >= len(frames):
            out.left_over = len(rows) - i
            out.kept = i
            return out
        for row in group:
            if y < frames[index].top:
                y -= row.before
            out.placed.append(Placed(row, frames[index].left, y))
            y -= line_height(row.size)
        i += len(group)
    return out


def fitted(
    rows: Sequence[Row], columns: Sequence[Box], rest: str = "The rest is in the text output."
) -> Flow:
    """As `flow`, with a line in place of what finds no room, so that nothing is lost silently."""
    out = flow(rows, columns)
    kept = out.kept
    while out.left_over and kept > 0:
        kept -= 1
        while kept > 0 and rows[kept - 1].keep:
            kept -= 1  # no heading without what it heads
        said = Row((Cell(rest, bold=True),), before=0.8)
        out = flow([*rows[:kept], said], columns)
    out.kept = kept
    return out


def set_text(page: Page, rows: Sequence[Row], columns: Sequence[Box], *, goes_on: bool) -> None:
    """Set rows beside a plan; where sheets follow, what finds no room is left to the next."""
    if not goes_on:
        fitted(rows, columns).draw(page)
        return
    made = fitted(rows, columns, "Goes on on the next sheet.")
    made.draw(page)
    page.rest = tuple(rows[made.kept :])


def _height(group: Sequence[Row], y: float, frame: Box) -> float:
    free = group[0].before if y >= frame.top else 0.0
    return sum(row.height for row in group) - free


def _draw_row(page: Page, item: Placed) -> None:
    row = item.row
    baseline = item.y - row.size * 0.95 / POINTS
    for cell in row.cells:
        page.text(
            item.x + cell.x, baseline, cell.text, size=row.size, bold=cell.bold,
            colour=cell.colour, ha="right" if cell.right else "left",
        )  # fmt: skip
    if row.sign is not None:
        row.sign(page, item.x, item.y - line_height(row.size) / 2)
    if row.rule > 0.0:
        bottom = item.y - line_height(row.size) - 0.05
        page.line([(item.x, bottom), (item.x + row.rule, bottom)], width=THIN)


def heading(text: str, colour: str = BLACK) -> Row:
    """A heading, kept with what follows."""
    return Row((Cell(text, bold=True, colour=colour),), HEAD_SIZE, before=2.2, keep=True)


def paragraph(
    text: str,
    width: float,
    *,
    size: float = TEXT_SIZE,
    bold: bool = False,
    indent: float = 0.0,
    sign: Drawer | None = None,
    before: float = 0.0,
) -> tuple[Row, ...]:
    """A text in as many lines as it needs, with a sign before its first line."""
    lines = wrapped(text, width - indent, size, bold)
    return tuple(
        Row(
            (Cell(line, indent, bold),),
            size,
            before=before if i == 0 else 0.0,
            keep=i < len(lines) - 1,
            sign=sign if i == 0 else None,
        )
        for i, line in enumerate(lines)
    )


def table(
    rows: Sequence[Sequence[str]],
    widths: Sequence[float],
    *,
    right: frozenset[int] = frozenset(),
    size: float = TEXT_SIZE,
) -> tuple[Row, ...]:
    """Columns of these widths [mm]; the first row is the head; long cells wrap."""
    out: list[Row] = []
    starts = [sum(widths[:i]) for i in range(len(widths))]
    for number, texts in enumerate(rows):
        head = number == 0
        wrapped_cells = [
            wrapped(text, width - 1.5, size, head)
            for text, width in zip(texts, widths, strict=True)
        ]
        depth = max(len(lines) for lines in wrapped_cells)
        for i in range(depth):
            cells = tuple(
                Cell(
                    lines[i],
                    starts[c] + (widths[c] - 1.5 if c in right else 0.0),
                    bold=head,
                    right=c in right,
                )
                for c, lines in enumerate(wrapped_cells)
                if i < len(lines) and lines[i]
            )
            last = i == depth - 1
            out.append(
                Row(cells, size, keep=not last or head, rule=sum(widths) if head and last else 0.0)
            )
    return tuple(out)
