"""Reads what pulls the air: fan curves, filters, separators, the collector, the shop vacuum."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import cast, get_args

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.air import Cabinet, Collector, Facing, Fan, Inlet, Rated, Vacuum
from floorplan.shop.model import Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.reading import Reading, nearest, require

COLLECTOR_KEYS = ("fan", "filter", "separator", "inlet", "from", "until")
USUAL = "usual"
"""Instead of a flow that a machine needs: that of its kind and its port."""
VACUUM_KEYS = (
    "thing", "hose", "fan", "filter", "separator", "cabinet", "motor", "serves", "needs",
    "from", "until",
)  # fmt: skip


def read_collector(
    reading: Reading, body: MappingNode, *, has_shed: bool = False
) -> Collector | None:
    """The collector, or None after a fault; `has_shed`: the file has a shed for it."""
    body.check_keys(COLLECTOR_KEYS)
    fan = read_fan(require(body, "fan"))
    clean, dirty = read_filter(body.get("filter"))
    separator = body.get("separator")
    spec = None if separator is None else separator.mapping()
    if spec is not None:
        spec.check_keys(("loss", "flow"))
    part = None if spec is None else read_rated("separator", spec)
    inlet = _inlet(reading, body.get("inlet"), has_shed=has_shed)
    if fan is None:
        return None
    return Collector(fan, clean, dirty, () if part is None else (part,), inlet, body.line)


def _inlet(reading: Reading, node: Node | None, *, has_shed: bool) -> Inlet | None:
    """Where the collector's inlet is and the way it opens; without a point it is in the shed."""
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(("at", "height", "faces"))
    in_shed = has_shed and "at" not in body
    spot = (ZERO, ZERO) if in_shed else reading.point(require(body, "at"), "collector inlet")
    height = reading.length(
        require(body, "height"), "collector inlet: height", height=True, positive=True
    )
    faces_node = body.get("faces")
    faces = "up" if faces_node is None else faces_node.choice(get_args(Facing))
    if spot is None or height is None:
        return None
    return Inlet((*spot, height), cast(Facing, faces or "up"), in_shed)


def read_fan(node: Node | None) -> Fan | None:
    """A fan curve as two lists, or None after a fault."""
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(("flow", "pressure"))
    flows = _values(require(body, "flow"), lambda item: item.flow_of_air())
    pressures = _values(require(body, "pressure"), lambda item: item.pressure())
    if flows is None or pressures is None:
        return None
    wrong = _wrong_curve(flows, pressures)
    if wrong:
        body.faults.add(body.key or body, f"the fan curve {wrong}", "give points as measured")
        return None
    return Fan(flows, pressures)


def _values(node: Node | None, read: Callable[[Node], float | None]) -> tuple[float, ...] | None:
    items = None if node is None else node.sequence()
    if items is None:
        return None
    found = [read(item) for item in items]
    return None if None in found else tuple(value for value in found if value is not None)


def _wrong_curve(flows: tuple[float, ...], pressures: tuple[float, ...]) -> str:
    """What no fan curve can be, in words; empty when nothing is wrong."""
    if len(flows) != len(pressures):
        return f"has {len(flows)} flows but {len(pressures)} pressures"
    if len(flows) < 2:
        return "needs two points or more"
    if any(b <= a for a, b in pairwise(flows)):
        return "must have rising flows"
    falling = pressures[pressures.index(max(pressures)) :]
    if len(falling) < 2 or falling[0] == falling[-1]:
        return "must fall at its right end"
    if any(b > a for a, b in pairwise(falling)):
        return "rises again after it fell"
    return ""


def read_filter(node: Node | None) -> tuple[Rated | None, Rated | None]:
    """What a filter loses when clean and when dirty."""
    body = None if node is None else node.mapping()
    if body is None:
        return None, None
    body.check_keys(("clean", "dirty", "flow"))
    flow = _flow(require(body, "flow"))
    found: list[Rated | None] = []
    for key in ("clean", "dirty"):
        value = body.get(key)
        loss = None if value is None else value.pressure()
        rated = None if loss is None or flow is None else Rated(f"{key} filter", loss, flow, True)
        found.append(rated)
    if "clean" not in body and "dirty" not in body:
        body.faults.add(
            body.key or body, "a filter needs `clean:` or `dirty:`, what it loses at its flow"
        )
    clean, dirty = found
    if clean and dirty and dirty.pressure < clean.pressure:
        body.faults.add(
            body.key or body, "the dirty filter loses less than the clean one",
            "are the two swapped?",
        )  # fmt: skip
    return clean, dirty


