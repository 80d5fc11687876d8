"""The map of places: for each turn the plan without the thing, and where its corner may be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, degrees
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.drawing.arrangement import COLUMN, GUTTER, RATIOS, TITLE_HEIGHT, papers
from floorplan.drawing.canvas import Label, Plan, drawn_bounds
from floorplan.drawing.column import Cell, Row, fitted, heading, paragraph
from floorplan.drawing.contents import caution_texts
from floorplan.drawing.lettering import text_width
from floorplan.drawing.page import FORMATS, MARGIN, Page, save
from floorplan.drawing.placing import Box
from floorplan.drawing.plan import SMALL, draw_plan, place_plan
from floorplan.drawing.style import (
    BLACK,
    BLUE,
    FINE,
    GREEN,
    HEAD_SIZE,
    HEAVY,
    MEDIUM,
    ORANGE,
    PURPLE,
    SMALL_SIZE,
    THIN,
    drawing_defaults,
    tint,
)
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.search.spots import Best, Spots, TurnSpots
from floorplan.shop.model import Pose
from floorplan.shop.scene import Scene, frame_of, scene
from floorplan.units import format_length

READABLE = 50
"""Coarsest scale at which a smaller sheet is preferred to a larger one."""
PER_SHEET = 4
"""Turns on one sheet."""
CAPTION = 9.0
"""Room above each plan for its turn and best spot [mm]."""
EDGE = 3.0
"""Free edge round each plan [mm]."""
NAMED = 6.0
"""Edges at least this long on paper get the name or number of what limits there [mm]."""
NUMBERED = 5.0
"""Parts of the floor get their number where a square of this side fits [mm]."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet with equal cells for plans and a column for text [mm]."""

    paper: str
    width: float
    height: float
    ratio: int
    columns: int
    cell: tuple[float, float]
    text: Box
    foot: Box
    title: Box

    def middle(self, index: int) -> tuple[float, float]:
        """Centre of a cell's plan."""
        row, column = divmod(index, self.columns)
        left, top = MARGIN + column * self.cell[0], self.height - MARGIN - row * self.cell[1]
        return left + self.cell[0] / 2, top - CAPTION - (self.cell[1] - CAPTION) / 2

    def corner(self, index: int) -> tuple[float, float]:
        """Upper left corner of a cell."""
        row, column = divmod(index, self.columns)
        return MARGIN + column * self.cell[0] + EDGE, self.height - MARGIN - row * self.cell[1]


def spots_sheet(
    found: Spots, out_dir: str | Path, name: str, *, formats: Sequence[str] = FORMATS
) -> tuple[Path, ...]:
    """Write `out_dir/name.svg` and so on; more than four turns take more sheets. Raises OSError."""
    shown = [t for t in found.turns if t.best is not None] or list(found.turns)
    groups = [shown[i : i + PER_SHEET] for i in range(0, len(shown), PER_SHEET)]
    files: tuple[Path, ...] = ()
    for number, turns in enumerate(groups, 1):
        page = spots_page(found, turns, number, len(groups))
        stem = name if len(groups) == 1 else f"{name}-{number}"
        files += save(page, Path(out_dir) / stem, formats)
    return files


@drawing_defaults()
def spots_page(found: Spots, turns: Sequence[TurnSpots], sheet: int = 1, of: int = 1) -> Page:
    """One sheet with the plans of some turns, not yet saved."""
    shop = found.shop
    layout = found.layout
    for name in (found.thing, *found.together):
        layout = layout.without(name)
    made = scene(shop, layout)
    texts = caution_texts(made)
    grid = _choose(made, len(turns), texts)
    names = _numbers(turns, 1000.0 / grid.ratio)
    subject = f"Where {_title(found)} can stand"
    page = Page(grid.width, grid.height, f"{shop.name}: {subject}")
    for i, at in enumerate(turns):
        plan = place_plan(page, made, grid.middle(i), grid.ratio)
        draw_plan(plan, detail=SMALL)
        _draw_turn(plan, found, at, names)
        _caption(page, grid.corner(i), found, at)
    fitted(_rows(found, turns, names), (grid.text,)).draw(page)
    draw_title(page, Title(subject, shop, grid.paper, grid.ratio, sheet, of), grid.title)
    draw_foot(page, grid.foot, grid.ratio, shop.system, texts)
    return page


def _title(found: Spots) -> str:
    return " with ".join((found.thing, *found.together))


# --- the sheet -------------------------------------------------------------------------------


def _choose(made: Scene, count: int, texts: Sequence[str]) -> Grid:
    """The smallest sheet on which the plans are readable, else the finest scale that fits."""
    grids = list(_grids(made, count, texts))
    if not grids:
        raise ValueError("the room is too large for the largest sheet")
    return next((g for g in grids if g.ratio <= READABLE), min(grids, key=lambda g: g.ratio))


