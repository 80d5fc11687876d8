"""A shop with a layout as volumes in the room, each knowing when it is there and what it is.

This is the one place where poses become geometry.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import combinations

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import Affine, Outline, affine, rotation
from floorplan.geometry.volume import Volume
from floorplan.shop import building
from floorplan.shop.duct_space import duct_elements
from floorplan.shop.element import Element as Element
from floorplan.shop.element import Nature as Nature
from floorplan.shop.element import may_not_overlap as may_not_overlap
from floorplan.shop.feeding import feed_zones
from floorplan.shop.model import (
    AT_REST,
    ELSEWHERE,
    Door,
    KeepClear,
    Layout,
    Opening,
    Pose,
    Shop,
    Task,
    Thing,
)
from floorplan.shop.presence import ALWAYS as ALWAYS
from floorplan.shop.presence import Pairs
from floorplan.shop.presence import Presence as Presence
from floorplan.shop.yard import yard_elements


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the local outline of a thing comes to lie."""

    turn: float
    dx: Affine
    dy: Affine

    def place(self, outline: Outline) -> Outline:
        """A local outline in room coordinates."""
        return outline.turned(self.turn).moved(self.dx, self.dy)

    def point(self, x: Affine | float, y: Affine | float) -> tuple[Affine, Affine]:
        """A local point in room coordinates."""
        matrix = rotation(self.turn)
        px, py = affine(x), affine(y)
        return (
            px * float(matrix[0, 0]) + py * float(matrix[0, 1]) + self.dx,
            px * float(matrix[1, 0]) + py * float(matrix[1, 1]) + self.dy,
        )

    def heading(self, x: float, y: float) -> tuple[float, float]:
        """A local direction in room coordinates."""
        turned = rotation(self.turn) @ np.array([x, y])
        return float(turned[0]), float(turned[1])


def frame_of(thing: Thing, pose: Pose) -> Frame:
    """How a thing lies: its body's westernmost and southernmost points at the pose's x and y."""
    body = thing.body.turned(pose.turn)
    return Frame(pose.turn, pose.x - body.lowest(0), pose.y - body.lowest(1))


def thing_elements(
    shop: Shop, thing: Thing, pose: Pose, presence: Presence = ALWAYS
) -> Iterator[Element]:
    """Everything a thing brings into the room when it stands at a pose."""
    frame = frame_of(thing, pose)
    here = replace(
        presence.within(thing.only_in), together=together(shop), side_by_side=side_by_side(shop)
    )

    def volume(outline: Outline, bottom: Affine, top: Affine) -> Volume:
        return Volume(frame.place(outline), bottom, top)

    yield Element(
        thing.name,
        "body",
        "solid",
        volume(thing.body, thing.bottom, thing.height),
        here,
        line=thing.line,
    )
    for part in thing.parts:
        yield Element(
            thing.name,
            part.name,
            "solid",
            volume(part.outline, part.bottom, part.top),
            here.within(part.only_in),
            blocks_feed=part.blocks_feed,
            line=thing.line,
        )
    used_in = frozenset(task.name for task in shop.tasks_using(thing.name))
    for zone in (*thing.zones, *feed_zones(shop, thing)):
        tasks = used_in if zone.task is None else frozenset((zone.task,))
        when = here.within(tasks)
        if zone.purpose in ("stand", "push"):
            when = replace(when, unattended=lasting(shop))
        yield Element(
            thing.name,
            zone.name,
            "zone",
            volume(zone.outline, zone.bottom, zone.top),
            when,
            purpose=zone.purpose,
            advised=zone.advised,
            two_people=shop.people > 1,
            line=zone.line or thing.line,
        )
    for opening in thing.openings:
        yield from _opening_elements(thing, opening, frame, here)
    for keep in thing.keep_clears:
        yield _keep_clear_element(thing.name, keep, frame)


@lru_cache(maxsize=8)
def lasting(shop: Shop) -> frozenset[str]:
    """Tasks that go on by themselves for a while, as glue that dries: nobody stands at them."""
    return frozenset(task.name for task in shop.tasks if task.lasts > 0.0)


@lru_cache(maxsize=8)
def together(shop: Shop) -> Pairs:
    """Pairs of tasks that go on at one time because the file says so."""
    return frozenset(
        frozenset((task.name, other)) for task in shop.tasks for other in task.together_with
    )