def read_rated(name: str, body: MappingNode) -> Rated | None:
    """A loss at a flow, or None after a fault."""
    loss_node, flow = require(body, "loss"), _flow(require(body, "flow"))
    loss = None if loss_node is None else loss_node.pressure()
    return None if loss is None or flow is None else Rated(name, loss, flow)


def _flow(node: Node | None) -> float | None:
    flow = None if node is None else node.flow_of_air()
    if node is not None and flow == 0.0:
        node.fault("a part is rated at a flow of more than 0")
        return None
    return flow


def read_vacuum(reading: Reading, body: MappingNode, things: Mapping[str, Thing]) -> Vacuum | None:
    """The shop vacuum, or None after a fault."""
    body.check_keys(VACUUM_KEYS)
    thing = known_thing(reading, require(body, "thing"), things)
    hose = _vacuum_hose(reading, require(body, "hose"))
    fan = read_fan(require(body, "fan"))
    clean, dirty = read_filter(body.get("filter"))
    separators, height = _separator(reading, body.get("separator"))
    power_node, needs_node = body.get("motor"), body.get("needs")
    serves_node = body.get("serves")
    serves = None
    if serves_node is not None:
        items = serves_node.sequence() or ()
        names = [known_thing(reading, item, things) for item in items]
        serves = tuple(name for name in names if name is not None)
    if thing is None or hose is None or fan is None:
        return None
    diameter, length, factor = hose
    return Vacuum(
        thing, fan, diameter, length, factor, clean, dirty, separators, height,
        _cabinet(reading, body.get("cabinet")),
        None if power_node is None else power_node.power(),
        serves,
        None if needs_node is None else needs_node.flow_of_air(),
        body.line,
    )  # fmt: skip


def known_thing(reading: Reading, node: Node | None, things: Mapping[str, Thing]) -> str | None:
    """The name of a thing, or None after a fault."""
    name = None if node is None else node.name()
    if node is None or name is None or name in things:
        return name
    if name not in reading.named:
        node.fault(f"there is no thing `{name}`", nearest(name, things))
    return None


def _vacuum_hose(
    reading: Reading, node: Node | None
) -> tuple[Affine, Affine | None, float | None] | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(("length", "diameter", "friction factor"))
    diameter = reading.length(
        require(body, "diameter"), "vacuum hose: diameter", positive=True, most=0.3
    )
    length = reading.length(body.get("length"), "vacuum hose: length", positive=True)
    factor_node = body.get("friction factor")
    factor = None if factor_node is None else factor_node.number(0.008, 0.1)
    return None if diameter is None else (diameter, length, factor)


def _separator(reading: Reading, node: Node | None) -> tuple[tuple[Rated, ...], Affine | None]:
    body = None if node is None else node.mapping()
    if body is None:
        return (), None
    body.check_keys(("loss", "flow", "height"))
    part = read_rated("separator", body)
    height = reading.length(body.get("height"), "separator: height", height=True, positive=True)
    return (() if part is None else (part,)), height


def _cabinet(reading: Reading, node: Node | None) -> Cabinet | None:
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(("inside height", "opening"))
    height = reading.length(
        body.get("inside height"), "vacuum cabinet: inside height", height=True, positive=True
    )
    node = body.get("opening")
    pair = None if node is None else reading.pair(node, "an opening `[width, height]`")
    sides = None
    if pair is not None:
        width = reading.length(pair[0], "vacuum cabinet: opening width", positive=True)
        high = reading.length(pair[1], "vacuum cabinet: opening height", positive=True)
        sides = None if width is None or high is None else (width, high)
    return Cabinet(height, sides)
