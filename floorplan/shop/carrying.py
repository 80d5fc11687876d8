"""How a piece is carried: the plan it takes, the heights it reaches, and its poses at both ends.

A piece is a box.  On edge its plan is length by thickness and it is as tall as it is wide; flat
its plan is length by width; on end its plan is width by thickness.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from floorplan.geometry.affine import ZERO, Affine, affine, greater
from floorplan.shop import building
from floorplan.shop.feeding import along_and_across, feed_box, feeds_of
from floorplan.shop.model import Carry, Cutter, Door, NamedPlace, Side, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.shop.yard import is_of_yard
from floorplan.units import TOLERANCE

UPRIGHT = frozenset({"on edge", "on edge with carrier", "on cart", "by two"})
BESIDE = 0.02
"""A piece set down before something stands this far off it [m]."""
_ENDS: dict[int, tuple[Side, Side]] = {1: ("front", "back"), 0: ("left", "right")}
"""Sides of a thing at the low and the high end of each of its axes, front and back first."""
_AHEAD = {"away": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


@dataclass(frozen=True, slots=True)
class Band:
    """Heights between which something reaches [m]."""

    bottom: Affine
    top: Affine


@dataclass(frozen=True, slots=True)
class Load:
    """A piece as it is carried: a rectangle in plan with what it takes in height."""

    length: Affine
    width: Affine
    """Of the plan, whoever carries it included [m]."""
    piece: Band
    """Heights of the piece itself."""
    people: Band | None
    """Heights of the carriers and the cart, None when they keep within the piece's plan."""
    beside: Affine
    """How much of the width is the carrier's, on one side of the piece [m]."""
    carrier: float = 0.0
    """Depth of the carrier along the piece, at its middle [m]."""
    ends: Affine = ZERO
    """How much of the length each of two carriers takes, one at either end [m]."""

    @property
    def bands(self) -> tuple[Band, ...]:
        """All heights in which something may be hit."""
        return (self.piece,) if self.people is None else (self.piece, self.people)

    @property
    def top(self) -> Affine:
        """Highest point [m]."""
        return self.piece.top if self.people is None else greater(self.piece.top, self.people.top)

    @property
    def bottom(self) -> Affine:
        """Lowest point [m]."""
        return self.piece.bottom if self.people is None else ZERO


def load_of(scene: Scene, carry: Carry) -> Load:
    """The plan and the heights of a piece in its way of being carried."""
    rules = scene.shop.rules
    length, width, thickness = carry.length, carry.width, carry.thickness
    low = carry.height if carry.height is not None else _usual_height(scene, carry)
    person = Band(ZERO, affine(rules.value("person-height")))
    deep, wide = affine(rules.value("body-depth")), affine(rules.value("body-width"))
    flat = Band(low, low + thickness)
    edge = Band(low, low + width)
    if carry.how == "flat":
        return Load(length, width, flat, None, ZERO)
    if carry.how == "on end":
        return Load(width, thickness, Band(low, low + length), None, ZERO)
    if carry.how == "on cart":
        cart = affine(rules.value("carry-cart-width"))
        as_it_stands = carry.thing is not None
        plan = greater(width if as_it_stands else thickness, cart)
        lying = flat if as_it_stands else edge
        long = greater(length, affine(rules.value("carry-cart-length")))
        return Load(long, plan, lying, Band(ZERO, low), ZERO)
    if carry.how == "by two":
        level = carry.height is not None or carry.thing is not None
        plan = greater(width if level else thickness, wide)
        return Load(length + deep * 2, plan, flat if level else edge, person, ZERO, ends=deep)
    if carry.how == "on edge with carrier":
        depth = rules.value("carry-body-depth")
        return Load(length, thickness + wide, edge, person, wide, depth)
    return Load(length, thickness, edge, None, ZERO)


