"""Other ways of writing: collections as lists, places as `[x, y]`.

Items of the file's own collections carry a `name:`, by which others refer to them; what belongs to
one thing or to the room is numbered where it has none: `drawer 1`, `drawer 2`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar, Sequence, compose

COLLECTIONS = (
    "doors", "windows", "fixed", "equipment", "places", "stock", "tasks", "jobs", "stages",
)  # fmt: skip

NUMBERED = {
    "parts": "part",
    "zones": "zone",
    "drawers": "drawer",
    "doors": "door",
    "pull-outs": "pull-out",
    "keep clear": "keep-clear",
    "ports": "port",
    "plugs": "plug",
    "posts": "post",
    "partitions": "partition",
    "beams": "beam",
}
"""Collections of a thing or of the room, and what an item without a name is called."""

POSES = ("at", "parked", "working")
"""Keys of a thing under which `[x, y]` or `[x, y, turn]` may stand."""


def compose_shop(text: str | bytes, path: str) -> MappingNode:
    """Top mapping of a shop file, its collections by name. Raises ShopFileError like `compose`."""
    top = compose(text, path)
    entries: dict[str, Node] = {}
    for key, node in top.items():
        named = _by_name(node) if key in COLLECTIONS else node
        if key == "room":
            named = _numbered(named)
        if key in ("fixed", "equipment"):
            named = _each(named, _posed)
        entries[key] = _each(named, _by_coordinate) if key == "places" else named
    return replace(top, entries=entries)


def _each(node: Node, change: Callable[[Node], Node]) -> Node:
    """Named values, each of them changed."""
    if not isinstance(node, MappingNode):
        return node
    return replace(node, entries={name: change(value) for name, value in node.items()})


def _posed(thing: Node) -> Node:
    """A thing whose places are named values."""
    if not isinstance(thing, MappingNode):
        return thing
    entries = {
        key: _by_coordinate(value) if key in POSES else value for key, value in thing.items()
    }
    return _numbered(replace(thing, entries=entries))


def _numbered(owner: Node) -> Node:
    """A thing or the room whose own collections are named values."""
    if not isinstance(owner, MappingNode):
        return owner
    entries = {
        key: _by_name(value, NUMBERED[key]) if key in NUMBERED else value
        for key, value in owner.items()
    }
    return replace(owner, entries=entries)


def _by_coordinate(node: Node) -> Node:
    """`[x, y]` and `[x, y, turn]` as named values; every node keeps its own place in the file."""
    if not isinstance(node, Sequence) or len(node.items) not in (2, 3):
        return node
    entries = dict(zip(("x", "y", "turn"), node.items, strict=False))
    return MappingNode(
        node.line, node.column, node.start, node.end, node.keys, node.faults, node.key, entries,
        True,
    )  # fmt: skip


def _by_name(node: Node, one: str = "") -> Node:
    """A list of items as named values; every node keeps its own place in the file.

    Where `one` says what a single item is called, those without a `name:` are numbered.
    """
    if not isinstance(node, Sequence):
        return node
    entries: dict[str, Node] = {}
    for number, item in enumerate(node.items, 1):
        body = item.mapping()
        if body is None:
            continue
        if one and "name" not in body:
            entries[f"{one} {number}"] = body
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
