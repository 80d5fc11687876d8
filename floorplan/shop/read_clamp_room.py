"""Reads the room that clamps take beyond the edges of a bench."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.model import SIDES, Side, Zone
from floorplan.shop.nodes import Node, Scalar
from floorplan.shop.reading import Layers
from floorplan.shop.thing_body import Body, tasks_of

KEY = "clamp room"
CLAMP_KEYS = (*SIDES, "bottom", "top", "task", "advised")


def read_clamp_room(body: Body, layers: Layers) -> Iterator[Zone]:
    """A use zone on each side that clamps reach over, at the height of clamps on the top.

    `30 in` is that much on all sides; `{front: 30 in, task: glue up}` names sides and tasks.
    """
    node, _ = layers.get(KEY)
    if node is None or layers.is_none(KEY):
        return
    tasks: list[str | None] = [None]
    advised = False
    band: tuple[Affine | None, Affine | None] = _band(body)
    if isinstance(node, Scalar):
        depth = _depth(body, node)
        depths = dict.fromkeys(SIDES, depth) if depth is not None else {}
    else:
        spec = layers.child(KEY)
        spec.check_keys(CLAMP_KEYS)
        depths = _depths(body, spec)
        tasks = [*sorted(tasks_of(spec, "task") or ())] or tasks
        advised_node, _ = spec.get("advised")
        advised = advised_node is not None and bool(advised_node.yes_no())
        band = (
            body.size(spec, "bottom", KEY, default=band[0], height=True),
            body.size(spec, "top", KEY, default=band[1], height=True),
        )
    bottom, top = band
    if bottom is None or top is None:
        return
    if top.value <= bottom.value:
        node.fault(f"the {KEY} of `{body.name}` has no height", "is its top below its bottom?")
        return
    for side, depth in depths.items():
        outline = body.side_box(side, ZERO, body.side_length(side), ZERO, depth)
        name = f"{KEY} at the {side}"
        for task in tasks:
            yield Zone(name, "clamp", outline, bottom, top, task, advised, node.line, side)


def _depths(body: Body, spec: Layers) -> dict[Side, Affine]:
    """Those sides for which something is written; that there are none is a fault."""
    nodes = {side: spec.get(side)[0] for side in SIDES}
    written = {side: node for side, node in nodes.items() if node is not None}
    if not written:
        spec.node.fault(
            f"the {KEY} of `{body.name}` names no side", "write `{front: 30 in, left: 24 in}`"
        )
    read = {side: _depth(body, node) for side, node in written.items()}
    return {side: depth for side, depth in read.items() if depth is not None}


def _depth(body: Body, node: Node) -> Affine | None:
    """A depth [m]; it is wanted, not measured, so no tape was laid to it."""
    found = node.length(body.reading.default_unit, positive=True)
    return None if found is None else Affine(float(found[0]))


def _band(body: Body) -> tuple[Affine, Affine]:
    """Bottom and top of clamps that lie on the surface [m]."""
    rules = body.reading.rules
    surface = body.sizes.get("surface", body.sizes["height"])
    bottom = surface - rules.value("clamp-below-top")
    return bottom if bottom.value > 0 else ZERO, surface + rules.value("clamp-above-top")