def _usual_height(scene: Scene, carry: Carry) -> Affine:
    """Height of the underside when nobody says: that of the surface it comes to lie on, flat."""
    rules = scene.shop.rules
    if carry.how == "on cart":
        return affine(rules.value("carry-cart-deck"))
    if carry.thing is not None:
        return affine(rules.value("carry-lift"))
    if carry.how == "on end":
        return affine(rules.value("carry-lift"))
    if carry.how != "flat":
        return affine(rules.value("carry-edge-height"))
    height = affine(rules.value("carry-flat-height"))
    for name in (carry.start, carry.goal):
        surface = _surface(scene, name)
        if surface is not None:
            height = greater(height, surface)
    return height


def _surface(scene: Scene, name: str) -> Affine | None:
    if not scene.shop.has(name):
        return None
    thing = scene.shop.thing(name)
    return thing.cutter.table if thing.cutter is not None else thing.surface


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the middle of a piece is at one end of its way, and the direction of its long side."""

    x: float
    y: float
    """[m]"""
    turn: float
    """Of the plan's long side [deg]."""
    words: str
    resting_on: str | None = None
    """The thing whose own parts it lies on or in."""


def stands(scene: Scene, carry: Carry, load: Load, *, goal: bool) -> tuple[Stand, ...]:
    """Sensible poses for one end of a way, the first that is free being meant; may be empty."""
    name = carry.goal if goal else carry.start
    found = tuple(_stands(scene, carry, load, name))
    if goal and carry.turn is not None:
        middle = found[:1]
        return tuple(
            Stand(s.x, s.y, carry.turn, f"{s.words.partition(',')[0]}, as the job says")
            for s in middle
        )
    return found


def _stands(scene: Scene, carry: Carry, load: Load, name: str) -> Iterator[Stand]:
    shop = scene.shop
    for place in shop.places:
        if place.name == name:
            yield from _at_place(place)
            return
    for door in shop.doors:
        if door.name == name:
            yield from _outside_door(scene, load, door)
            return
    pose = scene.layout.pose(name)
    if pose is None or not shop.has(name):
        return
    thing = shop.thing(name)
    if carry.on_top:
        yield from _on_top(scene.things[name][0].volume.polygon, name)
        return
    if carry.thing == name:
        yield _where_it_stands(thing, scene)
        return
    pulled = [
        e for e in scene.things[name]
        if e.nature == "zone" and e.purpose == "pull-out" and not e.advised
    ]  # fmt: skip
    if pulled and carry.how != "flat":
        yield _drawn_out(scene, load, thing, pulled[0].volume.polygon)
    elif thing.cutter is not None:
        yield _before_machine(scene, carry, load, thing, thing.cutter)
    elif carry.how == "flat" and thing.surface is not None:
        yield _along(scene.things[name][0].volume.polygon, f"lying on {name}", name)
    else:
        if carry.how == "flat" and thing.height.value <= load.piece.bottom.value + TOLERANCE:
            yield _along(scene.things[name][0].volume.polygon, f"held over {name}", name)
        yield _beside(scene, load, thing)


def _outside_door(scene: Scene, load: Load, door: Door) -> Iterator[Stand]:
    """Square to the wall; where something stands in the way there, also along the wall.

    Along, it is half-way between the wall and what stands nearest before it, before the door or
    to either side of it.
    """
    room, long = scene.shop.room, load.length.value
    line, thick = building.frame(room.wall(door.wall)), room.wall_thickness.value
    start, end = building.clear_span(line, door)
    middle, far = (start + end) / 2, thick + long / 2 + BESIDE
    turn = degrees(atan2(line.inward[1], line.inward[0]))
    x, y = line.at(middle, -far)
    yield Stand(x.value, y.value, turn, f"outside {door.name}, square to the wall")
    yard = [
        e.volume for e in scene.building
        if is_of_yard(e) and any(e.volume.in_band(b.bottom.value, b.top.value) for b in load.bands)
    ]  # fmt: skip
    half = load.width.value / 2
    square = Polygon(line.box(middle - half, middle + half, -thick, -(far + long / 2)).points)
    if not any(square.intersects(v.polygon) for v in yard):
        return
    for aside, words in (
        (0.0, ""),
        (-long / 2, ", to one side"),
        (long / 2, ", to the other side"),
    ):
        low, high = middle + (aside - long / 2), middle + (aside + long / 2)
        strip = Polygon(line.box(low, high, -thick, -(thick + long)).points)
        face = LineString([line.at(at, -thick)[k].value for k in (0, 1)] for at in (low, high))
        free = min(
            (face.distance(part) for v in yard if (part := strip.intersection(v.polygon)).area > 0),
            default=long,
        )
        x, y = line.at(middle + aside, -(thick + free / 2))
        yield Stand(
            x.value, y.value, (turn + 90.0) % 180.0, f"outside {door.name}, along the wall{words}"
        )


