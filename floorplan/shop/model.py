"""The shop as it is and stays: room, doors, things, stock, tasks and jobs.  Nothing here changes.

Outlines of a thing are local: origin at its rear left corner, x to the right, y to the rear, so
the body lies at negative y.  At turn 0 the operator stands south of it and feeds north.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from floorplan.geometry.affine import ZERO, Affine, Measurement, Outline
from floorplan.rules.book import RuleBook
from floorplan.shop.air import AirPlan
from floorplan.shop.floor import Feet, FloorSurvey
from floorplan.shop.lay_out import LayOut
from floorplan.shop.plan import Plan as Plan
from floorplan.shop.plan import Stage as Stage
from floorplan.shop.power import Power
from floorplan.shop.site import Site
from floorplan.units import System

AT_REST = "at rest"
"""The moment in which no task is going on."""

Side = Literal["front", "back", "left", "right"]
SIDES: tuple[Side, ...] = ("front", "back", "left", "right")

ZonePurpose = Literal[
    "stand", "infeed", "outfeed", "drawer", "door", "pull-out", "service", "clamp", "reach"
]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A solid piece of a thing."""

    name: str
    outline: Outline
    bottom: Affine
    top: Affine
    only_in: frozenset[str] | None = None
    """Tasks in which it is there; None means always."""
    blocks_feed: bool = False
    """True when it stands in the way even of the thing's own zones."""


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """Room that must be free while one task is done."""

    name: str
    purpose: str
    outline: Outline
    bottom: Affine
    top: Affine
    task: str | None = None
    """The only task that needs it; None: every task that uses the thing."""
    advised: bool = False
    line: int = 0
    side: Side | None = None
    """The side of the thing that it lies at."""


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A drawer, door or pull-out of a thing."""

    name: str
    kind: Literal["drawer", "door", "pull-out"]
    side: Side
    sweep: Outline
    """What it passes over from shut to fully open."""
    bottom: Affine
    top: Affine
    travel: Affine
    """Way from shut to fully open: length [m], or turn [deg] for a door."""
    stand: Zone | None
    """Where one stands to use it."""
    hinge: tuple[float, float] | None = None
    """Local pivot of a door [m]."""
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class KeepClear:
    """A volume in which nothing may stand, at any time."""

    name: str
    outline: Outline
    bottom: Affine
    top: Affine
    rule: str
    even_while_working: bool = False
    shifts: tuple[Affine, ...] = (ZERO,)
    """Ways to slide it along local x; one that is free is enough."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Cutter:
    """Where a machine cuts: the middle of the blade at table height, and the feed line."""

    x: Affine
    y: Affine
    """Middle of the blade, local [m]."""
    front: Affine
    back: Affine
    """How far before and behind that the cutter reaches at table height [m]."""
    table: Affine
    """Height of the surface the work slides on [m]."""
    table_front: Affine
    table_back: Affine
    """Local y of the front and rear edge of that surface [m]."""
    feed: Literal["away", "right", "left"] = "away"


@dataclass(frozen=True, slots=True)
class Freedom:
    """How a thing may be moved by a search."""

    moves: bool = True
    turns: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
    """Allowed turns [deg]."""
    along: str | None = None
    """Name of the wall it must stand against."""
    within: tuple[tuple[float, float], ...] = ()
    """Corners of the area its main body must keep within [m]; empty: the room."""
    keep_gap: Affine = ZERO
    """Least gap to other solids [m]."""


