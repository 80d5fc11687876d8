"""What a carried piece moves among: the open ground, and the solids at its heights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from floorplan.checks.carried_body import bands_of, body_of, come_apart, stopped_parts
from floorplan.checks.finding import amount
from floorplan.geometry.affine import ZERO, Affine, greater, smaller
from floorplan.geometry.volume import Volume
from floorplan.motion.carry import Body, CarrySpace
from floorplan.shop import building
from floorplan.shop.carrying import Load, Stand
from floorplan.shop.model import AT_REST, Carry, Door, Shop
from floorplan.shop.scene import Element, Scene
from floorplan.shop.yard import is_led_into
from floorplan.units import TOLERANCE

APRON = 0.6
"""Ground looked at beside and beyond the longest way a piece turned before a door reaches [m]."""


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Workspace and obstacles of one carry, with some doors open."""

    doors: tuple[str, ...]
    """The doors that stand open."""
    space: CarrySpace
    obstacles: tuple[Element, ...]
    """In the order in which the space counts them."""
    edges: tuple[Element, ...]
    """Walls with the open doorways left out: what limits the workspace."""
    closed: tuple[str, ...]
    """Open doors that are too low or whose sill is too high, in words."""
    load: Load
    apart: bool
    """Whether the piece and the people at its two ends are told apart."""
    stops: tuple[frozenset[int], ...]
    """For each obstacle the parts of the body that it stops."""

    @property
    def body(self) -> Body:
        """What is carried in plan, in the parts that the space tells apart."""
        return body_of(self.load, apart=self.apart)

    def facing(self, parts: tuple[int, ...]) -> tuple[Element, ...]:
        """The edges, and the obstacles that stop one of some parts of the body."""
        stopping = zip(self.obstacles, self.stops, strict=True)
        return (*(e for e, stopped in stopping if not stopped.isdisjoint(parts)), *self.edges)

    def names(self, indices: tuple[int, ...]) -> tuple[str, ...]:
        """Owners of obstacles by their numbers, `the walls` for the outside of the workspace."""
        names = [self.obstacles[i].owner if i >= 0 else "the walls" for i in indices]
        return tuple(dict.fromkeys(names))


def open_at_once(
    scene: Scene, carry: Carry, ends: tuple[Stand, Stand]
) -> tuple[tuple[str, ...], ...]:
    """Sets of doors to try.

    A way that begins or ends at a door uses that door, besides those the task opens.  Any other
    way is tried with the doors it needs, then with all, because a carrier opens them.
    """
    shop = scene.shop
    opened = set(scene.open_doors(carry.task)) if carry.task is not None else set()
    every = tuple(door.name for door in shop.doors)
    named = set(every) & {carry.start, carry.goal}
    if named:
        return (tuple(name for name in every if name in named | opened),)
    floor = scene.floor
    if any(not floor.intersects(Point(s.x, s.y)) for s in ends):
        opened |= {door.name for door in shop.doors if door.leads_to == "outside"}
    needed = tuple(name for name in every if name in opened)
    return (needed,) if needed == every else (needed, every)


def surroundings(
    scene: Scene,
    carry: Carry,
    load: Load,
    ends: tuple[Stand, Stand],
    doors: tuple[str, ...],
    *,
    without: frozenset[str] = frozenset(),
    lean: float = 0.0,
) -> Surroundings:
    """The ground and the solids for a piece, these doors open and some things out of the way.

    With `lean` 1 all is there that may reach its heights within what the tape allows, with -1
    only what does so surely, with 0 what does as drawn.
    """
    shop = scene.shop
    opened = [door for door in shop.doors if door.name in doors]
    rolls = carry.how == "on cart"
    too_low = {door.name: _closed_by(shop, door, load, lean, rolls=rolls) for door in opened}
    every = (True,) * len(load.bands)
    found = [
        *(row for row in _solids(scene, carry, load, ends, lean) if row[0].owner not in without),
        *(leaf for door in opened for leaf in _leaf(shop, door, load, lean)),
        *((_stopper(shop, door), every) for door in opened if too_low[door.name]),
    ]
    elements = [element for element, _ in found]
    apart = come_apart(load, (reached for _, reached in found))
    stops = tuple(stopped_parts(load, reached, apart=apart) for _, reached in found)
    reach = hypot(load.length.value, load.width.value) + APRON
    ground = ground_for(shop, opened, {carry.start, carry.goal}, reach)
    edges = tuple(
        Element(piece.wall, "body", "solid", piece.volume, building=True)
        for piece in building.opened_walls(shop, doors)
        if piece.volume.bottom.value < TOLERANCE
    )
    space = space_of(ground, elements, stops, load, apart=apart)
    closed = tuple(words for words in too_low.values() if words)
    return Surroundings(doors, space, tuple(elements), edges, closed, load, apart, stops)


