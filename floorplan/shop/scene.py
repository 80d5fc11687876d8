"""A shop with a layout as volumes in the room, each knowing when it is there and what it is.

This is the one place where poses become geometry and where it is decided who may overlap whom.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from shapely.geometry import Polygon

from floorplan.geometry.affine import Affine, Outline, affine, rotation
from floorplan.geometry.volume import Volume
from floorplan.shop import building
from floorplan.shop.feeding import feed_zones
from floorplan.shop.model import AT_REST, Door, KeepClear, Layout, Opening, Pose, Shop, Thing

Nature = Literal["solid", "keep-clear", "zone", "moving"]


@dataclass(frozen=True, slots=True)
class Presence:
    """The tasks during which something is there."""

    only: frozenset[str] | None = None
    """Only during these; None means always, also at rest."""
    absent: frozenset[str] = frozenset()
    """Not during these."""

    def during(self, task: str) -> bool:
        """Whether it is there while `task` is done."""
        return (self.only is None or task in self.only) and task not in self.absent

    def meets(self, other: Presence) -> bool:
        """Whether there is a moment at which both are there."""
        if self.only is None and other.only is None:
            return True
        tasks = self.only if self.only is not None else other.only
        assert tasks is not None
        return any(self.during(task) and other.during(task) for task in tasks)

    def within(self, only: frozenset[str] | None) -> Presence:
        """The same, narrowed to some tasks."""
        if only is None:
            return self
        return Presence(only if self.only is None else self.only & only, self.absent)


ALWAYS = Presence()


@dataclass(frozen=True, eq=False)
class Element:
    """One volume in the room."""

    owner: str
    name: str
    nature: Nature
    volume: Volume
    presence: Presence = ALWAYS
    purpose: str = ""
    advised: bool = False
    even_while_working: bool = False
    blocks_feed: bool = False
    rule: str = ""
    alternatives: tuple[Volume, ...] = ()
    """Other places of a keep-clear that may slide; one free place is enough."""
    building: bool = False
    line: int = 0

    @property
    def label(self) -> str:
        """Owner and part in one phrase: `saw: rip fence`."""
        return self.owner if self.name in ("", "body") else f"{self.owner}: {self.name}"


def may_not_overlap(a: Element, b: Element) -> bool:
    """Whether the two conflict when plans and heights overlap.

    Solid/solid, solid/keep-clear and solid/zone conflict; zone/keep-clear only where the
    keep-clear holds even while working; zone/zone only within one task and between two owners.
    """
    if a.owner == b.owner:
        return _own_conflict(a, b)
    kinds = {a.nature, b.nature}
    if kinds == {"keep-clear"}:
        return False
    if "keep-clear" in kinds:
        keep, other = (a, b) if a.nature == "keep-clear" else (b, a)
        return other.nature == "solid" or keep.even_while_working
    if "moving" in kinds and "solid" not in kinds:
        return False
    return a.presence.meets(b.presence)


def _own_conflict(a: Element, b: Element) -> bool:
    """A thing is in its own way only where a part says that it blocks the feed."""
    for part, zone in ((a, b), (b, a)):
        if part.blocks_feed and zone.nature == "zone" and zone.purpose in ("infeed", "outfeed"):
            return part.presence.meets(zone.presence)
    return False


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


def at_the_same_time(shop: Shop, names: Iterable[str]) -> frozenset[str]:
    """These tasks and those that are said to go on together with one of them."""
    own = frozenset(names)
    others = frozenset(
        task.name for task in shop.tasks if own & frozenset(task.together_with)
    ) | frozenset(name for task in shop.tasks if task.name in own for name in task.together_with)
    return own | others


def thing_elements(
    shop: Shop, thing: Thing, pose: Pose, presence: Presence = ALWAYS
) -> Iterator[Element]:
    """Everything a thing brings into the room when it stands at a pose."""
    frame = frame_of(thing, pose)
    here = presence.within(thing.only_in)

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
    used_in = at_the_same_time(shop, (task.name for task in shop.tasks_using(thing.name)))
    for zone in (*thing.zones, *feed_zones(shop, thing)):
        tasks = used_in if zone.task is None else at_the_same_time(shop, (zone.task,))
        yield Element(
            thing.name,
            zone.name,
            "zone",
            volume(zone.outline, zone.bottom, zone.top),
            here.within(tasks),
            purpose=zone.purpose,
            advised=zone.advised,
            line=zone.line or thing.line,
        )
    for opening in thing.openings:
        yield from _opening_elements(thing, opening, frame, here)
    for keep in thing.keep_clears:
        yield _keep_clear_element(thing.name, keep, frame)


def opening_task(thing: Thing, opening: Opening) -> str:
    """Name of the moment in which a drawer or door is open."""
    return f"{opening.name} of {thing.name} open"


def _opening_elements(
    thing: Thing, opening: Opening, frame: Frame, here: Presence
) -> Iterator[Element]:
    moment = here.within(frozenset((opening_task(thing, opening),)))
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
    return Element(
        owner,
        keep.name,
        "keep-clear",
        options[0],
        rule=keep.rule,
        even_while_working=keep.even_while_working,
        alternatives=options,
        line=keep.line,
    )


def standing_presence(shop: Shop, thing: Thing, layout: Layout) -> Iterator[tuple[Pose, Presence]]:
    """Where a thing is and when: standing, or parked or working in the tasks that say so."""
    away = frozenset(task.name for task in shop.tasks if thing.name in task.away)
    elsewhere: set[str] = set()
    for place in ("parked", "working"):
        pose = layout.pose(thing.name, place)
        tasks = frozenset(t.name for t in shop.tasks if thing.name in getattr(t, place))
        if pose is not None and tasks:
            elsewhere |= tasks
            yield pose, Presence(tasks)
    standing = layout.pose(thing.name)
    if standing is not None:
        yield standing, Presence(None, away | frozenset(elsewhere))


def building_elements(shop: Shop) -> Iterator[Element]:
    """Posts, beams, door leaves and what must stay clear for them; walls are apart."""
    for name, volume in building.fixture_volumes(shop.room):
        line = next(f.line for f in shop.room.fixtures if f.name == name)
        yield Element(name, "body", "solid", volume, building=True, line=line)
    for door in shop.doors:
        yield from _door_elements(shop, door)
    for keep in shop.keep_clears:
        yield _keep_clear_element(keep.name, keep, None)


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

    def solids(self, task: str = AT_REST) -> tuple[Element, ...]:
        """Solids that are there during a task."""
        return tuple(e for e in self.elements if e.nature == "solid" and e.presence.during(task))

    @cached_property
    def absent(self) -> tuple[str, ...]:
        """Things without a pose."""
        return tuple(t.name for t in self.shop.things if t.name not in self.things)

    @cached_property
    def floor(self) -> Polygon:
        """Inside floor of the room."""
        return building.floor_polygon(self.shop.room)

    def task_names(self) -> tuple[str, ...]:
        """Every moment that differs: at rest and each task."""
        return (AT_REST, *(task.name for task in self.shop.tasks))

    def open_doors(self, task: str) -> tuple[str, ...]:
        """Doors that stand open while a task is done."""
        return next((t.open_doors for t in self.shop.tasks if t.name == task), ())


def scene(shop: Shop, layout: Layout, *, only: Iterable[str] | None = None) -> Scene:
    """The volumes of a shop with a layout, of all things or of some."""
    wanted = None if only is None else set(only)
    things: dict[str, tuple[Element, ...]] = {}
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
            things[thing.name] = elements
    return Scene(shop, layout, tuple(building_elements(shop)), things)
