"""The sheet's way drawn: poses one after the other, the pinch with its numbers, what blocks it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from math import cos, hypot, sin
from pathlib import Path

from matplotlib.patches import Polygon as Patch
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.ops import unary_union

from floorplan.checks.giving_way import Remedy
from floorplan.checks.way_words import way_sentences, way_title
from floorplan.checks.ways import Way, pose_of
from floorplan.drawing.arrangement import COLUMN, Printing
from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.column import Row, paragraph
from floorplan.drawing.one_plan import Bounds, OnePlan, bounds_with, one_plan_page, title_rows
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
)
from floorplan.motion.carry import Body, Pinch, Pose
from floorplan.motion.turning import outline_at
from floorplan.shop.scene import Scene
from floorplan.units import format_length

EVERY = 0.45
"""A pose is drawn each time some corner has moved so far [m]."""
STROBE_FACE = 0.07


def way_sheet(
    scene: Scene,
    way: Way,
    helped: Remedy | None,
    out_dir: str | Path,
    name: str,
    *,
    sheet: int = 1,
    of: int = 1,
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """One carry on one sheet: `out_dir/name.svg` and so on.  Raises OSError."""
    return save(way_page(scene, way, helped, sheet, of), Path(out_dir) / name, formats)


@drawing_defaults()
def way_page(
    scene: Scene,
    way: Way,
    helped: Remedy | None,
    sheet: int = 1,
    of: int = 1,
    printing: Printing | None = None,
) -> Page:
    """One carry on one sheet, not yet saved."""
    subject = f"{way.carry.piece}: {way.carry.start} to {way.carry.goal}"
    made = OnePlan(
        subject, f"{subject}, {way.carry.how}", way_bounds(scene, way), _rows(scene, way, helped),
        partial(draw_way, way=way),
    )  # fmt: skip
    return one_plan_page(scene, made, sheet, of, printing)


def way_bounds(scene: Scene, way: Way) -> Bounds:
    """The building and every drawn pose [m]."""
    shapes = [outline_at(way.body, pose) for pose in _drawn_poses(way)]
    return bounds_with(scene, [shape.bounds for shape in shapes])


def _rows(scene: Scene, way: Way, helped: Remedy | None) -> list[Row]:
    colour = ALERT if way.verdict == "fails" else BLACK
    title = way_title(way)
    rows = title_rows(title, colour)
    for sentence in way_sentences(scene, way, helped):
        rows.extend(paragraph(sentence, COLUMN, before=0.8))
    return rows


def _drawn_poses(way: Way) -> list[Pose]:
    """Along the way; without one the two ends and, between them, where it sticks."""
    answer = way.answer
    if answer.path:
        return strobe(way.body, answer.path)
    start, goal = pose_of(way.start), pose_of(way.goal)
    blocked = answer.blocked_at
    if blocked is None or blocked.reason != "way":
        return [start, goal]
    if answer.pinch is not None:
        return [start, answer.pinch.pose, goal]
    return [start, blocked.near, blocked.far, goal]


def strobe(body: Body, path: Sequence[Pose], every: float = EVERY) -> list[Pose]:
    """Poses along a path, one each time a corner has moved `every` [m], both ends among them."""
    kept = [path[0]]
    since = 0.0
    for before, after in pairwise(path):
        way = hypot(after.x - before.x, after.y - before.y)
        way += body.radius * abs(after.angle - before.angle)
        done = 0.0
        while way > 0 and since + (way - done) >= every:
            done += every - since
            share = done / way
            kept.append(
                Pose(
                    before.x + share * (after.x - before.x),
                    before.y + share * (after.y - before.y),
                    before.angle + share * (after.angle - before.angle),
                )
            )
            since = 0.0
        since += way - done
    if kept[-1] != path[-1]:
        kept.append(path[-1])
    return kept


def draw_way(plan: Plan, way: Way) -> None:
    """Poses, path, pinch and ends over a plan."""
    answer, page = way.answer, plan.page
    poses = _drawn_poses(way)
    colour = BLUE if answer.path else ALERT
    outlines = [outline_at(way.body, pose) for pose in poses]
    page.area(
        _together(plan, outlines), face=colour, edge="none", width=0.0, alpha=STROBE_FACE, z=9.0,
        gid="swept",
    )  # fmt: skip
    for i, outline in enumerate(outlines):
        end = i in (0, len(outlines) - 1)
        stuck = not answer.path and not end
        if stuck:
            page.area(plan.shape(outline), edge=colour, width=0.0, hatch="//", z=9.3)
        page.area(
            plan.shape(outline), edge=colour, width=MEDIUM if end or stuck else THIN, z=9.4,
            dashes=(3.0, 2.0) if end and not answer.path else (), gid=f"pose {i + 1}",
        )  # fmt: skip
    if answer.path:
        page.line(
            [plan.to_paper(p.x, p.y) for p in answer.path], width=LIGHT, colour=colour,
            dashes=(6.0, 2.0), z=9.5, gid="path",
        )  # fmt: skip
        _arrow(plan, poses, colour)
    _draw_pinch(plan, way)
    for word, index in _words(way):
        label = Label((word,), SMALL_SIZE, bold=1)
        box = plan.box(outlines[index])
        place = plan.placer.find(beside(box, *label.extent, reach=20.0))
        if place is not None:
            plan.write(label, place, colour=tint(colour, 1.0))


def _words(way: Way) -> tuple[tuple[str, int], ...]:
    """What to write beside which of the drawn poses."""
    blocked, ends = way.answer.blocked_at, (("start", 0), ("goal", -1))
    if blocked is None:
        return ends
    if blocked.reason != "way":
        full = f"{blocked.reason}: no room"
        return tuple((full if word == blocked.reason else word, i) for word, i in ends)
    if way.answer.pinch is not None:
        return (*ends, ("sticks here", 1))
    return (*ends, ("gets so far", 1), ("would have to be here", 2))


def _together(plan: Plan, outlines: Sequence[Polygon]) -> MultiPolygon | Polygon:
    return unary_union([plan.shape(outline) for outline in outlines])


def _arrow(plan: Plan, poses: Sequence[Pose], colour: str) -> None:
    """A filled head half way along, so that the direction is seen."""
    middle = len(poses) // 2
    for i in (*range(middle, len(poses) - 1), *range(middle)):
        a, b = plan.to_paper(poses[i].x, poses[i].y), plan.to_paper(poses[i + 1].x, poses[i + 1].y)
        length = hypot(b[0] - a[0], b[1] - a[1])
        if length > 2.0:
            break
    else:
        return
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    tip = ((a[0] + b[0]) / 2 + ux * 1.6, (a[1] + b[1]) / 2 + uy * 1.6)
    back = (tip[0] - 3.2 * ux, tip[1] - 3.2 * uy)
    corners = [tip, *((back[0] - side * uy, back[1] + side * ux) for side in (1.1, -1.1))]
    plan.page.axes.add_patch(Patch(corners, closed=True, facecolor=colour, lw=0.0, zorder=9.6))


Line = tuple[tuple[float, float], tuple[float, float]]


def _dimension(pinch: Pinch) -> tuple[Line, tuple[Line, Line]]:
    """The gap as a line across the body, and from its ends along the body to what limits it."""
    ux, uy = cos(pinch.pose.angle), sin(pinch.pose.angle)
    (ax, ay), (bx, by) = pinch.left, pinch.right
    half = ((bx - ax) * ux + (by - ay) * uy) / 2
    left, right = (ax + half * ux, ay + half * uy), (bx - half * ux, by - half * uy)
    return (left, right), ((pinch.left, left), (pinch.right, right))


def _draw_pinch(plan: Plan, way: Way) -> None:
    """The tightest place: a dimension line with what is there, needed, and left over."""
    pinch = way.answer.pinch
    if pinch is None or way.margin is None:
        return
    page = plan.page
    across, witnesses = _dimension(pinch)
    line = plan.shape(LineString(across))
    if not isinstance(line, LineString) or line.is_empty:
        return
    for witness in witnesses:
        page.line([plan.to_paper(*p) for p in witness], width=THIN, colour=ALERT, z=10.4)
    ends = [(float(x), float(y)) for x, y in line.coords]
    page.line(ends, width=MEDIUM, colour=ALERT, z=10.5, gid="pinch")
    for x, y in ends:
        page.line([(x - 0.8, y - 0.8), (x + 0.8, y + 0.8)], width=HEAVY, colour=ALERT, z=10.6)
    need = way.needed
    have = format_length(need + way.margin.value, plan.system, rounding="down")
    wanted = format_length(need, plan.system, rounding="up")
    error = way.margin.error(plan.scene.shop.measurements)
    off = f" ± {format_length(error, plan.system, rounding='up')}" if error > 0 else ""
    label = Label((f"{have} there{off}", f"{wanted} needed"), SMALL_SIZE, bold=1)
    place = plan.placer.find(beside(Box(*line.bounds), *label.extent, reach=25.0))
    if place is not None:
        plan.write(label, place, colour=ALERT)
