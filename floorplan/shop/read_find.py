"""Reads `air: find:`: runs of duct that the program is to lay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from floorplan.shop.air import Crossing, Find
from floorplan.shop.model import Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.read_room import find_wall
from floorplan.shop.read_suction import known_thing
from floorplan.shop.reading import Reading, nearest, require
from floorplan.units import parse_measured

FIND_KEYS = (
    "machines", "needs", "open together", "sizes", "crossing", "hose", "hose factor", "stick",
    "clear round", "prices",
)  # fmt: skip
PRICED = ("stick", "elbow", "branch", "gate", "reducer", "hanger", "hose")
"""Parts that may have a price; hose by its whole length as cut."""
LARGEST_DUCT = 0.5
"""Largest diameter taken [m]."""
PORT_FIX = "add `ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}` to it"


def read_find(
    reading: Reading, body: MappingNode, things: Mapping[str, Thing], room: Room | None
) -> Find | None:
    """What is to be found, or None after a fault."""
    body.check_keys(FIND_KEYS)
    machines = _machines(reading, body, things)
    sizes = _sizes(reading, body.get("sizes"))
    lengths = [
        _length(reading, body, key, usual)
        for key, usual in (("hose", 0.9144), ("clear round", 0.0))
    ]
    factor_node = body.get("hose factor")
    factor = 3.0 if factor_node is None else factor_node.number(1.0, 6.0)
    needs = _needs(reading, body.get("needs"), things)
    crossing = _crossing(reading, body.get("crossing"), room)
    if machines is None or sizes is None or None in lengths or factor is None:
        return None
    hose, clear = (float(v or 0.0) for v in lengths)
    stick = None
    if "stick" in body:
        stick = _length(reading, body, "stick", 0.0)
    prices = read_prices(reading, body.get("prices"), sizes)
    line = body.key.line if body.key else body.line
    return Find(
        machines, needs, sizes, crossing, hose, factor, stick, clear, prices, line
    )  # fmt: skip


def _machines(
    reading: Reading, body: MappingNode, things: Mapping[str, Thing]
) -> tuple[str, ...] | None:
    """The machines named; each needs a port."""
    node = body.get("machines")
    if node is None:
        # a port with a fault of its own was meant as one: that fault is told already
        if not any(thing.ports for thing in things.values()) and not len(body.faults):
            body.faults.add(
                body.key or body,
                "no machine has a dust port",
                f"{PORT_FIX.removesuffix(' to it')} to each machine",
            )
            return None
        return ()
    names = []
    for item in node.sequence() or ():
        name = known_thing(reading, item, things)
        if name is None:
            continue
        if not things[name].ports:
            item.fault(f"`{name}` has no dust port", PORT_FIX)
            continue
        names.append(name)
    if not names:
        return None
    return tuple(dict.fromkeys(names))


def _sizes(reading: Reading, node: Node | None) -> tuple[float, ...] | None:
    if node is None:
        return Find().sizes
    items = node.sequence()
    if items is None:
        return None
    found = []
    for i, item in enumerate(items, 1):
        size = reading.length(item, f"duct size {i}", positive=True, most=LARGEST_DUCT)
        if size is not None:
            found.append(size.value)
    if not found:
        node.fault("name one size of duct or more", "write `sizes: [4 in, 5 in, 6 in]`")
        return None
    return tuple(sorted(set(found)))


def _length(reading: Reading, body: MappingNode, key: str, usual: float) -> float | None:
    node = body.get(key)
    if node is None:
        return usual
    found = reading.length(node, f"find: {key}", positive=key != "clear round")
    return None if found is None else found.value


def _needs(reading: Reading, node: Node | None, things: Mapping[str, Thing]) -> Mapping[str, float]:
    table = None if node is None else node.mapping()
    found: dict[str, float] = {}
    for name, entry in table.items() if table is not None else ():
        if name not in things:
            if name not in reading.named:
                entry.faults.add(
                    entry.key or entry, f"there is no thing `{name}`", nearest(name, things)
                )
            continue
        flow = entry.flow_of_air()
        if flow == 0.0:
            entry.fault("a machine needs more than 0")
        elif flow is not None:
            found[name] = flow
    return found


def _crossing(
    reading: Reading, node: Node | None, room: Room | None
) -> Crossing | Literal["found"] | None:
    if node is None:
        return None
    if isinstance(node, Scalar):
        return "found" if node.choice(("found",)) else None
    body = node.mapping()
    if body is None:
        return None
    body.check_keys(("wall", "along", "height"))
    wall_node = require(body, "wall")
    wall = None if room is None else find_wall(reading, room, wall_node)
    along = reading.length(require(body, "along"), "wall crossing: along", positive=True)
    height = reading.length(
        require(body, "height"), "wall crossing: height", height=True, positive=True
    )
    if wall is None or along is None or height is None:
        return None
    return Crossing(wall.name, along, height)


def read_prices(
    reading: Reading, node: Node | None, sizes: Iterable[float] | None = None
) -> Mapping[float, Mapping[str, float]]:
    """Diameter [m] -> part -> price, of some sizes or of any."""
    table = None if node is None else node.mapping()
    found: dict[float, dict[str, float]] = {}
    known = None if sizes is None else tuple(sizes)
    for name, entry in table.items() if table is not None else ():
        body = entry.mapping()
        if body is None:
            continue
        body.check_keys(PRICED)
        try:
            size = float(parse_measured(name, reading.default_unit)[0])
        except ValueError as wrong:
            entry.faults.add(entry.key or entry, str(wrong), "prices stand under a size of duct")
            continue
        near = [k for k in (size,) if 0.0 < k <= LARGEST_DUCT]
        if known is not None:
            near = [k for k in known if abs(k - size) < 1e-4]
        if not near:
            words = "is no diameter of a duct" if known is None else "is none of the sizes"
            fix = "prices stand under a size of duct" if known is None else "add it to `sizes:`"
            entry.faults.add(entry.key or entry, f"`{name}` {words}", fix)
            continue
        prices = {part: value.number(0.0) for part, value in body.items() if part in PRICED}
        found[near[0]] = {part: price for part, price in prices.items() if price is not None}
    return found
