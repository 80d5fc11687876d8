"""Reads the parts, zones and keep-clears of a thing."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Outline, affine
from floorplan.shop.model import KeepClear, Part, Zone
from floorplan.shop.reading import Layers
from floorplan.shop.thing_body import Body, children, outline_of, side_of, tasks_of

PURPOSES = ("stand", "infeed", "outfeed", "service", "pull-out", "clamp", "reach")


def read_parts(body: Body, layers: Layers) -> list[Part]:
    """Solid parts besides the body, those with faults left out."""
    out = []
    for name, spec in children(layers, "parts"):
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
                tasks_of(spec, "only in"),
                blocks is not None and blocks.choice(("feed",)) == "feed",
            )
        )
    return out


def _part_outline(body: Body, spec: Layers, name: str) -> Outline | None:
    if "outline" in spec:
        return outline_of(Body(body.reading, f"{body.name}: {name}", dict(body.sizes)), spec)
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


def read_zones(body: Body, layers: Layers) -> Iterator[Zone]:
    """Use zones, those with faults left out."""
    for name, spec in children(layers, "zones"):
        spec.check_keys(
            ("side", "depth", "from", "to", "away", "bottom", "top", "purpose", "task", "advised")
        )
        side = side_of(spec, name)
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
            name, purpose, outline, bottom, top, task, advised, spec.node.line if spec.own else 0,
            side,
        )  # fmt: skip


def read_own_keep_clears(body: Body, layers: Layers) -> Iterator[KeepClear]:
    """What must stay clear before a thing at any time."""
    for name, spec in children(layers, "keep clear"):
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
        side = side_of(spec, name)
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
