"""Where flat parts may lie while a task lasts: tops, shelves of racks, and the free floor.

Each area is known twice, once as it surely is and once as it may be at best, so that what surely
fits and what surely does not are told from what the tape cannot tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import amount
from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.geometry.rows import Box, at_most, in_corners, lay
from floorplan.geometry.volume import Volume, certainty, height_gap
from floorplan.shop.lay_out import FLOOR, LayOut
from floorplan.shop.model import ELSEWHERE, Freedom, Part, Pose, Shop, Task, Thing
from floorplan.shop.presence import Presence
from floorplan.shop.scene import Element, Frame, Scene, frame_of, may_not_overlap, together
from floorplan.shop.scene import scene as build
from floorplan.units import TOLERANCE


@dataclass(frozen=True, eq=False)
class Area:
    """One flat area that parts may lie on, in its own coordinates [m]."""

    on: str
    """The thing, or `floor`."""
    shelf: int | None
    """The number of a rack's shelf from below, 1 the lowest."""
    height: Affine
    """[m]"""
    frame: Frame
    """From its own coordinates to the room's."""
    sure: BaseGeometry
    """As it surely is, free of all that may be in the way."""
    hoped: BaseGeometry
    """As it may be at best."""
    spec: LayOut
    error: float
    """How far off a side of a part may be [m]."""

    @property
    def label(self) -> str:
        """`drying rack, shelf 3`."""
        return self.on if self.shelf is None else f"{self.on}, shelf {self.shelf}"

    @cached_property
    def places(self) -> tuple[Box, ...]:
        """Places for as many parts as were found to fit, in its own coordinates [m]."""
        return lay(self.sure, self._part(self.error), self.spec.between.value)

    @cached_property
    def corners(self) -> tuple[Box, ...]:
        """Places for single parts, in the corners of what is free; they may overlap [m]."""
        return in_corners(self.sure, self._part(self.error))

    def _part(self, more: float) -> tuple[float, float]:
        return self.spec.length.value + more, self.spec.width.value + more

    @cached_property
    def most(self) -> int:
        """More than these do not fit, at best."""
        bound = at_most(self.hoped, self._part(-self.error), self.spec.between.value)
        return max(bound, len(self.places))


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A thing that nothing can lie on, and why."""

    on: str
    why: str


def areas(scene: Scene, task: Task, spec: LayOut) -> tuple[tuple[Area, ...], tuple[LeftOut, ...]]:
    """Every area in the order in which it is filled: racks, what the task uses, tops, the floor."""
    out: list[Area] = []
    left: list[LeftOut] = []
    for thing in _things(scene.shop, task, spec):
        why = _held(scene, thing, task)
        if not why:
            pose = _pose(scene, thing.name, task)
            shelves = dict(spec.shelves).get(thing.name)
            if pose is None:
                continue
            frame = frame_of(thing, pose)
            if shelves is not None:
                why = _too_low(scene.shop, thing, shelves, spec)
                out.extend(() if why else _shelves(scene.shop, thing, shelves, frame, spec))
            else:
                out.append(_top(scene, thing, frame, task, spec))
        if why:
            left.append(LeftOut(thing.name, why))
    if not spec.on or FLOOR in spec.on:
        out.append(_floor(scene, task, spec))
    return tuple(out), tuple(left)


def partners(shop: Shop, task: Task) -> tuple[Task, ...]:
    """Tasks that the file lets go on together with a task."""
    pairs = together(shop)
    return tuple(t for t in shop.tasks if t is not task and frozenset((t.name, task.name)) in pairs)


def _things(shop: Shop, task: Task, spec: LayOut) -> list[Thing]:
    racks = [name for name, _ in spec.shelves]
    if spec.on:
        wanted = [t for t in shop.things if t.name in spec.on or t.name in racks]
    else:
        wanted = [t for t in shop.things if t.name in racks or _is_table(t)]
    wanted = [t for t in wanted if t.only_in is None or task.name in t.only_in]
    return sorted(wanted, key=lambda t: (t.name not in racks, t.name not in task.uses))


def _is_table(thing: Thing) -> bool:
    """A bench or table, and no machine: nothing wet is laid on what cuts."""
    machine = thing.cutter is not None or thing.ports or thing.plugs
    return thing.surface is not None and not machine


def _pose(scene: Scene, name: str, task: Task) -> Pose | None:
    """Where a thing stands while a task is done, None where it is away."""
    if name in task.away:
        return None
    for place in ELSEWHERE:
        pose = scene.layout.pose(name, place)
        if name in getattr(task, place) and pose is not None:
            return pose
    return scene.layout.pose(name)


def _held(scene: Scene, thing: Thing, task: Task) -> str:
    """What else is done with a thing meanwhile, in words; nothing when it is left alone."""
    for other in partners(scene.shop, task):
        if thing.name in other.uses:
            return f"used in {other.name} meanwhile"
        for how in ("parked", "working", "away"):
            if thing.name in getattr(other, how) and thing.name not in getattr(task, how):
                return f"not where it is for {task.name} in {other.name}"
    return ""


# --- tops and shelves ----------------------------------------------------------------------


def _too_low(shop: Shop, thing: Thing, shelves: int, spec: LayOut) -> str:
    room = (thing.height - thing.bottom) * (1.0 / shelves)
    spare = room - spec.thickness - spec.above
    if certainty(spare, shop.measurements) == 2:
        return ""
    need = amount(shop, spec.thickness.value + spec.above.value, "up")
    return f"its {shelves} shelves are {amount(shop, room.value, 'down')} apart, {need} needed"


def _shelves(shop: Shop, thing: Thing, shelves: int, frame: Frame, spec: LayOut) -> Iterator[Area]:
    """Evenly over the rack's height, the first at its bottom."""
    rise = (thing.height - thing.bottom) * (1.0 / shelves)
    sure, hoped = _plan(shop, thing)
    for i in range(shelves):
        height = thing.bottom + rise * float(i)
        yield Area(thing.name, i + 1, height, frame, sure, hoped, spec, _error(shop, spec))