def _grids(made: Scene, count: int, texts: Sequence[str]) -> Iterator[Grid]:
    west, south, east, north = drawn_bounds(made)
    system = made.shop.system
    for paper in papers(system):
        for ratio in RATIOS[system]:
            wide = (east - west) * 1000.0 / ratio + 2 * EDGE
            high = (north - south) * 1000.0 / ratio + 2 * EDGE + CAPTION
            for width, height in ((paper.height, paper.width), (paper.width, paper.height)):
                right = width - MARGIN
                title = Box(right - COLUMN, MARGIN, right, MARGIN + TITLE_HEIGHT)
                span = title.left - GUTTER - MARGIN
                foot_top = MARGIN + max(foot_height(texts, span), TITLE_HEIGHT)
                foot = Box(MARGIN, MARGIN, title.left - GUTTER, foot_top)
                columns = min(int(span // wide), count)
                if columns < 1 or ceil(count / columns) * high > height - MARGIN - foot.top:
                    continue
                text = Box(title.left, title.top + 3.0, right, height - MARGIN)
                yield Grid(
                    paper.name, width, height, ratio, columns, (wide, high), text, foot, title
                )


def _caption(page: Page, at: tuple[float, float], found: Spots, turn: TurnSpots) -> None:
    page.text(at[0], at[1] - 4.0, f"Turn {turn.turn:g}°", size=HEAD_SIZE, bold=True)
    page.text(at[0], at[1] - 7.6, _best_words(found, turn.best), size=SMALL_SIZE)


def _best_words(found: Spots, best: Best | None) -> str:
    if best is None:
        return "no place"
    system = found.shop.system
    x, y, play = (
        format_length(best.x, system),
        format_length(best.y, system),
        format_length(best.play, system, rounding="down"),
    )
    if best.against:
        return f"best: x {x}, y {y}, pushed against {' and '.join(best.against)}"
    words = f"best: x {x}, y {y}, {play} of play all round"
    return words if best.certain else f"{words}, unsure"


# --- the text beside -------------------------------------------------------------------------


def _numbers(turns: Sequence[TurnSpots], unit: float) -> dict[str, int]:
    """Numbers of what is named on the plans: edges and parts large enough at so many mm to 1 m."""
    named = {
        name
        for at in turns
        for limit in at.limits
        for name in limit.names
        if max(_lengths(limit.line)) * unit >= NAMED
    }
    named |= {
        _part_name(part.kind, part.name)
        for at in turns
        for part in at.ruled_out
        if not part.area.buffer(-NUMBERED / 2 / unit).is_empty
    }
    return {name: i for i, name in enumerate(sorted(named), 1)}


def _lengths(line: LineString) -> list[float]:
    return [float(np.hypot(*step)) for step in np.diff(np.asarray(line.coords), axis=0)]


def _part_name(kind: str, name: str) -> str:
    return f"its own work against {name}" if kind == "own work" else name


def _rows(found: Spots, turns: Sequence[TurnSpots], names: dict[str, int]) -> list[Row]:
    corner = "south-west corner (its westernmost and southernmost points)"
    rows = [
        *paragraph(
            f"Hatched: where the {corner} of {found.thing} may be, read with a tape from the "
            "room's origin. Dashed: the thing at its best spot, the most play all round.",
            COLUMN,
        )
    ]
    if found.later:
        stages = [at.shop.stage.name for at in (found, *found.later) if at.shop.stage]
        words = f"Places hold at each of these stages: {', '.join(stages)}. "
        rows += paragraph(f"{words}Drawn is what stands at the first.", COLUMN, bold=True)
    rows += [
        heading("Legend"),
        _sample("certain: passes, whatever the tape may be off", GREEN, "//"),
        _sample("line: certain there only, or against the wall", GREEN, ""),
        _sample("unsure: neither proved nor refuted", ORANGE, ".."),
        _sample("ruled out by a way out or a roll", PURPLE, "xx"),
    ]
    if names:
        rows.append(heading("What limits an edge or rules out a part"))
    for name, number in names.items():
        rows.append(Row((Cell(f"{number}", 4.5, True, right=True), Cell(name, 6.0)), SMALL_SIZE))
    if found.lost:
        lost = ", ".join(found.lost)
        rows += [heading("Not its fault")]
        rows += paragraph(f"Even without {found.thing} no sure way out leads from {lost}.", COLUMN)
    if all(at.is_empty for at in turns):
        rows += paragraph("No place is certain at these turns.", COLUMN, bold=True)
    return rows


def _sample(text: str, colour: str, hatch: str) -> Row:
    def draw(page: Page, x: float, y: float) -> None:
        shape = Polygon([(x, y - 1), (x + 6, y - 1), (x + 6, y + 1), (x, y + 1)])
        page.area(shape, face=tint(colour, 0.25), edge=colour, width=THIN, hatch=hatch)

    return Row((Cell(text, 8.0),), SMALL_SIZE, sign=draw)


# --- over the plan -----------------------------------------------------------------------------


def _draw_turn(plan: Plan, found: Spots, at: TurnSpots, names: dict[str, int]) -> None:
    label = f"turn {at.turn:g}"
    for part in at.ruled_out:
        is_way = part.kind in ("way out", "rolling")
        plan.page.area(
            plan.shape(part.area), face=tint(PURPLE, 0.12) if is_way else "none",
            edge=tint(BLACK, 0.35), width=FINE, hatch="xx" if is_way else "", alpha=0.8, z=6.0,
            gid=f"{label}: ruled out by {part.name}",
        )  # fmt: skip
    plan.page.area(
        plan.shape(at.unsure), face=tint(ORANGE, 0.35), edge=ORANGE, width=FINE, hatch="..",
        alpha=0.9, z=6.2, gid=f"{label}: unsure",
    )  # fmt: skip
    plan.page.area(
        plan.shape(at.region), face=tint(GREEN, 0.3), edge=GREEN, width=MEDIUM, hatch="//",
        alpha=0.75, z=6.4, gid=f"{label}: certain",
    )  # fmt: skip
    pushed = [part for contact in at.contacts for part in shapely.get_parts(contact.places)]
    for segment in (*at.segments, *(p for p in pushed if isinstance(p, LineString))):
        line = [plan.to_paper(*c) for c in segment.coords]
        plan.page.line(line, width=HEAVY * 1.6, colour=GREEN, z=6.6, gid=f"{label}: no play across")
    for point in (*at.points, *(p for p in pushed if isinstance(p, Point))):
        x, y = plan.to_paper(point.x, point.y)
        for dx, dy in ((1.2, 1.2), (1.2, -1.2)):
            plan.page.line([(x - dx, y - dy), (x + dx, y + dy)], width=HEAVY, colour=GREEN, z=6.6)
    if at.best is not None:
        _draw_best(plan, found, at.turn, at.best)
    _letter_edges(plan, at, names)
    _number_parts(plan, at, names)


def _draw_best(plan: Plan, found: Spots, turn: float, best: Best) -> None:
    placed = found.placed(best, turn)
    for name in (found.thing, *found.together):
        pose = placed.pose(name)
        assert isinstance(pose, Pose)
        thing = found.shop.thing(name)
        body = plan.shape(Polygon(frame_of(thing, pose).place(thing.body).points), cut=False)
        plan.page.area(
            body, width=MEDIUM, edge=BLACK, dashes=(6.0, 3.0), z=7.0, gid=f"best: {name}"
        )
    x, y = plan.to_paper(best.x, best.y)
    plan.page.line([(x + 2.5, y), (x, y), (x, y + 2.5)], width=HEAVY * 1.5, z=7.1)


def _letter_edges(plan: Plan, at: TurnSpots, names: dict[str, int]) -> None:
    """Along upright and level edges the name itself where it fits, else its number."""
    for limit in at.limits:
        for start, end in zip(limit.line.coords[:-1], limit.line.coords[1:], strict=True):
            edge = LineString([plan.to_paper(*start), plan.to_paper(*end)])
            if edge.length < NAMED:
                continue
            number = "/".join(str(names[n]) for n in limit.names)
            words = " / ".join(limit.names)
            fits = text_width(words, SMALL_SIZE) < edge.length - 1.0
            shown = words if fits else number
            middle = edge.interpolate(0.5, normalized=True)
            step = np.diff(np.asarray(edge.coords), axis=0)[0]
            turn = (degrees(np.arctan2(step[1], step[0])) + 90.0) % 180.0 - 90.0
            side = np.array([-step[1], step[0]]) / edge.length * 1.6
            x, y = middle.x + side[0], middle.y + side[1]
            wide, high = Label((shown,), SMALL_SIZE, bold=not fits).extent
            if abs(turn) < 1.0 or abs(turn) > 89.0:
                plan.page.clear(
                    Box.about(x, y, *((wide, high) if abs(turn) < 1.0 else (high, wide)))
                )
            plan.page.text(
                x, y, shown, size=SMALL_SIZE, bold=not fits, ha="center", middle=True, turn=turn,
                z=21.0,
            )  # fmt: skip


def _number_parts(plan: Plan, at: TurnSpots, names: dict[str, int]) -> None:
    for part in at.ruled_out:
        for piece in _parts(plan.shape(part.area)):
            inner = piece.buffer(-NUMBERED / 2)
            if inner.is_empty:
                continue
            spot = inner.representative_point()
            label = Label((str(names[_part_name(part.kind, part.name)]),), SMALL_SIZE)
            box = Box.about(spot.x, spot.y, *label.extent)
            plan.write(label, box, colour=BLUE)


def _parts(shape: BaseGeometry) -> list[Polygon]:
    return [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