@lru_cache(maxsize=8)
def side_by_side(shop: Shop) -> Pairs:
    """Pairs of tasks that two people may do at one time.

    Two who work at once use different things, and neither task has the shop set up in its own
    way; what the file says goes on together does in any case.
    """
    if shop.people < 2:
        return frozenset()
    plain = [task for task in shop.tasks if not _sets_up(shop, task)]
    free = {
        frozenset((a.name, b.name))
        for a, b in combinations(plain, 2)
        if not set(a.uses) & set(b.uses)
    }
    return together(shop) | free


def _sets_up(shop: Shop, task: Task) -> bool:
    comes = any(thing.only_in is not None and task.name in thing.only_in for thing in shop.things)
    return bool(task.parked or task.working or task.away or comes)


def opening_task(thing: Thing, opening: Opening) -> str:
    """Name of the moment in which a drawer or door is open."""
    return f"{opening.name} of {thing.name} open"


def _moments(thing: Thing, opening: Opening, here: Presence) -> Iterator[tuple[str, Presence]]:
    """When a drawer or door is open: at rest, or in each task for which its thing is there."""
    name = opening_task(thing, opening)
    if here.only is None:
        yield name, Presence(frozenset((name,)), here.absent, here.together)
        return
    for task in sorted(here.only):
        moment = name if len(here.only) == 1 else f"{name} ({task})"
        pair = frozenset((frozenset((moment, task)),))
        yield moment, Presence(frozenset((moment,)), here.absent, pair)


def _opening_elements(
    thing: Thing, opening: Opening, frame: Frame, here: Presence
) -> Iterator[Element]:
    for _, moment in _moments(thing, opening, here):
        yield Element(
            thing.name,
            opening.name,
            "moving",
            Volume(frame.place(opening.sweep), opening.bottom, opening.top),
            moment,
            purpose=opening.kind,
            line=opening.line or thing.line,
        )
        if opening.stand is not None:
            zone = opening.stand
            yield Element(
                thing.name,
                zone.name,
                "zone",
                Volume(frame.place(zone.outline), zone.bottom, zone.top),
                moment,
                purpose="stand",
                advised=True,
                line=opening.line or thing.line,
            )


def _keep_clear_element(owner: str, keep: KeepClear, frame: Frame | None) -> Element:
    def volume(outline: Outline) -> Volume:
        placed = outline if frame is None else frame.place(outline)
        return Volume(placed, keep.bottom, keep.top)

    options = tuple(volume(keep.outline.moved(shift, 0.0)) for shift in keep.shifts)
    ends = [shift.value for shift in keep.shifts]
    along = (1.0, 0.0) if frame is None else frame.heading(1.0, 0.0)
    reach = max(ends) - min(ends)
    return Element(
        owner,
        keep.name,
        "keep-clear",
        options[0],
        rule=keep.rule,
        even_while_working=keep.even_while_working,
        alternatives=options,
        slide=(along[0] * reach, along[1] * reach),
        line=keep.line,
    )


def standing_presence(shop: Shop, thing: Thing, layout: Layout) -> Iterator[tuple[Pose, Presence]]:
    """Where a thing is and when: standing, or parked or working in the tasks that say so."""
    has = [place for place in ELSEWHERE if layout.pose(thing.name, place) is not None]
    for place, presence in presence_at(shop, thing.name, has).items():
        pose = layout.pose(thing.name, place)
        if pose is not None:
            yield pose, presence


def presence_at(shop: Shop, name: str, elsewhere: Iterable[str]) -> dict[str, Presence]:
    """When a thing is at each place, if of `parked` and `working` it has these.

    A task that uses neither finds it standing, and so does one that wants a place it lacks.
    """
    gone = frozenset(task.name for task in shop.tasks if name in task.away)
    others: dict[str, Presence] = {}
    for place in ELSEWHERE:
        tasks = tasks_at(shop, name, place)
        if place in elsewhere and tasks:
            others[place] = Presence(tasks)
            gone |= tasks
    return {"standing": Presence(None, gone), **others}


def tasks_at(shop: Shop, name: str, place: str) -> frozenset[str]:
    """Tasks during which a thing is to be parked, or at its working place."""
    return frozenset(task.name for task in shop.tasks if name in getattr(task, place))


@lru_cache(maxsize=8)
def building_elements(shop: Shop) -> tuple[Element, ...]:
    """Posts, beams, ducts, door leaves, what must stay clear, the yard; walls are apart."""
    return tuple(_building(shop))


