"""A fed piece drawn: the room it takes, what carries it, and the curve of the hand's force."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, isfinite
from pathlib import Path

import numpy as np
from shapely.geometry import Point, Polygon

from floorplan.checks.support import GRAVITY, Support, where_it_tips
from floorplan.drawing.arrangement import COLUMN, Printing
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.column import Row, paragraph
from floorplan.drawing.lettering import text_width
from floorplan.drawing.one_plan import Chart, OnePlan, bounds_with, one_plan_page, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import Box, beside
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
    zone_style,
)
from floorplan.geometry.affine import Array
from floorplan.shop.scene import Element, Scene
from floorplan.units import System, format_length, format_mass

CHART = 69.0
"""Height kept for the curve [mm]."""
FORCE = {False: "Force of the hand at the tail", True: "Force of the hand at either end"}
ENVELOPE = ("infeed", "push", "outfeed")


def support_sheet(
    scene: Scene,
    made: Support,
    sentences: Sequence[str],
    out_dir: str | Path,
    name: str,
    *,
    sheet: int = 1,
    of: int = 1,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """One fed piece on one sheet: `out_dir/name.svg` and so on.  Raises OSError."""
    return save(support_page(scene, made, sentences, sheet, of), Path(out_dir) / name, formats)


@drawing_defaults()
def support_page(
    scene: Scene,
    made: Support,
    sentences: Sequence[str],
    sheet: int = 1,
    of: int = 1,
    printing: Printing | None = None,
) -> Page:
    """One fed piece on one sheet, not yet saved."""
    zones = envelope(scene, made)

    def draw(plan: Plan) -> None:
        draw_envelope(plan, zones)
        draw_tipping(plan, made)

    subject = f"{made.feed.stock} through {made.feed.machine}"
    chart = Chart(CHART, lambda page, column: draw_curve(page, made, scene, column))
    bounds = bounds_with(scene, [e.volume.bounds for e in zones])
    one = OnePlan(subject, subject, bounds, _rows(made, sentences), draw, chart)
    return one_plan_page(scene, one, sheet, of, printing)


def _rows(made: Support, sentences: Sequence[str]) -> list[Row]:
    rows = title_rows(f"{made.feed.stock}, {made.feed.cut}, through {made.feed.machine}")
    for sentence in sentences:
        rows.extend(paragraph(sentence, COLUMN, before=0.8))
    return rows


def envelope(scene: Scene, made: Support) -> tuple[Element, ...]:
    """Zones of this piece at its machine: before, pushing, behind."""
    start = f"{made.feed.stock} ({made.feed.cut})"
    return tuple(
        e
        for e in scene.things.get(made.feed.machine, ())
        if e.nature == "zone" and e.purpose in ENVELOPE and e.line == made.feed.line
        and e.name.startswith(start)
    )  # fmt: skip


def draw_envelope(plan: Plan, zones: Sequence[Element]) -> None:
    """The room a piece takes, hatched as on every plan."""
    for zone in zones:
        style = zone_style(zone.purpose)
        plan.page.area(
            plan.shape(zone.volume.polygon), face=tint(style.colour, 0.2), edge=style.colour,
            width=LIGHT, hatch=style.hatch, alpha=0.55, z=9.0, gid=f"envelope: {zone.purpose}",
        )  # fmt: skip


def draw_tipping(plan: Plan, made: Support) -> None:
    """The piece where it tips or comes nearest to it: what bears it, its centre of gravity."""
    shapes = where_it_tips(plan.scene, made)
    if not shapes:
        return
    piece, hull, centre = shapes
    page, colour = plan.page, ALERT if made.tips_at is not None else BLUE
    page.area(
        plan.shape(piece), edge=colour, width=MEDIUM, dashes=(3.0, 2.0), z=9.6, gid="tipping piece"
    )
    if isinstance(hull, Polygon):
        page.area(
            plan.shape(hull), face=tint(colour, 0.25), edge=colour, width=THIN, alpha=0.5, z=9.5,
            gid="bearing",
        )  # fmt: skip
    assert isinstance(centre, Point)
    x, y = plan.to_paper(centre.x, centre.y)
    for dx, dy in ((1.6, 0.0), (0.0, 1.6)):
        page.line([(x - dx, y - dy), (x + dx, y + dy)], width=HEAVY, colour=colour, z=9.8)
    words = "tips here" if made.tips_at is not None else "nearest to tipping"
    label = Label((words, "+ centre of gravity"), SMALL_SIZE)
    place = plan.placer.find(beside(plan.box(piece), *label.extent, reach=25.0))
    if place is not None:
        plan.write(label, place, colour=colour)


def draw_curve(page: Page, made: Support, scene: Scene, column: Box) -> None:
    """The force of the hand at the tail over the way of the leading end behind the blade."""
    shop = scene.shop
    most = shop.rules.value("hold-down-most")
    at = Box(column.left + 9.0, column.top - CHART + 19.0, column.right - 2.0, column.top - 10.0)
    heads = np.array([head for head, _ in made.curve])
    forces = np.array([force / GRAVITY for _, force in made.curve])
    seen = forces[np.isfinite(forces)]
    high = max(min(float(seen.max(initial=0.0)), 4 * most), 1.3 * most)
    low = min(float(seen.min(initial=0.0)), 0.0) * 1.15
    span = (float(heads.min()), float(heads.max()))

    def to_paper(head: float, force: float) -> tuple[float, float]:
        x = at.left + (head - span[0]) / (span[1] - span[0]) * at.width
        return x, at.bottom + (min(max(force, low), high) - low) / (high - low) * at.height

    page.text(column.left, column.top - 3.5, FORCE[made.rollers], size=SMALL_SIZE)
    page.line([to_paper(span[0], 0.0), to_paper(span[1], 0.0)], width=LIGHT)
    page.line([(at.left, at.bottom), (at.left, at.top)], width=LIGHT)
    limit = [to_paper(span[0], most), to_paper(span[1], most)]
    page.line(limit, width=THIN, colour=ALERT, dashes=(4.0, 2.0), gid="hand limit")
    words = f"{format_mass(most, shop.system)} without strain"
    page.text(limit[0][0] + 10.0, limit[0][1] + 0.7, words, size=SMALL_SIZE, colour=ALERT)
    shown = [to_paper(h, f) for h, f in _up_to(heads, forces, high)]
    page.line(shown, width=HEAVY, colour=BLUE, gid="hand force")
    if made.tips_at is not None and span[0] < made.tips_at < span[1]:
        x, y = to_paper(made.tips_at, 0.0)
        page.line([(x, at.bottom), (x, at.top)], width=MEDIUM, colour=ALERT, dashes=(1.5, 1.5))
        page.text(x - 0.6, at.top - 2.0, "tips from here", size=SMALL_SIZE, ha="right",
                  colour=ALERT)  # fmt: skip
    for value, sense in ((high, "press"), (low, "lift")):
        if abs(value) > 1e-6:
            x, y = to_paper(span[0], value)
            page.text(x - 1.0, y - 0.7, sense, size=SMALL_SIZE, ha="right")
            amount = format_mass(value if value > 0 else -float(seen.min()), shop.system)
            page.text(x + 0.8, y - 0.7, amount, size=SMALL_SIZE)
    unit = at.width / (span[1] - span[0])
    _surfaces(page, made, at, to_paper(0.0, 0.0)[0], unit)
    _below_axis(page, at, span, unit, shop.system)


def _up_to(heads: Array, forces: Array, high: float) -> list[tuple[float, float]]:
    """The curve as far as the chart reaches, ending on its upper edge where it leaves it."""
    shown: list[tuple[float, float]] = []
    for head, force in zip(heads.tolist(), forces.tolist(), strict=True):
        if force > high:
            if shown and isfinite(force):
                before, pressed = shown[-1]
                share = (high - pressed) / (force - pressed)
                shown.append((before + share * (head - before), high))
            break
        shown.append((head, force))
    return shown


def _below_axis(
    page: Page, at: Box, span: tuple[float, float], unit: float, system: System
) -> None:
    for head in (span[0], 0.0, span[1]):
        x = at.left + (head - span[0]) * unit
        text = "blade" if head == 0.0 else format_length(abs(head), system)
        y = at.top + 0.6 if head == 0.0 else at.bottom - 13.0
        page.text(x, y, text, size=SMALL_SIZE, ha="right" if head > 0.0 else "left")
    page.text(
        at.centre[0], at.bottom - 16.5, "leading end of the piece, from the blade",
        size=SMALL_SIZE, ha="center",
    )  # fmt: skip


def _surfaces(page: Page, made: Support, at: Box, blade: float, unit: float) -> None:
    """Bars below the curve: where each surface lies, and whether it stops the piece."""
    taken = [-inf, -inf]
    for surface in made.surfaces:
        left = max(blade + surface.near.value * unit, at.left)
        right = min(blade + surface.far.value * unit, at.right)
        if right - left < 0.3:
            continue
        stops = surface.stops()
        colour = ALERT if stops else BLACK if surface.carries() else tint(BLACK, 0.4)
        page.line(
            [(left, at.bottom - 2.5), (right, at.bottom - 2.5)], width=HEAVY * 2, colour=colour
        )
        words = f"{surface.owner}{' (higher)' if stops else ''}"
        half = text_width(words, SMALL_SIZE) / 2
        middle = min(max((left + right) / 2, at.left - 6.0 + half), at.right + 2.0 - half)
        row = 0 if middle - half > taken[0] + 1.0 else 1
        taken[row] = middle + half
        page.text(
            middle, at.bottom - 6.0 - 3.2 * row, words, size=SMALL_SIZE, ha="center", colour=colour
        )
    page.line([(blade, at.bottom - 4.0), (blade, at.top)], width=THIN, dashes=(6.0, 2.0))
