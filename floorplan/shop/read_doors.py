"""Reads doors and windows."""

from __future__ import annotations

from floorplan.geometry.affine import ZERO, Affine
from floorplan.shop.building import Frame, frame
from floorplan.shop.model import Door, Room, Wall, Window
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.read_room import find_wall
from floorplan.shop.reading import Reading, require
from floorplan.units import TOLERANCE

DOOR_KEYS = (
    "wall", "at", "width", "clear width", "height", "sill", "kind", "hand", "swing",
    "leads to", "leaf", "side room", "from", "until",
)  # fmt: skip
WINDOW_KEYS = ("wall", "at", "width", "sill", "height", "from", "until")


def _on_wall(
    reading: Reading, name: str, body: MappingNode, room: Room
) -> tuple[Frame, Wall, Affine, Affine] | None:
    wall = find_wall(reading, room, require(body, "wall"))
    start = reading.length(require(body, "at"), f"{name}: at", contact_at_zero=True)
    width = reading.length(require(body, "width"), f"{name}: width", positive=True)
    if wall is None or start is None or width is None:
        return None
    line = frame(wall)
    over = start.value + width.value - line.length.value
    if over > TOLERANCE:
        at = body.get("at")
        assert at is not None
        at.fault(
            f"`{name}` does not lie on the {wall.name}: it ends "
            f"{(over) * 1000:.0f} mm ({over / 0.0254:.1f} in) beyond it",
            f"the wall is {line.length.value * 1000:.0f} mm "
            f"({line.length.value / 0.0254:.1f} in) long; `at` counts from its west or south end",
        )
        return None
    return line, wall, start, width


def read_door(reading: Reading, room: Room, name: str, body: MappingNode) -> Door | None:
    """One door, or None after a fault."""
    body.check_keys(DOOR_KEYS)
    placed = _on_wall(reading, name, body, room)
    kind = _choice(body, "kind", ("hinged", "sliding", "overhead", "opening"), "hinged")
    hand = _choice(body, "hand", ("left", "right"), "left")
    swing = _choice(body, "swing", ("in", "out"), "in")
    leads_node = require(body, "leads to")
    leads = None if leads_node is None else leads_node.choice(("outside", "house", "inside"))
    sill = reading.length(body.get("sill"), f"{name}: sill", height=True) or ZERO
    head = reading.length(require(body, "height"), f"{name}: height", height=True, positive=True)
    if None in (placed, kind, hand, swing, leads, head):
        return None
    assert placed is not None
    assert head is not None
    _, wall, start, width = placed
    head = sill + head
    if head.value > room.height.value + TOLERANCE:
        _higher_than_room(body, name)
        return None
    clear = _clear_width(reading, name, body, kind or "", width)
    leaf = _overhead_leaf(reading, name, body, head) if kind == "overhead" else None
    if clear is None or (kind == "overhead" and leaf is None):
        return None
    side = reading.length(body.get("side room"), f"{name}: side room")
    if side is None:
        side = ZERO
        if kind == "overhead":
            side = reading.measured(
                f"{name}: side room", reading.rules.value("overhead-side-room"), assumed=True
            )
    return Door(
        name, wall.name, start, width, clear, sill, head,
        kind, hand, swing, leads or "", leaf, side, body.line,  # type: ignore[arg-type]
    )  # fmt: skip


def _higher_than_room(body: MappingNode, name: str) -> None:
    node = body.get("height")
    assert node is not None
    node.fault(f"`{name}` is higher than the room", "`height` counts from the sill")


def _choice(body: MappingNode, key: str, options: tuple[str, ...], default: str) -> str | None:
    node = body.get(key)
    return default if node is None else node.choice(options)


def _clear_width(
    reading: Reading, name: str, body: MappingNode, kind: str, width: Affine
) -> Affine | None:
    node = body.get("clear width")
    if node is not None:
        clear = reading.length(node, f"{name}: clear width", positive=True)
        if clear is not None and clear.value > width.value + TOLERANCE:
            node.fault("the clear width is more than the width", "are the two swapped?")
            return None
        return clear
    if kind in ("overhead", "opening"):
        return width
    lost = reading.rules.value("door-clear-less")
    if width.value <= lost:
        return None
    return width - reading.measured(f"{name}: width lost to stop and leaf", lost, assumed=True)


def _overhead_leaf(
    reading: Reading, name: str, body: MappingNode, head: Affine
) -> tuple[Affine, Affine, Affine] | None:
    node = body.get("leaf")
    mapping = None if node is None else node.mapping()
    if node is not None and mapping is None:
        return None
    if mapping is not None:
        mapping.check_keys(("reach", "bottom", "top"))

    def part(key: str, usual: Affine, extra: str) -> Affine | None:
        given = None if mapping is None else mapping.get(key)
        if given is not None:
            return reading.length(
                given, f"{name}: leaf {key}", height=key != "reach", positive=True
            )
        return usual + reading.measured(
            f"{name}: {extra.replace('-', ' ')}", reading.rules.value(extra), assumed=True
        )

    reach = part("reach", head, "overhead-track-extra")
    top = part("top", head, "overhead-headroom")
    bottom_node = None if mapping is None else mapping.get("bottom")
    bottom = (
        head
        if bottom_node is None
        else reading.length(bottom_node, f"{name}: leaf bottom", height=True, positive=True)
    )
    if reach is None or top is None or bottom is None:
        return None
    if top.value <= bottom.value:
        body.fault(f"the open leaf of `{name}` has its top below its bottom")
        return None
    return reach, bottom, top


def read_window(reading: Reading, room: Room, name: str, body: MappingNode) -> Window | None:
    """One window, or None after a fault."""
    body.check_keys(WINDOW_KEYS)
    placed = _on_wall(reading, name, body, room)
    sill = reading.length(require(body, "sill"), f"{name}: sill", height=True)
    high = reading.length(require(body, "height"), f"{name}: height", height=True, positive=True)
    if placed is None or sill is None or high is None:
        return None
    if sill.value + high.value > room.height.value + TOLERANCE:
        _higher_than_room(body, name)
        return None
    return Window(name, placed[1].name, placed[2], placed[3], sill, sill + high, body.line)


def openings_clash(doors: list[Door], windows: list[Window]) -> list[tuple[str, str, int]]:
    """Pairs of openings that overlap in one wall: (name, name, line of the second)."""
    openings: list[Door | Window] = [*doors, *windows]
    rows = [
        (
            o.wall,
            o.start.value,
            (o.start + o.width).value,
            o.sill.value,
            o.head.value,
            o.name,
            o.line,
        )
        for o in openings
    ]
    out = []
    for i, a in enumerate(rows):
        for b in rows[i + 1 :]:
            wide = min(a[2], b[2]) - max(a[1], b[1])
            high = min(a[4], b[4]) - max(a[3], b[3])
            if a[0] == b[0] and wide > TOLERANCE and high > TOLERANCE:
                out.append((a[5], b[5], b[6]))
    return out
