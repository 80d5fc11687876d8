"""Reads the room: its outline and walls, posts, partitions and beams, what must stay clear."""

from __future__ import annotations

from math import cos, radians, sin

from shapely.geometry import Polygon
from shapely.validation import explain_validity

from floorplan.geometry.affine import ZERO, Affine, Outline
from floorplan.shop.building import frame, signed_area
from floorplan.shop.model import Fixture, KeepClear, Room, Wall
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.nodes import Node
from floorplan.shop.reading import Corner, Reading, nearest, require
from floorplan.units import TOLERANCE

ROOM_KEYS = (
    "size", "corners", "walls", "wall names", "height", "wall thickness", "origin",
    "partitions", "posts", "beams", "keep clear",
)  # fmt: skip
KEEP_CLEAR_KEYS = (
    "at", "size", "corners", "bottom", "top", "even while working", "from", "until",
)  # fmt: skip
ORIGINS = ("south-west", "south-east", "north-west", "north-east")
COMPASS = {"east": 0.0, "north": 90.0, "west": 180.0, "south": 270.0}
USUAL_WALL = 0.1143
"""Thickness of a wall that nobody measured [m]; 4-1/2 in, common practice, no source."""
LARGEST = 60.0
"""Largest room side taken [m]."""


def read_room(reading: Reading, node: Node | None) -> Room | None:
    """The room, or None after a fault."""
    mapping = None if node is None else node.mapping()
    if mapping is None:
        return None
    mapping.check_keys(ROOM_KEYS)
    height = reading.length(require(mapping, "height"), "room: height", height=True, positive=True)
    corners = _corners(reading, mapping)
    if corners is None or height is None:
        return None
    outline = Outline.of(corners)
    if not _is_simple(mapping, outline):
        return None
    names = _wall_names(mapping, corners)
    if signed_area(outline.points) < 0:
        # the first corner stays the first, each wall keeps its own name
        corners, names = [corners[0], *corners[:0:-1]], names[::-1]
        outline = Outline.of(corners)
    walls = _walls(corners, names)
    thickness = reading.length(
        mapping.get("wall thickness"), "room: wall thickness", positive=True
    ) or reading.measured("room: wall thickness", USUAL_WALL, assumed=True)
    fixtures = _fixtures(reading, mapping, height)
    return Room(outline, walls, height, thickness, tuple(fixtures), mapping.line)


def stand_in(reading: Reading, node: Node | None) -> Room:
    """A room without walls in which everything fits, for reading on after a fault in the room."""
    reading.walls_known = False
    far = Affine(LARGEST)
    around = Outline.of([(-far, -far), (far, -far), (far, far), (-far, far)])
    if isinstance(node, MappingNode):
        _fixtures(reading, node, far)
    return Room(around, (), far, Affine(USUAL_WALL))


def _corners(reading: Reading, mapping: MappingNode) -> list[Corner] | None:
    given = [key for key in ("size", "corners", "walls") if key in mapping]
    if len(given) != 1:
        mapping.faults.add(
            mapping.key or mapping,
            "a room is given by one of `size`, `corners` and `walls`, "
            + ("none is there" if not given else f"not by {' and '.join(given)}"),
            "write `size: [24', 22']`",
        )
        return None
    node = mapping.get(given[0])
    assert node is not None
    if given[0] == "size":
        return _from_size(reading, mapping, node)
    if given[0] == "corners":
        return _from_corners(reading, node)
    return _from_walls(reading, node)


def _from_size(reading: Reading, mapping: MappingNode, node: Node) -> list[Corner] | None:
    pair = reading.pair(node, "a size `[west to east, south to north]`")
    origin_node = mapping.get("origin")
    origin = "south-west" if origin_node is None else origin_node.choice(ORIGINS)
    if pair is None or origin is None:
        return None
    width = reading.length(pair[0], "room: west to east", positive=True, most=LARGEST)
    depth = reading.length(pair[1], "room: south to north", positive=True, most=LARGEST)
    if width is None or depth is None:
        return None
    west, east = (ZERO, width) if "west" in origin else (-width, ZERO)
    south, north = (ZERO, depth) if "south" in origin else (-depth, ZERO)
    return [(west, south), (east, south), (east, north), (west, north)]


