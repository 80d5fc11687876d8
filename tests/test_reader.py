"""Good shop files: every way to write the same shop gives the same numbers, checked by hand.

The inch is 25.4 mm by definition (international yard and pound agreement, 1959).
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon

from floorplan.shop import building
from floorplan.shop.reader import ShopFile, load, parse
from floorplan.shop.scene import frame_of, scene
from floorplan.units import System

INCH, FOOT = 0.0254, 0.3048
SQUARE = np.array([[0, 0], [24, 0], [24, 22], [0, 22]])
DEMOS = sorted((Path(__file__).parents[1] / "layouts").glob("*.yaml"))
ROOM = "shop: s\nroom: {size: [24', 22'], height: 8' 6\"}\n"


def error(file: ShopFile, name: str, axis: str) -> float:
    pose = file.layout.poses[name, "standing"]
    return getattr(pose, axis).error(file.shop.measurements)


def at(file: ShopFile, name: str) -> tuple[float, float, float]:
    """Pose in inches and degrees."""
    pose = file.layout.poses[name, "standing"]
    return pose.x.value / INCH, pose.y.value / INCH, pose.turn


# --- text and units ------------------------------------------------------------------------


def test_byte_order_mark_and_dos_line_ends_make_no_difference() -> None:
    for data in (ROOM, ROOM.replace("\n", "\r\n"), "\ufeff" + ROOM):
        file = parse(data.encode("utf-8"))
        assert file.shop.room.height.value == pytest.approx(102 * INCH, abs=1e-12)
    assert parse(("\ufeff" + ROOM).encode("utf-16-le")).shop.name == "s"


def test_feet_and_inches_need_no_quotes() -> None:
    file = parse("shop: s\nroom:\n  height: 7' 4-1/2\"\n  size: [24' 3\", 22' 1/2\"]\n")
    assert file.shop.room.height.value == pytest.approx(88.5 * INCH, abs=1e-12)
    assert file.shop.room.floor.points.max(axis=0) == pytest.approx([291 * INCH, 264.5 * INCH])


def test_bare_numbers_take_the_unit_of_the_file() -> None:
    file = parse("shop: s\nunits: mm\nroom: {size: [9200, 3400], height: 2750}\n")
    assert file.shop.system is System.METRIC
    assert file.shop.room.floor.points.max(axis=0) == pytest.approx([9.2, 3.4])
    inches = parse("shop: s\nunits: in\nroom: {size: [288, 264], height: 102}\n")
    assert inches.shop.room.height.value == pytest.approx(102 * INCH)


def test_tape_and_own_errors() -> None:
    thing = "equipment:\n  box: {width: 2', depth: 1' +- 1/16 in, height: 3'}\n"
    file = parse(ROOM + thing)
    box = file.shop.thing("box")
    assert box.width.error(file.shop.measurements) == pytest.approx(INCH / 8)
    assert box.depth.error(file.shop.measurements) == pytest.approx(INCH / 16)
    assert box.height.error(file.shop.measurements) == pytest.approx(INCH / 16)
    exact = parse("tape: 0\n" + ROOM + thing.replace(" +- 1/16 in", ""))
    assert exact.shop.thing("box").width.error(exact.shop.measurements) == 0.0
    own = parse("tape: {plan: 1/4 in, height: 0}\n" + ROOM + thing)
    assert own.shop.thing("box").width.error(own.shop.measurements) == pytest.approx(INCH / 4)
    assert own.shop.thing("box").height.error(own.shop.measurements) == 0.0


def test_sizes_of_a_kind_are_assumed_until_measured() -> None:
    file = parse(ROOM + 'equipment:\n  saw: {kind: cabinet table saw, width: 60"}\n')
    saw, known = file.shop.thing("saw"), file.shop.measurements
    assert saw.width.assumed(known) == ()
    assert saw.depth.assumed(known) == ("saw: depth",)
    assert saw.depth.error(known) == 0.0


# --- the room ------------------------------------------------------------------------------


def corners(text: str) -> np.ndarray:
    return parse(f"shop: s\nroom: {{{text}, height: 8'}}\n").shop.room.floor.points / FOOT


def test_size_and_origin() -> None:
    assert corners("size: [24', 22']") == pytest.approx(SQUARE)
    east = corners("size: [24', 22'], origin: south-east")
    assert east.min(axis=0) == pytest.approx([-24, 0])
    assert east.max(axis=0) == pytest.approx([0, 22])
    north = corners("size: [24', 22'], origin: north-west")
    assert north.min(axis=0) == pytest.approx([0, -22])


def test_clockwise_and_counter_clockwise_corners_are_one_room() -> None:
    ring = ["[0, 0]", "[20', 0]", "[20', 10']", "[12', 10']", "[12', 18']", "[0, 18']"]
    seen = []
    for first in range(6):
        turned = ring[first:] + ring[:first]
        for order in (turned, turned[::-1]):
            room = parse(
                f"shop: s\nroom: {{corners: [{', '.join(order)}], height: 8'}}\n"
            ).shop.room
            assert building.signed_area(room.floor.points) == pytest.approx(
                (20 * 10 + 12 * 8) * FOOT**2
            )
            seen.append(
                {
                    wall.name: tuple(round(p.value / FOOT, 6) for p in (*wall.start, *wall.end))
                    for wall in room.walls
                }
            )
    assert all(walls == seen[0] for walls in seen)
    assert seen[0]["north wall 1"] == (12, 18, 0, 18)
    assert seen[0]["north wall 2"] == (20, 10, 12, 10)
    assert seen[0]["east wall 2"] == (12, 10, 12, 18)


def test_names_of_walls_follow_the_corners_in_either_direction() -> None:
    text = "shop: s\nroom: {{corners: [{}], wall names: [{}], height: 8'}}\n"
    one = parse(text.format("[0, 0], [9', 0], [9', 8'], [0, 8']", "street, b, c, d")).shop.room
    two = parse(text.format("[0, 0], [0, 8'], [9', 8'], [9', 0]", "d, c, b, street")).shop.room
    for room in (one, two):
        street = room.wall("street")
        assert {p.value for p in (street.start[1], street.end[1])} == {0.0}


def test_corners_on_one_wall_share_one_number() -> None:
    file = parse("shop: s\nroom: {corners: [[0, 0], [20', 0], [20', 9'], [0, 9']], height: 8'}\n")
    points = file.shop.room.floor
    top = [points.vertex(i)[1] for i in range(4) if points.points[i, 1] > 0]
    assert (top[0] - top[1]).error(file.shop.measurements) == 0.0


def test_walls_walked_round_close_within_the_tape_and_say_so() -> None:
    walls = (
        "walls: [{go: east, length: 24'}, {go: north, length: 22'}, "
        "{go: west, length: %s}, {go: south, length: 22'}]"
    )
    exact = parse("shop: s\nroom: {" + walls % "24'" + ", height: 8'}\n")
    assert exact.shop.notes == ()
    file = parse("shop: s\nroom: {" + walls % "23' 11-7/8\"" + ", height: 8'}\n")
    assert "close within 3.2 mm (0.12 in)" in file.shop.notes[0]
    points = file.shop.room.floor.points / FOOT
    assert points == pytest.approx(SQUARE)


def test_a_wall_may_run_at_an_angle() -> None:
    # 3-4-5 triangle on top of a square corner: east 7, north 4, then west-north-west to (4, 8)
    turn = math.degrees(math.atan2(4, -3))
    text = (
        "shop: s\ntape: 0\nroom:\n  height: 8'\n  walls:\n"
        "    - {go: east, length: 7'}\n    - {go: north, length: 4'}\n"
        f"    - {{go: {turn:.10f}, length: 5'}}\n    - {{go: west, length: 4'}}\n"
        "    - {go: south, length: 8'}\n"
    )
    room = parse(text).shop.room
    assert room.floor.points / FOOT == pytest.approx(
        np.array([[0, 0], [7, 0], [7, 4], [4, 8], [0, 8]]), abs=1e-6
    )


def test_posts_partitions_and_beams() -> None:
    room = parse(
        "shop: s\nroom:\n  size: [20', 20']\n  height: 8'\n"
        "  posts: {pipe: {at: [5', 6'], diameter: 6\"}}\n"
        "  partitions: {stub: {from: [10', 0], to: [10', 4'], thickness: 4\"}}\n"
        "  beams: {beam: {from: [0, 10'], to: [20', 10'], width: 6\", bottom: 7'}}\n"
    ).shop.room
    by_name = {fixture.name: fixture for fixture in room.fixtures}
    pipe = Polygon(by_name["pipe"].outline.points)
    assert pipe.bounds == pytest.approx([60 * INCH, 72 * INCH, 66 * INCH, 78 * INCH])
    assert math.pi * (3 * INCH) ** 2 <= pipe.area <= 1.01 * math.pi * (3 * INCH) ** 2
    stub = Polygon(by_name["stub"].outline.points)
    assert stub.bounds == pytest.approx([118 * INCH, 0, 122 * INCH, 48 * INCH])
    assert by_name["beam"].bottom.value == pytest.approx(7 * FOOT)
    assert by_name["beam"].top.value == pytest.approx(8 * FOOT)


# --- doors ---------------------------------------------------------------------------------


def door_file(wall: str, **given: str) -> ShopFile:
    keys = {"at": "4'", "width": '36"', "height": '80"', "leads to": "outside", **given}
    body = ", ".join(f"{key}: {value}" for key, value in keys.items())
    return parse(ROOM + f"doors:\n  d: {{wall: {wall}, {body}}}\n")


# Facing the door from inside, left hinge: where the pivot is and which way the open leaf points.
HINGES = (
    # wall, hand, pivot [in], shut leaf ends [in], open leaf ends [in]
    ("south", "left", (84, 0), (48, 0), (84, 36)),  # facing south, left is east
    ("south", "right", (48, 0), (84, 0), (48, 36)),
    ("north", "left", (48, 264), (84, 264), (48, 228)),  # facing north, left is west
    ("north", "right", (84, 264), (48, 264), (84, 228)),
    ("west", "left", (0, 48), (0, 84), (36, 48)),  # facing west, left is south
    ("west", "right", (0, 84), (0, 48), (36, 84)),
    ("east", "left", (288, 84), (288, 48), (252, 84)),  # facing east, left is north
    ("east", "right", (288, 48), (288, 84), (252, 48)),
)


@pytest.mark.parametrize(("wall", "hand", "pivot", "shut", "opened"), HINGES)
def test_hinges_as_seen_from_inside(
    wall: str,
    hand: str,
    pivot: tuple[float, float],
    shut: tuple[float, float],
    opened: tuple[float, float],
) -> None:
    file = door_file(wall, hand=hand, swing="in")
    door = file.shop.doors[0]
    point, heading, turn = building.door_hinge(file.shop, door)
    assert [p.value / INCH for p in point] == pytest.approx(pivot, abs=1e-9)
    for angle, end in ((heading, shut), (heading + turn, opened)):
        reach = (
            pivot[0] + 36 * math.cos(math.radians(angle)),
            pivot[1] + 36 * math.sin(math.radians(angle)),
        )
        assert reach == pytest.approx(end, abs=1e-9)
    swing = building.door_swing(file.shop, door)
    assert swing is not None
    quarter = math.pi * (36 * INCH) ** 2 / 4
    assert quarter <= swing.polygon.area <= 1.001 * quarter
    leaf = building.open_leaf(file.shop, door)
    assert leaf is not None
    assert leaf.polygon.area == pytest.approx(36 * INCH * building.LEAF_THICKNESS)
    assert swing.polygon.buffer(1e-9).covers(Polygon(leaf.outline.points).intersection(
        Polygon(swing.outline.points)))  # fmt: skip
    outward = building.door_swing(file.shop, door_file(wall, hand=hand, swing="out").shop.doors[0])
    assert outward is None


@pytest.mark.parametrize(("wall", "hand", "pivot", "shut", "opened"), HINGES)
def test_clear_width_is_lost_on_the_hinge_side(
    wall: str,
    hand: str,
    pivot: tuple[float, float],
    shut: tuple[float, float],
    opened: tuple[float, float],
) -> None:
    """The open leaf stands before the opening at its hinges; the latch side stays whole."""
    file = door_file(wall, hand=hand, **{"clear width": '33"'})
    shop = file.shop
    span = building.clear_span(building.frame(shop.room.wall(shop.doors[0].wall)), shop.doors[0])
    along = 0 if wall in ("south", "north") else 1
    latch, hinge = shut[along], pivot[along]
    ends = sorted((latch, latch + math.copysign(33, hinge - latch)))
    assert [s.value / INCH for s in span] == pytest.approx(ends, abs=1e-9)


def test_clear_width_that_nobody_measured_is_assumed() -> None:
    file = door_file("south")
    door = file.shop.doors[0]
    assert door.clear.value == pytest.approx(34 * INCH)
    assert door.clear.assumed(file.shop.measurements) == ("d: width lost to stop and leaf",)
    assert door_file("south", kind="opening").shop.doors[0].clear.value == pytest.approx(36 * INCH)


def test_the_leaf_of_an_overhead_door_hangs_under_the_ceiling() -> None:
    size = {"kind": "overhead", "width": "8'", "height": "7'"}
    leaf_given = "{reach: 8' 6\", bottom: 7' 1\", top: 8'}"
    file = door_file("south", **size, leaf=leaf_given, **{"side room": '4"'})
    leaf = building.open_leaf(file.shop, file.shop.doors[0])
    assert leaf is not None
    assert [b / INCH for b in leaf.bounds] == pytest.approx([44, 0, 148, 102])
    assert (leaf.bottom.value / INCH, leaf.top.value / INCH) == pytest.approx((85, 96))
    usual = building.open_leaf(file.shop, door_file("south", **size).shop.doors[0])
    assert usual is not None
    # 18 in of track beyond the height, 12 in of headroom (manufacturers' common figures)
    assert usual.bounds[3] / INCH == pytest.approx(84 + 18)
    assert (usual.bottom.value / INCH, usual.top.value / INCH) == pytest.approx((84, 96))


# --- poses ---------------------------------------------------------------------------------


def with_boxes(*rows: str) -> ShopFile:
    lines = "".join(f"  {row}\n" for row in rows)
    return parse(ROOM + "equipment:\n" + lines)


BOX = 'width: 40", depth: 20", height: 30"'


@pytest.mark.parametrize(
    ("turn", "corner"),
    [(0, (100, 70)), (90, (100, 50)), (180, (140, 50)), (270, (120, 90))],
)
def test_a_pose_is_the_most_western_and_southern_point(
    turn: int, corner: tuple[float, float]
) -> None:
    """The rear left corner goes round counter-clockwise while x and y stay."""
    file = with_boxes(f'box: {{{BOX}, at: {{x: 100", y: 50", turn: {turn}}}}}')
    box, pose = file.shop.thing("box"), file.layout.poses["box", "standing"]
    frame = frame_of(box, pose)
    placed = frame.place(box.body).points / INCH
    assert placed.min(axis=0) == pytest.approx([100, 50])
    size = (40, 20) if turn % 180 == 0 else (20, 40)
    assert placed.max(axis=0) == pytest.approx([100 + size[0], 50 + size[1]])
    rear_left = tuple(p.value / INCH for p in frame.point(0.0, 0.0))
    assert rear_left == pytest.approx(corner)


def test_contact_carries_no_error_and_a_gap_only_its_own() -> None:
    file = with_boxes(
        f"a: {{{BOX}, at: {{x: against west wall, y: against south wall}}}}",
        f"b: {{{BOX}, at: {{x: against east wall, y: against north wall, turn: 90}}}}",
        f"c: {{{BOX}, at: {{x: east of a, y: against south wall}}}}",
        f"d: {{{BOX}, at: {{x: against west wall, y: north of a + 1/4 in +- 1/32 in}}}}",
        f"e: {{{BOX}, at: {{wall: west, along: 10'}}}}",
        f'f: {{{BOX}, at: {{x: 34-1/4" +- 0, y: 7\' 2" +- 1/16 in}}}}',
        f"g: {{{BOX}, at: {{x: west of b, y: south of b + 0}}}}",
    )
    known = file.shop.measurements
    assert at(file, "a") == (0, 0, 0)
    assert at(file, "b") == pytest.approx((268, 224, 90))
    assert at(file, "c") == pytest.approx((40, 0, 0))
    assert at(file, "d") == pytest.approx((0, 20.25, 0))
    assert at(file, "e") == pytest.approx((0, 120, 90))
    assert at(file, "f") == pytest.approx((34.25, 86, 0))
    assert at(file, "g") == pytest.approx((228, 204, 0))
    volumes = {name: made[0].volume for name, made in scene(file.shop, file.layout).things.items()}
    east = file.shop.room.wall("east wall").start[0]
    assert (east - volumes["b"].outline.highest(0)).error(known) == 0.0
    assert (volumes["c"].outline.lowest(0) - volumes["a"].outline.highest(0)).error(known) == 0.0
    gap = volumes["d"].outline.lowest(1) - volumes["a"].outline.highest(1)
    assert gap.value == pytest.approx(INCH / 4)
    assert gap.error(known) == pytest.approx(INCH / 32)
    assert error(file, "e", "x") == 0.0
    assert error(file, "e", "y") == pytest.approx(INCH / 8)
    assert error(file, "f", "x") == 0.0
    assert error(file, "f", "y") == pytest.approx(INCH / 16)


@pytest.mark.parametrize(
    ("wall", "place"),
    [
        ("north", (60, 244, 0)),
        ("west", (0, 60, 90)),
        ("south", (60, 0, 180)),
        ("east", (268, 60, 270)),
    ],
)
def test_a_back_to_a_wall(wall: str, place: tuple[float, float, float]) -> None:
    file = with_boxes(f'box: {{{BOX}, at: {{wall: {wall}, along: 60"}}}}')
    assert at(file, "box") == pytest.approx(place)


def test_a_back_to_a_slanted_wall_touches_it_along_its_whole_length() -> None:
    text = (
        "shop: s\nroom: {corners: [[0, 0], [20', 0], [20', 8'], [14', 16'], [0, 16']], "
        "wall names: [s, e, slant, n, w], height: 8'}\nequipment:\n"
        f"  box: {{{BOX}, at: {{wall: slant, along: 1'}}}}\n"
    )
    file = parse(text)
    box = file.shop.thing("box")
    placed = frame_of(box, file.layout.poses["box", "standing"]).place(box.body).points / FOOT
    away = sorted(abs(4 * (x - 20) + 3 * (y - 8)) / 5 for x, y in placed)  # 3-4-5 wall
    assert away == pytest.approx([0, 0, 20 / 12, 20 / 12], abs=1e-9)


# --- openings of things ----------------------------------------------------------------------

# At turn 0: side, hand (seen from before the door), pivot and tip of the leaf opened by 90 degrees,
# for a door of 10 in that begins 4 in along its side of a box 40 wide and 20 deep, [x, y] from its
# rear left corner.
LEAVES = (
    ("front", "left", (4, -20), (4, -30)),
    ("front", "right", (14, -20), (14, -30)),
    ("back", "left", (14, 0), (14, 10)),
    ("back", "right", (4, 0), (4, 10)),
    ("left", "left", (0, -4), (-10, -4)),
    ("left", "right", (0, -14), (-10, -14)),
    ("right", "left", (40, -14), (50, -14)),
    ("right", "right", (40, -4), (50, -4)),
)


@pytest.mark.parametrize("turn", [0, 90])
@pytest.mark.parametrize(("side", "hand", "pivot", "tip"), LEAVES)
def test_doors_of_a_thing_swing_about_their_hinges(
    side: str, hand: str, pivot: tuple[float, float], tip: tuple[float, float], turn: int
) -> None:
    file = with_boxes(
        f'box: {{{BOX}, at: {{x: 100", y: 100", turn: {turn}}}, doors: {{leaf: {{side: {side}, '
        f'at: 4", width: 10", hand: {hand}}}}}}}'
    )
    box = file.shop.thing("box")
    frame = frame_of(box, file.layout.poses["box", "standing"])
    swept = Polygon(frame.place(box.openings[0].sweep).points)

    def placed(point: tuple[float, float]) -> np.ndarray:
        x, y = point
        # by hand: at turn 0 the rear left corner is at (100, 120); at 90 it is at (100, 100)
        return np.array([100 + x, 120 + y] if turn == 0 else [100 - y, 100 + x]) * INCH

    hinge = box.openings[0].hinge
    assert hinge is not None
    assert np.array(hinge) / INCH == pytest.approx(pivot, abs=1e-9)
    corners = np.asarray(swept.exterior.coords)
    for point in (pivot, tip):
        assert np.hypot(*(corners - placed(point)).T).min() < 1e-9
    quarter = math.pi * (10 * INCH) ** 2 / 4
    assert quarter <= swept.area <= 1.001 * quarter
    body = Polygon(frame.place(box.body).points)
    assert swept.intersection(body).area < 1e-4 * quarter + 1e-7


@pytest.mark.parametrize(
    ("side", "bounds"),
    [
        ("front", (104, 79.25, 114, 100)),
        ("back", (104, 120, 114, 140.75)),
        ("left", (79.25, 106, 100, 116)),
        ("right", (140, 106, 160.75, 116)),
    ],
)
def test_a_drawer_comes_out_by_travel_and_front(
    side: str, bounds: tuple[float, float, float, float]
) -> None:
    file = with_boxes(
        f'box: {{{BOX}, at: {{x: 100", y: 100"}}, drawers: {{tray: {{side: {side}, at: 4", '
        'width: 10", travel: 20", front: 3/4", stand: 18"}}}'
    )
    moving = [e for e in scene(file.shop, file.layout).of("moving") if e.name == "tray"]
    assert [b / INCH for b in moving[0].volume.bounds] == pytest.approx(bounds)


def test_parts_zones_and_sizes_that_follow_others() -> None:
    file = with_boxes(
        f'box: {{{BOX}, at: {{x: 100", y: 100"}}, surface: height, '
        'parts: {fence: {at: [10", 2"], size: [4", 16"], bottom: 30", top: height + 3", '
        'travel: {right: 20"}}}, zones: {reach: {side: right, depth: depth + 4", from: 0, '
        'to: depth - 8", away: 2"}}}'
    )
    made = {e.name: e for e in scene(file.shop, file.layout).things["box"]}
    assert [b / INCH for b in made["fence"].volume.bounds] == pytest.approx([110, 102, 134, 118])
    assert made["fence"].volume.top.value == pytest.approx(33 * INCH)
    assert [b / INCH for b in made["reach"].volume.bounds] == pytest.approx([142, 108, 166, 120])
    assert file.shop.thing("box").surface is not None


def test_what_a_kind_has_can_be_taken_away() -> None:
    file = with_boxes("bench: {kind: assembly bench, doors: none, drawers: {upper left: none}}")
    assert [o.name for o in file.shop.thing("bench").openings] == ["upper right"]


# --- tasks and jobs --------------------------------------------------------------------------


def test_things_nobody_names_get_a_task_of_their_own() -> None:
    file = parse(
        ROOM + "equipment:\n  saw: {kind: cabinet table saw}\n  bench: {kind: workbench}\n"
        f"  box: {{{BOX}}}\ntasks:\n  rip: {{uses: [saw]}}\n"
    )
    assert [(t.name, t.uses) for t in file.shop.tasks] == [
        ("rip", ("saw",)),
        ("use bench", ("bench",)),
    ]


def test_walks_as_chains_and_as_counted_legs() -> None:
    file = parse(
        ROOM + f"equipment:\n  a: {{{BOX}}}\n  b: {{{BOX}}}\n  c: {{{BOX}}}\njobs:\n"
        "  j: {walk: [a, b, c, {from: c, to: a, times: 3}]}\n"
    )
    legs = [(leg.start, leg.end, leg.times) for leg in file.shop.jobs[0].legs]
    assert legs == [("a", "b", 1), ("b", "c", 1), ("c", "a", 3)]


def test_a_rule_can_be_changed_softened_or_switched_off() -> None:
    text = "rules: {way-out-width: 30 in, door-swing: off, way-out-height: advised}\n"
    rules = parse(ROOM + text).shop.rules
    assert rules.value("way-out-width") == pytest.approx(30 * INCH)
    assert rules["door-swing"].off
    assert rules["way-out-height"].kind == "advised"


# --- the demo shops ----------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_demo_reads_with_every_thing_in_its_place(path: Path) -> None:
    file = load(path).at(0)
    assert len(file.shop.things) >= 7
    assert {t.name for t in file.shop.things} == {name for name, _ in file.layout.poses}
    assert any(True for _ in file.shop.feeds())
    assert file.shop.jobs
    assert any(door.leads_to == "outside" for door in file.shop.doors)
