"""Runs of duct drawn: plan with the strip, elevation, and the pressure along the worst run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from shapely import box as rectangle
from shapely.geometry import LineString, MultiLineString, Point

from floorplan.checks.duct_system import Ducts, GateState, shares
from floorplan.checks.hose import VacuumAnswer
from floorplan.drawing.arrangement import COLUMN, Arrangement, Printing, choose
from floorplan.drawing.canvas import Label, Plan, drawn_bounds
from floorplan.drawing.column import Row, flow, heading, paragraph, set_text
from floorplan.drawing.one_plan import plan_within, title_rows
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.placing import Box, beside
from floorplan.drawing.plan import Detail, draw_plan
from floorplan.drawing.style import (
    ALERT,
    BLACK,
    BLUE,
    HEAVY,
    KEEP_CLEAR,
    LIGHT,
    MEDIUM,
    SKY,
    SMALL_SIZE,
    THIN,
    drawing_defaults,
    tint,
)
from floorplan.drawing.titling import Title, draw_foot, draw_title, foot_height
from floorplan.rules.cautions import cautions
from floorplan.shop.air import Run
from floorplan.shop.duct_space import leg_volumes
from floorplan.shop.scene import Scene
from floorplan.units import format_length, format_pressure

SHOWN = Detail(zones=False, corners=False, ruler=False)
ELEVATION = 42.0
"""Most height kept for the elevation [mm]."""
CHART = 46.0
"""Height kept for the pressure [mm]."""
LATER = (5.0, 2.5)
"""Dashes of what is not there yet."""


@dataclass(frozen=True, slots=True)
class DuctSheet:
    """What goes on the sheet."""

    ducts: Ducts | None
    worst: GateState | None
    vacuum: VacuumAnswer | None
    sentences: tuple[str, ...]
    parts: tuple[str, ...]


def ducts_sheet(
    scene: Scene,
    sheet: DuctSheet,
    out_dir: str | Path,
    name: str,
    *,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """The air of a layout on one sheet: `out_dir/name.svg` and so on.  Raises OSError."""
    return save(ducts_page(scene, sheet), Path(out_dir) / name, formats)


@drawing_defaults()
def ducts_page(scene: Scene, sheet: DuctSheet, printing: Printing | None = None) -> Page:
    """The air of a layout on one sheet, not yet saved."""
    shop, rows = scene.shop, _rows(sheet)
    bounds = air_bounds(scene, sheet)
    texts = cautions("dust", "ducts")
    kept = _charts_height(scene, sheet)

    def fits(arrangement: Arrangement) -> bool:
        columns = arrangement.columns
        if not columns or columns[0].height < kept:
            return False
        return flow(rows, _below(columns, kept)).left_over == 0

    west, south, east, north = bounds
    where = choose(
        east - west, north - south, shop.system, partial(foot_height, texts), fits, printing,
        chart=kept,
    )  # fmt: skip
    page = Page(where.width, where.height, f"{shop.name}: air")
    plan = plan_within(page, scene, where, bounds)
    draw_plan(plan, detail=SHOWN)
    if sheet.ducts is not None:
        draw_runs(plan, sheet.ducts)
    if sheet.vacuum is not None:
        draw_hose_ways(plan, sheet.vacuum)
    columns = where.columns
    if columns and columns[0].height >= kept:
        _draw_charts(page, scene, sheet, columns[0])
        columns = _below(columns, kept)
    set_text(page, rows, columns, goes_on=printing is not None)
    of = 1 if printing is None else 0
    draw_title(page, Title("Ducts and hoses", shop, where.paper, where.ratio, 1, of), where.title)
    draw_foot(page, where.foot, where.ratio, shop.system, texts)
    return page


def air_bounds(scene: Scene, sheet: DuctSheet) -> tuple[float, float, float, float]:
    """The building and every run [m]."""
    boxes = [drawn_bounds(scene)]
    if sheet.ducts is not None:
        boxes += [v.bounds for run in sheet.ducts.plan.runs for v in leg_volumes(run)]
    return (
        min(b[0] for b in boxes), min(b[1] for b in boxes),
        max(b[2] for b in boxes), max(b[3] for b in boxes),
    )  # fmt: skip


def _rows(sheet: DuctSheet) -> list[Row]:
    rows = title_rows("Air")
    for sentence in sheet.sentences:
        rows.extend(paragraph(sentence, COLUMN, bold=sentence.endswith(":"), before=0.6))
    if sheet.parts:
        rows.append(heading("Parts"))
        for part in sheet.parts:
            rows.extend(paragraph(part, COLUMN, before=0.3))
    return rows


def _below(columns: Sequence[Box], kept: float) -> tuple[Box, ...]:
    first = columns[0]
    return (Box(first.left, first.bottom, first.right, first.top - kept), *columns[1:])


def _charts_height(scene: Scene, sheet: DuctSheet) -> float:
    return (_elevation_height(scene) if sheet.ducts else 0.0) + (CHART if sheet.worst else 0.0)


def _draw_charts(page: Page, scene: Scene, sheet: DuctSheet, column: Box) -> None:
    top = column.top
    if sheet.ducts is not None:
        high = _elevation_height(scene)
        draw_elevation(page, scene, sheet.ducts, Box(column.left, top - high, column.right, top))
        top -= high
    if sheet.ducts is not None and sheet.worst is not None:
        at = Box(column.left, top - CHART, column.right, top)
        draw_pressure(page, scene, sheet.ducts, sheet.worst, at)


# --- plan ------------------------------------------------------------------------------------


def draw_runs(plan: Plan, ducts: Ducts) -> None:
    """Each run with its strip, its hose, and its name, size and height."""
    page = plan.page
    for run in ducts.plan.runs:
        if run.later or run.clear.value > 0.0:
            for volume in leg_volumes(run, round_it=True):
                page.area(
                    plan.shape(volume.polygon), edge=tint(KEEP_CLEAR.colour, 0.5), width=THIN,
                    hatch=KEEP_CLEAR.hatch, alpha=0.6, z=8.6, gid=f"strip: {run.name}",
                )  # fmt: skip
        for volume in leg_volumes(run):
            page.area(
                plan.shape(volume.polygon), face=tint(SKY, 0.5), edge=BLUE, width=MEDIUM,
                alpha=0.6, dashes=LATER if run.later else (), z=8.8, gid=f"run: {run.name}",
            )  # fmt: skip
    for name, way in ducts.hoses.items():
        run = ducts.plan.run(name)
        ends = [(s[0].value, s[1].value) for s in (way.port, run.path[0])]
        page.line(
            [plan.to_paper(*end) for end in ends], width=HEAVY, colour=BLUE, dashes=(1.2, 0.8),
            z=9.0, gid=f"hose: {name}",
        )  # fmt: skip
        mark = plan.shape(Point(ends[0]).buffer(0.03))
        page.area(mark, face=BLUE, edge=BLUE, z=9.1, gid=f"port: {name}")
    for run in ducts.plan.runs:
        _letter_run(plan, run)


def _letter_run(plan: Plan, run: Run) -> None:
    heights = [spot[2].value for spot in run.path]
    size, top = plan.length(run.diameter.value), plan.length(max(heights))
    name = f"{run.name}{', later' if run.later else ''}"
    label = Label((name, f"{size} at {top}"), SMALL_SIZE, bold=1)
    legs = sorted((v.polygon for v in leg_volumes(run)), key=lambda p: -p.area)
    middles = [plan.to_paper(*leg.centroid.coords[0]) for leg in legs]
    upon = [Box.about(*middle, *label.extent) for middle in middles]
    around = beside(plan.box(legs[0]), *label.extent, reach=25.0)
    place = plan.placer.find([*upon, *around])
    if place is None:
        return
    plan.write(label, place, colour=BLUE)
    if place in upon:
        return
    # beside a run another may lie nearer: a leader says whose name it is
    target = Point(*place.centre)
    end = min((middles[0], *middles), key=lambda spot: target.distance(Point(*spot)))
    plan.page.line(
        [place.nearest(*end), end], width=THIN, colour=BLUE, z=9.0, gid=f"leader: {run.name}"
    )


def draw_hose_ways(plan: Plan, found: VacuumAnswer) -> None:
    """The way of the vacuum's hose to every thing, round what stands there."""
    bought = found.vacuum.length
    for place in found.places:
        if len(place.path) < 2:
            continue
        short = bought is not None and bought.value < place.length.value
        drawn = plan.shape(LineString(place.path))
        colour = ALERT if short else BLUE
        parts = drawn.geoms if isinstance(drawn, MultiLineString) else [drawn]
        for part in parts:
            plan.page.line(
                [(float(x), float(y)) for x, y in part.coords], width=LIGHT, colour=colour,
                dashes=(5.0, 2.0), z=9.2, gid=f"hose to {place.thing}",
            )  # fmt: skip
        end = plan.to_paper(*place.path[-1])
        words = f"hose {plan.length(place.length.value)}"
        label = Label((words,), SMALL_SIZE, bold=int(short))
        spot = plan.placer.find(beside(Box.about(*end, 1.0, 1.0), *label.extent, reach=12.0))
        if spot is not None:
            plan.write(label, spot, colour=colour)