def _from_corners(reading: Reading, node: Node, name: str = "room") -> list[Corner] | None:
    items = node.sequence()
    if items is None:
        return None
    if len(items) < 3:
        node.fault(f"an outline has at least three corners, not {len(items)}")
        return None
    points = [reading.point(item, f"{name}: corner {i + 1}") for i, item in enumerate(items)]
    corners = [point for point in points if point is not None]
    ring = reading.ring(node, corners) if len(corners) == len(points) else None
    return None if ring is None else _aligned(reading, ring)


def _aligned(reading: Reading, corners: list[Corner]) -> list[Corner]:
    """Let neighbours that stand at one coordinate share its number: one wall, one measurement."""
    out = [list(corner) for corner in corners]
    for i in range(1, len(out)):
        for axis in (0, 1):
            known = [out[i - 1][axis]] + ([out[0][axis]] if i == len(out) - 1 else [])
            for other in known:
                if _as_good(reading, other, out[i][axis]):
                    out[i][axis] = other
    return [(x, y) for x, y in out]


def _as_good(reading: Reading, a: Affine, b: Affine) -> bool:
    return a.value == b.value and a.error(reading.measurements) == b.error(reading.measurements)


def _from_walls(reading: Reading, node: Node) -> list[Corner] | None:
    """Walls walked round from the origin; the last one is checked against where it must end."""
    items = node.sequence()
    if items is None:
        return None
    if len(items) < 3:
        node.fault("a room has at least three walls")
        return None
    steps = [_step(reading, item, i) for i, item in enumerate(items)]
    corners: list[Corner] = [(ZERO, ZERO)]
    for step in steps:
        if step is None:
            return None
        corners.append((corners[-1][0] + step[0], corners[-1][1] + step[1]))
    off = (corners[-1][0].value ** 2 + corners[-1][1].value ** 2) ** 0.5
    allowed = corners[-1][0].error(reading.measurements) + corners[-1][1].error(
        reading.measurements
    )
    if off > max(allowed, TOLERANCE):
        node.fault(
            f"the walls do not close: the last one ends {off * 1000:.0f} mm "
            f"({off / 0.0254:.2f} in) from the first corner, the tape explains "
            f"{allowed * 1000:.0f} mm",
            "measure the walls again",
        )
        return None
    if off > TOLERANCE:
        reading.notes.append(
            f"the walls close within {off * 1000:.1f} mm ({off / 0.0254:.2f} in); "
            "the last two walls take the difference"
        )
    return [*corners[:-2], _squared(corners[-2], steps[-1])]


def _squared(corner: Corner, step: Corner | None) -> Corner:
    """The last corner, put on the line on which the last wall runs to the first one."""
    assert step is not None
    return (
        ZERO if step[0].value == 0.0 else corner[0],
        ZERO if step[1].value == 0.0 else corner[1],
    )


def _step(reading: Reading, item: Node, index: int) -> Corner | None:
    wall = item.mapping()
    if wall is None:
        return None
    wall.check_keys(("name", "go", "length"))
    go = require(wall, "go")
    length = reading.length(
        require(wall, "length"), f"room: wall {index + 1}", positive=True, most=LARGEST
    )
    if go is None or length is None:
        return None
    text = go.text()
    if text is None:
        return None
    angle = COMPASS.get(text.lower())
    if angle is None:
        angle = go.angle()
        if angle is None:
            return None
    x, y = cos(radians(angle)), sin(radians(angle))
    return (
        length * (0.0 if abs(x) < 1e-12 else x),
        length * (0.0 if abs(y) < 1e-12 else y),
    )


def _is_simple(mapping: MappingNode, outline: Outline) -> bool:
    polygon = Polygon(outline.points)
    place = mapping.get("corners") or mapping.get("walls") or mapping.get("size") or mapping
    if not polygon.is_valid:
        why = explain_validity(polygon).split("[")[0].lower()
        place.fault(
            f"the outline of the room crosses or touches itself ({why})",
            "give the corners in order, walking round the room",
        )
        return False
    if polygon.area < 0.5:
        place.fault("the room has no floor to speak of", "check the units of its size")
        return False
    return True


