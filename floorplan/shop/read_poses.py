"""Reads where things stand: measured from the origin, or in contact with walls and things."""

from __future__ import annotations

import re
from math import atan2, degrees

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.building import frame
from floorplan.shop.model import PLACES, Layout, Pose, Room, Thing, Wall
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.read_room import fault_unknown_wall, find_wall, match_wall
from floorplan.shop.reading import Reading, nearest, require
from floorplan.shop.scene import frame_of
from floorplan.units import UnitError, parse_measured

_BESIDE = re.compile(r"^(east|west|north|south)\s+of\s+(.+?)(?:\s*\+\s+(.+))?$")
_AGAINST = re.compile(r"^against\s+(.+)$")
PLACE_KEYS = {"standing": "at", "parked": "parked", "working": "working"}


class PoseReader:
    """Reads poses, each after those it leans on."""

    def __init__(
        self,
        reading: Reading,
        room: Room,
        things: dict[str, Thing],
        nodes: dict[str, MappingNode],
        *,
        when: str = "",
    ) -> None:
        self.reading = reading
        self.room = room
        self.things = things
        self.nodes = nodes
        self.when = f" in {when}" if when else ""
        self.poses: dict[tuple[str, str], Pose] = {}
        self.open: list[str] = []
        self.done: set[str] = set()

    def layout(self) -> Layout:
        """Every pose of the file."""
        for name in self.things:
            self.read(name)
        ordered = {
            (name, place): self.poses[name, place]
            for name in self.things
            for place in PLACES
            if (name, place) in self.poses
        }
        return Layout(ordered)

    def read(self, name: str) -> None:
        """Poses of one thing, once."""
        if name in self.done:
            return
        self.open.append(name)
        for place, key in PLACE_KEYS.items():
            node = self.nodes[name].get(key)
            if node is not None:
                pose = self._pose(self.things[name], place, node)
                if pose is not None:
                    self.poses[name, place] = pose
        self.open.pop()
        self.done.add(name)

    def _pose(self, thing: Thing, place: str, node: Node) -> Pose | None:
        mapping = node.mapping()
        if mapping is None:
            return None
        if "wall" in mapping:
            return self._on_wall(thing, mapping)
        mapping.check_keys(("x", "y", "turn"))
        turn_node = mapping.get("turn")
        turn = 0.0 if turn_node is None else turn_node.angle()
        if turn is None:
            return None
        turn %= 360.0
        x = self._coordinate(thing, place, require(mapping, "x"), 0, turn)
        y = self._coordinate(thing, place, require(mapping, "y"), 1, turn)
        if x is None or y is None:
            return None
        return Pose(x, y, turn)

    def _coordinate(
        self, thing: Thing, place: str, node: Node | None, axis: int, turn: float
    ) -> Affine | None:
        if node is None:
            return None
        if isinstance(node, Scalar):
            text = node.value.strip()
            against = _AGAINST.match(text)
            if against:
                return self._against(thing, node, against.group(1), axis, turn)
            beside = _BESIDE.match(text)
            if beside:
                return self._beside(thing, place, node, beside, axis, turn)
        letter = "xy"[axis]
        what = self._what(place)
        return self.reading.length(
            node, f"{thing.name}:{what} {letter}", signed=True, contact_at_zero=True
        )

    def _what(self, place: str) -> str:
        return ("" if place == "standing" else f" {place}") + self.when

    def _extent(self, thing: Thing, turn: float, axis: int) -> Affine:
        body = thing.body.turned(turn)
        return body.highest(axis) - body.lowest(axis)

    def _against(
        self, thing: Thing, node: Scalar, target: str, axis: int, turn: float
    ) -> Affine | None:
        """Pushed against a wall that runs across this axis: contact, no measuring error."""
        wall = match_wall(self.room, target)
        if wall is None:
            fault_unknown_wall(self.reading, self.room, node, target)
            return None
        line = frame(wall)
        inward = line.inward
        if abs(abs(float(inward[axis])) - 1.0) > 1e-9:
            node.fault(
                f"the {wall.name} does not fix {'xy'[axis]}",
                f"use it for {'yx'[axis]}, or write `at: {{wall: {wall.name}, along: ...}}`",
            )
            return None
        face = line.origin[axis]
        if inward[axis] > 0:
            return face + thing.overhang
        return face - thing.overhang - self._extent(thing, turn, axis)

    def _beside(
        self,
        thing: Thing,
        place: str,
        node: Scalar,
        match: re.Match[str],
        axis: int,
        turn: float,
    ) -> Affine | None:
        """East, west, north or south of another thing, touching or with a gap."""
        way, target, gap_text = match.groups()
        if (way in ("east", "west")) != (axis == 0):
            node.fault(
                f"`{way} of` does not fix {'xy'[axis]}",
                f"use {'east or west' if axis == 0 else 'north or south'}",
            )
            return None
        bounds = self._bounds_of(node, target)
        if bounds is None:
            return None
        gap = ZERO
        if gap_text:
            try:
                value, own = parse_measured(gap_text, self.reading.default_unit)
            except UnitError as wrong:
                node.fault(wrong.message)
                return None
            gap = self.reading.measured(
                f"{thing.name}: gap to {target}{self._what(place)}",
                float(value),
                error=self.reading.tape_plan if own is None else float(own),
                line=node.line,
            )
        low, high = bounds[axis]
        if way in ("east", "north"):
            return high + gap + thing.overhang
        return low - gap - thing.overhang - self._extent(thing, turn, axis)

    def _bounds_of(
        self, node: Node, target: str
    ) -> tuple[tuple[Affine, Affine], tuple[Affine, Affine]] | None:
        if target not in self.things:
            for fixture in self.room.fixtures:
                if fixture.name == target:
                    outline = fixture.outline
                    return (
                        (outline.lowest(0), outline.highest(0)),
                        (outline.lowest(1), outline.highest(1)),
                    )
            if target not in self.reading.named:
                node.fault(f"there is no thing `{target}`", nearest(target, self.things))
            return None
        if target in self.open:
            ring = " -> ".join([*self.open[self.open.index(target) :], target])
            node.fault(f"these poses lean on each other in a ring: {ring}")
            return None
        self.read(target)
        pose = self.poses.get((target, "standing"))
        if pose is None:
            if "at" not in self.nodes.get(target, ()):
                node.fault(f"`{target}` has no place of its own yet", f"give `{target}` an `at:`")
            return None
        other = self.things[target]
        body, out = frame_of(other, pose).place(other.body), other.overhang
        return (
            (body.lowest(0) - out, body.highest(0) + out),
            (body.lowest(1) - out, body.highest(1) + out),
        )

    def _on_wall(self, thing: Thing, mapping: MappingNode) -> Pose | None:
        """Its back against a wall, so far along it: contact, no error towards the wall."""
        mapping.check_keys(("wall", "along", "gap"))
        wall = find_wall(self.reading, self.room, mapping.get("wall"))
        along = self.reading.length(
            require(mapping, "along"), f"{thing.name}: along the wall{self.when}",
            contact_at_zero=True,
        )  # fmt: skip
        gap_node = mapping.get("gap")
        name = f"{thing.name}: gap{self.when}"
        gap = ZERO if gap_node is None else self.reading.length(gap_node, name)
        if wall is None or along is None or gap is None:
            return None
        return pose_on_wall(thing, wall, along, gap)