@dataclass(frozen=True, slots=True)
class OutfeedLink:
    """This thing takes the outfeed of a machine."""

    machine: str
    cover: Affine | None
    """Least depth of surface behind the machine's cutter [m]."""
    gap_least: Affine
    gap_most: Affine
    step_least: Affine
    step_most: Affine
    """How much lower than the machine's table the surface lies [m]."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class ReachLink:
    """This thing stands within a distance of a thing or place."""

    distance: Affine
    target: str
    line: int = 0


@dataclass(frozen=True, slots=True)
class UsualFeed:
    """A piece that a machine is meant to take when no job says otherwise."""

    length: Affine
    width: Affine
    thickness: Affine
    cut: str


@dataclass(frozen=True, slots=True)
class Port:
    """Where dust leaves a machine."""

    name: str
    x: Affine
    y: Affine
    height: Affine
    diameter: Affine


@dataclass(frozen=True, slots=True)
class Plug:
    """Where a machine's cord begins."""

    name: str
    x: Affine
    y: Affine
    height: Affine
    volts: float
    amps: float


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """A machine, bench, rack or other piece of equipment."""

    name: str
    kind: str
    body: Outline
    bottom: Affine
    height: Affine
    """Top of the main body [m]."""
    surface: Affine | None
    """Height of the surface work lies on [m]; None: it has none."""
    parts: tuple[Part, ...] = ()
    zones: tuple[Zone, ...] = ()
    openings: tuple[Opening, ...] = ()
    keep_clears: tuple[KeepClear, ...] = ()
    cutter: Cutter | None = None
    usual_feeds: tuple[UsualFeed, ...] = ()
    ports: tuple[Port, ...] = ()
    plugs: tuple[Plug, ...] = ()
    freedom: Freedom = Freedom()
    outfeed_of: tuple[OutfeedLink, ...] = ()
    within_of: tuple[ReachLink, ...] = ()
    only_in: frozenset[str] | None = None
    """Tasks in which it is there at all; None means always."""
    against: tuple[str, ...] = ()
    """Walls and things it is pushed against: contact, without measuring error."""
    fixed: bool = False
    feet: Feet | None = None
    mass: float | None = None
    """[kg], None when nothing tells it."""
    on_wheels: bool | None = None
    """None when nothing tells it."""
    overhang: Affine = ZERO
    """How far a mobile base juts out beyond the body on every side [m]."""
    line: int = 0

    @property
    def width(self) -> Affine:
        """Size along local x [m]."""
        return self.body.highest(0) - self.body.lowest(0)

    @property
    def depth(self) -> Affine:
        """Size along local y [m]."""
        return self.body.highest(1) - self.body.lowest(1)


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a thing stands: its westernmost and southernmost points and its turn."""

    x: Affine
    y: Affine
    turn: float
    """Counter-clockwise [deg]."""

    @classmethod
    def at(cls, x: float, y: float, turn: float) -> Pose:
        """A pose that a search sets in place: no measuring error [m, m, deg]."""
        return cls(Affine(x), Affine(y), turn % 360.0)


PLACES = ("standing", "parked", "working")
ELSEWHERE = PLACES[1:]
"""Where a thing is only while some tasks are done."""


@dataclass(frozen=True)
class Layout:
    """Where things stand, and nothing else."""

    poses: Mapping[tuple[str, str], Pose] = field(default_factory=dict)
    """(thing, place) -> pose; place is `standing`, `parked` or `working`."""

    def pose(self, thing: str, place: str = "standing") -> Pose | None:
        """Pose of a thing at a place, None when it has none."""
        return self.poses.get((thing, place))

    def with_pose(self, thing: str, pose: Pose, place: str = "standing") -> Layout:
        """A layout in which one thing stands elsewhere."""
        return Layout({**self.poses, (thing, place): pose})

    def without(self, thing: str) -> Layout:
        """A layout from which a thing is gone."""
        return Layout({key: pose for key, pose in self.poses.items() if key[0] != thing})


@dataclass(frozen=True, slots=True, eq=False)
class Door:
    """An opening in a wall that can be passed."""

    name: str
    wall: str
    start: Affine
    """Where the opening begins, from the wall's west or south end [m]."""
    width: Affine
    clear: Affine
    """Clear width when open [m]."""
    sill: Affine
    head: Affine
    """Bottom and top of the opening [m]."""
    kind: Literal["hinged", "sliding", "overhead", "opening"]
    hand: Literal["left", "right"]
    """Side of the hinges, or the side it slides to, seen from inside."""
    swing: Literal["in", "out"]
    leads_to: str
    leaf: tuple[Affine, Affine, Affine] | None
    """Open overhead leaf with its tracks: how far it reaches in, bottom, top [m]."""
    side_room: Affine
    """Room for a track beside the opening [m]."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Window:
    """An opening in a wall that is not a way."""

    name: str
    wall: str
    start: Affine
    width: Affine
    sill: Affine
    head: Affine
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Fixture:
    """A solid that is part of the building: post, partition, beam, other."""

    name: str
    outline: Outline
    bottom: Affine
    top: Affine
    line: int = 0


@dataclass(frozen=True, slots=True)
class Wall:
    """One straight wall between two corners, the room on its left."""

    name: str
    start: tuple[Affine, Affine]
    end: tuple[Affine, Affine]


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """The floor, its walls and what belongs to the building."""

    floor: Outline
    """Inside corners, counter-clockwise."""
    walls: tuple[Wall, ...]
    height: Affine
    wall_thickness: Affine
    fixtures: tuple[Fixture, ...] = ()
    line: int = 0

    def wall(self, name: str) -> Wall:
        """The wall of that name; KeyError when there is none."""
        for wall in self.walls:
            if wall.name == name:
                return wall
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Stock:
    """Material as bought or cut."""

    name: str
    length: Affine
    width: Affine
    thickness: Affine
    density: float
    """[kg/m3]"""
    line: int = 0

    @property
    def mass(self) -> float:
        """[kg]"""
        return self.length.value * self.width.value * self.thickness.value * self.density


@dataclass(frozen=True, slots=True)
class Task:
    """What is done at one time."""

    name: str
    uses: tuple[str, ...]
    open_doors: tuple[str, ...] = ()
    parked: tuple[str, ...] = ()
    working: tuple[str, ...] = ()
    away: tuple[str, ...] = ()
    together_with: tuple[str, ...] = ()
    lasts: float = 0.0
    """[s]; 0: as long as somebody is at it."""
    line: int = 0
    lay_out: LayOut | None = None
    """What lies out to dry or cure while it lasts."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One walk of a job."""

    start: str
    end: str
    times: float