def _wall_names(mapping: MappingNode, corners: list[Corner]) -> list[str]:
    """Names given in the file: under `wall names`, or with each wall walked."""
    given = mapping.get("wall names")
    if given is not None:
        told = given.strings()
        if told is None:
            return []
        if len(told) != len(corners) or len(set(told)) != len(told):
            given.fault(f"{len(corners)} different names are needed, one for each wall in order")
            return []
        return list(told)
    node = mapping.get("walls")
    items = None if node is None else node.sequence()
    if not items:
        return []
    names: list[str] = []
    for item in items:
        wall = item.mapping()
        name = None if wall is None else wall.get("name")
        text = None if name is None else name.name()
        if text is None:
            return []
        names.append(text)
    if len(set(names)) != len(names):
        assert node is not None
        node.fault("two walls have the same name")
        return []
    return names


def _walls(corners: list[Corner], names: list[str]) -> tuple[Wall, ...]:
    count = len(corners)
    if not names:
        names = _compass_names(corners)
    return tuple(Wall(names[i], corners[i], corners[(i + 1) % count]) for i in range(count))


def _compass_names(corners: list[Corner]) -> list[str]:
    """Compass name by the way each wall faces out.

    Several that face alike are numbered from the west or south, so that it does not matter at
    which corner somebody began.
    """
    sides: list[str] = []
    middles: list[tuple[float, float]] = []
    for i, (x, y) in enumerate(corners):
        nx, ny = corners[(i + 1) % len(corners)]
        dx, dy = nx.value - x.value, ny.value - y.value
        across = abs(dy) > abs(dx)
        sides.append(("east" if dy > 0 else "west") if across else ("south" if dx > 0 else "north"))
        mx, my = (x.value + nx.value) / 2, (y.value + ny.value) / 2
        middles.append((my, mx) if across else (mx, my))
    out = []
    for side, middle in zip(sides, middles, strict=True):
        alike = sorted(m for s, m in zip(sides, middles, strict=True) if s == side)
        number = "" if len(alike) == 1 else f" {alike.index(middle) + 1}"
        out.append(f"{side} wall{number}")
    return out


def find_wall(reading: Reading, room: Room, node: Node | None) -> Wall | None:
    """The wall that a file names; `north` is short for `north wall`."""
    text = None if node is None else node.name()
    if text is None or node is None:
        return None
    wall = match_wall(room, text)
    if wall is None:
        fault_unknown_wall(reading, room, node, text)
    return wall


def fault_unknown_wall(reading: Reading, room: Room, node: Node, text: str) -> None:
    """Note that no wall, or more than one, has this name."""
    if not reading.walls_known:
        return
    folded = " ".join(text.lower().split()).removesuffix(" wall")
    alike = [w.name for w in room.walls if w.name.lower().startswith(f"{folded} wall ")]
    if alike:
        node.fault(f"{len(alike)} walls face {folded}", f"write one of {', '.join(alike)}")
    else:
        node.fault(f"there is no wall `{text}`", nearest(text, [w.name for w in room.walls]))


def match_wall(room: Room, text: str) -> Wall | None:
    """The wall of that name, written with or without the word `wall`."""
    folded = " ".join(text.lower().split())
    for wall in room.walls:
        name = wall.name.lower()
        if folded in (name, name.replace(" wall", ""), name.removesuffix(" wall")):
            return wall
    return None


# --- posts, partitions, beams --------------------------------------------------------------


def _fixtures(reading: Reading, mapping: MappingNode, height: Affine) -> list[Fixture]:
    out: list[Fixture] = []
    for key, read in (("partitions", _strip), ("posts", _post), ("beams", _strip)):
        node = mapping.get(key)
        table = None if node is None else node.mapping()
        if table is None:
            continue
        for name, entry in table.items():
            body = entry.mapping()
            made = None if body is None else read(reading, name, body, height, key)
            if made is not None:
                out.append(made)
    return out


def _band(
    reading: Reading, name: str, body: MappingNode, height: Affine, key: str
) -> tuple[Affine, Affine] | None:
    low_node = body.get("bottom") if key != "beams" else require(body, "bottom")
    low = reading.length(low_node, f"{name}: bottom", height=True) if low_node else ZERO
    high_node = body.get("top")
    high = reading.length(high_node, f"{name}: top", height=True) if high_node else height
    if low is None or high is None or (key == "beams" and low_node is None):
        return None
    if high.value <= low.value + TOLERANCE:
        (high_node or low_node or body).fault(
            f"the top of `{name}` is not above its bottom", "are the two heights swapped?"
        )
        return None
    return low, high


