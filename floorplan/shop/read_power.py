"""Reads outlets, circuits and cords."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from shapely.geometry import Point

from floorplan.geometry.affine import Affine
from floorplan.shop.building import floor_polygon, frame
from floorplan.shop.model import Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.power import Circuit, Cord, Outlet, Power
from floorplan.shop.read_room import find_wall
from floorplan.shop.read_work import names_in
from floorplan.shop.reading import Reading, nearest, require
from floorplan.units import TOLERANCE

POWER_KEYS = ("outlets", "circuits", "cords", "runs along")
OUTLET_KEYS = ("wall", "along", "x", "y", "height", "circuit")
CIRCUIT_KEYS = ("amps", "volts")
CORD_KEYS = ("outlet", "length")

_Made = TypeVar("_Made")


def read_power(
    reading: Reading, node: Node | None, room: Room, things: Mapping[str, Thing]
) -> Power | None:
    """The section `power`; None when the file has none."""
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(POWER_KEYS)
    circuits = _entries(require(body, "circuits"), _circuit)
    outlets = _entries(
        require(body, "outlets"), lambda n, b: _outlet(reading, room, circuits, n, b)
    )
    plugged = [thing.name for thing in things.values() if thing.plugs]
    cords = _entries(body.get("cords"), lambda n, b: _cord(reading, outlets, n, b))
    written = body.get("cords")
    for name in cords:
        if name not in plugged and written is not None:
            written.fault(f"no thing with a plug is named `{name}`", nearest(name, plugged))
    return Power(
        tuple(outlets.values()),
        tuple(circuits.values()),
        tuple(cords.get(name) or Cord(name, _usual_length(reading, name)) for name in plugged),
        _runs_along(reading, body.get("runs along"), things),
        body.line,
    )


def _runs_along(
    reading: Reading, node: Node | None, things: Mapping[str, Thing]
) -> tuple[str, ...]:
    names = names_in(reading, node, things, "thing")
    for name in names:
        if not things[name].plugs and node is not None:
            node.fault(f"`{name}` has no plug", "write `plugs:` for it, or take it out")
    return names


def _entries(
    node: Node | None, read: Callable[[str, MappingNode], _Made | None]
) -> dict[str, _Made]:
    mapping = None if node is None else node.mapping()
    if mapping is None:
        return {}
    return dict(_made(mapping, read))


def _made(
    mapping: MappingNode, read: Callable[[str, MappingNode], _Made | None]
) -> Iterator[tuple[str, _Made]]:
    for name, entry in mapping.items():
        body = entry.mapping()
        made = None if body is None else read(name, body)
        if made is not None:
            yield name, made


def _circuit(name: str, body: MappingNode) -> Circuit | None:
    body.check_keys(CIRCUIT_KEYS)
    amps, volts = require(body, "amps"), require(body, "volts")
    a = None if amps is None else amps.number(1, 1000)
    v = None if volts is None else volts.number(1, 1000)
    return None if a is None or v is None else Circuit(name, a, v, body.line)


def _outlet(
    reading: Reading,
    room: Room,
    circuits: Mapping[str, Circuit],
    name: str,
    body: MappingNode,
) -> Outlet | None:
    body.check_keys(OUTLET_KEYS)
    place = _on_wall(reading, room, name, body) if "wall" in body else _at(reading, name, body)
    height = reading.length(require(body, "height"), f"{name}: height", height=True)
    if height is not None and height.value > room.height.value + TOLERANCE:
        body.fault(f"`{name}` is higher than the ceiling")
    node = require(body, "circuit")
    wanted = None if node is None else node.name()
    if node is not None and wanted is not None and wanted not in circuits:
        node.fault(f"there is no circuit `{wanted}`", nearest(wanted, circuits))
    if place is None or height is None or wanted is None or wanted not in circuits:
        return None
    inside = floor_polygon(room).buffer(TOLERANCE)
    if reading.walls_known and not inside.covers(Point(place[0].value, place[1].value)):
        body.fault(f"`{name}` is not in the room")
    return Outlet(name, *place, height, circuits[wanted], body.line)


def _on_wall(
    reading: Reading, room: Room, name: str, body: MappingNode
) -> tuple[Affine, Affine] | None:
    for key in ("x", "y"):
        node = body.get(key)
        if node is not None:
            node.fault(f"`{name}` is on a wall, so `{key}` is not needed", "take it out")
    wall = find_wall(reading, room, body.get("wall"))
    along = reading.length(require(body, "along"), f"{name}: along")
    return None if wall is None or along is None else frame(wall).at(along)


def _at(reading: Reading, name: str, body: MappingNode) -> tuple[Affine, Affine] | None:
    x = reading.length(require(body, "x"), f"{name}: x", signed=True, contact_at_zero=True)
    y = reading.length(require(body, "y"), f"{name}: y", signed=True, contact_at_zero=True)
    return None if x is None or y is None else (x, y)


def _cord(
    reading: Reading, outlets: Mapping[str, Outlet], name: str, body: MappingNode
) -> Cord | None:
    body.check_keys(CORD_KEYS)
    node = body.get("outlet")
    wanted = None if node is None else node.name()
    if node is not None and wanted is not None and wanted not in outlets:
        node.fault(f"there is no outlet `{wanted}`", nearest(wanted, outlets))
    length = body.get("length")
    has = (
        _usual_length(reading, name)
        if length is None
        else reading.length(length, f"{name}: cord", positive=True)
    )
    return None if has is None else Cord(name, has, wanted, body.line)


def _usual_length(reading: Reading, name: str) -> Affine:
    """What a cord is taken to be when nobody measured it [m]."""
    return reading.measured(f"{name}: cord", reading.rules.value("cord-length"), assumed=True)
