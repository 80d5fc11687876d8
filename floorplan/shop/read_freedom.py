"""Reads how a thing may be moved, and what it is tied to."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Affine, affine
from floorplan.shop.model import Freedom, OutfeedLink, ReachLink, Room
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Scalar
from floorplan.shop.read_room import find_wall
from floorplan.shop.reading import Reading
from floorplan.units import UnitError, parse_length

MAY = ("stay", "slide", "move", "move and turn")
WITHIN = re.compile(r"^within\s+(.+)\s+of$")


def read_freedom(reading: Reading, room: Room, name: str, own: MappingNode, held: bool) -> Freedom:
    """How a search may move a thing; what is fixed or hangs is held where it is unless told."""
    may_node = own.get("may")
    may = ("stay" if held else "move and turn") if may_node is None else may_node.choice(MAY)
    along = None
    if "along" in own:
        wall = find_wall(reading, room, own.get("along"))
        along = None if wall is None else wall.name
    turns = _turns(own) if may in ("move and turn", None) else ()
    within: tuple[tuple[float, float], ...] = ()
    within_node = own.get("within")
    if within_node is not None:
        items = within_node.sequence() or ()
        points = [reading.point(item, f"{name}: within {i + 1}") for i, item in enumerate(items)]
        if len(points) < 3:
            within_node.fault("an area has at least three corners")
        within = tuple((p[0].value, p[1].value) for p in points if p is not None)
        if len(within) >= 3 and not Polygon(within).is_valid:
            within_node.fault("the area crosses itself", "give its corners in order")
    keep = reading.length(own.get("keep gap"), f"{name}: keep gap") or ZERO
    if may == "slide" and "along" not in own:
        assert may_node is not None
        may_node.fault(f"`{name}` slides: along which wall?", "add `along: north`")
    return Freedom(
        moves=may != "stay",
        turns=turns,
        along=along,
        within=within,
        keep_gap=Affine(keep.value),
    )


def _turns(own: MappingNode) -> tuple[float, ...]:
    node = own.get("turns")
    if node is None:
        return (0.0, 90.0, 180.0, 270.0)
    items = node.sequence() if not isinstance(node, Scalar) else (node,)
    out = []
    for item in items or ():
        angle = item.angle()
        if angle is not None:
            out.append(angle % 360.0)
    return tuple(sorted(set(out)))


def read_outfeed(reading: Reading, name: str, own: MappingNode) -> tuple[OutfeedLink, ...]:
    """The machine whose work a thing takes, with its limits."""
    node = own.get("takes the outfeed of")
    options_node = own.get("outfeed")
    if node is None:
        if options_node is not None:
            options_node.fault("`outfeed` goes with `takes the outfeed of: MACHINE`")
        return ()
    machine = node.name()
    if machine is None:
        return ()
    options = None if options_node is None else options_node.mapping()
    rules = reading.rules
    gap = (ZERO, affine(rules.value("outfeed-gap-most")))
    step = (
        affine(rules.value("outfeed-step-least")),
        affine(rules.value("outfeed-step-most")),
    )
    cover = None
    if options is not None:
        options.check_keys(("cover", "gap", "step"))
        cover = reading.length(options.get("cover"), f"{name}: outfeed cover")
        gap = _limits(reading, options, "gap", gap)
        step = _limits(reading, options, "step", step)
    return (
        OutfeedLink(
            machine,
            None if cover is None else Affine(cover.value),
            *gap,
            *step,
            line=node.line,
        ),
    )


def _limits(
    reading: Reading, options: MappingNode, key: str, default: tuple[Affine, Affine]
) -> tuple[Affine, Affine]:
    pair = reading.pair(options.get(key), "`[least, most]`")
    if pair is None:
        return default
    low = pair[0].length(reading.default_unit)
    high = pair[1].length(reading.default_unit)
    if low is None or high is None:
        return default
    if low[0] > high[0]:
        node = options.get(key)
        assert node is not None
        node.fault("the least is more than the most", "are the two swapped?")
    return Affine(float(low[0])), Affine(float(high[0]))


def read_reach_links(reading: Reading, own: MappingNode, keys: list[str]) -> Iterator[ReachLink]:
    """Things and places near which a thing must stand, from keys `within LENGTH of`."""
    for key in keys:
        node = own.get(key)
        match = WITHIN.match(key)
        assert node is not None
        assert match is not None
        target = node.name()
        try:
            distance = parse_length(match.group(1), reading.default_unit)
        except UnitError as wrong:
            reading.faults.add(node.key or node, wrong.message)
            continue
        if target is not None:
            yield ReachLink(Affine(float(distance)), target, node.line)
