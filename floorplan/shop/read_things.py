"""Reads things: sizes from a generic kind overlaid with what was measured, parts, zones, poses."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Affine, Outline, affine
from floorplan.shop.building import sector, signed_area
from floorplan.shop.catalogue import kinds
from floorplan.shop.model import (
    SIDES,
    Cutter,
    Freedom,
    KeepClear,
    Opening,
    OutfeedLink,
    Part,
    Plug,
    Port,
    ReachLink,
    Room,
    Thing,
    UsualFeed,
    Zone,
)
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.read_room import find_wall
from floorplan.shop.reading import Layers, Reading, Sizes, nearest, require, size
from floorplan.units import UnitError, parse_length

THING_KEYS = (
    "kind", "about", "width", "depth", "height", "bottom", "outline", "surface", "table",
    "blade", "parts", "zones", "drawers", "doors", "pull-outs", "keep clear", "usual feeds",
    "ports", "plugs", "at", "parked", "working", "may", "turns", "within", "along",
    "keep gap", "takes the outfeed of", "outfeed", "only in", "note",
)  # fmt: skip
PURPOSES = ("stand", "infeed", "outfeed", "service", "pull-out", "clamp", "reach")
MAY = ("stay", "slide", "move", "move and turn")
_WITHIN = re.compile(r"^within\s+(.+)\s+of$")
LARGEST = 20.0
"""Largest side of a thing taken [m]."""


@dataclass(frozen=True, slots=True)
class Body:
    """What the parts of a thing hang on while it is read."""

    reading: Reading
    name: str
    sizes: Sizes

    @property
    def width(self) -> Affine:
        """Size along local x [m]."""
        return self.sizes["width"]

    @property
    def depth(self) -> Affine:
        """Size along local y [m]."""
        return self.sizes["depth"]

    def size(
        self,
        layers: Layers,
        key: str,
        what: str,
        *,
        default: Affine | None = None,
        height: bool = False,
        signed: bool = False,
        positive: bool = False,
    ) -> Affine | None:
        """A size of a part, which may follow the thing's own sizes [m]."""
        return size(
            self.reading,
            layers,
            key,
            f"{self.name}: {what} {key}",
            sizes=self.sizes,
            default=default,
            height=height,
            signed=signed,
            positive=positive,
        )

    def at(self, layers: Layers, what: str, key: str = "at") -> tuple[Affine, Affine] | None:
        """Local point `[from the left, from the rear]` as x and y [m]."""
        node, assumed = layers.get(key)
        pair = self.reading.pair(node, "a place `[from the left, from the rear]`")
        if pair is None:
            return None
        right = self._length(pair[0], f"{self.name}: {what} from the left", assumed)
        rear = self._length(pair[1], f"{self.name}: {what} from the rear", assumed)
        return None if right is None or rear is None else (right, -rear)

    def _length(self, node: Node, name: str, assumed: bool) -> Affine | None:
        return self.reading.length(node, name, signed=True, assumed=assumed, contact_at_zero=True)

    def side_box(
        self, side: str, start: Affine, end: Affine, near: Affine | float, far: Affine | float
    ) -> Outline:
        """Local box on a side, `start` to `end` along it, `near` to `far` away from it [m].

        Along the front and back one counts from the left, along the ends from the rear.
        """
        if side == "front":
            return Outline.box(
                left=start, right=end, south=-self.depth - far, north=-self.depth - near
            )
        if side == "back":
            return Outline.box(left=start, right=end, south=affine(near), north=affine(far))
        if side == "left":
            return Outline.box(left=-affine(far), right=-affine(near), south=-end, north=-start)
        return Outline.box(left=self.width + near, right=self.width + far, south=-end, north=-start)

    def side_length(self, side: str) -> Affine:
        """Length of a side [m]."""
        return self.width if side in ("front", "back") else self.depth