def _building(shop: Shop) -> Iterator[Element]:
    for name, volume in building.fixture_volumes(shop.room):
        line = next(f.line for f in shop.room.fixtures if f.name == name)
        yield Element(name, "body", "solid", volume, building=True, line=line)
    for door in shop.doors:
        yield from _door_elements(shop, door)
    for keep in shop.keep_clears:
        yield _keep_clear_element(keep.name, keep, None)
    for later in shop.reserved:
        for keep in later.thing.keep_clears:
            kept = replace(keep, name=f"{keep.name} for {later.thing.name} to come")
            yield _keep_clear_element(later.owner, kept, frame_of(later.thing, later.pose))
    yield from duct_elements(shop.air)
    yield from yard_elements(shop)


def _door_elements(shop: Shop, door: Door) -> Iterator[Element]:
    opened_in = frozenset(task.name for task in shop.tasks if door.name in task.open_doors)
    swing = building.door_swing(shop, door)
    if swing is not None:
        yield Element(
            door.name,
            "swing",
            "keep-clear",
            swing,
            rule="door-swing",
            building=True,
            line=door.line,
        )
    leaf = building.open_leaf(shop, door)
    if door.kind == "overhead" and leaf is not None:
        yield Element(
            door.name,
            "leaf and tracks",
            "keep-clear",
            leaf,
            rule="overhead-leaf",
            building=True,
            line=door.line,
        )
    if leaf is not None and opened_in:
        yield Element(
            door.name,
            "open leaf",
            "solid",
            leaf,
            Presence(opened_in),
            building=True,
            line=door.line,
        )


@dataclass(frozen=True, eq=False)
class Scene:
    """All volumes of a shop with a layout."""

    shop: Shop
    layout: Layout
    building: tuple[Element, ...]
    things: Mapping[str, tuple[Element, ...]] = field(default_factory=dict)
    """Elements of every thing that has a pose."""

    @cached_property
    def elements(self) -> tuple[Element, ...]:
        """Building first, then the things in file order."""
        return (*self.building, *(e for elements in self.things.values() for e in elements))

    def of(self, nature: Nature) -> tuple[Element, ...]:
        """All elements of one nature."""
        return tuple(e for e in self.elements if e.nature == nature)

    def solids(self, *tasks: str) -> tuple[Element, ...]:
        """Solids that are there during a task, or during tasks that go on together."""
        moment = tasks or (AT_REST,)
        return tuple(e for e in self.elements if e.nature == "solid" and e.presence.during(*moment))

    @cached_property
    def free_floors(self) -> dict[tuple[int, ...], BaseGeometry]:
        """Free floor less some elements, by their identities; the checks fill it."""
        return {}

    @cached_property
    def absent(self) -> tuple[str, ...]:
        """Things without a pose."""
        return tuple(t.name for t in self.shop.things if t.name not in self.things)

    @cached_property
    def floor(self) -> Polygon:
        """Inside floor of the room."""
        return building.floor_polygon(self.shop.room)

    @cached_property
    def tasks(self) -> frozenset[str]:
        """Names of all tasks."""
        return frozenset(task.name for task in self.shop.tasks)

    def task_names(self) -> tuple[str, ...]:
        """Every moment that differs: at rest and each task."""
        return (AT_REST, *(task.name for task in self.shop.tasks))

    def open_doors(self, *tasks: str) -> tuple[str, ...]:
        """Doors that stand open while a task is done, or tasks that go on together."""
        names = (name for t in self.shop.tasks if t.name in tasks for name in t.open_doors)
        return tuple(dict.fromkeys(names))


def scene(shop: Shop, layout: Layout, *, only: Iterable[str] | None = None) -> Scene:
    """The volumes of a shop with a layout, of all things or of some."""
    wanted = None if only is None else set(only)
    return Scene(shop, layout, building_elements(shop), dict(_stood(shop, layout, wanted)))


def bodies_of(shop: Shop, layout: Layout, names: Iterable[str]) -> Scene:
    """The main bodies of some things that stand somewhere, and nothing else."""
    things = {}
    for name in names:
        thing, pose = shop.thing(name), layout.pose(name)
        if pose is not None:
            things[name] = (next(thing_elements(shop, thing, pose, ALWAYS)),)
    return Scene(shop, layout, (), things)


def _stood(
    shop: Shop, layout: Layout, wanted: Container[str] | None
) -> Iterator[tuple[str, tuple[Element, ...]]]:
    """Elements of every thing, or of the wanted ones, that stands somewhere."""
    for thing in shop.things:
        if wanted is not None and thing.name not in wanted:
            continue
        elements = tuple(
            element
            for pose, presence in standing_presence(shop, thing, layout)
            for element in thing_elements(shop, thing, pose, presence)
            if element.presence.only is None or element.presence.only
        )
        if elements:
            yield thing.name, elements