def _at_place(place: NamedPlace) -> Iterator[Stand]:
    x, y = place.x.value, place.y.value
    if place.turn is not None:
        yield Stand(x, y, place.turn, f"at {place.name}, turned as the file says")
        return
    yield Stand(x, y, 0.0, f"at {place.name}, its long side west to east")
    yield Stand(x, y, 90.0, f"at {place.name}, its long side south to north")


def _where_it_stands(thing: Thing, scene: Scene) -> Stand:
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    frame = frame_of(thing, pose)
    low, high = thing.body.points.min(axis=0), thing.body.points.max(axis=0)
    x, y = frame.point(float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)
    turn = pose.turn if thing.width.value >= thing.depth.value else pose.turn + 90.0
    return Stand(x.value, y.value, turn % 180.0, f"where {thing.name} stands", thing.name)


def _along(area: Polygon, words: str, owner: str) -> Stand:
    """In the middle of an area, along its long side."""
    box = area.minimum_rotated_rectangle
    corners = np.asarray(box.exterior.coords)[:-1]
    sides = np.roll(corners, -1, axis=0) - corners
    longest = sides[int(np.argmax(np.hypot(*sides.T)))]
    turn = degrees(atan2(longest[1], longest[0])) % 180.0
    turn = 0.0 if 180.0 - turn < 1e-9 else turn
    middle: Point = box.centroid
    return Stand(float(middle.x), float(middle.y), turn, words, owner)


def _on_top(area: Polygon, name: str) -> Iterator[Stand]:
    """In the middle of a top, along its long side and across."""
    along = _along(area, f"on top of {name}", name)
    yield replace(along, words=f"{along.words}, along it")
    yield replace(along, turn=(along.turn + 90.0) % 180.0, words=f"{along.words}, across it")


def _before_machine(scene: Scene, carry: Carry, load: Load, thing: Thing, cutter: Cutter) -> Stand:
    """Lying where it is fed from; upright or fed by nobody, before the table and along the feed."""
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    frame = frame_of(thing, pose)
    ahead = _AHEAD[cutter.feed]
    way = frame.heading(*ahead)
    feed_turn = degrees(atan2(way[1], way[0]))
    asked = [feed for _, feed in feeds_of(scene.shop, thing)]
    feed = next((f for f in asked if f.stock == carry.piece), None)
    if carry.how == "flat" and feed is not None:
        along, across = along_and_across(feed)
        left, right = (
            (feed.offset - across, feed.offset)
            if feed.guide == "right"
            else (-feed.offset, across - feed.offset)
        )
        area = frame.place(feed_box(cutter, -(cutter.front + along), -cutter.front, left, right))
        x, y = area.points.mean(axis=0)
        turn = feed_turn if feed.cut == "rip" else feed_turn + 90.0
        words = f"lying on {thing.name} before its cutter"
        return Stand(float(x), float(y), turn % 180.0, words, thing.name)
    back_off = _own_front(scene, thing, load, way) - BESIDE - load.length.value / 2
    blade_x, blade_y = frame.point(cutter.x, cutter.y)
    x, y = blade_x.value + back_off * way[0], blade_y.value + back_off * way[1]
    return Stand(x, y, feed_turn % 180.0, f"before the table of {thing.name}")