def read_thing(
    reading: Reading, room: Room, name: str, own: MappingNode, *, fixed: bool = False
) -> Thing | None:
    """One thing without its pose, or None after a fault."""
    before = len(reading.faults)
    links = [key for key in own.entries if _WITHIN.match(key)]
    own.check_keys((*THING_KEYS, *links))
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
    outline = _outline(body, layers)
    if outline is None:
        return None
    parts = _parts(body, layers)
    openings = (
        *_drawers(body, layers, "drawers", "drawer"),
        *_doors(body, layers),
        *_drawers(body, layers, "pull-outs", "pull-out"),
    )
    cutter = _cutter(body, layers)
    return Thing(
        name=name,
        kind=kind_name,
        body=outline,
        bottom=sizes["bottom"],
        height=sizes["height"],
        surface=sizes.get("surface"),
        parts=tuple(parts),
        zones=tuple(_zones(body, layers)),
        openings=openings,
        keep_clears=tuple(_keep_clears(body, layers)),
        cutter=cutter,
        usual_feeds=tuple(_usual_feeds(body, layers)),
        ports=tuple(_ports(body, layers)),
        plugs=tuple(_plugs(body, layers)),
        freedom=_freedom(reading, room, name, own, fixed),
        outfeed_of=_outfeed(reading, name, own),
        within_of=tuple(_reach_links(reading, own, links)),
        only_in=_only_in(own),
        fixed=fixed,
        line=own.key.line if own.key else own.line,
    )


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


def _outline(body: Body, layers: Layers) -> Outline | None:
    node, assumed = layers.get("outline")
    if node is None:
        return Outline.box(left=ZERO, right=body.width, south=-body.depth, north=ZERO)
    items = node.sequence()
    if items is None:
        return None
    if len(items) < 3:
        node.fault("an outline has at least three corners")
        return None
    points = []
    for i, item in enumerate(items):
        pair = body.reading.pair(item, "a corner `[from the left, from the rear]`")
        if pair is None:
            return None
        x = body._length(pair[0], f"{body.name}: corner {i + 1} from the left", assumed)
        y = body._length(pair[1], f"{body.name}: corner {i + 1} from the rear", assumed)
        if x is None or y is None:
            return None
        points.append((x, -y))
    outline = Outline.of(points)
    polygon = Polygon(outline.points)
    if not polygon.is_valid or polygon.area < 1e-6:
        node.fault(
            f"the outline of `{body.name}` crosses itself or has no area",
            "give the corners in order, walking round it",
        )
        return None
    sizes = body.sizes
    assert isinstance(sizes, dict)
    sizes.setdefault("width", outline.highest(0) - outline.lowest(0))
    sizes.setdefault("depth", outline.highest(1) - outline.lowest(1))
    return outline if signed_area(outline.points) > 0 else Outline.of(points[::-1])


def _children(layers: Layers, key: str) -> Iterator[tuple[str, Layers]]:
    table = layers.child(key)
    if layers.is_none(key):
        return
    for name in table.names() if table.own or table.kind else ():
        child = table.child(name)
        if child.node_or_none is not None:  # else its fault is told already
            yield name, child


def _parts(body: Body, layers: Layers) -> list[Part]:
    out = []
    for name, spec in _children(layers, "parts"):
        spec.check_keys(("at", "size", "outline", "bottom", "top", "travel", "only in", "blocks"))
        outline = _part_outline(body, spec, name)
        bottom = body.size(spec, "bottom", name, height=True, default=ZERO)
        top = body.size(spec, "top", name, height=True, positive=True)
        if outline is None or bottom is None or top is None:
            if top is None and "top" not in spec:
                spec.node.fault(f"`{name}` has no top", "write `top: 36 in`")
            continue
        if top.value <= bottom.value:
            spec.node.fault(
                f"the top of `{name}` is not above its bottom", "are the two heights swapped?"
            )
            continue
        blocks, _ = spec.get("blocks")
        out.append(
            Part(
                name,
                outline,
                bottom,
                top,
                _tasks(spec, "only in"),
                blocks is not None and blocks.choice(("feed",)) == "feed",
            )
        )
    return out


