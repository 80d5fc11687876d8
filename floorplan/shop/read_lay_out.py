"""Reads what a task lays out while it goes on by itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from floorplan.geometry.affine import Affine
from floorplan.shop.lay_out import FLOOR, LayOut
from floorplan.shop.model import Stock, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.reading import Reading, nearest, require

LAY_OUT_KEYS = (
    "count", "stock", "length", "width", "thickness", "between", "above", "on", "shelves",
)  # fmt: skip
MOST_PARTS = 200
MOST_SHELVES = 60


def read_lay_out(
    reading: Reading,
    task: str,
    node: Node,
    things: Mapping[str, Thing],
    stock: Mapping[str, Stock],
) -> LayOut | None:
    """What is laid out; None after a fault."""
    body = node.mapping()
    if body is None:
        return None
    body.check_keys(LAY_OUT_KEYS)
    count_node = require(body, "count")
    count = None if count_node is None else count_node.integer(1, MOST_PARTS)
    length, width, thickness = _sizes(reading, task, body, stock)
    rules = reading.rules
    gaps = []
    for key, rule in (("between", "lay-out-between"), ("above", "lay-out-above")):
        known = Affine(rules.value(rule))
        gap = body.get(key)
        gaps.append(known if gap is None else reading.length(gap, f"{task}: {key}"))
    on = _on(reading, body.get("on"), things)
    shelves = tuple(_shelves(reading, body.get("shelves"), things))
    if count is None or length is None or width is None or thickness is None:
        return None
    if gaps[0] is None or gaps[1] is None:
        return None
    if width.value > length.value:
        length, width = width, length
    # a gap is kept with a rule laid between two parts: it is what the file says
    between, above = (Affine(gap.value) for gap in gaps if gap is not None)
    return LayOut(count, length, width, thickness, between, above, on, shelves, body.line)


def _sizes(
    reading: Reading, task: str, body: MappingNode, stock: Mapping[str, Stock]
) -> tuple[Affine | None, Affine | None, Affine | None]:
    """Length, width and thickness of one part, of its stock where the file says no other."""
    name_node = body.get("stock")
    name = None if name_node is None else name_node.name()
    if name_node is not None and name is not None and name not in stock:
        if name not in reading.named:
            name_node.fault(f"there is no stock `{name}`", nearest(name, stock))
        return None, None, None
    found: list[Affine | None] = []
    for key in ("length", "width", "thickness"):
        if key in body or name is None:
            value = reading.length(require(body, key), f"{task}: part {key}", positive=True)
            found.append(value)
        else:
            found.append(getattr(stock[name], key))
    return found[0], found[1], found[2]


def _on(reading: Reading, node: Node | None, things: Mapping[str, Thing]) -> tuple[str, ...]:
    out = []
    for text in () if node is None else (node.strings() or ()):
        name = " ".join(text.split())
        if name == FLOOR or name in things:
            out.append(name)
        elif name not in reading.named:
            assert node is not None
            _unknown(node, name, [*things, FLOOR])
    return tuple(out)


def _shelves(
    reading: Reading, node: Node | None, things: Mapping[str, Thing]
) -> Iterable[tuple[str, int]]:
    racks = None if node is None else node.mapping()
    for name, number in () if racks is None else racks.items():
        many = number.integer(1, MOST_SHELVES)
        if name in things and many is not None:
            yield name, many
        elif name not in things and name not in reading.named:
            _unknown(number, name, things)


def _unknown(node: Node, name: str, known: Iterable[str]) -> None:
    node.fault(f"there is no thing `{name}`", nearest(name, known))
