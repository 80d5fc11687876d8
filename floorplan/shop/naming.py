"""Named collections may also be written as lists whose items carry a `name:`."""

from __future__ import annotations

from dataclasses import replace

from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar, Sequence, compose

COLLECTIONS = (
    "doors", "windows", "fixed", "equipment", "places", "stock", "tasks", "jobs", "stages",
)  # fmt: skip


def compose_shop(text: str | bytes, path: str) -> MappingNode:
    """Top mapping of a shop file, its collections by name. Raises ShopFileError like `compose`."""
    top = compose(text, path)
    entries: dict[str, Node] = {}
    for key, node in top.items():
        entries[key] = _by_name(node) if key in COLLECTIONS else node
    return replace(top, entries=entries)


def _by_name(node: Node) -> Node:
    """A list of named items as named values; every node keeps its own place in the file."""
    if not isinstance(node, Sequence):
        return node
    entries: dict[str, Node] = {}
    for item in node.items:
        body = item.mapping()
        if body is None:
            continue
        name_node = body.require("name")
        name = None if name_node is None else name_node.name()
        if name is None or not isinstance(name_node, Scalar):
            continue
        if name in entries:
            name_node.fault(f"`{name}` stands here a second time", "give one another name")
            continue
        rest = {key: value for key, value in body.items() if key != "name"}
        entries[name] = replace(body, entries=rest, key=name_node)
    return MappingNode(
        node.line, node.column, node.start, node.end, node.keys, node.faults, node.key, entries,
        False,
    )  # fmt: skip
