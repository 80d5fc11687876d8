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
from floorplan.drawing.placing import Box, beside, inside
from floorplan.drawing.site_lines import (
    draw_lines,
    length_of,
    letter_distances,
    letter_lines,
    on_paper,
    stroke,
    with_error,
)
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    BLUE,
    FIXED_FACE,
    FURNITURE_FACE,
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
from floorplan.search.shed_largest import ruled_out_words
from floorplan.shop import building
from floorplan.units import System, format_length

AROUND, SHARE = 0.9, 0.03
"""Shown beyond the lot at least [m], and of its size."""
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
    more = max(AROUND, SHARE * float(np.ptp(every, axis=0).max()))
    low, high = every.min(axis=0) - more, every.max(axis=0) + more
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
    rows.extend(_line_rows(answer))
    for row in answer.ruled_out:
        rows.extend(paragraph(ruled_out_words(answer.shop, row), COLUMN, before=0.8))
    for text in _notes(answer):
        rows.extend(paragraph(text, COLUMN, before=0.8))
    return rows


def _line_rows(answer: ShedAnswer) -> Iterator[Row]:
    """Every line of the lot: its length, its setback, and how far the first place stands off."""
    shop, sites = answer.shop, _drawn_sites(answer)
    assert shop.site is not None
    if sites:
        name = "place 1" if sites[0].rank else "the file's place"
        text = f"Lot lines, and from each to {sites[0].standing.part} at {name}:"
    else:
        text = "Lot lines:"
    yield from paragraph(text, COLUMN, before=0.8)
    cells: list[tuple[str, ...]] = [("line", "length", "setback", "stands off" if sites else "")]
    off = {row.reach.line.name: row.distance for row in sites[0].distances} if sites else {}
    for line in shop.site.lines:
        back = line.setback
        away = with_error(off[line.name], shop, down=True) if line.name in off else ""
        told = "not told" if back is None else format_length(back, shop.system)
        cells.append((line.name, with_error(length_of(line), shop), told, away))
    yield from table(cells, (17.5, 25.5, 12.0, 27.0))


def _notes(answer: ShedAnswer) -> Iterator[str]:
    site = answer.shop.site
    assert site is not None
    if site.unset:
        yield f"NOT CHECKED: no setback is told for {', '.join(site.unset)}."
    yield (
        "Grey hatch: setbacks as the file has them, to the dashed lines.  Blue hatch: where the "
        "shed's west and south points may be at its turns, blue along a wall.  Numbers: the "
        "places in order; dotted before the first: the ground before its door.  Blue with ticks: "
        "its distances.  Orange: its duct; blue dots: its cable."
    )
    yield (
        "VERIFY lot lines, setbacks and limits with your local office before anything is built: "
        "this is no survey and no permit."
    )
    yield NOT_KNOWN


# --- drawing -------------------------------------------------------------------------------


def _draw_ground(plan: Plan, answer: ShedAnswer) -> None:
    """Lot lines, setback lines, buildings, trees and the room."""
    page, site, room = plan.page, answer.shop.site, answer.shop.room
    assert site is not None
    draw_lines(plan, answer.shop)
    for heard in site.receivers:
        spot = plan.shape(Point(heard.x.value, heard.y.value).buffer(0.15, quad_segs=1))
        page.area(spot, face=BLUE, width=THIN, z=3.1, gid=f"heard at: {heard.name}")
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
    page.area(plan.shape(floor), face="#FFFFFF", width=0.0, z=2.8)
    page.area(plan.shape(walls), face=WALL_FACE, width=THIN, z=3.2, gid="room")
    for door in answer.shop.doors:
        page.area(
            plan.shape(building.doorway(answer.shop, door)), face="#FFFFFF", width=THIN, z=3.3
        )