def _part_outline(body: Body, spec: Layers, name: str) -> Outline | None:
    if "outline" in spec:
        return _outline(Body(body.reading, f"{body.name}: {name}", dict(body.sizes)), spec)
    at = body.at(spec, name)
    node, assumed = spec.get("size")
    pair = body.reading.pair(node, "a size `[left to right, rear to front]`")
    if at is None or pair is None:
        if node is None or "at" not in spec:
            spec.node.fault(
                f"`{name}` needs `at: [from the left, from the rear]` and `size: [wide, deep]`"
            )
        return None
    wide = body.reading.length(
        pair[0], f"{body.name}: {name} width", positive=True, assumed=assumed
    )
    deep = body.reading.length(
        pair[1], f"{body.name}: {name} depth", positive=True, assumed=assumed
    )
    if wide is None or deep is None:
        return None
    left, right, north, south = at[0], at[0] + wide, at[1], at[1] - deep
    travel = spec.child("travel")
    for way in ("left", "right", "front", "back"):
        step = (
            body.size(travel, way, f"{name} travel", default=ZERO) if travel.node_or_none else ZERO
        )
        if step is None:
            return None
        if way == "left":
            left = left - step
        elif way == "right":
            right = right + step
        elif way == "front":
            south = south - step
        else:
            north = north + step
    return Outline.box(left=left, right=right, south=south, north=north)


def _tasks(spec: Layers, key: str) -> frozenset[str] | None:
    node, _ = spec.get(key)
    names = None if node is None else node.strings()
    return None if names is None else frozenset(names)


def _only_in(own: MappingNode) -> frozenset[str] | None:
    return _tasks(Layers(own, None), "only in")


def _side(spec: Layers, name: str) -> str | None:
    node, _ = spec.get("side")
    if node is None:
        spec.node.fault(f"`{name}` needs `side:`", f"one of {', '.join(SIDES)}")
        return None
    return node.choice(SIDES)


def _zones(body: Body, layers: Layers) -> Iterator[Zone]:
    for name, spec in _children(layers, "zones"):
        spec.check_keys(
            ("side", "depth", "from", "to", "away", "bottom", "top", "purpose", "task", "advised")
        )
        side = _side(spec, name)
        if side is None:
            continue
        depth = body.size(spec, "depth", name, positive=True)
        if depth is None:
            if "depth" not in spec:
                spec.node.fault(f"`{name}` needs `depth:`, how far it reaches from the side")
            continue
        start = body.size(spec, "from", name, default=ZERO, signed=True)
        end = body.size(spec, "to", name, default=body.side_length(side), signed=True)
        away = body.size(spec, "away", name, default=ZERO)
        bottom = body.size(spec, "bottom", name, default=ZERO, height=True)
        tall = affine(body.reading.rules.value("person-height"))
        top = body.size(spec, "top", name, default=tall, height=True)
        purpose_node, _ = spec.get("purpose")
        purpose = "stand" if purpose_node is None else purpose_node.choice(PURPOSES)
        task_node, _ = spec.get("task")
        task = None if task_node is None else task_node.name()
        advised_node, _ = spec.get("advised")
        advised = False if advised_node is None else bool(advised_node.yes_no())
        if start is None or end is None or away is None or bottom is None or top is None:
            continue
        if purpose is None:
            continue
        if end.value <= start.value or top.value <= bottom.value:
            spec.node.fault(f"`{name}` has no size", "are two of its limits swapped?")
            continue
        outline = body.side_box(side, start, end, away, away + depth)
        yield Zone(
            name, purpose, outline, bottom, top, task, advised, spec.node.line if spec.own else 0
        )


def _stand(
    body: Body, spec: Layers, name: str, side: str, start: Affine, end: Affine, near: Affine
) -> Zone | None:
    """Where one stands before an open drawer or door, None when the file says `stand: none`."""
    if spec.is_none("stand"):
        return None
    usual = affine(body.reading.rules.value("drawer-stand"))
    room = body.size(spec, "stand", name, default=usual)
    if room is None or room.value == 0.0:
        return None
    tall = affine(body.reading.rules.value("person-height"))
    outline = body.side_box(side, start, end, near, near + room)
    return Zone(f"room before {name}", "stand", outline, ZERO, tall, None, True, spec.node.line)