def space_of(
    ground: BaseGeometry,
    elements: Sequence[Element],
    stops: Sequence[frozenset[int]],
    load: Load,
    *,
    apart: bool,
) -> CarrySpace:
    """Ground and solids for the body of a load, each solid stopping some parts of it."""
    count = len(bands_of(load, apart=apart))
    return CarrySpace(ground, [e.volume.polygon for e in elements], stops, count)


def _solids(
    scene: Scene, carry: Carry, load: Load, ends: tuple[Stand, Stand], lean: float
) -> list[tuple[Element, tuple[bool, ...]]]:
    """What is there in the task at some of the load's heights, and at which of its bands."""
    task = carry.task or AT_REST
    resting = {s.resting_on for s in ends if s.resting_on} if carry.how == "flat" else set()
    ends_at = [door for door in scene.shop.doors if door.name in (carry.start, carry.goal)]
    kept = []
    for element in scene.elements:
        if any(is_led_into(scene.shop, door, element) for door in ends_at):
            continue  # it begins or ends in there
        keep = element.nature == "keep-clear" and element.even_while_working
        solid = element.nature == "solid" and element.presence.during(task)
        if not (keep or solid) or element.owner == carry.thing or element.name == "open leaf":
            continue
        if element.owner in resting and element.name != "body" and not element.blocks_feed:
            continue  # a fence is moved or passed over when a sheet is laid on the table
        # a piece lies on the top of what it rests on, wherever that truly is
        off = 0.0 if element.owner in resting else lean
        reached = _reached(scene.shop, element.volume, load, off)
        if any(reached):
            kept.append((element, reached))
    return kept


def _reached(shop: Shop, volume: Volume, load: Load, lean: float) -> tuple[bool, ...]:
    """For each band of a load whether a solid is in it, give or take what the tape allows."""
    return tuple(
        _more_than_nothing(
            shop, smaller(volume.top, band.top) - greater(volume.bottom, band.bottom), lean
        )
        for band in load.bands
    )


def _more_than_nothing(shop: Shop, overlap: Affine, lean: float) -> bool:
    return overlap.value + lean * overlap.error(shop.measurements) > TOLERANCE


def _leaf(
    shop: Shop, door: Door, load: Load, lean: float
) -> list[tuple[Element, tuple[bool, ...]]]:
    """The leaf of an open door where it hangs, if it reaches into some of the load's bands."""
    leaf = building.open_leaf(shop, door)
    reached = () if leaf is None else _reached(shop, leaf, load, lean)
    if leaf is None or not any(reached):
        return []
    made = Element(door.name, "open leaf", "solid", leaf, building=True, line=door.line)
    return [(made, reached)]


def _closed_by(shop: Shop, door: Door, load: Load, lean: float, *, rolls: bool) -> str:
    """Why a piece cannot go through a door however it is turned in plan; empty when it can.

    People stoop below a head and step over a sill; a cart does not.
    """
    top, bottom = load.piece.top, ZERO if rolls else load.piece.bottom
    if _more_than_nothing(shop, top - door.head, lean):
        over, head = amount(shop, top.value, "up"), amount(shop, door.head.value, "down")
        return f"{door.name} is {head} high and the piece reaches {over}"
    if _more_than_nothing(shop, door.sill - bottom, lean):
        low, sill = amount(shop, bottom.value, "down"), amount(shop, door.sill.value, "up")
        return f"{door.name} begins {sill} above the floor and the piece is carried at {low}"
    return ""


def _stopper(shop: Shop, door: Door) -> Element:
    line = building.frame(shop.room.wall(door.wall))
    start, end = building.clear_span(line, door)
    outline = line.box(start, end, 0.0, -shop.room.wall_thickness.value)
    volume = Volume(outline, door.sill, door.head)
    return Element(door.name, "opening", "solid", volume, building=True, line=door.line)


def ground_for(shop: Shop, opened: list[Door], ends: set[str], reach: float) -> BaseGeometry:
    """Room, doorways, and the ground before open doors that lead outside or are an end."""
    floor = building.floor_polygon(shop.room)
    thick = shop.room.wall_thickness.value
    house = floor.buffer(thick, join_style="mitre")
    parts: list[BaseGeometry] = [floor]
    for door in opened:
        if door.leads_to != "outside" and door.name not in ends:
            continue
        line = building.frame(shop.room.wall(door.wall))
        parts.append(building.doorway(shop, door, reach=TOLERANCE, inward=TOLERANCE))
        low, high = door.start.value - reach, door.start.value + door.width.value + reach
        field = Polygon(line.box(low, high, -thick, -(thick + reach)).points)
        parts.append(field.difference(house))
    return unary_union(parts)


def over_panel(scene: Scene, body: Element) -> Element:
    """The space over a panel that is for its own wiring."""
    reach = scene.shop.rules.value("panel-dedicated-height")
    top: Affine = smaller(body.volume.top + reach, scene.shop.room.height)
    return Element(
        body.owner, "space over it", "keep-clear",
        Volume(body.volume.outline, body.volume.top, top), rule="panel-dedicated-height",
        line=body.line,
    )  # fmt: skip
