"""Reads things: sizes from a generic kind overlaid with what was measured, and all they have."""

from __future__ import annotations

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.catalogue import kinds
from floorplan.shop.mobile_base import on_mobile_base
from floorplan.shop.model import Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.read_clamp_room import read_clamp_room
from floorplan.shop.read_floor import read_feet
from floorplan.shop.read_freedom import WITHIN, read_freedom, read_outfeed, read_reach_links
from floorplan.shop.read_machine import read_cutter, read_plugs, read_ports, read_usual_feeds
from floorplan.shop.read_openings import read_doors, read_drawers
from floorplan.shop.read_parts import read_own_keep_clears, read_parts, read_zones
from floorplan.shop.reading import Layers, Reading, nearest, size
from floorplan.shop.thing_body import Body, outline_of, tasks_of
from floorplan.units import TOLERANCE

THING_KEYS = (
    "kind", "about", "width", "depth", "height", "bottom", "outline", "surface", "table",
    "blade", "parts", "zones", "drawers", "doors", "pull-outs", "keep clear", "usual feeds",
    "ports", "plugs", "clamp room", "at", "parked", "working", "may", "turns", "within", "along",
    "keep gap", "takes the outfeed of", "outfeed", "only in", "feet", "weight",
    "on wheels", "mobile base", "note",
    "from", "until", "replaces", "stages",
)  # fmt: skip
IN_A_POSE = {
    key: f"`{key}` stands within `at:`, as in `at: {{x: 4', y: 3', turn: 90}}`"
    for key in ("x", "y", "turn")
}
LARGEST = 20.0
"""Largest side of a thing taken [m]."""


def read_thing(
    reading: Reading, room: Room, name: str, own: MappingNode, *, fixed: bool = False
) -> Thing | None:
    """One thing without its pose, or None after a fault."""
    before = len(reading.faults)
    links = [key for key in own.entries if WITHIN.match(key)]
    own.check_keys((*THING_KEYS, *links), IN_A_POSE)
    kind_name = "own"
    kind: MappingNode | None = None
    kind_node = own.get("kind")
    if kind_node is not None:
        text = kind_node.name()
        if text is None:
            return None
        kind_name = text
        kind = kinds().get(text) or kinds().get(text.lower())
        if kind is None:
            kind_node.fault(f"there is no kind `{text}`", nearest(text, kinds()))
            return None
    layers = Layers(own, kind)
    sizes = _sizes(reading, name, layers, before)
    if sizes is None:
        return None
    body = Body(reading, name, sizes)
    outline = outline_of(body, layers)
    if outline is None:
        return None
    parts = read_parts(body, layers)
    openings = (
        *read_drawers(body, layers, "drawers", "drawer"),
        *read_doors(body, layers),
        *read_drawers(body, layers, "pull-outs", "pull-out"),
    )
    cutter = read_cutter(body, layers)
    weight, wheels = layers.get("weight")[0], layers.get("on wheels")[0]
    thing = Thing(
        name=name,
        kind=kind_name,
        body=outline,
        bottom=sizes["bottom"],
        height=sizes["height"],
        surface=sizes.get("surface"),
        parts=tuple(parts),
        zones=(*read_zones(body, layers), *read_clamp_room(body, layers)),
        openings=openings,
        keep_clears=tuple(read_own_keep_clears(body, layers)),
        cutter=cutter,
        usual_feeds=tuple(read_usual_feeds(body, layers)),
        ports=tuple(read_ports(body, layers)),
        plugs=tuple(read_plugs(body, layers)),
        freedom=read_freedom(reading, room, name, own, fixed or sizes["bottom"].value > TOLERANCE),
        outfeed_of=read_outfeed(reading, name, own),
        within_of=tuple(read_reach_links(reading, own, links)),
        only_in=tasks_of(Layers(own, None), "only in"),
        fixed=fixed,
        feet=read_feet(reading, name, own, outline),
        mass=None if weight is None else weight.mass(),
        on_wheels=None if wheels is None else wheels.yes_no(),
        line=own.key.line if own.key else own.line,
    )
    return on_mobile_base(reading, own, thing)


def _sizes(reading: Reading, name: str, layers: Layers, before: int) -> dict[str, Affine] | None:
    """Main sizes; that one is missing is told unless the thing has a fault already."""
    sizes: dict[str, Affine] = {}
    outlined = "outline" in layers
    for key in ("width", "depth"):
        if outlined and key not in layers:
            continue
        found = size(reading, layers, key, f"{name}: {key}", positive=True)
        if found is None:
            if len(reading.faults) == before:
                layers.node.faults.add(
                    getattr(layers.node, "key", None) or layers.node,
                    f"`{name}` has no {key}",
                    f"write `{key}: 24 in`, or give it a `kind`",
                )
            return None
        if found.value > LARGEST:
            node, _ = layers.get(key)
            assert node is not None
            node.fault(f"a {key} of {found.value:.1f} m is no thing in a small shop")
            return None
        sizes[key] = found
    top = size(reading, layers, "height", f"{name}: height", height=True, positive=True)
    if top is None:
        if len(reading.faults) == before:
            layers.node.faults.add(
                getattr(layers.node, "key", None) or layers.node,
                f"`{name}` has no height",
                "write `height: 34 in`, the top above the floor",
            )
        return None
    sizes["height"] = top
    bottom = size(reading, layers, "bottom", f"{name}: bottom", default=ZERO, height=True)
    if bottom is None:
        return None
    if bottom.value >= top.value:
        node, _ = layers.get("height")
        assert node is not None
        node.fault(
            f"the top of `{name}` is not above its bottom",
            "`height` and `bottom` both count from the floor",
        )
        return None
    sizes["bottom"] = bottom
    if "surface" in layers:
        surface = size(
            reading, layers, "surface", f"{name}: surface", sizes=sizes, height=True, positive=True
        )
        if surface is None:
            return None
        sizes["surface"] = surface
    return sizes
