"""Writes another layout into a shop file and leaves everything else as it was typed."""

from __future__ import annotations

from floorplan.shop.edit import Keys, Value, replace_values
from floorplan.shop.model import Layout, Pose
from floorplan.shop.naming import compose_shop
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.read_poses import PLACE_KEYS, leans_on
from floorplan.shop.reader import ShopFile, parse
from floorplan.units import System, format_exact

SAME = 1e-6
"""Poses closer than this are the same when read again [m]; turns alike in degrees."""

Spot = tuple[str, str]
"""Thing and place."""


class LayoutError(ValueError):
    """A layout that this file cannot hold."""


def with_layout(file: ShopFile, layout: Layout) -> str:
    """The file's text in which things stand as in `layout`; comments and order are kept.

    Only poses that differ are written, as a search sets them: exact, without measuring error.
    A pose that leans on a thing that moves is written out as well, where it would follow along.
    Raises LayoutError for a thing that is not in the file or has lost its pose, EditError for a
    file in which a pose cannot be changed without touching something else.
    """
    _check(file, layout)
    top = compose_shop(file.text, file.path)
    moved = _moved(file, layout, top)
    if not moved:
        return file.text
    text = replace_values(file.text, _changes(top, moved, file.shop.system))
    found = parse(text, file.path).layout
    if not all(is_same(found, spot, pose) for spot, pose in layout.poses.items()):
        raise LayoutError("the layout does not come back from the file as it was written")
    return text


def _moved(file: ShopFile, layout: Layout, top: MappingNode) -> dict[Spot, Pose]:
    """Poses that differ, and those that lean on a thing whose pose differs."""
    spots = {spot for spot, pose in layout.poses.items() if not is_same(file.layout, spot, pose)}
    while True:
        movers = {name for name, place in spots if place == "standing"}
        more = {
            spot
            for spot in file.layout.poses
            if spot not in spots and _leans(file, top, spot) & movers
        }
        if not more:
            return {spot: pose for spot, pose in layout.poses.items() if spot in spots}
        spots |= more


def _leans(file: ShopFile, top: MappingNode, spot: Spot) -> frozenset[str]:
    """The things by which a pose is given; without one, that in whose place the thing comes."""
    node = _pose_node(top, spot)
    plan = file.shop.plan
    if node is None and plan is not None and spot[0] in plan.replaces:
        return frozenset((plan.replaces[spot[0]],))
    return leans_on(node)


def _check(file: ShopFile, layout: Layout) -> None:
    for name, _ in layout.poses:
        if not file.shop.has(name):
            raise LayoutError(f"there is no thing `{name}` in {file.path}")
    for name, place in file.layout.poses:
        if layout.pose(name, place) is None:
            raise LayoutError(f"`{name}` has a pose in {file.path} but none in the layout")


def is_same(layout: Layout, spot: Spot, pose: Pose) -> bool:
    """Whether a layout has a thing at a pose."""
    other = layout.pose(*spot)
    if other is None:
        return False
    turned = abs((other.turn - pose.turn + 180.0) % 360.0 - 180.0)
    off = max(abs(other.x.value - pose.x.value), abs(other.y.value - pose.y.value))
    return off <= SAME and turned <= SAME


def _changes(top: MappingNode, moved: dict[Spot, Pose], system: System) -> dict[Keys, Value]:
    changes: dict[Keys, Value] = {}
    for spot, pose in moved.items():
        keys = _keys(top, spot)
        values = written_pose(pose, system)
        if _is_block(_pose_node(top, spot)):
            # value by value, so that comments between them stay
            changes.update({(*keys, key): value for key, value in values.items()})
        else:
            changes[keys] = values
    return changes


def _keys(top: MappingNode, spot: Spot) -> Keys:
    """Where the file has, or would have, a pose."""
    return (*thing_keys(top, spot[0]), PLACE_KEYS[spot[1]])


def thing_keys(top: MappingNode, name: str) -> Keys:
    """Where the file has a thing."""
    fixed = top.get("fixed")
    section = "fixed" if isinstance(fixed, MappingNode) and name in fixed else "equipment"
    body = _node_at(top, (section, name))
    # an item of a list stands under its number
    return (section, name) if body is None else body.keys


def _pose_node(top: MappingNode, spot: Spot) -> Node | None:
    """The node of a pose, if the file has one."""
    for section in ("fixed", "equipment"):
        found = _node_at(top, (section, spot[0], PLACE_KEYS[spot[1]]))
        if found is not None:
            return found
    return None


def _node_at(top: MappingNode, keys: Keys) -> Node | None:
    node: Node | None = top
    for key in keys:
        node = node.get(str(key)) if isinstance(node, MappingNode) else None
    return node


def _is_block(node: Node | None) -> bool:
    """Whether a pose is written as x, y and turn one a line."""
    return (
        isinstance(node, MappingNode) and not node.flow and set(node.entries) <= {"x", "y", "turn"}
    )


def written_pose(pose: Pose, system: System) -> dict[str, str]:
    """A pose as a search sets it: exact, without measuring error."""
    return {
        "x": f"{format_exact(pose.x.value, system)} +- 0",
        "y": f"{format_exact(pose.y.value, system)} +- 0",
        "turn": f"{pose.turn % 360.0:.9f}".rstrip("0").rstrip("."),
    }
