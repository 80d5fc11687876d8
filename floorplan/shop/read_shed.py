"""Reads `site: shed:`, the collector's shed as it stands or as it is planned."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Literal, cast

from floorplan.geometry.affine import Affine, Point
from floorplan.rules.quantity import parse_quantity
from floorplan.shop.model import Room
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.read_room import fault_unknown_wall, find_wall, match_wall
from floorplan.shop.reading import Reading, nearest, quantity, require
from floorplan.shop.shed_body import place_at_wall
from floorplan.shop.site import (
    SHED_SIDES,
    Attached,
    Shed,
    ShedBin,
    ShedDoor,
    ShedPlace,
    ShedPower,
    ShedSide,
    Site,
)
from floorplan.shop.wire import WireError, gauges
from floorplan.units import TOLERANCE, UnitError, parse_length

SHED_KEYS = (
    "width", "depth", "height", "eave", "attached", "walls", "door", "bin", "noise", "power",
    "return air", "opening", "at",
)  # fmt: skip
SHED_DOOR_KEYS = ("side", "width", "at", "room")
BIN_KEYS = ("width", "depth", "pull")
SHED_POWER_KEYS = ("from", "amps", "volts", "wire", "length")
SHED_AT_KEYS = ("x", "y", "turn", "wall", "along", "side")
_WIRE = re.compile(r"^\s*(\d{1,2})\s*AWG\s*(solid|stranded)?\s*$", re.IGNORECASE)
_NOISE = re.compile(r"^(.*dBA?)\s+at\s+(.+)$", re.IGNORECASE)
LARGEST_SHED = 12.0
"""Largest side of a shed taken [m]."""


def read_shed(
    reading: Reading, room: Room, site: Site, node: Node | None, starts: Mapping[str, Point]
) -> Site:
    """The site with its shed, or without one after a fault."""
    body = None if node is None else node.mapping()
    if body is None:
        return site
    body.check_keys(SHED_KEYS)
    read = reading.length
    width = read(require(body, "width"), "shed: width", positive=True, most=LARGEST_SHED)
    depth = read(require(body, "depth"), "shed: depth", positive=True, most=LARGEST_SHED)
    height = read(require(body, "height"), "shed: height", height=True, positive=True)
    eave = read(body.get("eave"), "shed: eave", least=0.0, contact_at_zero=True)
    if width is None or depth is None or height is None:
        return site
    door = _door(reading, body.get("door"), width, depth)
    return_node, attached_node = body.get("return air"), body.get("attached")
    attached = "either" if attached_node is None else _attached(attached_node)
    shed = Shed(
        width=width,
        depth=depth,
        height=height,
        eave=eave or Affine(0.0),
        attached=attached,
        walls=_walls(reading, room, body.get("walls")),
        door=door,
        bin=_bin(reading, body.get("bin"), door, has_door="door" in body),
        noise=_noise(body.get("noise")),
        power=_power(reading, body.get("power"), starts),
        return_air=bool(return_node is not None and return_node.yes_no()),
        opening=quantity(body.get("opening"), "m2"),
        line=body.line,
    )
    place = _place(reading, room, shed, body.get("at"))
    return replace(site, shed=replace(shed, place=place))


def _attached(node: Node) -> Attached:
    return cast(Attached, node.choice(("yes", "no", "either")) or "either")


def _walls(reading: Reading, room: Room, node: Node | None) -> tuple[str, ...]:
    names = () if node is None else (node.strings() or ())
    out = []
    for name in names:
        wall = match_wall(room, name)
        if wall is None:
            assert node is not None
            fault_unknown_wall(reading, room, node, name)
        else:
            out.append(wall.name)
    return tuple(dict.fromkeys(out))


def _door(reading: Reading, node: Node | None, width: Affine, depth: Affine) -> ShedDoor | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(SHED_DOOR_KEYS)
    side_node = body.get("side")
    side = "front" if side_node is None else side_node.choice(SHED_SIDES)
    wide = reading.length(require(body, "width"), "shed door: width", positive=True)
    at = reading.length(body.get("at"), "shed door: at", contact_at_zero=True)
    free = reading.length(body.get("room"), "shed door: room")
    if side is None or wide is None:
        return None
    along = width if side in ("front", "back") else depth
    if (at.value if at is not None else 0.0) + wide.value > along.value + TOLERANCE:
        body.fault("the door does not fit into that side of the shed")
        return None
    usual = reading.rules.value("shed-door-room")
    # how much is wanted is the owner's own rule, so it has no measuring error
    ground = Affine(max(usual if free is None else free.value, 0.0))
    return ShedDoor(cast(ShedSide, side), wide, ground, at)


def _bin(
    reading: Reading, node: Node | None, door: ShedDoor | None, *, has_door: bool
) -> ShedBin | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(BIN_KEYS)
    if not has_door:
        body.faults.add(
            body.key or body, "a bin is pulled out through a door",
            "add `door: {side: front, width: 32 in}` to the shed",
        )  # fmt: skip
        return None
    width = reading.length(require(body, "width"), "shed bin: width", positive=True)
    depth = reading.length(require(body, "depth"), "shed bin: depth", positive=True)
    pull = reading.length(require(body, "pull"), "shed bin: pull", positive=True)
    if door is None or width is None or depth is None or pull is None:
        return None
    return ShedBin(width, depth, Affine(pull.value))


def _noise(node: Node | None) -> tuple[float, float] | None:
    """`80 dB at 1 m` or `85 dB at 3 ft`: the level and the distance at which it was measured."""
    text = None if node is None else node.text()
    if node is None or text is None:
        return None
    match = _NOISE.match(text.strip())
    try:
        level = 0.0 if match is None else parse_quantity(match[1], "dB")
        metres = 0.0 if match is None else float(parse_length(match[2]))
    except UnitError:
        level = metres = 0.0
    if not 0.0 < level < 150.0 or metres <= 0.0:
        node.fault(f"`{text}` is not a sound level at a distance", "write `80 dB at 1 m`")
        return None
    return level, metres


def _power(reading: Reading, node: Node | None, starts: Mapping[str, Point]) -> ShedPower | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(SHED_POWER_KEYS)
    from_node, wire_node = require(body, "from"), require(body, "wire")
    amps_node, volts_node = require(body, "amps"), require(body, "volts")
    start = None if from_node is None else from_node.name()
    if from_node is not None and start is not None and start not in starts:
        if start not in reading.named:
            from_node.fault(f"there is no thing or place `{start}`", nearest(start, starts))
        start = None
    amps = None if amps_node is None else amps_node.number(0.1, 400.0)
    volts = None if volts_node is None else volts_node.number(12.0, 1000.0)
    wire = None if wire_node is None else _wire(wire_node)
    length = reading.length(body.get("length"), "shed cable: length", positive=True)
    if start is None or amps is None or volts is None or wire is None:
        return None
    return ShedPower(start, *starts[start], amps, volts, *wire, length, body.line)


def _wire(node: Node) -> tuple[int, Literal["solid", "stranded"]] | None:
    text = node.text()
    if text is None:
        return None
    match = _WIRE.match(text)
    if match is None:
        node.fault(f"`{text}` is not a wire", "write `10 AWG solid` or `8 AWG stranded`")
        return None
    gauge, make = (
        int(match[1]),
        cast(Literal["solid", "stranded"], (match[2] or "stranded").lower()),
    )
    try:
        known = gauges(make)
    except WireError:  # pragma: no cover
        known = ()
    if gauge not in known:
        node.fault(
            f"the table has no {gauge} AWG {make} wire",
            f"it has {', '.join(str(g) for g in known)}",
        )
        return None
    return gauge, make


# --- where it stands ---------------------------------------------------------------------------


def _place(reading: Reading, room: Room, shed: Shed, node: Node | None) -> ShedPlace | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(SHED_AT_KEYS)
    if "wall" in body:
        return _at_wall(reading, room, shed, body)
    turn_node = require(body, "turn")
    turn = None if turn_node is None else turn_node.angle()
    x = reading.length(require(body, "x"), "shed x", signed=True)
    y = reading.length(require(body, "y"), "shed y", signed=True)
    for key in ("along", "side"):
        extra = body.get(key)
        if extra is not None:
            extra.faults.add(extra.key or extra, f"`{key}` goes with `wall`, not with x and y")
    if x is None or y is None or turn is None:
        return None
    return ShedPlace(x, y, turn % 360.0)


def _at_wall(reading: Reading, room: Room, shed: Shed, body: MappingNode) -> ShedPlace | None:
    wall = find_wall(reading, room, body.get("wall"))
    along = reading.length(require(body, "along"), "shed along", signed=True)
    side_node = body.get("side")
    side = "back" if side_node is None else side_node.choice(SHED_SIDES)
    for key in ("x", "y", "turn"):
        extra = body.get(key)
        if extra is not None:
            extra.faults.add(extra.key or extra, f"`{key}` does not go with `wall` and `along`")
    if wall is None or along is None or side is None:
        return None
    if shed.door is not None and side == shed.door.side:
        body.fault("the shed's door would be at the wall", "name another `side:` for the wall")
        return None
    return place_at_wall(room, shed, wall, along, cast(ShedSide, side))