def _top(scene: Scene, thing: Thing, frame: Frame, task: Task, spec: LayOut) -> Area:
    """The surface of a bench or table less all that stands on it or hangs low over it."""
    height = thing.height if thing.surface is None else thing.surface
    sure, hoped = _plan(scene.shop, thing)
    inside = _Inside(thing.name, Volume(frame.place(thing.body), *_band(height, spec)), frame)
    sure, hoped = _less(scene, inside, task, sure, hoped)
    return Area(thing.name, None, height, frame, sure, hoped, spec, _error(scene.shop, spec))


def _plan(shop: Shop, thing: Thing) -> tuple[Polygon, Polygon]:
    """The plan of a thing at least and at most, in its own coordinates."""
    body = thing.body
    if body.sides() is not None:
        width, depth = thing.width, thing.depth
        west, north = body.lowest(0).value, body.highest(1).value
        plans = []
        for sign in (-1.0, 1.0):
            wide = width.value + sign * width.error(shop.measurements)
            deep = depth.value + sign * depth.error(shop.measurements)
            plans.append(box(west, north - deep, west + wide, north))
        return plans[0], plans[1]
    plan, error = Polygon(body.points), body.error(shop.measurements)
    return (
        plan.buffer(-error, join_style="mitre") if error else plan,
        plan.buffer(error, join_style="mitre") if error else plan,
    )


# --- the floor -----------------------------------------------------------------------------


def _floor(scene: Scene, task: Task, spec: LayOut) -> Area:
    """The floor less all that stands on it or must stay free, square to the room's first wall."""
    shop = scene.shop
    outline = shop.room.floor
    (x0, y0), (x1, y1) = outline.points[:2]
    frame = Frame(float(np.degrees(np.arctan2(y1 - y0, x1 - x0))), Affine(x0), Affine(y0))
    plan, error = _local(Polygon(outline.points), frame), outline.error(shop.measurements)
    sure, hoped = (plan.buffer(s * error, join_style="mitre") if error else plan for s in (-1, 1))
    inside = _Inside(FLOOR, Volume(outline, *_band(ZERO, spec)), frame)
    sure, hoped = _less(scene, inside, task, sure, hoped)
    return Area(FLOOR, None, ZERO, frame, sure, hoped, spec, _error(shop, spec))


# --- what is in the way --------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Inside:
    """Whose top it is, and the room over it."""

    owner: str
    volume: Volume
    frame: Frame


def _band(height: Affine, spec: LayOut) -> tuple[Affine, Affine]:
    return height, height + spec.thickness + spec.above


def _error(shop: Shop, spec: LayOut) -> float:
    return max(size.error(shop.measurements) for size in (spec.length, spec.width))


def _local(shape: BaseGeometry, frame: Frame) -> BaseGeometry:
    moved = affinity.translate(shape, -frame.dx.value, -frame.dy.value)
    return affinity.rotate(moved, -frame.turn, origin=(0.0, 0.0)) if frame.turn else moved