def _draw_legal(plan: Plan, answer: ShedAnswer) -> None:
    """Where a shed of each square turn may have its west and south points."""
    for ground in answer.grounds:
        if ground.wall is not None:
            stroke(plan, ground.places, width=MEDIUM, colour=BLUE, z=4.5)
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
            stroke(plan, line, width=MEDIUM, colour=ORANGE, z=6.5, gid="duct")
        if site.drop is not None:
            stroke(
                plan, site.drop.path, width=LIGHT, colour=BLUE, dashes=(1.5, 1.5), z=6.4,
                gid="power",
            )  # fmt: skip
    eaves = plan.shape(Polygon(body.eaves.points))
    page.area(eaves, width=THIN, dashes=(3.0, 2.0), z=5.5, gid=f"{name}: eaves")
    walls = plan.shape(Polygon(body.walls.points))
    colour = ALERT if site.verdict == "fails" else BLACK
    face = FURNITURE_FACE if site.rank == 1 else "none"
    width = MEDIUM if site.rank == 1 or own else THIN
    page.area(walls, face=face, edge=colour, width=width, z=5.6, gid=name)
    if body.door is not None and site.rank == 1:
        ground = plan.shape(Polygon(body.door.points))
        page.area(ground, width=THIN, dashes=(1.0, 1.5), z=5.4, gid=f"{name}: door")


def _letter(plan: Plan, answer: ShedAnswer, sites: Sequence[ShedSite]) -> None:
    """Numbers of places first, then distances of the best, then lines, then names."""
    busy = _busy(plan, answer, sites)
    _letter_places(plan, sites)
    if answer.sites:
        letter_distances(plan, answer.shop, answer.sites[0].distances, busy)
    letter_lines(plan, answer.shop, busy)
    for name, spot in _named(answer):
        box = plan.box(spot)
        for lines in ((name,), tuple(name.split())):
            label = Label(lines, SMALL_SIZE)
            place = plan.placer.find(inside(box, *label.extent), busy=busy, most=1.0)
            if place is not None:
                break
        else:
            label = Label((name,), SMALL_SIZE)
            place = plan.placer.find(beside(box, *label.extent, reach=18.0), busy=busy)
        if place is not None:
            plan.write(label, place)


def _busy(plan: Plan, answer: ShedAnswer, sites: Sequence[ShedSite]) -> list[Box]:
    """Lines that lettering keeps off where it can."""
    site = answer.shop.site
    assert site is not None
    land = Polygon(site.lot.points)
    lines: list[BaseGeometry] = [land.exterior, outer_room(answer.shop).exterior]
    lines += [Polygon(b.outline.points).exterior for b in site.buildings]
    for reach in reaches(site):
        if reach.line.setback:
            back = reach.ends + reach.inward * reach.line.setback
            lines.append(LineString(back).intersection(land))
    lines += [Polygon(s.standing.body.eaves.points).exterior for s in sites]
    lines += [row.walls.exterior for row in answer.largest[:1]]
    for tree in site.trees:
        lines.append(Point(tree.x.value, tree.y.value).buffer(max(tree.keep.value, 0.15)).exterior)
    if answer.sites:
        best = answer.sites[0]
        lines += [row.place for row in best.distances]
        if best.way is not None:
            lines += [LineString([spot[:2] for spot in points]) for points in best.way.lines]
    return on_paper(plan, [line for line in lines if line.length > 0.0])


def _letter_places(plan: Plan, sites: Sequence[ShedSite]) -> None:
    """The number of each place, in what better places leave of it, else beside."""
    before: BaseGeometry = Polygon()
    for site in sites:
        if not site.rank:
            continue
        walls = Polygon(site.standing.body.walls.points)
        left = walls.difference(before)
        before = before.union(walls)
        label = Label((str(site.rank),), NAME_SIZE, bold=1)
        spots = list(beside(plan.box(walls), *label.extent, reach=9))
        if left.area > 0.1 * walls.area:
            part = max(getattr(left, "geoms", [left]), key=lambda one: one.area)
            middle = part.centroid if part.contains(part.centroid) else part.representative_point()
            spots.insert(0, Box.about(*plan.to_paper(middle.x, middle.y), *label.extent))
        place = plan.placer.find(spots)
        if place is not None:
            plan.write(label, place)


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
