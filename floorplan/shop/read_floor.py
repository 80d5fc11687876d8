"""Reads the floor survey, and the levelling feet of a thing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.shop.floor import Feet, FloorSurvey, RodReading, in_a_line
from floorplan.shop.model import Layout, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.reading import Reading, nearest, require
from floorplan.shop.scene import frame_of
from floorplan.units import TOLERANCE

FLOOR_KEYS = ("readings", "outside", "datum")
READING_KEYS = ("at", "under", "foot", "reading")
FEET_KEYS = ("at", "shortest", "longest", "height without feet", "level with", "step")


def read_feet(reading: Reading, name: str, own: MappingNode, body: Outline) -> Feet | None:
    """The levelling feet of a thing; None when it has none, or after a fault."""
    node = own.get("feet")
    mapping = None if node is None else node.mapping()
    if mapping is None:
        return None
    mapping.check_keys(FEET_KEYS)
    places = _feet_at(reading, name, require(mapping, "at"), body)
    lengths = [
        reading.length(require(mapping, key), f"{name}: {words}", height=True, least=0.0)
        for key, words in (
            ("shortest", "foot, shortest"),
            ("longest", "foot, longest"),
            ("height without feet", "height without feet"),
        )
    ]
    level_node = require(mapping, "level with")
    level_with = None if level_node is None else level_node.name()
    step_node = mapping.get("step")
    step = None if step_node is None else step_node.length(reading.default_unit)
    if places is None or level_with is None or any(length is None for length in lengths):
        return None
    shortest, longest, height = (length or ZERO for length in lengths)
    if longest.value < shortest.value + TOLERANCE:
        mapping.fault("the longest foot is no longer than the shortest", "are the two swapped?")
        return None
    wanted = ZERO if step is None else Affine(float(step[0]))
    return Feet(places, shortest, longest, height, level_with, wanted, mapping.line)


def _feet_at(
    reading: Reading, name: str, node: Node | None, body: Outline
) -> tuple[tuple[Affine, Affine], ...] | None:
    """Places of the feet from the thing's left and rear edge [m]."""
    items = None if node is None else node.sequence()
    if node is None or items is None:
        return None
    low, high = body.points.min(axis=0), body.points.max(axis=0)
    out = []
    for number, item in enumerate(items, 1):
        pair = reading.pair(item, "a foot `[from left, from rear]`")
        if pair is None:
            return None
        right = reading.length(pair[0], f"{name}: foot {number} from left", contact_at_zero=True)
        front = reading.length(pair[1], f"{name}: foot {number} from rear", contact_at_zero=True)
        if right is None or front is None:
            return None
        beyond = max(right.value + low[0] - high[0], front.value + low[1] - high[1])
        if beyond > TOLERANCE:
            item.fault(f"foot {number} does not stand under `{name}`", "`[from left, from rear]`")
            return None
        out.append((right + float(low[0]), -front + float(high[1])))
    if len(out) < 3 or in_a_line([(x.value, y.value) for x, y in out]):
        node.fault("a thing stands on at least three feet that are not in one line")
        return None
    return tuple(out)


def read_survey(
    reading: Reading,
    node: Node | None,
    things: Mapping[str, Thing],
    layout: Layout,
    nodes: Mapping[str, MappingNode],
) -> FloorSurvey | None:
    """The floor survey; None when there is none, or after a fault.

    The feet of all things are looked at as well, because a survey may name them.
    """
    _check_feet(things, nodes)
    mapping = None if node is None else node.mapping()
    if mapping is None:
        return None
    mapping.check_keys(FLOOR_KEYS)
    outside_node = mapping.get("outside")
    outside: Literal["refuse", "extend"] = "refuse"
    if outside_node is not None and outside_node.choice(("refuse", "extend")) == "extend":
        outside = "extend"
    datum = reading.length(mapping.get("datum"), "floor: datum", height=True, signed=True)
    list_node = require(mapping, "readings")
    items = None if list_node is None else list_node.sequence()
    if list_node is None or items is None:
        return None
    rods = [_rod(reading, i, item, things, layout) for i, item in enumerate(items, 1)]
    known = [rod for rod in rods if rod is not None]
    if len(known) < len(rods) or not _sound(list_node, known, outside):
        return None
    return FloorSurvey(tuple(known), outside, datum)


def _sound(node: Node, rods: list[RodReading], outside: str) -> bool:
    points = [(rod.x.value, rod.y.value) for rod in rods]
    if not rods:
        node.fault("a survey has at least one reading")
        return False
    for i, (x, y) in enumerate(points):
        for j, (a, b) in enumerate(points[:i]):
            if abs(x - a) <= TOLERANCE and abs(y - b) <= TOLERANCE:
                node.fault(f"readings {j + 1} and {i + 1} are taken at the same point")
                return False
    if outside == "extend" and in_a_line(points):
        node.fault("to carry the floor on, three readings are needed that are not in one line")
        return False
    return True


def _rod(
    reading: Reading, number: int, item: Node, things: Mapping[str, Thing], layout: Layout
) -> RodReading | None:
    mapping = item.mapping()
    if mapping is None:
        return None
    mapping.check_keys(READING_KEYS)
    below = reading.length(
        require(mapping, "reading"), f"floor: reading {number}", height=True, signed=True
    )
    if ("at" in mapping) == ("under" in mapping):
        mapping.fault(
            "a reading is taken at one point", "write `at: [x, y]`, or `under: bench, foot: 2`"
        )
        return None
    if "at" in mapping:
        point = reading.point(mapping.get("at"), f"floor: point {number}")
    else:
        point = _foot(mapping, things, layout)
    return None if point is None or below is None else RodReading(*point, below, mapping.line)


def _foot(
    mapping: MappingNode, things: Mapping[str, Thing], layout: Layout
) -> tuple[Affine, Affine] | None:
    """Where a foot stands today."""
    under, foot_node = mapping.get("under"), require(mapping, "foot")
    name = None if under is None else under.name()
    if under is None or name is None or foot_node is None:
        return None
    footed = [n for n, thing in things.items() if thing.feet is not None]
    if name not in footed:
        under.fault(f"`{name}` is no thing with `feet:`", nearest(name, footed))
        return None
    thing, pose = things[name], layout.pose(name)
    assert thing.feet is not None
    number = foot_node.integer(1, len(thing.feet.at))
    if pose is None:
        under.fault(f"`{name}` stands nowhere, so nobody knows where its feet are")
    if number is None or pose is None:
        return None
    return frame_of(thing, pose).point(*thing.feet.at[number - 1])


def _check_feet(things: Mapping[str, Thing], nodes: Mapping[str, MappingNode]) -> None:
    """What is levelled with something needs a surface of its own and another's."""
    flat = [name for name, thing in things.items() if _is_flat(thing)]
    for name, thing in things.items():
        feet = thing.feet
        if feet is None:
            continue
        table = nodes[name].get("feet")
        node = table.get("level with") if isinstance(table, MappingNode) else None
        if node is not None and (feet.level_with not in flat or feet.level_with == name):
            others = [other for other in flat if other != name]
            node.fault(
                f"`{feet.level_with}` is no other thing with a table or surface",
                nearest(feet.level_with, others),
            )


def _is_flat(thing: Thing) -> bool:
    return thing.cutter is not None or thing.surface is not None
