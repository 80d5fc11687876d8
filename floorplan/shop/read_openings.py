"""Reads the drawers, doors and pull-outs of a thing."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Affine, Outline, affine
from floorplan.shop.building import sector
from floorplan.shop.model import Opening, Zone
from floorplan.shop.reading import Layers
from floorplan.shop.thing_body import Body, children, side_of


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


def read_drawers(body: Body, layers: Layers, key: str, kind: str) -> Iterator[Opening]:
    """Drawers or pull-outs, those with faults left out."""
    for name, spec in children(layers, key):
        spec.check_keys(("side", "at", "width", "travel", "front", "bottom", "top", "stand"))
        side = side_of(spec, name)
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


def read_doors(body: Body, layers: Layers) -> Iterator[Opening]:
    """Doors of a thing, those with faults left out."""
    for name, spec in children(layers, "doors"):
        spec.check_keys(("side", "at", "width", "hand", "opens", "bottom", "top", "stand"))
        side = side_of(spec, name)
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
