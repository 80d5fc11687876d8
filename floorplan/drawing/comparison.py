"""The best layouts side by side under one scale, today beside them, with a table of measures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil
from pathlib import Path

from floorplan.checks.finding import Measure, measure_text
from floorplan.drawing.arrangement import COLUMN, GUTTER, RATIOS, TITLE_HEIGHT, papers
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.column import Cell, Row, flow, heading, paragraph, table
from floorplan.drawing.contents import (
    caution_texts,
    note_rows,
    verdict_words,
)
from floorplan.drawing.judged import Judged, Ranked, why
from floorplan.drawing.notes import Note, notes
from floorplan.drawing.page import FORMATS, MARGIN, Page, save
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import SMALL, draw_plan, place_plan
from floorplan.drawing.style import ALERT, BLACK, HEAD_SIZE, drawing_defaults
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.units import System

AIR = 2.0
"""Free room round a small plan [mm]."""
MOST_NOTES = 3
"""Findings listed under one small plan."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One layout of the comparison."""

    name: str
    judged: Judged
    reason: str
    short: str = ""
    """For the head of the table; empty: the name."""

    @property
    def notes(self) -> tuple[Note, ...]:
        """The worst required findings that do not pass."""
        every = notes(self.judged.findings, self.judged.shop.system)
        return tuple(n for n in every if n.kind == "required")[:MOST_NOTES]


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet with equal cells [mm]."""

    paper: str
    width: float
    height: float
    ratio: int
    columns: int
    cell: tuple[float, float]
    """Width and height of a plan."""
    captions: float
    """Height below each plan."""
    table: Box
    foot: Box
    title: Box


def compare_sheet(
    ranked: Sequence[Ranked],
    out_dir: str | Path,
    name: str,
    *,
    today: Judged | None = None,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """All of them on one sheet; raises ValueError when there is nothing to compare, OSError."""
    candidates = [] if today is None else [Candidate("Today", today, "As it stands now.")]
    candidates += [Candidate(f"Layout {r.rank}", r.judgement, why(r)) for r in ranked]
    if not candidates:
        raise ValueError("there is no layout to compare")
    return save(comparison(candidates), Path(out_dir) / name, formats)


@drawing_defaults()
def comparison(
    candidates: Sequence[Candidate],
    *,
    subject: str = "Layouts compared",
    name: str | None = None,
    over: Callable[[Plan, int], None] | None = None,
) -> Page:
    """The sheet, not yet saved; `name` is the shop's, `over` draws over each plan by number.

    Raises ValueError when it takes more than the largest paper.
    """
    shop = candidates[0].judged.shop
    if name is not None:
        shop = replace(shop, name=name)
    texts = caution_texts(candidates[0].judged.scene)
    grid = _choose(candidates, texts)
    page = Page(grid.width, grid.height, f"{shop.name}: {subject.lower()}")
    for i, candidate in enumerate(candidates):
        plan = _draw_cell(page, grid, candidate, i)
        if over is not None:
            over(plan, i)
    flow(_table_rows(candidates, grid.table.width), [grid.table]).draw(page)
    title = Title(subject, shop, grid.paper, grid.ratio)
    draw_title(page, title, grid.title)
    draw_foot(page, grid.foot, grid.ratio, shop.system, texts)
    return page


def _extent(candidates: Sequence[Candidate]) -> tuple[float, float]:
    """Size that every plan gets, so that all are drawn alike [m]."""
    bounds = [drawn_bounds(c.judged.scene) for c in candidates]
    return max(b[2] - b[0] for b in bounds), max(b[3] - b[1] for b in bounds)


def _caption(candidate: Candidate, width: float) -> list[Row]:
    verdict = verdict_words(candidate.judged)
    colour = ALERT if candidate.judged.verdict == "fails" else BLACK
    shown = candidate.notes
    return [
        Row((Cell(candidate.name, bold=True),), HEAD_SIZE, keep=True),
        Row((Cell(verdict, bold=True, colour=colour),)),
        *paragraph(candidate.reason, width),
        *(note_rows(shown, shown, width=width) if shown else ()),
    ]


def _table_rows(candidates: Sequence[Candidate], width: float) -> tuple[Row, ...]:
    names = list(dict.fromkeys(name for c in candidates for name in c.judged.measures))
    if not names:
        return ()
    first = min(45.0, width * 0.35)
    each = min((width - first) / len(candidates), 34.0)
    texts = [("measure", *(c.short or c.name for c in candidates))]
    for name in names:
        cells = (c.judged.measures.get(name) for c in candidates)
        system = candidates[0].judged.shop.system
        texts.append((name, *(_value(measure, system) for measure in cells)))
    right = frozenset(range(1, len(candidates) + 1))
    return (
        heading("Measures"),
        *table(texts, (first, *[each] * len(candidates)), right=right),
    )


def _value(measure: Measure | None, system: System) -> str:
    return "-" if measure is None else measure_text(measure, system)


def _choose(candidates: Sequence[Candidate], texts: Sequence[str]) -> Grid:
    sizes = papers(candidates[0].judged.shop.system)
    # readable small plans on the smallest sheet; coarser ones only when nothing else is left
    for coarsest in (100, 200):
        for grid in _grids(candidates, texts):
            if grid.ratio <= coarsest:
                return grid
    raise ValueError(f"{len(candidates)} plans do not fit on {sizes[-1].name}")


def _grids(candidates: Sequence[Candidate], texts: Sequence[str]) -> Iterator[Grid]:
    """Every grid whose captions and table find room, smallest sheet and largest scale first."""
    system = candidates[0].judged.shop.system
    wide, deep = _extent(candidates)
    for paper in papers(system):
        for ratio in RATIOS[system]:
            for sheet in ((paper.height, paper.width), (paper.width, paper.height)):
                for columns in range(len(candidates), 0, -1):
                    cell = (
                        wide * 1000.0 / ratio + 2 * AIR,
                        deep * 1000.0 / ratio + 2 * AIR,
                    )
                    grid = _grid(candidates, texts, paper.name, sheet, ratio, columns, cell)
                    if grid is not None:
                        yield grid


def _grid(
    candidates: Sequence[Candidate],
    texts: Sequence[str],
    paper: str,
    sheet: tuple[float, float],
    ratio: int,
    columns: int,
    cell: tuple[float, float],
) -> Grid | None:
    left, right = MARGIN, sheet[0] - MARGIN
    across = (right - left - (columns - 1) * GUTTER) / columns
    if cell[0] > across:
        return None
    captions = max(sum(r.height for r in _caption(c, across)) for c in candidates) + 1.0
    title = Box(right - COLUMN, MARGIN, right, MARGIN + TITLE_HEIGHT)
    foot = Box(left, MARGIN, title.left - GUTTER, 0.0)
    foot = Box(left, MARGIN, foot.right, MARGIN + foot_height(texts, foot.width))
    rows = ceil(len(candidates) / columns)
    top = sheet[1] - MARGIN - rows * (cell[1] + captions + GUTTER)
    base = max(foot.top, title.top) + 2.0
    area = Box(left, base, right, top)
    need = sum(row.height for row in _table_rows(candidates, area.width)) + 1.0
    if area.height < need:
        return None
    return Grid(paper, *sheet, ratio, columns, (across, cell[1]), captions, area, foot, title)


def _draw_cell(page: Page, grid: Grid, candidate: Candidate, index: int) -> Plan:
    row, column = divmod(index, grid.columns)
    left = MARGIN + column * (grid.cell[0] + GUTTER)
    top = grid.height - MARGIN - row * (grid.cell[1] + grid.captions + GUTTER)
    middle = (left + grid.cell[0] / 2, top - grid.cell[1] / 2)
    plan = place_plan(page, candidate.judged.scene, middle, grid.ratio)
    draw_plan(plan, notes=candidate.notes, detail=SMALL)
    below = Box(left, top - grid.cell[1] - grid.captions, left + grid.cell[0], top - grid.cell[1])
    flow(_caption(candidate, grid.cell[0]), [below]).draw(page)
    return plan
