"""Reads `site:`: the lot, what stands on it, the owner's local limits, and where noise is heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import cast

import numpy as np
from shapely.geometry import Polygon

from floorplan.geometry.affine import ZERO, Affine, Outline, Point
from floorplan.shop.building import floor_polygon, signed_area
from floorplan.shop.model import Layout, NamedPlace, Room, Thing
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.read_shed import read_shed
from floorplan.shop.reading import Reading, nearest, quantity, require
from floorplan.shop.scene import frame_of
from floorplan.shop.site import (
    Limits,
    LotLine,
    MeasuredTo,
    Receiver,
    Site,
    SiteBuilding,
    Spot,
)
from floorplan.units import TOLERANCE, UnitError, parse_angle

SITE_KEYS = (
    "room at", "room turn", "lot", "lines", "buildings", "fences", "trees", "windows", "house door",
    "setbacks", "limits", "shed",
)  # fmt: skip
LOT_KEYS = ("corners", "error")
BUILDING_KEYS = ("corners", "at", "size", "height")
FENCE_KEYS = ("from", "to", "height", "keep")
FENCE_THICKNESS = 0.05
"""[m]; common practice, no source."""
TREE_KEYS = ("at", "keep", "trunk")
WINDOW_KEYS = ("at", "height", "limit")
LIMIT_KEYS = ("area", "height", "noise at lot line", "noise at windows")
SETBACK_WORDS = ("default", "measured to", "buildings", "room")
LARGEST_LOT = 500.0
"""Largest coordinate of a lot taken [m]."""


@dataclass(frozen=True, slots=True)
class Survey:
    """How coordinates of the file become the room's: where the room lies on the lot.

    `turned` is the room's turn on the lot with its own error [rad].
    """

    own: bool
    """Whether the file gives the lot in coordinates of its own."""
    x: Affine = ZERO
    y: Affine = ZERO
    turned: Affine = ZERO

    def to_room(self, x: Affine, y: Affine) -> Point:
        """A point of the file in the room's coordinates [m]."""
        if not self.own:
            return x, y
        c, s = cos(self.turned.value), sin(self.turned.value)
        dx, dy = x - self.x, y - self.y
        # turning the room a little turns the lot the other way round the room's origin
        off = self.turned - self.turned.value
        right, up = dx * c + dy * s, dy * c - dx * s
        return right + off * up.value, up - off * right.value


def read_survey_of_room(reading: Reading, body: MappingNode) -> Survey | None:
    """`room at` and `room turn`, or None after a fault."""
    at_node, turn_node = body.get("room at"), body.get("room turn")
    if at_node is None and turn_node is None:
        return Survey(own=False)
    if at_node is None:
        body.faults.add(
            (turn_node and turn_node.key) or body, "`room turn` needs `room at: [x, y]` beside it",
            "say where on the lot the room's origin corner lies",
        )  # fmt: skip
        return None
    at = reading.point(at_node, "site: room at")
    turned = ZERO
    if turn_node is not None:
        found = _turn(reading, turn_node)
        if found is None:
            return None
        turned = found
    return None if at is None else Survey(True, *at, turned)


def _turn(reading: Reading, node: Node) -> Affine | None:
    """An angle, perhaps with its own error as in `12 +- 0.5` [rad]."""
    text = node.text()
    if text is None:
        return None
    value, _, error = text.replace("±", "+-").partition("+-")
    negative = value.strip().startswith("-")
    try:
        angle = parse_angle(value.strip().removeprefix("-"))
        off = parse_angle(error) if error.strip() else 0.0
    except UnitError as wrong:
        node.fault(wrong.message, "write `12` or `12 +- 0.5`")
        return None
    angle = radians(-angle if negative else angle)
    return reading.measured("site: room turn", angle, error=radians(off), line=node.line)


def read_lot(reading: Reading, survey: Survey, node: Node | None) -> list[Point] | None:
    """Corners of the lot in the file's order, in the room's coordinates; None after a fault."""
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(LOT_KEYS)
    error_node = body.get("error")
    error = None if error_node is None else error_node.length(reading.default_unit, least=0.0)
    list_node = require(body, "corners")
    items = None if list_node is None else list_node.sequence()
    if list_node is None or items is None:
        return None
    if len(items) < 3:
        list_node.fault(f"a lot has at least three corners, not {len(items)}")
        return None
    usual = reading.tape_plan
    if error is not None:
        reading.tape_plan = float(error[0])
    corners = [_at(reading, survey, item, f"lot corner {i}") for i, item in enumerate(items)]
    reading.tape_plan = usual
    points = [corner for corner in corners if corner is not None]
    if len(points) < len(corners):
        return None
    polygon = Polygon([(x.value, y.value) for x, y in points])
    if not polygon.is_valid or polygon.area < 1.0:
        list_node.fault(
            "the outline of the lot crosses or touches itself, or has no area",
            "give the corners in order, walking round the lot",
        )
        return None
    return points


