"""The site to scale: lot lines with their setbacks, what stands there, places for the shed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.lot import reaches
from floorplan.drawing.arrangement import (
    COLUMN,
    RATIOS,
    Arrangement,
    Foot,
    Printing,
    choose,
    papers,
)
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.column import Row, flow, paragraph, set_text, table
from floorplan.drawing.one_plan import plan_within, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import Box, around, beside, inside
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    BLUE,
    FIXED_FACE,
    FURNITURE_FACE,
    HEAVY,
    LIGHT,
    MEDIUM,
    NAME_SIZE,
    ORANGE,
    SMALL_SIZE,
    THIN,
    WALL_FACE,
    drawing_defaults,
)
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.rules.cautions import cautions
from floorplan.search.shed import NOT_KNOWN, ShedAnswer, ShedSite
from floorplan.search.shed_ground import outer_room
from floorplan.shop import building
from floorplan.units import System, format_length

AROUND = 0.9
"""Shown beyond the lot [m]."""
TOPICS = ("shed", "noise", "dust")
"""Cautions under the drawing."""
Bounds = tuple[float, float, float, float]


def site_sheet(
    answer: ShedAnswer,
    head: str,
    out_dir: str | Path,
    name: str,
    *,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """The site on one sheet with the places in their order.  Raises OSError."""
    return save(site_page(answer, head), Path(out_dir) / name, formats)


@drawing_defaults()
def site_page(answer: ShedAnswer, head: str, printing: Printing | None = None) -> Page:
    """The site on one sheet, not yet saved; in a printed set as large as its paper allows."""
    shop = answer.shop
    rows = _rows(answer, head)
    bounds = site_bounds(answer)
    west, south, east, north = bounds
    texts = cautions(*TOPICS)

    def fits(arrangement: Arrangement) -> bool:
        return flow(rows, arrangement.columns).left_over == 0

    size, foot = (east - west, north - south), partial(foot_height, texts)
    if printing is None:
        where = _sheet(*size, shop.system, foot, fits)
    else:
        fine = replace(printing, ratio=RATIOS[shop.system][0], together=True)
        where = choose(*size, shop.system, foot, fits, fine)
    subject = "Site: places for the collector's shed"
    page = Page(where.width, where.height, f"{shop.name}: {subject}")
    plan = plan_within(page, answer.scene, where, bounds)
    draw_site(plan, answer)
    set_text(page, rows, where.columns, goes_on=printing is not None)
    numbered = 1 if printing is None else 0
    title = Title(subject, shop, where.paper, where.ratio, 1, numbered)
    draw_title(page, title, where.title)
    draw_foot(page, where.foot, where.ratio, shop.system, texts)
    return page


def draw_site(plan: Plan, answer: ShedAnswer) -> None:
    """Ground, what stands on it, and the places, the first on top."""
    _draw_ground(plan, answer)
    _draw_legal(plan, answer)
    sites = _drawn_sites(answer)
    for site in reversed(sites):
        _draw_place(plan, site)
    for row in answer.largest[:1]:
        shape = plan.shape(row.walls)
        plan.page.area(shape, edge=BLUE, width=MEDIUM, dashes=(3.0, 2.0), z=5.7, gid="largest shed")
    _letter(plan, answer, sites)


def _sheet(
    width: float, depth: float, system: System, foot: Foot, fits: Callable[[Arrangement], bool]
) -> Arrangement:
    """The smallest paper that takes the site at any scale: an office wants it on its desk."""
    for paper in papers(system):
        try:
            where = choose(
                width, depth, system, foot, fits,
                Printing(paper, RATIOS[system][0], together=True),
            )  # fmt: skip
        except ValueError:
            continue
        if fits(where):
            return where
    return choose(width, depth, system, foot, fits)


def site_bounds(answer: ShedAnswer) -> Bounds:
    """The lot, the room and whatever else the file has out there [m]."""
    site = answer.shop.site
    assert site is not None
    points = [site.lot.points, np.asarray(outer_room(answer.shop).exterior.coords)]
    points += [b.outline.points for b in site.buildings]
    points += [np.array([[r.x.value, r.y.value]]) for r in site.receivers]
    every = np.vstack(points)
    low, high = every.min(axis=0) - AROUND, every.max(axis=0) + AROUND
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _drawn_sites(answer: ShedAnswer) -> list[ShedSite]:
    return [*answer.sites, *(() if answer.today is None else (answer.today,))]


def _rows(answer: ShedAnswer, head: str) -> list[Row]:
    system = answer.shop.system
    rows = title_rows(head, BLACK if answer.sites else ALERT)
    cells: list[tuple[str, ...]] = [("place", "nearest line", "duct", "elbows", "reason")]
    for site in _drawn_sites(answer):
        nearest = min(
            site.distances,
            key=lambda d: d.distance.value - (d.reach.line.setback or 0.0),
            default=None,
        )
        near = "" if nearest is None else (
            f"{format_length(nearest.distance.value, system, rounding='down')} "
            f"{nearest.reach.line.name}"
        )  # fmt: skip
        way = site.way
        duct = "none" if way is None else format_length(way.length, system, rounding="up")
        bends = "" if way is None else str(way.elbows)
        name = str(site.rank) if site.rank else "file"
        cells.append((name, near, duct, bends, site.reason or site.verdict))
    if len(cells) > 1:
        rows.extend(table(cells, (10.0, 23.0, 15.0, 11.0, 23.0)))
    for text in _notes(answer):
        rows.extend(paragraph(text, COLUMN, before=0.8))
    return rows


def _notes(answer: ShedAnswer) -> Iterator[str]:
    site = answer.shop.site
    assert site is not None
    if site.unset:
        yield f"NOT CHECKED: no setback is told for {', '.join(site.unset)}."
    yield (
        "Dashed: setback lines as the file has them.  Light hatch: where the shed's west and "
        "south points may be at its turns, blue along a wall.  Numbers: the places in order; "
        "dotted before the first: the ground before its door."
    )
    yield NOT_KNOWN
    yield "This is no survey and no permit: the local office decides."


# --- drawing -------------------------------------------------------------------------------


def _draw_ground(plan: Plan, answer: ShedAnswer) -> None:
    """Lot lines, setback lines, buildings, trees and the room."""
    page, site, room = plan.page, answer.shop.site, answer.shop.room
    assert site is not None
    land = Polygon(site.lot.points)
    page.area(plan.shape(land), width=HEAVY, z=4.0, gid="lot")
    for reach in reaches(site):
        back = reach.line.setback
        if not back:
            continue
        line = LineString(reach.ends + reach.inward * back).intersection(land)
        _stroke(plan, line, width=LIGHT, dashes=(6.0, 3.0), gid=f"setback: {reach.line.name}")
    for b in site.buildings:
        shape = plan.shape(Polygon(b.outline.points))
        page.area(shape, face=FIXED_FACE, width=MEDIUM, z=3.0, gid=f"building: {b.name}")
    for tree in site.trees:
        spot = Point(tree.x.value, tree.y.value)
        keep = plan.shape(spot.buffer(max(tree.keep.value, 0.15)))
        page.area(keep, width=THIN, dashes=(2.0, 2.0), z=3.0, gid=f"tree: {tree.name}")
        page.area(plan.shape(spot.buffer(0.15)), face=BLACK, width=THIN, z=3.1)
    outer = outer_room(answer.shop)
    floor = building.floor_polygon(room)
    walls = outer.difference(floor)
    page.area(plan.shape(walls), face=WALL_FACE, width=THIN, z=3.2, gid="room")
    for door in answer.shop.doors:
        page.area(
            plan.shape(building.doorway(answer.shop, door)), face="#FFFFFF", width=THIN, z=3.3
        )


def _stroke(
    plan: Plan,
    line: BaseGeometry,
    *,
    width: float,
    colour: str = BLACK,
    dashes: tuple[float, ...] = (),
    z: float = 5.0,
    gid: str = "",
) -> None:
    for part in getattr(line, "geoms", [line]):
        if part.geom_type == "LineString" and not part.is_empty:
            points = [plan.to_paper(x, y) for x, y in np.asarray(part.coords)[:, :2]]
            plan.page.line(points, width=width, colour=colour, dashes=dashes, z=z, gid=gid or None)


def _draw_legal(plan: Plan, answer: ShedAnswer) -> None:
    """Where a shed of each square turn may have its west and south points."""
    for ground in answer.grounds:
        if ground.wall is not None:
            _stroke(plan, ground.places, width=MEDIUM, colour=BLUE, z=4.5)
        elif ground.turn % 90.0 == 0.0:
            shape = plan.shape(ground.places)
            plan.page.area(
                shape, edge=BLUE, width=0.0, hatch="//", alpha=0.18, z=2.5, gid="legal ground"
            )


def _draw_place(plan: Plan, site: ShedSite) -> None:
    page, body = plan.page, site.standing.body
    own = site.rank == 0
    name = f"place {site.rank}" if site.rank else "place in the file"
    if site.way is not None and site.rank == 1:
        for points in site.way.lines:
            line = LineString([spot[:2] for spot in points])
            _stroke(plan, line, width=MEDIUM, colour=ORANGE, z=6.5, gid="duct")
        if site.drop is not None:
            _stroke(
                plan, site.drop.path, width=LIGHT, colour=BLUE, dashes=(1.5, 1.5), z=6.4,
                gid="power",
            )  # fmt: skip
    eaves = plan.shape(Polygon(body.eaves.points))
    page.area(eaves, width=THIN, dashes=(3.0, 2.0), z=5.5, gid=f"{name}: eaves")
    walls = plan.shape(Polygon(body.walls.points))
    colour = ALERT if site.verdict == "fails" else BLACK
    face = "none" if own else FURNITURE_FACE
    page.area(walls, face=face, edge=colour, width=MEDIUM, z=5.6, gid=name)
    if body.door is not None and site.rank == 1:
        ground = plan.shape(Polygon(body.door.points))
        page.area(ground, width=THIN, dashes=(1.0, 1.5), z=5.4, gid=f"{name}: door")


def _letter(plan: Plan, answer: ShedAnswer, sites: Sequence[ShedSite]) -> None:
    """Numbers of places first, then distances of the best, then names."""
    for site in sites:
        if not site.rank:
            continue
        box = plan.box(Polygon(site.standing.body.walls.points))
        label = Label((str(site.rank),), NAME_SIZE, bold=1)
        place = plan.placer.find(
            [*inside(box, *label.extent), *beside(box, *label.extent, reach=9)]
        )
        if place is not None:
            plan.write(label, place)
    if answer.sites:
        _letter_distances(plan, answer.sites[0])
    for name, spot in _named(answer):
        label = Label((name,), SMALL_SIZE)
        place = plan.placer.find(_spots(plan.box(spot), label))
        if place is not None:
            plan.write(label, place)


def _letter_distances(plan: Plan, best: ShedSite) -> None:
    for row in best.distances:
        _stroke(plan, row.place, width=THIN, colour=BLUE, z=6.0, gid="distance")
        middle = row.place.interpolate(0.5, normalized=True)
        text = format_length(row.distance.value, plan.system, rounding="down")
        label = Label((text,), SMALL_SIZE)
        spot = plan.box(middle.buffer(0.05))
        place = plan.placer.find([*around(*spot.centre, *label.extent, first=1.0, reach=12.0)])
        if place is not None:
            plan.write(label, place, colour=BLUE)


def _named(answer: ShedAnswer) -> Iterator[tuple[str, BaseGeometry]]:
    site = answer.shop.site
    assert site is not None
    for row in answer.largest[:1]:
        size = " x ".join(
            format_length(v, answer.shop.system, rounding="down") for v in (row.width, row.depth)
        )
        yield f"largest that fits: {size}", row.walls
    yield answer.shop.name, building.floor_polygon(answer.shop.room)
    for b in site.buildings:
        yield b.name, Polygon(b.outline.points)
    for spot in (*site.trees, *(() if site.house_door is None else (site.house_door,))):
        yield spot.name, Point(spot.x.value, spot.y.value).buffer(0.15)
    for heard in site.receivers:
        yield heard.name, Point(heard.x.value, heard.y.value).buffer(0.15)
    for reach in reaches(site):
        back = reach.line.setback
        name = reach.line.name if not back else (
            f"{reach.line.name}, setback {format_length(back, answer.shop.system)}"
        )  # fmt: skip
        yield name, LineString(reach.ends).interpolate(0.5, normalized=True).buffer(0.05)


def _spots(box: Box, label: Label) -> Iterator[Box]:
    yield from inside(box, *label.extent)
    yield from beside(box, *label.extent, reach=18.0)
