"""How much of a worktop hands reach from where one finds room to stand at it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.ground import free_floor, goal, walker_obstacles
from floorplan.geometry.affine import Affine, Array
from floorplan.shop.model import Shop, Thing
from floorplan.shop.scene import Element, Scene
from floorplan.units import TOLERANCE

CHECK = "reach"
RULE = "reach-across"
_FINE = 5e-4
"""The farthest spot is found to within this [m]."""
_NOTHING = 1e-10
"""So small an area is none [m2]."""
_QUARTER = 32
"""Chords of a quarter circle: they lie within 0.2 mm of an arm's arc, inside of it."""

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Reached:
    """A top in one task, and what hands get at."""

    task: str
    top: Polygon
    edges: BaseGeometry
    """Spots of its edge before which one finds room to stand; empty where there are none."""
    sides: tuple[str, ...]
    """Sides of the thing on which they lie."""
    missed: BaseGeometry
    """What no hand reaches."""
    far: float
    """Distance of the top's farthest spot from those of the edge [m]."""

    @property
    def share(self) -> float:
        """Part of the top that no hand reaches [-]."""
        return float(self.missed.area / self.top.area)


def check(scene: Scene) -> Answer:
    """Every top that work lies on, in that of its tasks in which hands reach least of it."""
    grounds: dict[tuple[int, ...], BaseGeometry] = {}
    found = []
    for thing in scene.shop.things:
        if not is_worktop(thing) or thing.name not in scene.things:
            continue
        rows = list(_rows(scene, thing, grounds))
        if rows:
            found.append(_finding(scene.shop, thing, max(rows, key=lambda row: row.far)))
    return Answer(tuple(found))


def is_worktop(thing: Thing) -> bool:
    """Whether work lies on all of its top: a bench or table, no machine."""
    flat = thing.surface is not None and abs(thing.surface.value - thing.height.value) < TOLERANCE
    return flat and thing.cutter is None


def _rows(
    scene: Scene, thing: Thing, grounds: dict[tuple[int, ...], BaseGeometry]
) -> Iterator[Reached]:
    for task in scene.shop.tasks_using(thing.name):
        body = next(
            (
                e
                for e in scene.things[thing.name]
                if e.nature == "solid" and e.name == "body" and e.presence.during(task.name)
            ),
            None,
        )
        if body is None:
            continue
        obstacles = walker_obstacles(scene, task.name)
        key = tuple(id(e) for e in obstacles)
        if key not in grounds:
            grounds[key] = _walked(scene, obstacles)
        wide, deep = (scene.shop.rules.value(f"standing-{way}") for way in ("width", "depth"))
        west, south, east, north = body.volume.polygon.buffer(wide + deep).bounds
        floor = shapely.clip_by_rect(free_floor(scene, obstacles), west, south, east, north)
        floor = floor.intersection(scene.floor)
        yield reached(scene, thing, task.name, body, (floor, grounds[key]))


def _walked(scene: Scene, obstacles: Sequence[Element]) -> BaseGeometry:
    """Where one's middle gets to, sideways if need be: from a door, or in the largest part."""
    half = scene.shop.rules.value("body-depth") / 2
    free = free_floor(scene, obstacles).buffer(-(half - TOLERANCE), quad_segs=4)
    parts = [p for p in getattr(free, "geoms", [free]) if not p.is_empty]
    out = goal(scene.shop)
    from_outside = [p for p in parts if not out.is_empty and p.intersects(out)]
    if from_outside or not parts:
        return unary_union(from_outside)
    return max(parts, key=lambda part: float(part.area))


# --- where one stands ----------------------------------------------------------------------


def reached(
    scene: Scene,
    thing: Thing,
    task: str,
    body: Element,
    ground: tuple[BaseGeometry, BaseGeometry],
) -> Reached:
    """What hands get at in a task, from spots of the edge before which a standing place is free.

    `ground`: the free floor, and where one's middle gets to on foot.  A standing place is as wide
    and deep as the rules say, square to the edge; it may reach past the ends of the edge.
    """
    rules = scene.shop.rules
    wide, deep = rules.value("standing-width"), rules.value("standing-depth")
    closed = [e.volume.polygon for e in _kept_even_from_people(scene, task, thing.name)]
    floor, walked = ground
    corners = body.volume.outline.points
    local = thing.body.points
    lines: list[BaseGeometry] = []
    sides: list[str] = []
    for i, start in enumerate(corners):
        end = corners[(i + 1) % len(corners)]
        spots = _spots(start, end, (wide, deep), (floor, walked), closed)
        lines.extend(_between(start, end, spot) for spot in spots)
        if spots:
            sides.append(_side(local[(i + 1) % len(local)] - local[i]))
    edges = unary_union(lines)
    top = body.volume.polygon
    arm = rules.value("reach-across")
    if edges.is_empty:
        return Reached(task, top, edges, (), top, float("inf"))
    missed = _missed(top, edges, arm + TOLERANCE)
    named = tuple(s for s in ("front", "back", "left", "right") if s in sides)
    far = _farthest(top, edges, arm, all_of_it=missed.is_empty)
    return Reached(task, top, edges, named, missed, far)


