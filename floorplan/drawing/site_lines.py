"""The lines of a lot on its drawing: their names and lengths, setbacks, distances of the shed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.lot import LineDistance, Reach, reaches
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.placing import Box, around, beside
from floorplan.drawing.style import BLUE, HEAVY, LIGHT, SMALL_SIZE, THIN
from floorplan.geometry.affine import Affine
from floorplan.shop.air import distance
from floorplan.shop.model import Shop
from floorplan.shop.site import LotLine
from floorplan.units import format_length

GREY = "#808080"
CLEAR = 1.0
"""Kept between a line and its lettering [mm]."""
SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Of the line's length: where its lettering is tried."""
TICK = 1.2
"""Half a stroke across the end of a distance [mm]."""
FINE = 1.5
"""Lines are taken as boxes of this size, so that lettering keeps off them [mm]."""


def length_of(line: LotLine) -> Affine:
    """Length of a lot line from corner to corner [m]."""
    flat = Affine(0.0)
    return distance((*line.start, flat), (*line.end, flat))


def with_error(value: Affine, shop: Shop, *, down: bool = False) -> str:
    """A length and what the tape leaves open of it."""
    text = format_length(value.value, shop.system, rounding="down" if down else "nearest")
    error = value.error(shop.measurements)
    return text if error <= 0 else f"{text} ± {format_length(error, shop.system, rounding='up')}"


def draw_lines(plan: Plan, shop: Shop) -> None:
    """The lot, hatched as deep as each setback reaches."""
    page, site = plan.page, shop.site
    assert site is not None
    land = Polygon(site.lot.points)
    page.area(plan.shape(land), width=HEAVY, z=4.0, gid="lot")
    for reach in reaches(site):
        back = reach.line.setback
        if not back:
            continue
        strip = LineString(reach.ends).buffer(back).intersection(land)
        page.area(
            plan.shape(strip), edge=GREY, width=0.0, hatch="\\\\\\", alpha=0.35, z=2.2,
            gid=f"setback ground: {reach.line.name}",
        )  # fmt: skip
        line = LineString(reach.ends + reach.inward * back).intersection(land)
        stroke(plan, line, width=LIGHT, dashes=(6.0, 3.0), gid=f"setback: {reach.line.name}")


def stroke(
    plan: Plan,
    line: BaseGeometry,
    *,
    width: float,
    colour: str = "#000000",
    dashes: tuple[float, ...] = (),
    z: float = 5.0,
    gid: str = "",
) -> None:
    """Every stretch of a line of the room [m]."""
    for part in getattr(line, "geoms", [line]):
        if part.geom_type == "LineString" and not part.is_empty:
            points = [plan.to_paper(x, y) for x, y in np.asarray(part.coords)[:, :2]]
            plan.page.line(points, width=width, colour=colour, dashes=dashes, z=z, gid=gid or None)


def on_paper(plan: Plan, lines: Sequence[BaseGeometry]) -> list[Box]:
    """Small boxes all along lines of the room, for lettering to keep off [mm]."""
    out = []
    for line in lines:
        shape = plan.shape(line)
        for part in getattr(shape, "geoms", [shape]):
            if part.is_empty or part.length == 0.0:
                continue
            steps = np.arange(0.0, part.length + FINE, FINE)
            spots = part.interpolate(np.minimum(steps, part.length))
            out += [Box.about(spot.x, spot.y, FINE / 2, FINE / 2) for spot in spots]
    return out


# --- lettering ---------------------------------------------------------------------------------


def letter_lines(plan: Plan, shop: Shop, busy: Sequence[Box]) -> None:
    """Name, length and setback along each line of the lot, outside of it where there is room."""
    site = shop.site
    assert site is not None
    for reach in reaches(site):
        line, back = reach.line, reach.line.setback
        text = f"{line.name}, {format_length(length_of(line).value, shop.system)} long"
        if back:
            text += f", setback {format_length(back, shop.system)}"
        short = f"{line.name}, {format_length(length_of(line).value, shop.system)}"
        for words in (text, short, line.name):
            along = reach.ends[1] - reach.ends[0]
            label = Label((words,), SMALL_SIZE, upright=bool(abs(along[1]) > abs(along[0])))
            place = plan.placer.find(_along(plan, reach, label), busy=busy, most=2.0)
            if place is not None:
                plan.write(label, place, gid=f"line: {line.name}")
                break


def _along(plan: Plan, reach: Reach, label: Label) -> Iterator[Box]:
    """Places beside a line, which its lettering just clears: outside of the lot, then inside."""
    start, end = (np.array([p[0].value, p[1].value]) for p in (reach.line.start, reach.line.end))
    wide, high = label.extent
    inward = reach.inward
    off = (abs(float(inward[0])) * wide + abs(float(inward[1])) * high) / 2 + CLEAR
    for side in (-1.0, 1.0):
        for more in (0.0, 2.0, 4.0):
            for share in SHARES:
                x, y = plan.to_paper(*(start + (end - start) * share))
                x += side * (off + more) * float(inward[0])
                y += side * (off + more) * float(inward[1])
                yield Box.about(x, y, wide, high)


def letter_distances(
    plan: Plan, shop: Shop, rows: Sequence[LineDistance], busy: Sequence[Box]
) -> None:
    """How far the shed stands from each line, with what the tape leaves open."""
    for row in rows:
        stroke(plan, row.place, width=THIN, colour=BLUE, z=6.0, gid="distance")
        _end_ticks(plan, row.place)
    for row in rows:
        label = Label((with_error(row.distance, shop, down=True),), SMALL_SIZE)
        spots = (plan.box(row.place.interpolate(share, normalized=True).buffer(0.02))
                 for share in SHARES)  # fmt: skip
        candidates = (
            box
            for spot in spots
            for box in (
                *beside(spot, *label.extent, reach=4.0),
                *around(*spot.centre, *label.extent, first=1.0, reach=6.0),
            )
        )
        place = plan.placer.find(candidates, busy=busy)
        if place is not None:
            plan.write(label, place, colour=BLUE)


def _end_ticks(plan: Plan, line: LineString) -> None:
    a, b = (np.array(plan.to_paper(x, y)) for x, y in np.asarray(line.coords)[[0, -1], :2])
    length = float(np.hypot(*(b - a)))
    if length < 1e-6:
        return
    across = np.array([a[1] - b[1], b[0] - a[0]]) / length * TICK
    for end in (a, b):
        plan.page.line([tuple(end - across), tuple(end + across)], width=THIN, colour=BLUE, z=6.0)
