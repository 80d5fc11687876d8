"""Reads the drawers, doors and pull-outs of a thing."""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.geometry.affine import ZERO, Affine, Outline, affine
from floorplan.shop.building import sector
from floorplan.shop.model import Opening, Zone
from floorplan.shop.reading import Layers
from floorplan.shop.thing_body import Body, children, side_of
from floorplan.units import TOLERANCE, format_length


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
        width = _within(body, spec, name, kind, side, at, width)
        if width is None:
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
        width = _within(body, spec, name, "door", side, at, width)
        if width is None:
            continue
        sweep, hinge = _door_sweep(body, side, at, width, hand, opens)
        stand = _stand(body, spec, name, side, at, at + width, ZERO + width)
        yield Opening(
            name, "door", side, sweep, bottom, top, Affine(opens), stand, hinge,
            spec.node.line if spec.own else 0,
        )  # fmt: skip


LEAST = affine(0.1)
"""A drawer or door of a kind that would be narrower than this on a short side is left out [m]."""
FRAME = affine(0.05)
"""What is beside it at the end of a short side [m]."""


def _within(
    body: Body, spec: Layers, name: str, kind: str, side: str, at: Affine, width: Affine
) -> Affine | None:
    """The width of a drawer or door, None where it does not stay within its side.

    One that the file says must; one that the kind alone says becomes narrower on a shorter side.
    """
    length, end = body.side_length(side), at + width
    if end.value <= length.value + TOLERANCE:
        return width
    if spec.own is None:
        left = length - at - FRAME
        return left if left.value >= LEAST.value else None
    if body.reading.supposed:
        return width

    def text(metres: Affine) -> str:
        return format_length(metres.value, body.reading.system)

    where = "left" if side in ("front", "back") else "rear"
    most = length - at
    fix = f"at this width `at:` is no more than {text(length - width)}"
    if most.value > TOLERANCE:
        fix = f"from there it is no wider than {text(most)}"
    spec.node.fault(
        f"{kind} `{name}` ends {text(end)} from the {where}, but the {side} side of `{body.name}` "
        f"is {text(length)} long",
        fix if width.value <= length.value else f"it is no wider than {text(length)}",
    )
    return None


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
