"""Is there room to cut a sheet up flat, on the floor or over a bench, with room all round?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, Measure, finding
from floorplan.checks.obstruction import obstacles, walls_about
from floorplan.checks.squeeze import Limit, best_room
from floorplan.geometry.affine import Affine, Array, Outline
from floorplan.geometry.pieces import Piece
from floorplan.geometry.pieces import box as box_piece
from floorplan.geometry.volume import Volume, gap
from floorplan.motion.free import free_region, roomiest
from floorplan.shop.model import AT_REST, BreakDown, Stock
from floorplan.shop.scene import Element, Scene

CHECK = "break-down"
RULE = "break-down-room"
STEP = 5e-6
"""The room found on the floor is exact to this [m]."""


def check(scene: Scene) -> Answer:
    """Every sheet that a job breaks down."""
    findings: list[Finding] = []
    room = float("inf")
    for job in scene.shop.jobs:
        for wanted in job.break_downs:
            stock = next(s for s in scene.shop.stock if s.name == wanted.stock)
            over_floor = wanted.over == "floor"
            made = (_on_floor if over_floor else _over_bench)(scene, wanted, stock)
            for found in made:
                findings.append(found)
                room = min(room, found.measured or 0.0)
    measures = {} if room == float("inf") else {"break-down room": Measure(room, "m")}
    return Answer(tuple(findings), measures)


def _over_bench(scene: Scene, wanted: BreakDown, stock: Stock) -> Iterator[Finding]:
    """The sheet lies on the middle of the thing, its long side along the thing's long side."""
    if wanted.over not in scene.things:
        return
    task = wanted.task or AT_REST
    body = next(
        e for e in scene.things[wanted.over] if e.name == "body" and e.nature == "solid"
    ).volume
    around = _around(scene, _sheet_over(body.outline, stock))
    rivals = [e for e in scene.solids(task) if e.owner != wanted.over]
    found = obstacles(scene, around, [*rivals, *walls_about(scene, around, task)])[0]
    yield _finding(
        scene, wanted, found.gap.distance, (wanted.over, found.name), around.polygon,
        f"over {wanted.over}", found.label,
    )  # fmt: skip


def _around(scene: Scene, outline: Outline) -> Volume:
    """The room in which one walks round a sheet."""
    return Volume(outline, Affine(0.0), Affine(scene.shop.rules.value("person-height")))


def _sheet_over(outline: Outline, stock: Stock) -> Outline:
    points = outline.points
    edges = np.roll(points, -1, axis=0) - points
    longest = edges[int(np.argmax(np.hypot(*edges.T)))]
    unit = longest / np.hypot(*longest)
    side = np.array([-unit[1], unit[0]])
    x, y = ((outline.lowest(axis) + outline.highest(axis)) / 2 for axis in (0, 1))
    corners = []
    for a, b in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        along, across = stock.length * a, stock.width * b
        corners.append(
            (
                x + along * float(unit[0]) + across * float(side[0]),
                y + along * float(unit[1]) + across * float(side[1]),
            )
        )
    return Outline.of(corners)


def _on_floor(scene: Scene, wanted: BreakDown, stock: Stock) -> Iterator[Finding]:
    """The place with the most room all round, the sheet along or across the room."""
    task = wanted.task or AT_REST
    solids = [
        e
        for e in scene.solids(task)
        if e.volume.in_band(0.0, scene.shop.rules.value("person-height"))
    ]
    needed = scene.shop.rules.value(RULE)
    best = _most_room(scene, solids, stock, 2.0 * needed)
    if best is None:
        yield _finding(
            scene, wanted, Affine(-needed), ("floor",), scene.floor, "on the floor", "",
            nowhere=True,
        )  # fmt: skip
        return
    room, place = best
    around = _around(scene, Outline(np.asarray(place.exterior.coords)[:-1], {}))
    rivals = [*solids, *walls_about(scene, around)]
    names, limits = [], []
    for rival in rivals:
        apart = gap(around, rival.volume)
        if apart.by_height or apart.distance.value > room + _TOUCHED:
            continue
        names.append(rival.label)
        limits.append(Limit(apart.distance, _away(apart.place)))
    spread = best_room(limits, room) if limits else None
    margin = Affine(room, spread.room.terms if spread is not None else {})
    label = " and ".join(dict.fromkeys(names))
    yield _finding(scene, wanted, margin, ("floor", *names), place, "on the floor", label)


_TOUCHED = 2 * STEP
"""What is so little farther off than the room found limits it too [m]."""


def _away(place: BaseGeometry) -> Array:
    """Unit direction of the shortest line, from what limits a sheet to the sheet."""
    ends = np.asarray(place.coords) if isinstance(place, LineString) else np.zeros((2, 2))
    step = ends[0] - ends[-1]
    length = float(np.hypot(*step))
    return step / length if length > 0 else np.zeros(2)


def _most_room(
    scene: Scene, solids: list[Element], stock: Stock, most: float
) -> tuple[float, Polygon] | None:
    """Bisects the room all round that a flat sheet can have somewhere on the floor."""
    pieces = [Piece(p, 0.0, 1.0, 0) for e in solids for p in e.volume.pieces]
    shut = Volume(Outline(np.zeros((1, 2)), {}), Affine(0.0), Affine(1.0))
    pieces += [
        Piece(p, 0.0, 1.0, 0) for wall in walls_about(scene, shut) for p in wall.volume.pieces
    ]
    conflict = np.ones((1, 1), dtype=np.bool_)
    limits = box(*scene.floor.bounds)

    def spot(room: float) -> Polygon | None:
        long, wide = stock.length.value, stock.width.value
        for x, y in ((long, wide), (wide, long)):
            around = (x / 2 + room, y / 2 + room)
            sheet = box_piece(-around[0], -around[1], *around, bottom=0.0, top=1.0)
            found = roomiest(free_region([sheet], pieces, conflict, limits=limits))
            if found is not None:
                return box(found.x - x / 2, found.y - y / 2, found.x + x / 2, found.y + y / 2)
        return None

    low, high = 0.0, most
    best = spot(low)
    if best is None:
        return None
    if (top := spot(high)) is not None:
        return high, top
    while high - low > STEP:
        middle = (low + high) / 2
        found = spot(middle)
        if found is None:
            high = middle
        else:
            low, best = middle, found
    return low, best


def _finding(
    scene: Scene,
    wanted: BreakDown,
    room: Affine,
    about: tuple[str, ...],
    where: Polygon,
    place: str,
    limit: str,
    *,
    nowhere: bool = False,
) -> Finding:
    needed = scene.shop.rules.value(RULE)
    message = f"a {wanted.stock} lies flat {place} with {{have}} all round, {{need}} wanted"
    if limit:
        message += f"; {limit} is nearest"
    if nowhere:
        message = f"a {wanted.stock} lies flat nowhere {place}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=RULE,
        about=about,
        margin=room - needed,
        needed=needed,
        message=message,
        where=where,
        task=wanted.task,
        line=wanted.line,
    )
