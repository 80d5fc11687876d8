"""Findings on a plan: where each one is, with the number under which it is listed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matplotlib.patches import Circle
from shapely.geometry import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Finding
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.notes import Note
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box, around, beside
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    FINE,
    GREEN,
    HEAVY,
    LIGHT,
    MEDIUM,
    SMALL_SIZE,
    WHITE,
    tint,
)
from floorplan.units import format_length

RADIUS = 1.9
"""Of a numbered marker [mm]."""
SMALLEST = 1.0
"""A place narrower than this on paper is drawn as a line [mm]."""


def draw_marker(page: Page, x: float, y: float, note: Note, gid: str | None = None) -> None:
    """The number in a circle: full for what fails, white for advice, dashed when unsure."""
    full = (note.kind, note.verdict) == ("required", "fails")
    unsure = note.verdict == "unsure"
    edge = BLACK if unsure else ALERT
    circle = Circle(
        (x, y), RADIUS, facecolor=ALERT if full else WHITE, edgecolor=edge, linewidth=LIGHT,
        linestyle=(0, (2.5, 1.2)) if unsure else "-", zorder=30.0,
    )  # fmt: skip
    if gid:
        circle.set_gid(gid)
    page.axes.add_patch(circle)
    page.text(
        x, y, str(note.number), size=SMALL_SIZE, bold=True, ha="center", middle=True,
        colour=WHITE if full else edge, z=31.0,
    )  # fmt: skip


def draw_notes(plan: Plan, notes: Sequence[Note]) -> list[Box]:
    """Places and numbers of notes; the boxes that other lettering should keep off [mm]."""
    hatched = MultiPolygon()
    for note in notes:
        for place in note.places:
            hatched = _draw_place(plan, note, plan.shape(place), hatched)
    taken = []
    for note in notes:
        anchor = _anchor(plan, note)
        if anchor is None:
            continue
        size = 2 * RADIUS
        here = Box.about(*anchor, size, size)
        found = plan.placer.find([here, *around(*anchor, size, size, first=0.5, reach=30.0)])
        if found is None:
            continue
        draw_marker(plan.page, *found.centre, note, gid=f"finding {note.number}")
        if found is not here:
            plan.page.line([found.centre, anchor], width=FINE, colour=ALERT, z=29.0)
        taken.append(found)
    return taken


def _anchor(plan: Plan, note: Note) -> tuple[float, float] | None:
    """A point within the place, or where the drawing ends on the way to it."""
    for place in note.places:
        shape = plan.shape(place)
        if not shape.is_empty:
            line = isinstance(shape, LineString)
            at = shape.interpolate(0.5, normalized=True) if line else shape.representative_point()
            return float(at.x), float(at.y)
    for place in note.places:
        point = plan.shape(place, cut=False).representative_point()
        return plan.view.grown(-RADIUS).nearest(float(point.x), float(point.y))
    return None


def _simple(shape: BaseGeometry) -> Iterator[BaseGeometry]:
    for part in getattr(shape, "geoms", [shape]):
        if not part.is_empty:
            yield part


def _draw_place(plan: Plan, note: Note, shape: BaseGeometry, hatched: BaseGeometry) -> BaseGeometry:
    """Draw one place and give the area hatched so far: nothing is hatched twice."""
    required = note.kind == "required"
    edge = ALERT if note.verdict == "fails" else tint(BLACK, 0.8)
    width = MEDIUM if required else LIGHT
    gid = f"place of finding {note.number}"
    for part in _simple(shape):
        if part.geom_type == "Polygon":
            plan.page.area(
                part, edge=edge, width=width, z=8.0 if required else 7.9,
                dashes=() if required else (3.0, 2.0), gid=gid,
            )  # fmt: skip
            if required and note.verdict == "fails":
                fresh = part.difference(hatched)
                plan.page.area(fresh, edge=edge, width=0.0, hatch="//", z=7.8)
                hatched = hatched.union(part)
        elif part.geom_type == "LineString" and part.length > SMALLEST:
            _dimension(plan.page, part, colour=edge, width=width * 1.4, gid=gid)
        else:
            x, y = part.centroid.x, part.centroid.y
            for dx, dy in ((1.0, 1.0), (1.0, -1.0)):
                plan.page.line(
                    [(x - dx, y - dy), (x + dx, y + dy)], width=width, colour=edge, z=8.0, gid=gid
                )
    return hatched


def _dimension(
    page: Page, line: LineString, *, colour: str, width: float, gid: str | None = None
) -> None:
    """A line with oblique ticks at its ends, the building trade's way to dimension."""
    points = [(float(x), float(y)) for x, y in line.coords]
    page.line(points, width=width, colour=colour, z=8.2, gid=gid)
    for x, y in (points[0], points[-1]):
        page.line([(x - 0.8, y - 0.8), (x + 0.8, y + 0.8)], width=HEAVY, colour=colour, z=8.3)


def draw_pinches(plan: Plan, findings: Sequence[Finding], most: int = 2) -> list[Box]:
    """The narrowest places of ways out that pass, with their widths; boxes taken [mm]."""
    seen: set[str] = set()
    boxes: list[Box] = []
    passing = [
        f
        for f in findings
        if f.check == "way-out" and f.verdict == "passes" and f.measured is not None
        and isinstance(f.where, LineString)
    ]  # fmt: skip
    for found in sorted(passing, key=lambda f: (f.measured or 0.0, f.about)):
        assert found.where is not None
        assert found.measured is not None
        if found.where.wkb_hex in seen or len(seen) == most:
            continue
        seen.add(found.where.wkb_hex)
        line = plan.shape(found.where)
        if not isinstance(line, LineString) or line.is_empty:
            continue
        _dimension(plan.page, line, colour=GREEN, width=LIGHT, gid="way out")
        width = format_length(found.measured, plan.system, rounding="down")
        label = Label((f"way out {width}",), SMALL_SIZE)
        place = plan.placer.find(beside(Box(*line.bounds), *label.extent, reach=15.0), busy=boxes)
        if place is not None:
            plan.write(label, place, colour=tint(GREEN, 1.0))
            boxes.append(place)
    return boxes