def _drawers(body: Body, layers: Layers, key: str, kind: str) -> Iterator[Opening]:
    for name, spec in _children(layers, key):
        spec.check_keys(("side", "at", "width", "travel", "front", "bottom", "top", "stand"))
        side = _side(spec, name)
        if side is None:
            continue
        at = body.size(spec, "at", name, default=ZERO)
        width = body.size(spec, "width", name, positive=True)
        travel = body.size(spec, "travel", name, positive=True)
        front = body.size(spec, "front", name, default=ZERO)
        bottom = body.size(spec, "bottom", name, default=ZERO, height=True)
        top = body.size(spec, "top", name, default=body.sizes["height"], height=True)
        missing = [k for k in ("width", "travel") if k not in spec]
        if missing:
            spec.node.fault(f"`{name}` needs `{missing[0]}:`")
        if None in (at, width, travel, front, bottom, top):
            continue
        assert at is not None
        assert width is not None
        assert travel is not None
        assert front is not None
        assert bottom is not None
        assert top is not None
        if top.value <= bottom.value:
            spec.node.fault(
                f"the top of `{name}` is not above its bottom", "are the two heights swapped?"
            )
            continue
        sweep = body.side_box(side, at, at + width, ZERO, travel + front)
        stand = _stand(body, spec, name, side, at, at + width, travel + front)
        yield Opening(
            name, kind, side, sweep, bottom, top, travel, stand,  # type: ignore[arg-type]
            line=spec.node.line if spec.own else 0,
        )  # fmt: skip


def _doors(body: Body, layers: Layers) -> Iterator[Opening]:
    for name, spec in _children(layers, "doors"):
        spec.check_keys(("side", "at", "width", "hand", "opens", "bottom", "top", "stand"))
        side = _side(spec, name)
        if side is None:
            continue
        at = body.size(spec, "at", name, default=ZERO)
        width = body.size(spec, "width", name, positive=True)
        bottom = body.size(spec, "bottom", name, default=ZERO, height=True)
        top = body.size(spec, "top", name, default=body.sizes["height"], height=True)
        hand_node, _ = spec.get("hand")
        hand = "left" if hand_node is None else hand_node.choice(("left", "right"))
        opens_node, _ = spec.get("opens")
        opens = 90.0 if opens_node is None else opens_node.angle()
        if at is None or width is None or bottom is None or top is None or hand is None:
            if "width" not in spec:
                spec.node.fault(f"`{name}` needs `width:`")
            continue
        if opens is None:
            continue
        if not 10.0 <= opens <= 180.0:
            assert opens_node is not None
            opens_node.fault(f"a door opens 10 to 180 degrees, not {opens:g}")
            continue
        if top.value <= bottom.value:
            spec.node.fault(
                f"the top of `{name}` is not above its bottom", "are the two heights swapped?"
            )
            continue
        sweep, hinge = _door_sweep(body, side, at, width, hand, opens)
        stand = _stand(body, spec, name, side, at, at + width, ZERO + width)
        yield Opening(
            name, "door", side, sweep, bottom, top, Affine(opens), stand, hinge,  # type: ignore[arg-type]
            spec.node.line if spec.own else 0,
        )  # fmt: skip


def _door_sweep(
    body: Body, side: str, at: Affine, width: Affine, hand: str, opens: float
) -> tuple[Outline, tuple[float, float]]:
    """Sector a leaf passes over; hand seen from before the door."""
    zero = ZERO
    # Facing each side from outside: where left and right ends lie, and the way from left to right.
    ends = {
        "front": ((at, -body.depth), (at + width, -body.depth), 0.0),
        "back": ((at + width, zero), (at, zero), 180.0),
        "left": ((zero, -at), (zero, -(at + width)), 270.0),
        "right": ((body.width, -(at + width)), (body.width, -at), 90.0),
    }
    left, right, heading = ends[side]
    if hand == "left":
        # the shut leaf points right, it opens towards the viewer, clockwise
        pivot, start, turn = left, heading, -opens
    else:
        pivot, start, turn = right, heading + 180.0, opens
    return sector(pivot, width, start, turn), (pivot[0].value, pivot[1].value)