# --- elevation -------------------------------------------------------------------------------


def _span(scene: Scene) -> tuple[float, float]:
    points = scene.shop.room.floor.points
    return float(points[:, 0].min()), float(points[:, 0].max())


def _elevation_unit(scene: Scene) -> float:
    """Millimetres of paper to a metre."""
    west, east = _span(scene)
    room = ELEVATION - 8.0
    return min((COLUMN - 12.0) / (east - west), room / scene.shop.room.height.value)


def _elevation_height(scene: Scene) -> float:
    return scene.shop.room.height.value * _elevation_unit(scene) + 8.0


def draw_elevation(page: Page, scene: Scene, ducts: Ducts, at: Box) -> None:
    """The room seen towards the north: what stands, and the runs over it."""
    shop, unit = scene.shop, _elevation_unit(scene)
    west, east = _span(scene)
    floor = at.bottom + 2.0
    ceiling = floor + shop.room.height.value * unit

    def to_paper(x: float, z: float) -> tuple[float, float]:
        return at.left + (x - west) * unit, floor + z * unit

    page.text(at.left, at.top - 3.5, "Elevation, looking north", size=SMALL_SIZE, bold=True)
    for element in scene.of("solid"):
        if element.name == "body" and not element.building and element.presence.only is None:
            left, _, right, _ = element.volume.bounds
            low, high = element.volume.bottom.value, element.volume.top.value
            page.area(
                rectangle(*to_paper(max(left, west), low), *to_paper(min(right, east), high)),
                face=tint(BLACK, 0.1), edge=tint(BLACK, 0.5), width=THIN, z=3.0,
            )  # fmt: skip
    for run in ducts.plan.runs:
        for volume in leg_volumes(run):
            left, _, right, _ = volume.bounds
            page.area(
                rectangle(
                    *to_paper(left, volume.bottom.value), *to_paper(right, volume.top.value)
                ),
                face=tint(SKY, 0.5), edge=BLUE, width=LIGHT, alpha=0.7,
                dashes=LATER if run.later else (), z=4.0, gid=f"elevation: {run.name}",
            )  # fmt: skip
    page.area(
        rectangle(*to_paper(west, 0.0), *to_paper(east, shop.room.height.value)),
        width=MEDIUM, z=5.0,
    )  # fmt: skip
    head = shop.rules.value("way-out-height")
    page.line([to_paper(west, head), to_paper(east, head)], width=THIN, dashes=(4.0, 2.0), z=4.5)
    right = to_paper(east, 0.0)[0] + 1.0
    page.text(right, to_paper(0.0, head)[1], format_length(head, shop.system), size=SMALL_SIZE,
              middle=True)  # fmt: skip
    if ceiling - to_paper(0.0, head)[1] > 3.0:
        words = format_length(shop.room.height.value, shop.system)
        page.text(right, ceiling, words, size=SMALL_SIZE, middle=True)