@dataclass(frozen=True, slots=True)
class Feed:
    """One piece fed straight through a machine."""

    stock: str
    length: Affine
    width: Affine
    thickness: Affine
    machine: str
    cut: Literal["rip", "crosscut"]
    offset: Affine
    """Distance of the piece's guided edge from the blade [m]."""
    guide: Literal["right", "left"]
    """Side of the blade on which that edge runs."""
    task: str | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class BreakDown:
    """A sheet cut up flat, on the floor or over a bench."""

    stock: str
    over: str
    """`floor` or the name of a thing."""
    task: str | None = None
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Carry:
    """A sheet, a box or a thing carried from one place to another."""

    piece: str
    """Name of the stock or thing, or `piece`."""
    length: Affine
    width: Affine
    thickness: Affine
    """Its box, longest side first for stock; of a thing plan length, plan width and height [m]."""
    mass: float | None
    """[kg], None when nothing tells it."""
    start: str
    goal: str
    """Names of things, doors or places."""
    how: str
    height: Affine | None = None
    """Height of its underside [m]; None: what is usual for the way of carrying."""
    turn: float | None = None
    """Direction of its long side at the goal [deg], None: as the goal suggests."""
    thing: str | None = None
    """The thing that is carried; it stands nowhere meanwhile."""
    task: str | None = None
    line: int = 0
    on_top: bool = False
    """Whether it is turned upright on the top of the thing it starts at, not beside it."""


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work: walks, feeds and what is carried."""

    name: str
    legs: tuple[Leg, ...] = ()
    feeds: tuple[Feed, ...] = ()
    break_downs: tuple[BreakDown, ...] = ()
    carries: tuple[Carry, ...] = ()
    line: int = 0


@dataclass(frozen=True, slots=True)
class NamedPlace:
    """A named point."""

    name: str
    x: Affine
    y: Affine
    line: int = 0
    turn: float | None = None
    """Direction of the long side of what is brought there [deg], None: any square one."""


@dataclass(frozen=True, slots=True, eq=False)
class Reserved:
    """A fixed thing of a later stage: it is not there yet, but what it keeps clear is."""

    owner: str
    """Its own name, or that of the thing in whose place it will come."""
    thing: Thing
    pose: Pose


@dataclass(frozen=True, eq=False)
class Shop:
    """Everything that stays the same while layouts change."""

    name: str
    path: str
    system: System
    room: Room
    rules: RuleBook
    measurements: Mapping[str, Measurement]
    doors: tuple[Door, ...] = ()
    windows: tuple[Window, ...] = ()
    things: tuple[Thing, ...] = ()
    keep_clears: tuple[KeepClear, ...] = ()
    """Drawn by hand, in room coordinates."""
    places: tuple[NamedPlace, ...] = ()
    stock: tuple[Stock, ...] = ()
    tasks: tuple[Task, ...] = ()
    jobs: tuple[Job, ...] = ()
    people: int = 1
    priorities: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    """What the reader wants said: closing error, clear widths assumed."""
    date: str = ""
    floor: FloorSurvey | None = None
    air: AirPlan | None = None
    plan: Plan | None = None
    """Stages over years; None: the shop is the same throughout."""
    stage: Stage | None = None
    """The stage whose shop this is; None: of no plan, or of all its stages at once."""
    reserved: tuple[Reserved, ...] = ()
    site: Site | None = None
    power: Power | None = None

    @cached_property
    def _by_name(self) -> dict[str, Thing]:
        return {thing.name: thing for thing in self.things}

    def thing(self, name: str) -> Thing:
        """The thing of that name; KeyError when there is none."""
        return self._by_name[name]

    def has(self, name: str) -> bool:
        """Whether there is a thing of that name."""
        return name in self._by_name

    def spot(self, name: str) -> tuple[Affine, Affine] | None:
        """The named place or outlet of that name [m]; None when there is none."""
        points = [(place.name, place.x, place.y) for place in self.places]
        if self.power is not None:
            points += [(outlet.name, outlet.x, outlet.y) for outlet in self.power.outlets]
        return next(((x, y) for known, x, y in points if known == name), None)

    def door(self, name: str) -> Door:
        """The door of that name; KeyError when there is none."""
        return {door.name: door for door in self.doors}[name]

    def task(self, name: str) -> Task:
        """The task of that name; KeyError when there is none."""
        return {task.name: task for task in self.tasks}[name]

    def tasks_using(self, thing: str) -> tuple[Task, ...]:
        """Tasks in which the thing is worked at."""
        return tuple(task for task in self.tasks if thing in task.uses)

    def feeds(self) -> Iterator[tuple[str, Feed]]:
        """Every (job name, feed)."""
        for job in self.jobs:
            for feed in job.feeds:
                yield job.name, feed

    def carries(self) -> Iterator[tuple[str, Carry]]:
        """Every (job name, carry)."""
        for job in self.jobs:
            for carry in job.carries:
                yield job.name, carry

    def with_thing(self, thing: Thing) -> Shop:
        """A shop in which the thing of the same name is another."""
        return replace(
            self, things=tuple(thing if t.name == thing.name else t for t in self.things)
        )
