"""Reads where a machine cuts, what it usually takes, its dust ports and its cord."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.model import Cutter, Plug, Port, UsualFeed
from floorplan.shop.reading import Layers, require
from floorplan.shop.thing_body import Body, children

PORT_KEYS = ("at", "height", "diameter")


def read_cutter(body: Body, layers: Layers) -> Cutter | None:
    """Where a machine cuts, None when it does not or after a fault."""
    if "blade" not in layers or layers.is_none("blade"):
        return None
    spec = layers.child("blade")
    if spec.node_or_none is None:
        return None
    spec.check_keys(("at", "diameter", "depth of cut", "reach", "feed"))
    at = body.at(spec, "blade")
    surface = body.sizes.get("surface")
    if at is None or surface is None:
        spec.node.fault(
            "a blade needs `at: [from the left, from the rear]` and the thing a `surface:` height"
        )
        return None
    reach = body.size(spec, "reach", "blade", default=ZERO)
    if "diameter" in spec:
        diameter = body.size(spec, "diameter", "blade", positive=True)
        cut = body.size(spec, "depth of cut", "blade", default=ZERO)
        if diameter is None or cut is None:
            return None
        radius = diameter / 2
        below = max(radius.value - cut.value, 0.0)
        chord = (radius.value**2 - below**2) ** 0.5 if cut.value > 0 else radius.value
        reach = radius * (chord / radius.value)
    feed_node, _ = spec.get("feed")
    feed = "away" if feed_node is None else feed_node.choice(("away", "left", "right"))
    if reach is None or feed is None:
        return None
    table = layers.child("table")
    front: Affine | None = body.depth
    back: Affine | None = ZERO
    if table.node_or_none:
        table.check_keys(("front", "back"))
        front = body.size(table, "front", "table", default=body.depth)
        back = body.size(table, "back", "table", default=ZERO)
    if front is None or back is None:
        return None
    return Cutter(at[0], at[1], reach, reach, surface, -front, -back, feed)  # type: ignore[arg-type]


def read_usual_feeds(body: Body, layers: Layers) -> Iterator[UsualFeed]:
    """Pieces a machine is meant to take when no job says otherwise."""
    if layers.is_none("usual feeds"):
        return
    node, assumed = layers.get("usual feeds")
    items = None if node is None else node.sequence()
    for item in items or ():
        mapping = item.mapping()
        if mapping is None:
            continue
        mapping.check_keys(("length", "width", "thickness", "cut"))
        read = [
            body.reading.length(
                require(mapping, key),
                f"{body.name}: usual piece {key}",
                positive=True,
                assumed=assumed,
            )
            for key in ("length", "width", "thickness")
        ]
        cut_node = mapping.get("cut")
        cut = "rip" if cut_node is None else cut_node.choice(("rip", "crosscut"))
        if cut is not None and all(r is not None for r in read):
            yield UsualFeed(read[0], read[1], read[2], cut)  # type: ignore[arg-type]


def read_ports(body: Body, layers: Layers) -> Iterator[Port]:
    """Where dust leaves a machine."""
    for name, spec in children(layers, "ports"):
        spec.check_keys(PORT_KEYS)
        missing = [key for key in PORT_KEYS if key not in spec]
        if missing:
            spec.node.fault(
                f"the port `{name}` of `{body.name}` needs `{missing[0]}:`",
                "write `{at: [22 in, 0], height: 8 in, diameter: 4 in}`",
            )
            continue
        at = body.at(spec, name)
        height = body.size(spec, "height", name, height=True)
        diameter = body.size(spec, "diameter", name, positive=True)
        if at is not None and height is not None and diameter is not None:
            yield Port(name, at[0], at[1], height, diameter)


def read_plugs(body: Body, layers: Layers) -> Iterator[Plug]:
    """Where a machine's cord begins."""
    for name, spec in children(layers, "plugs"):
        spec.check_keys(("at", "height", "volts", "amps"))
        at = body.at(spec, name)
        height = body.size(spec, "height", name, height=True)
        volts, _ = spec.get("volts")
        amps, _ = spec.get("amps")
        v = None if volts is None else volts.number(1, 1000)
        a = None if amps is None else amps.number(0, 1000)
        if at is not None and height is not None and v is not None and a is not None:
            yield Plug(name, at[0], at[1], height, v, a)