def _less(
    scene: Scene, inside: _Inside, task: Task, sure: BaseGeometry, hoped: BaseGeometry
) -> tuple[BaseGeometry, BaseGeometry]:
    """An area without what may be in its way, and without what surely is."""
    known = scene.shop.measurements
    own = inside.frame.dx.error(known) + inside.frame.dy.error(known)
    for element in _in_the_way(scene, inside, task):
        parted = certainty(height_gap(inside.volume, element.volume), known)
        if parted == 2:
            continue
        plan = _local(element.volume.polygon, inside.frame)
        error = element.volume.outline.error(known) + own
        sure = sure.difference(plan.buffer(error, join_style="mitre") if error else plan)
        if parted == 0 and len(element.alternatives) < 2:
            hoped = hoped.difference(plan.buffer(-error, join_style="mitre") if error else plan)
    ceiling = certainty(scene.shop.room.height - inside.volume.top, known)
    return (sure if ceiling == 2 else Polygon()), (hoped if ceiling > 0 else Polygon())


def _in_the_way(scene: Scene, inside: _Inside, task: Task) -> Iterable[Element]:
    """Elements that a part may not overlap, its own bench left out but not what stands on it."""
    part = Element(
        "", "", "solid", inside.volume,
        Presence(frozenset((task.name,)), together=together(scene.shop)),
    )  # fmt: skip
    for element in scene.elements:
        if element.owner == inside.owner:
            if element.nature == "solid" and element.name != "body" and _there(element, part):
                yield element
        elif not (element.nature == "zone" and element.advised) and may_not_overlap(part, element):
            yield element


def _there(element: Element, part: Element) -> bool:
    return element.presence.meets(part.presence)


# --- parts in the shop ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Place:
    """One place for one part."""

    area: Area
    spot: Box
    """In the coordinates of its area [m]."""

    @property
    def plan(self) -> Polygon:
        """In the room [m]."""
        return Polygon(self.area.frame.place(_outline(self)).points)

    def meets(self, other: Place) -> bool:
        """Whether two places of one area are nearer than two parts may be."""
        if self.area is not other.area:
            return False
        (w, s, e, n), (w2, s2, e2, n2) = self.spot, other.spot
        return max(w2 - e, w - e2, s2 - n, s - n2) < self.area.spec.between.value - TOLERANCE

    @property
    def long_side(self) -> float:
        """Direction of the long side in the room [deg], 0 to 180."""
        west, south, east, north = self.spot
        return (self.area.frame.turn + (0.0 if east - west >= north - south else 90.0)) % 180.0


def _outline(place: Place) -> Outline:
    """The part in the coordinates of its area."""
    spec = place.area.spec
    west, south, east, north = place.spot
    across, deep = spec.length, spec.width
    if east - west < north - south:
        across, deep = deep, across
    return Outline.box(left=west, right=across + west, south=south, north=deep + south)


def part_name(task: Task, number: int) -> str:
    """What the n-th part of a task is called."""
    return f"{task.name} part {number}"


def with_parts(scene: Scene, task: Task, places: Iterable[Place]) -> Scene:
    """The shop with the parts lying on floor and tops; on shelves they are in nobody's way."""
    shop, layout = scene.shop, scene.layout
    for i, place in enumerate(places, 1):
        area, name = place.area, part_name(task, i)
        if area.shelf is not None:
            continue
        outline = _outline(place)
        if area.on == FLOOR:
            thing = _lying(name, outline, area.spec, task)
            turned = outline.turned(area.frame.turn).moved(area.frame.dx, area.frame.dy)
            pose = Pose(
                Affine(turned.lowest(0).value), Affine(turned.lowest(1).value), area.frame.turn
            )
            shop = replace(shop, things=(*shop.things, thing))
            layout = layout.with_pose(name, pose)
        else:
            shop = shop.with_thing(_loaded(shop.thing(area.on), name, outline, area, task))
    return build(shop, layout)


def _lying(name: str, outline: Outline, spec: LayOut, task: Task) -> Thing:
    return Thing(
        name, "part", outline, ZERO, spec.thickness + spec.above, None,
        freedom=Freedom(moves=False), only_in=frozenset((task.name,)), line=spec.line,
    )  # fmt: skip


def _loaded(thing: Thing, name: str, outline: Outline, area: Area, task: Task) -> Thing:
    bottom, top = _band(area.height, area.spec)
    part = Part(name, outline, bottom, top, frozenset((task.name,)))
    return replace(thing, parts=(*thing.parts, part))