def _keep_clears(body: Body, layers: Layers) -> Iterator[KeepClear]:
    for name, spec in _children(layers, "keep clear"):
        spec.check_keys(
            (
                "side",
                "depth",
                "width",
                "at",
                "slides",
                "bottom",
                "top",
                "rule",
                "even while working",
            )
        )
        side = _side(spec, name)
        if side is None:
            continue
        length = body.side_length(side)
        depth = body.size(spec, "depth", name, positive=True)
        width = body.size(spec, "width", name, default=length, positive=True)
        bottom = body.size(spec, "bottom", name, default=ZERO, height=True)
        tall = affine(body.reading.rules.value("person-height"))
        top = body.size(spec, "top", name, default=tall, height=True)
        if depth is None or width is None or bottom is None or top is None:
            continue
        if width.value < length.value:
            width = length
        spare = width - length
        slides_node, _ = spec.get("slides")
        slides = False if slides_node is None else bool(slides_node.yes_no())
        even_node, _ = spec.get("even while working")
        even = False if even_node is None else bool(even_node.yes_no())
        start = body.size(spec, "at", name, default=-(spare / 2), signed=True)
        if start is None:
            continue
        rule_node, _ = spec.get("rule")
        rule = "keep-clear-free" if rule_node is None else (rule_node.name() or "keep-clear-free")
        outline = body.side_box(side, start, start + width, ZERO, depth)
        # flush left, flush right and centred: the space need not be centred on its owner
        shifts = (ZERO, spare / 2, -(spare / 2)) if slides and spare.value > 0 else (ZERO,)
        yield KeepClear(
            name, outline, bottom, top, rule, even, shifts, spec.node.line if spec.own else 0
        )


def _cutter(body: Body, layers: Layers) -> Cutter | None:
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


def _usual_feeds(body: Body, layers: Layers) -> Iterator[UsualFeed]:
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


def _ports(body: Body, layers: Layers) -> Iterator[Port]:
    for name, spec in _children(layers, "ports"):
        spec.check_keys(("at", "height", "diameter"))
        at = body.at(spec, name)
        height = body.size(spec, "height", name, height=True)
        diameter = body.size(spec, "diameter", name, positive=True)
        if at is not None and height is not None and diameter is not None:
            yield Port(name, at[0], at[1], height, diameter)


def _plugs(body: Body, layers: Layers) -> Iterator[Plug]:
    for name, spec in _children(layers, "plugs"):
        spec.check_keys(("at", "height", "volts", "amps"))
        at = body.at(spec, name)
        height = body.size(spec, "height", name, height=True)
        volts, _ = spec.get("volts")
        amps, _ = spec.get("amps")
        v = None if volts is None else volts.number(1, 1000)
        a = None if amps is None else amps.number(0, 1000)
        if at is not None and height is not None and v is not None and a is not None:
            yield Plug(name, at[0], at[1], height, v, a)


# --- how it may move, and what it is tied to -----------------------------------------------


def _freedom(reading: Reading, room: Room, name: str, own: MappingNode, fixed: bool) -> Freedom:
    may_node = own.get("may")
    may = ("stay" if fixed else "move and turn") if may_node is None else may_node.choice(MAY)
    along = None
    if "along" in own:
        wall = find_wall(room, own.get("along"))
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
    if may == "slide" and along is None:
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


def _outfeed(reading: Reading, name: str, own: MappingNode) -> tuple[OutfeedLink, ...]:
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


def _reach_links(reading: Reading, own: MappingNode, keys: list[str]) -> Iterator[ReachLink]:
    for key in keys:
        node = own.get(key)
        match = _WITHIN.match(key)
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