def _at(reading: Reading, survey: Survey, node: Node | None, name: str) -> Point | None:
    """A point of the site in the room's coordinates.

    A bare 0 counts as measured, save on axes of the lot's own.
    """
    pair = reading.pair(node, "a point `[x, y]`")
    if pair is None:
        return None
    found = [
        reading.length(
            item, f"{name} {axis}", signed=True, contact_at_zero=survey.own,
            least=-LARGEST_LOT, most=LARGEST_LOT,
        )
        for item, axis in zip(pair, "xy", strict=True)
    ]  # fmt: skip
    x, y = found
    return None if x is None or y is None else survey.to_room(x, y)


class SiteReader:
    """Reads what is on the lot, once the lot and the survey are known."""

    def __init__(self, reading: Reading, room: Room, body: MappingNode, survey: Survey) -> None:
        self.reading = reading
        self.room = room
        self.body = body
        self.survey = survey

    def read(self, corners: list[Point]) -> Site:
        """The site without its shed; what has a fault is left out."""
        names = self._names(len(corners))
        buildings_node, trees_node = self._table("buildings"), self._table("trees")
        buildings = [] if buildings_node is None else self._buildings(buildings_node)
        fences_node = self._table("fences")
        fences = [] if fences_node is None else self._fences(fences_node)
        told = [] if (table := self._table("lines")) is None else list(table.entries)
        setbacks, measured_to = self._setbacks([*names, *told, *(b.name for b in buildings)])
        limits, at_windows = self._limits()
        count = len(corners)
        sides = [(names[i], corners[i], corners[(i + 1) % count]) for i in range(count)]
        if signed_area(np.array([[x.value, y.value] for x, y in corners])) < 0:
            sides = [(name, end, start) for name, start, end in reversed(sides)]
        usual = setbacks.get("default")
        apart = setbacks.get("buildings", 0.0)
        lot = Outline.of([start for _, start, _ in sides])
        self._check_room(lot)
        return Site(
            lot=lot,
            lines=tuple(LotLine(n, a, b, setbacks.get(n, usual)) for n, a, b in sides),
            measured_to=measured_to,
            room_separation=setbacks.get("room", apart),
            buildings=tuple(
                SiteBuilding(b.name, b.outline, b.height, setbacks.get(b.name, apart), b.line)
                for b in buildings
            )
            + tuple(fences),
            trees=() if trees_node is None else tuple(self._trees(trees_node)),
            house_door=self._house_door(),
            receivers=tuple(self._windows(at_windows)),
            limits=limits,
            line=self.body.line,
        )

    def _table(self, key: str) -> MappingNode | None:
        node = self.body.get(key)
        return None if node is None or node.is_empty else node.mapping()

    def _free(self, name: str, node: Node) -> bool:
        """Whether a name is not that of a thing, door or place already."""
        if name in self.reading.named:
            self.reading.faults.add(
                node.key or node, f"`{name}` is the name of something in the shop already",
                "give one of the two another name",
            )  # fmt: skip
            return False
        return True

    # --- lines of the lot

    def _names(self, count: int) -> list[str]:
        """A name for each side in the order of the corners."""
        names = [f"lot line {i}-{(i + 1) % count}" for i in range(count)]
        table = self._table("lines")
        given: dict[int, str] = {}
        for name, node in table.items() if table is not None else ():
            pair = self.reading.pair(node, "two corners of the lot `[0, 1]`")
            ends = None if pair is None else [item.integer(0, count - 1) for item in pair]
            if ends is None or None in ends:
                continue
            a, b = cast("list[int]", ends)
            side = a if (a + 1) % count == b else b if (b + 1) % count == a else None
            if side is None:
                node.fault(
                    f"corners {a} and {b} of the lot are not neighbours",
                    f"corners count from 0 to {count - 1} in the order of `lot: corners`",
                )
            elif side in given:
                node.fault(f"this line is `{given[side]}` already")
            elif name in SETBACK_WORDS:
                node.faults.add(node.key or node, f"a lot line cannot be called `{name}`")
            else:
                given[side] = names[side] = name
        return names

    def _setbacks(self, known: list[str]) -> tuple[dict[str, float], MeasuredTo]:
        """Setbacks by name [m]; empty where the file states none."""
        table = self._table("setbacks")
        out: dict[str, float] = {}
        measured_to: MeasuredTo = "eave"
        if table is None:
            return out, measured_to
        for name, node in table.items():
            if name == "measured to":
                measured_to = cast(MeasuredTo, node.choice(("wall", "eave")) or "eave")
            elif name not in known and name not in SETBACK_WORDS:
                node.faults.add(
                    node.key or node, f"there is no lot line or building `{name}`",
                    nearest(name, [*known, *SETBACK_WORDS]),
                )  # fmt: skip
            else:
                found = node.length(self.reading.default_unit, least=0.0)
                if found is not None:
                    out[name] = float(found[0])
        if "measured to" not in table:
            self.reading.notes.append(
                "setbacks are measured to the eave, the stricter way, because `site: setbacks` "
                "does not say `measured to: wall`"
            )
        return out, measured_to

    # --- what stands there

    def _buildings(self, table: MappingNode) -> list[SiteBuilding]:
        out = []
        for name, node in table.items():
            body = node.mapping()
            if body is None or not self._free(name, node):
                continue
            body.check_keys(BUILDING_KEYS)
            outline = self._outline(name, body)
            height = self.reading.length(
                body.get("height"), f"{name}: height", height=True, positive=True
            )
            if outline is not None:
                out.append(SiteBuilding(name, outline, height, 0.0, body.line))
        return out

    def _fences(self, table: MappingNode) -> list[SiteBuilding]:
        """Fences as thin buildings, from which a shed keeps off as far as each one says."""
        out = []
        for name, node in table.items():
            body = node.mapping()
            if body is None or not self._free(name, node):
                continue
            body.check_keys(FENCE_KEYS)
            ends = [
                _at(self.reading, self.survey, require(body, key), f"{name}: {key}")
                for key in ("from", "to")
            ]
            height = self.reading.length(
                body.get("height"), f"{name}: height", height=True, positive=True
            )
            keep = self.reading.length(body.get("keep"), f"{name}: keep", least=0.0)
            a, b = ends
            if a is None or b is None:
                continue
            dx, dy = b[0].value - a[0].value, b[1].value - a[1].value
            length = hypot(dx, dy)
            if length < FENCE_THICKNESS:
                body.fault("a fence goes from one point to another")
                continue
            x, y = (-dy / length * FENCE_THICKNESS / 2, dx / length * FENCE_THICKNESS / 2)
            corners = [(a[0] - x, a[1] - y), (b[0] - x, b[1] - y),
                       (b[0] + x, b[1] + y), (a[0] + x, a[1] + y)]  # fmt: skip
            outline = Outline.of(corners)
            apart = 0.0 if keep is None else keep.value
            out.append(SiteBuilding(name, outline, height, apart, body.line))
        return out

    def _outline(self, name: str, body: MappingNode) -> Outline | None:
        """Corners, or the south-west corner and the size along the file's own axes."""
        points: list[Point | None]
        place = body.get("corners")
        if place is not None:
            items = place.sequence()
            if items is None:
                return None
            points = [
                _at(self.reading, self.survey, item, f"{name}: corner {i}")
                for i, item in enumerate(items)
            ]
        else:
            place = require(body, "at")
            pair = self.reading.pair(place, "a point `[x, y]`")
            size = self.reading.pair(
                require(body, "size"), "a size `[west to east, south to north]`"
            )
            if pair is None or size is None:
                return None
            read = self.reading.length
            x = read(pair[0], f"{name} x", signed=True)
            y = read(pair[1], f"{name} y", signed=True)
            wide = read(size[0], f"{name}: west to east", positive=True)
            deep = read(size[1], f"{name}: south to north", positive=True)
            if x is None or y is None or wide is None or deep is None:
                return None
            corners = ((x, y), (x + wide, y), (x + wide, y + deep), (x, y + deep))
            points = [self.survey.to_room(*corner) for corner in corners]
        known = [point for point in points if point is not None]
        if len(known) < len(points):
            return None
        outline = Outline.of(known) if len(known) >= 3 else None
        if outline is None or not Polygon(outline.points).is_valid:
            (place or body).fault("a building has three corners or more, in order")
            return None
        return outline if signed_area(outline.points) > 0 else Outline.of(known[::-1])

    def _trees(self, table: MappingNode) -> list[Spot]:
        out = []
        for name, node in table.items():
            body = node.mapping()
            if body is None or not self._free(name, node):
                continue
            body.check_keys(TREE_KEYS)
            at = _at(self.reading, self.survey, require(body, "at"), name)
            keep = self.reading.length(require(body, "keep"), f"{name}: keep", least=0.0)
            trunk = self.reading.length(body.get("trunk"), f"{name}: trunk", positive=True)
            if at is not None and keep is not None:
                out.append(Spot(name, *at, Affine(keep.value), body.line, trunk or ZERO))
        return out

    def _house_door(self) -> Spot | None:
        node = self.body.get("house door")
        body = None if node is None else node.mapping()
        if body is None:
            return None
        body.check_keys(("at", "keep"))
        at = _at(self.reading, self.survey, require(body, "at"), "house door")
        keep = self.reading.length(body.get("keep"), "house door: keep", least=0.0)
        usual = self.reading.rules.value("door-landing")
        return None if at is None else Spot(
            "house door", *at, Affine(usual if keep is None else keep.value), body.line
        )  # fmt: skip

    # --- noise and limits

    def _limits(self) -> tuple[Limits, float | None]:
        """The limits, and the sound level allowed at windows [dB]."""
        table = self._table("limits")
        if table is None:
            return Limits(), None
        table.check_keys(LIMIT_KEYS)
        height_node = table.get("height")
        height = None if height_node is None else height_node.length(
            self.reading.default_unit, positive=True
        )  # fmt: skip
        return (
            Limits(
                quantity(table.get("area"), "m2"),
                None if height is None else float(height[0]),
                quantity(table.get("noise at lot line"), "dB"),
            ),
            quantity(table.get("noise at windows"), "dB"),
        )

    def _windows(self, limit: float | None) -> list[Receiver]:
        out = []
        table = self._table("windows")
        for name, node in table.items() if table is not None else ():
            body = node.mapping()
            if body is None or not self._free(name, node):
                continue
            body.check_keys(WINDOW_KEYS)
            at = _at(self.reading, self.survey, require(body, "at"), name)
            height = self.reading.length(body.get("height"), f"{name}: height", height=True)
            own = quantity(body.get("limit"), "dB")
            if at is not None:
                out.append(Receiver(name, *at, height or ZERO, own or limit, body.line))
        return out

    def _check_room(self, lot: Outline) -> None:
        """The room lies on its lot."""
        floor, land = floor_polygon(self.room), Polygon(lot.points)
        beyond = floor.difference(land)
        if beyond.area > 0.5 * floor.area:
            self.body.faults.add(
                self.body.key or self.body, "the room does not lie on the lot",
                "the lot counts in the room's coordinates, or in its own with `room at: [x, y]`",
            )  # fmt: skip
        elif beyond.area > TOLERANCE:
            far = max(hypot(*(np.ptp(np.array(beyond.bounds).reshape(2, 2), axis=0))), 0.0)
            self.reading.notes.append(
                f"part of the room lies beyond the lot line ({far * 1000:.0f} mm across): "
                "look at the corners of the lot again"
            )


def read_site(
    reading: Reading, node: Node | None, room: Room, starts: Mapping[str, Point]
) -> Site | None:
    """The site with its shed; None when there is none, or after a fault.

    `starts` are the points from which a circuit may begin, by name [m].
    """
    body = None if node is None else node.mapping()
    if body is None:
        return None
    body.check_keys(SITE_KEYS)
    survey = read_survey_of_room(reading, body)
    if survey is None:
        return None
    corners = read_lot(reading, survey, require(body, "lot"))
    if corners is None:
        return None
    site = SiteReader(reading, room, body, survey).read(corners)
    return read_shed(reading, room, site, body.get("shed"), starts)


def circuit_starts(
    things: Mapping[str, Thing], layout: Layout, places: Sequence[NamedPlace]
) -> dict[str, Point]:
    """Points from which a circuit may begin: middles of things that stand, and named places [m]."""
    starts = {place.name: (place.x, place.y) for place in places}
    for name, thing in things.items():
        pose = layout.pose(name)
        if pose is not None:
            body = frame_of(thing, pose).place(thing.body)
            starts[name] = (
                (body.lowest(0) + body.highest(0)) / 2,
                (body.lowest(1) + body.highest(1)) / 2,
            )
    return starts