def leans_on(node: Node | None) -> frozenset[str]:
    """Names of the things beside which a pose puts its thing."""
    if not isinstance(node, MappingNode):
        return frozenset()
    texts = (value.value for _, value in node.items() if isinstance(value, Scalar))
    matches = (_BESIDE.match(text.strip()) for text in texts)
    return frozenset(match.group(2) for match in matches if match)


def turn_to_wall(wall: Wall) -> float:
    """The turn that sets a thing's back to a wall [deg]."""
    inward = frame(wall).inward
    return round((degrees(atan2(float(-inward[1]), float(-inward[0]))) - 90.0) % 360.0, 9) % 360.0


def pose_on_wall(thing: Thing, wall: Wall, along: Affine, gap: Affine = ZERO) -> Pose:
    """Pose of a thing with its back to a wall, `along` from the wall's west or south end [m]."""
    line = frame(wall)
    turn = turn_to_wall(wall)
    body = thing.body.turned(turn)
    points = body.points @ line.along
    deep = body.points @ line.inward
    first = int(points.argmin())
    back = int(deep.argmin())
    target = line.at(along, gap + thing.overhang)

    def shift(axis: int) -> Affine:
        # the body's first point along the wall and its rearmost point come to the target lines
        corner_a, corner_b = body.vertex(first), body.vertex(back)
        a, b = line.along, line.inward
        t_along = target[0] * float(a[0]) + target[1] * float(a[1])
        t_in = target[0] * float(b[0]) + target[1] * float(b[1])
        own_a = corner_a[0] * float(a[0]) + corner_a[1] * float(a[1])
        own_b = corner_b[0] * float(b[0]) + corner_b[1] * float(b[1])
        return (t_along - own_a) * float(a[axis]) + (t_in - own_b) * float(b[axis])

    return Pose(body.lowest(0) + shift(0), body.lowest(1) + shift(1), turn)