def _own_front(scene: Scene, thing: Thing, load: Load, way: tuple[float, float]) -> float:
    """How far against the feed a machine reaches at the heights of a load, from its blade [m]."""
    pose, cutter = scene.layout.pose(thing.name), thing.cutter
    assert pose is not None
    assert cutter is not None
    x, y = frame_of(thing, pose).point(cutter.x, cutter.y)
    blade = np.array([x.value, y.value])
    reach = [table_span(thing, cutter)[0].value]
    for element in scene.things[thing.name]:
        volume = element.volume
        if element.nature == "solid" and any(
            volume.in_band(b.bottom.value, b.top.value) for b in load.bands
        ):
            reach.append(float(((volume.outline.points - blade) @ np.array(way)).min()))
    return min(reach)


def table_span(thing: Thing, cutter: Cutter) -> tuple[Affine, Affine]:
    """Front and rear edge of a machine's table along the feed, from its blade [m]."""
    if cutter.feed == "away":
        return cutter.table_front - cutter.y, cutter.table_back - cutter.y
    if cutter.feed == "left":
        return cutter.x - thing.body.highest(0), cutter.x - thing.body.lowest(0)
    return thing.body.lowest(0) - cutter.x, thing.body.highest(0) - cutter.x


def _drawn_out(scene: Scene, load: Load, thing: Thing, area: Polygon) -> Stand:
    """In the middle of what is kept free for it, or farther out when it is longer than that."""
    found = _along(area, f"drawn out of {thing.name}", thing.name)
    angle = radians(found.turn)
    way = np.array([cos(angle), sin(angle)])
    reach = np.asarray(area.exterior.coords) @ way
    too_long = load.length.value - float(np.ptp(reach))
    if too_long <= 0.0:
        return found
    body = scene.things[thing.name][0].volume.outline.points @ way
    out = float(np.sign(reach.min() + reach.max() - body.min() - body.max())) * too_long / 2
    return replace(found, x=found.x + out * float(way[0]), y=found.y + out * float(way[1]))


def _beside(scene: Scene, load: Load, thing: Thing) -> Stand:
    """Along the side at which one stands, which is the front when the file names no other."""
    pose = scene.layout.pose(thing.name)
    assert pose is not None
    side = standing_side(thing)
    off = BESIDE + (load.width - load.beside).value / 2
    wide, deep = thing.width.value, thing.depth.value
    local, turn, words = {
        "front": ((wide / 2, -deep - off), 0.0, f"in front of {thing.name}"),
        "back": ((wide / 2, off), 0.0, f"behind {thing.name}"),
        "left": ((-off, -deep / 2), 90.0, f"beside {thing.name}, on its left"),
        "right": ((wide + off, -deep / 2), 90.0, f"beside {thing.name}, on its right"),
    }[side]
    x, y = frame_of(thing, pose).point(*local)
    return Stand(x.value, y.value, (pose.turn + turn) % 180.0, words)


def standing_side(thing: Thing) -> Side:
    """The side of the first place at which one has to stand, the front if there is none."""
    for zone in thing.zones:
        if zone.purpose != "stand" or zone.advised:
            continue
        for axis, (low, high) in _ENDS.items():
            middle = (zone.outline.lowest(axis) + zone.outline.highest(axis)).value / 2
            if middle < thing.body.lowest(axis).value:
                return low
            if middle > thing.body.highest(axis).value:
                return high
    return "front"


def with_carrier(stand: Stand, side: float) -> Stand:
    """The piece turned so that its carrier, who is on its left, comes to the left or right (-1)."""
    hand, turn = ("left", 0.0) if side > 0 else ("right", 180.0)
    words = f"{stand.words}, the carrier on its {hand}"
    return replace(stand, turn=stand.turn + turn, words=words)


def height_on_the_turn(length: float, width: float) -> float:
    """Height that a rectangle takes while it is turned upright in its own plane [m].

    Turned by t it is `length` sin t + `width` cos t tall, which peaks at the diagonal.
    """
    return hypot(length, width)


def lean_to_pass(length: float, opening: float) -> tuple[float, float] | None:
    """Lean from the floor [deg] at which a thin sheet on end passes below a height; its run [m].

    None when it passes upright.
    """
    if length <= opening:
        return None
    angle = float(np.arcsin(opening / length))
    return degrees(angle), length * cos(angle)