# --- pressure --------------------------------------------------------------------------------


def pressure_line(ducts: Ducts, state: GateState) -> tuple[str, list[tuple[float, float]]]:
    """The run that is worst off, and (way from its port [m], static pressure [Pa]) along it."""
    share = shares(ducts, state)
    run = min(state.runs, key=lambda name: share.get(name, float("inf")))
    point = state.worst
    if ducts.system is None or not point.meets:
        return run, []
    rows = {s.name: s for s in point.segments}
    line, passed = [(0.0, 0.0)], 0.0
    for segment in ducts.system.path(run):
        row = rows[segment.name]
        line.append((passed, row.static_start))
        passed += segment.length
        line.append((passed, row.static_end))
    return run, line


def draw_pressure(page: Page, scene: Scene, ducts: Ducts, state: GateState, at: Box) -> None:
    """Static pressure from the port to the collector, below the room's."""
    shop = scene.shop
    run, line = pressure_line(ducts, state)
    page.text(
        at.left, at.top - 5.5, f"Pressure along {run}, {state.words}", size=SMALL_SIZE, bold=True
    )
    if not line:
        page.text(
            at.left, at.top - 9.5, "no operating point: the fan does not meet this run",
            size=SMALL_SIZE, colour=ALERT,
        )  # fmt: skip
        return
    lowest, far = min(p for _, p in line), max(x for x, _ in line)
    frame = Box(at.left + 1.0, at.bottom + 5.0, at.right - 16.0, at.top - 11.0)

    def to_paper(x: float, pressure: float) -> tuple[float, float]:
        return (
            frame.left + x / max(far, 1e-6) * frame.width,
            frame.top - pressure / lowest * frame.height,
        )

    page.line([(frame.left, frame.bottom), (frame.left, frame.top)], width=LIGHT)
    page.line([to_paper(0.0, 0.0), to_paper(far, 0.0)], width=LIGHT)
    page.line([to_paper(*p) for p in line], width=HEAVY, colour=BLUE, gid="pressure")
    end = to_paper(*line[-1])
    words = format_pressure(line[-1][1], shop.system)
    page.text(end[0] + 1.0, end[1], words, size=SMALL_SIZE, middle=True)
    page.text(frame.right + 1.0, frame.top, "room", size=SMALL_SIZE, middle=True)
    way = f"{format_length(far, shop.system)} from port to collector"
    page.text(frame.left, at.bottom + 1.5, way, size=SMALL_SIZE)
    passed = 0.0
    for segment in () if ducts.system is None else ducts.system.path(run):
        passed += segment.length
        if segment.length > 0:
            x = to_paper(passed, 0.0)[0]
            page.line([(x, frame.bottom), (x, frame.top)], width=THIN, colour=tint(BLACK, 0.3))