def _kept_even_from_people(scene: Scene, task: str, name: str) -> Iterator[Element]:
    tall = scene.shop.rules.value("person-height")
    for element in scene.of("keep-clear"):
        holds = element.even_while_working and element.presence.during(task)
        if holds and element.owner != name and element.volume.in_band(0.0, tall):
            yield element


def _spots(
    start: Array,
    end: Array,
    place: tuple[float, float],
    ground: tuple[BaseGeometry, BaseGeometry],
    closed: Sequence[Polygon],
) -> list[Interval]:
    """Parts of an edge, from its start [m], before which a standing place is free."""
    wide, deep = place
    floor, walked = ground
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    out = np.array([along[1], -along[0]])

    def at(t: float, off: float) -> Array:
        spot: Array = start + t * along + off * out
        return spot

    def spans(shape: BaseGeometry) -> Iterator[Interval]:
        for part in getattr(shape, "geoms", [shape]):
            if not part.is_empty:
                reach = (shapely.get_coordinates(part) - start) @ along
                yield float(reach.min()), float(reach.max())

    first, last = -wide / 2 + TOLERANCE, length + wide / 2 - TOLERANCE
    near, far = TOLERANCE, deep - TOLERANCE
    strip = Polygon([at(first, near), at(last, near), at(last, far), at(first, far)])
    taken = [strip.difference(floor), *(strip.intersection(shape) for shape in closed)]
    half = wide / 2 - TOLERANCE
    blocked = [(a - half, b + half) for shape in taken for a, b in spans(shape)]
    middle = LineString([at(0.0, deep / 2), at(length, deep / 2)]).intersection(walked)
    return list(_less(spans(middle), blocked))


def _less(spans: Iterator[Interval], blocked: Sequence[Interval]) -> Iterator[Interval]:
    """What open intervals leave of closed ones, single spots included."""
    for start, end in spans:
        reached = start
        for a, b in sorted(blocked):
            if b <= reached or a >= end:
                continue
            if a >= reached:
                yield reached, a
            reached = b
        if reached <= end:
            yield reached, end


def _between(start: Array, end: Array, spot: Interval) -> LineString:
    along = (end - start) / np.hypot(*(end - start))
    return LineString([start + spot[0] * along, start + spot[1] * along])


def _side(step: Array) -> str:
    """The side of a thing on which an edge of its outline lies, counter-clockwise."""
    if abs(step[0]) >= abs(step[1]):
        return "front" if step[0] > 0 else "back"
    return "right" if step[1] > 0 else "left"


# --- what is reached -----------------------------------------------------------------------


def _missed(top: Polygon, edges: BaseGeometry, arm: float) -> BaseGeometry:
    left = top.difference(edges.buffer(arm, quad_segs=_QUARTER))
    return left if left.area > _NOTHING else MultiPolygon()


def _farthest(top: Polygon, edges: BaseGeometry, arm: float, *, all_of_it: bool) -> float:
    """Distance of the spot of a top that is farthest from some spots of its edge [m].

    `all_of_it` tells whether arms of a length [m] reach all of the top.
    """
    corners = shapely.points(shapely.get_coordinates(top))
    near = float(shapely.distance(corners, edges).max())
    if _missed(top, edges, near + _FINE).is_empty:
        return near
    west, south, east, north = top.bounds
    far = arm if all_of_it else float(np.hypot(east - west, north - south))
    near = near if all_of_it else max(near, arm)
    while far - near > _FINE:
        middle = (near + far) / 2
        if _missed(top, edges, middle).is_empty:
            far = middle
        else:
            near = middle
    return far


def _finding(shop: Shop, thing: Thing, row: Reached) -> Finding:
    needed = shop.rules.value(RULE)
    if row.edges.is_empty:
        made = _told(
            shop, thing, row, Affine(-needed),
            f"nobody finds room to stand at {thing.name}: no hand reaches its top",
        )  # fmt: skip
        return replace(made, measured=None, margin=None)
    far = needed if row.missed.is_empty and row.far > needed else row.far
    margin = Affine(needed - far, _terms(thing))
    sides = " and ".join((", ".join(row.sides[:-1]), row.sides[-1])[len(row.sides) < 2 :])
    stood = f"from the {sides}, where there is room to stand"
    if row.missed.is_empty:
        return _told(
            shop, thing, row, margin,
            f"hands reach all of the top of {thing.name} {stood}: {{have}} at most, {{need}} do",
        )  # fmt: skip
    share = max(row.share * 100, 1)
    return _told(
        shop, thing, row, margin,
        f"no hand reaches {share:.0f} % of the top of {thing.name} {stood}: its farthest spot is"
        " {have} off, hands reach {need}",
    )  # fmt: skip


def _told(shop: Shop, thing: Thing, row: Reached, margin: Affine, message: str) -> Finding:
    return finding(
        shop, check=CHECK, rule=RULE, about=(thing.name,), margin=margin,
        needed=shop.rules.value(RULE), message=message,
        where=row.edges if row.missed.is_empty else row.missed,
        task=row.task, at_most=True, line=thing.line,
    )  # fmt: skip


def _terms(thing: Thing) -> dict[str, float]:
    """No spot of a top gets farther off by more than its width and depth do."""
    total = thing.width + thing.depth
    return {name: -abs(weight) for name, weight in total.terms.items()}