def _post(
    reading: Reading, name: str, body: MappingNode, height: Affine, key: str
) -> Fixture | None:
    body.check_keys(("at", "size", "diameter", "bottom", "top"))
    at = reading.point(require(body, "at"), name)
    band = _band(reading, name, body, height, key)
    if at is None or band is None:
        return None
    if "diameter" in body:
        across = reading.length(body.get("diameter"), f"{name}: diameter", positive=True)
        if across is None:
            return None
        return Fixture(name, round_outline(at, across), *band, body.line)
    pair = reading.pair(require(body, "size"), "a size `[west to east, south to north]`")
    if pair is None:
        return None
    width = reading.length(pair[0], f"{name}: west to east", positive=True)
    depth = reading.length(pair[1], f"{name}: south to north", positive=True)
    if width is None or depth is None:
        return None
    outline = Outline.box(left=at[0], right=at[0] + width, south=at[1], north=at[1] + depth)
    return Fixture(name, outline, *band, body.line)


def round_outline(at: Corner, across: Affine, sides: int = 24) -> Outline:
    """A polygon round a circle whose west and south points are at `at` [m]."""
    radius = across / 2
    grow = 1.0 / cos(radians(180.0 / sides))
    points = []
    for i in range(sides):
        # an odd half step sets flat sides, so that the four compass points are exact
        angle = radians(360.0 * (i + 0.5) / sides)
        points.append(
            (
                at[0] + radius + radius * (cos(angle) * grow),
                at[1] + radius + radius * (sin(angle) * grow),
            )
        )
    return Outline.of(points)


def _strip(
    reading: Reading, name: str, body: MappingNode, height: Affine, key: str
) -> Fixture | None:
    body.check_keys(("from", "to", "thickness", "width", "bottom", "top"))
    start = reading.point(require(body, "from"), f"{name}: from")
    end = reading.point(require(body, "to"), f"{name}: to")
    thick_node = body.get("thickness") or require(body, "width")
    thick = reading.length(thick_node, f"{name}: width", positive=True)
    band = _band(reading, name, body, height, key)
    if start is None or end is None or thick is None or band is None:
        return None
    dx, dy = end[0].value - start[0].value, end[1].value - start[1].value
    if (dx * dx + dy * dy) ** 0.5 < TOLERANCE:
        body.fault(f"`{name}` begins and ends at the same point")
        return None
    line = frame(Wall(name, start, end))
    return Fixture(name, line.box(0.0, line.length, thick / 2, -(thick / 2)), *band, body.line)


def read_keep_clears(reading: Reading, node: Node | None, height: Affine) -> list[KeepClear]:
    """Keep-clears drawn by hand, in room coordinates."""
    mapping = None if node is None else node.mapping()
    table_node = None if mapping is None else mapping.get("keep clear")
    table = None if table_node is None else table_node.mapping()
    out: list[KeepClear] = []
    for name, entry in table.items() if table is not None else ():
        body = entry.mapping()
        if body is None:
            continue
        body.check_keys(
            ("at", "size", "corners", "bottom", "top", "even while working", "from", "until")
        )
        outline = read_area(reading, name, body)
        band = _band(reading, name, body, height, "keep clear")
        even_node = body.get("even while working")
        even = False if even_node is None else even_node.yes_no()
        if outline is not None and band is not None and even is not None:
            out.append(KeepClear(name, outline, *band, "keep-clear-free", even, line=body.line))
    return out


def read_area(reading: Reading, name: str, body: MappingNode) -> Outline | None:
    """An area given by corners, or by its south-west corner and size."""
    if "corners" in body:
        node = body.get("corners")
        assert node is not None
        corners = _from_corners(reading, node, name)
        if corners is None:
            return None
        outline = Outline.of(corners)
        if not Polygon(outline.points).is_valid:
            node.fault("the outline crosses or touches itself", "give the corners in order")
            return None
        return outline if signed_area(outline.points) > 0 else Outline.of(corners[::-1])
    at = reading.point(require(body, "at"), name)
    pair = reading.pair(require(body, "size"), "a size `[west to east, south to north]`")
    if at is None or pair is None:
        return None
    width = reading.length(pair[0], f"{name}: west to east", positive=True)
    depth = reading.length(pair[1], f"{name}: south to north", positive=True)
    if width is None or depth is None:
        return None
    return Outline.box(left=at[0], right=at[0] + width, south=at[1], north=at[1] + depth)
