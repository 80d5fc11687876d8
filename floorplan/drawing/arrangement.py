"""Chooses the sheet: its size and way up, the scale, and where plan and text come to lie [mm]."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from floorplan.drawing.page import INCH_PAPERS, MARGIN, METRIC_PAPERS, Paper
from floorplan.drawing.placing import Box
from floorplan.units import System

COLUMN = 82.0
"""Width of a column of text [mm]."""
GUTTER = 4.0
"""Between columns [mm]."""
TITLE_HEIGHT = 22.0
RULER = 10.0
"""West and south of the walls: names of openings and a ruler [mm]."""
BAND = 5.5
"""North and east of the walls: names of openings [mm]."""

RATIOS: dict[System, tuple[int, ...]] = {
    System.IMPERIAL: (24, 32, 48, 64, 96, 192),
    System.METRIC: (20, 25, 50, 75, 100, 200),
}
READABLE = 50
"""Coarsest scale for which a smaller sheet is preferred to a larger one."""


def papers(system: System) -> tuple[Paper, ...]:
    """Sheet sizes, smallest first."""
    return INCH_PAPERS if system is System.IMPERIAL else METRIC_PAPERS


def scale_words(ratio: float, system: System) -> str:
    """`1:48 (1/4 in = 1 ft)`."""
    to_a_foot = {24: "1/2", 32: "3/8", 48: "1/4", 64: "3/16", 96: "1/8", 192: "1/16"}
    if system is System.IMPERIAL and ratio in to_a_foot:
        return f"1:{ratio:g} ({to_a_foot[int(ratio)]} in = 1 ft)"
    return f"1:{ratio:g}"


@dataclass(frozen=True, slots=True)
class Printing:
    """How a set of sheets is to be printed: all on one paper, what finds no room goes on."""

    paper: Paper
    ratio: int
    """The scale wanted for plans, 1:ratio; a coarser one is taken where a plan does not fit."""
    exact: bool = False
    """Whether a plan that does not fit is cut into sheets that overlap instead."""
    together: bool = False
    """Whether a coarser scale is taken rather than have the text on another sheet."""


Foot = Callable[[float], float]
"""Height that north arrow, scale bar and cautions need, by their width [mm]."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A sheet with its areas."""

    paper: str
    width: float
    height: float
    ratio: int
    """Scale 1:ratio."""
    plan: Box
    """Walls, ruler and names of openings."""
    columns: tuple[Box, ...]
    """Where text goes, in reading order; all `COLUMN` wide."""
    foot: Box
    title: Box

    @property
    def room(self) -> float:
        """Length of all columns together [mm]."""
        return sum(column.height for column in self.columns)


def arrangements(width: float, depth: float, system: System, foot: Foot) -> Iterator[Arrangement]:
    """Every sheet that takes a building of this outer size, the one to prefer first [m].

    Of the ways up, the one with least room to spare comes first: empty paper is a defect.
    """
    sizes = papers(system)
    for paper in sizes:
        for ratio in RATIOS[system]:
            if ratio > READABLE and paper is not sizes[-1]:
                continue
            yield from sorted(_on(paper, ratio, width, depth, foot), key=lambda a: a.room)


def choose(
    width: float,
    depth: float,
    system: System,
    foot: Foot,
    fits: Callable[[Arrangement], bool],
    printing: Printing | None = None,
    *,
    chart: float = 0.0,
) -> Arrangement:
    """The first sheet on which the text fits too, else the last on which the plan does [m].

    `printing` gives the paper and the scale to begin with, and text may go on on other sheets;
    `chart` is the height of the first column that may not be missing then [mm].  Raises ValueError
    when the building is too large for every sheet.
    """
    if printing is not None:
        return _printed(width, depth, system, foot, fits, printing, chart)
    last = None
    for last in arrangements(width, depth, system, foot):
        if fits(last):
            return last
    if last is None:
        raise ValueError(f"{width:.0f} x {depth:.0f} m is too large for the largest sheet")
    return last


def _printed(
    width: float,
    depth: float,
    system: System,
    foot: Foot,
    fits: Callable[[Arrangement], bool],
    printing: Printing,
    chart: float,
) -> Arrangement:
    """The finest scale at which a plan fits on the paper, and of the ways up the roomier."""
    best: Arrangement | None = None
    coarser = (ratio for ratio in RATIOS[system] if ratio > printing.ratio)
    for ratio in (printing.ratio, *coarser):
        found = [
            made
            for made in _on(printing.paper, ratio, width, depth, foot, under=PRINTED_UNDER)
            if not chart or (made.columns and made.columns[0].height >= chart)
        ]
        if not found:
            continue
        roomiest = max(found, key=lambda made: (fits(made), made.room))
        best = best or roomiest
        if fits(roomiest) or not printing.together:
            return roomiest
    if best is None:
        raise ValueError(
            f"{width:.0f} x {depth:.0f} m is too large for {printing.paper.name} paper"
        )
    return best


UNDER = 40.0
"""Least height of the text under a plan as wide as the sheet [mm]."""
PRINTED_UNDER = 3.0
"""The same where text may go on on another sheet [mm]."""


def _on(
    paper: Paper,
    ratio: int,
    width: float,
    depth: float,
    foot_height: Foot,
    *,
    under: float = UNDER,
) -> Iterator[Arrangement]:
    wide = width * 1000.0 / ratio + RULER + BAND
    high = depth * 1000.0 / ratio + RULER + BAND
    for sheet_width, sheet_height in (
        (paper.height, paper.width),
        (paper.width, paper.height),
    ):
        left, right = MARGIN, sheet_width - MARGIN
        floor, top = MARGIN, sheet_height - MARGIN
        title = Box(right - COLUMN, floor, right, floor + TITLE_HEIGHT)
        foot_top = floor + foot_height(title.left - GUTTER - left)
        foot = Box(left, floor, title.left - GUTTER, foot_top)
        beside = Box(left, foot.top + 2.0, title.left - GUTTER, top)
        if wide <= beside.width and high <= beside.height:
            middle = (beside.left + beside.right) / 2
            plan = Box(middle - wide / 2, top - high, middle + wide / 2, top)
            column = Box(title.left, title.top + 3.0, right, top)
            below = _columns(left, beside.right, foot.top + 3.0, plan.bottom - 3.0)
            yield Arrangement(
                paper.name, sheet_width, sheet_height, ratio, plan, (column, *below), foot, title
            )
        elif wide <= right - left and high <= top - max(
            title.top + under, foot.top + PRINTED_UNDER
        ):
            middle = (left + right) / 2
            plan = Box(middle - wide / 2, top - high, middle + wide / 2, top)
            base = max(title.top, foot.top) + 3.0
            below = _columns(left, right, base, plan.bottom - 3.0)
            yield Arrangement(
                paper.name, sheet_width, sheet_height, ratio, plan, below, foot, title
            )


def _columns(left: float, right: float, bottom: float, top: float) -> tuple[Box, ...]:
    """As many columns as fit side by side, none when they would be too short to read."""
    if top - bottom < 15.0:
        return ()
    count = int((right - left + GUTTER) // (COLUMN + GUTTER))
    return tuple(
        Box(left + i * (COLUMN + GUTTER), bottom, left + i * (COLUMN + GUTTER) + COLUMN, top)
        for i in range(count)
    )
