"""Who may overlap whom, cell by cell, and when and how high things are there.

Each case is two boxes that overlap in plan or in height in a way that can be seen at a glance.
"""

from __future__ import annotations

from itertools import product

import pytest

from floorplan.checks.judge import judge
from floorplan.geometry.affine import Affine, Outline
from floorplan.geometry.volume import Volume, conflict
from floorplan.shop.model import AT_REST
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.scene import (
    ALWAYS,
    Element,
    Nature,
    Presence,
    Scene,
    may_not_overlap,
    scene,
)

ROOM = "shop: s\ntape: 0\nroom: {size: [24', 22'], height: 9'}\n"
UNIT = Volume(Outline.box(left=0.0, right=1.0, south=0.0, north=1.0), Affine(0.0), Affine(1.0))
SAW = Presence(frozenset({"saw"}))
GLUE = Presence(frozenset({"glue"}))


def element(owner: str, nature: Nature, presence: Presence = ALWAYS, **more: bool) -> Element:
    return Element(owner, "it", nature, UNIT, presence, **more)  # type: ignore[arg-type]


# nature, nature, one conflict or none: presences are given where they matter
CELLS = (
    ("solid", ALWAYS, "solid", ALWAYS, True),
    ("solid", SAW, "solid", ALWAYS, True),
    ("solid", SAW, "solid", GLUE, False),  # never there at the same time
    ("solid", ALWAYS, "keep-clear", ALWAYS, True),
    ("solid", SAW, "keep-clear", ALWAYS, True),  # at any time, things on wheels included
    ("solid", ALWAYS, "zone", SAW, True),
    ("solid", SAW, "zone", SAW, True),
    ("solid", GLUE, "zone", SAW, False),
    ("solid", ALWAYS, "moving", SAW, True),
    ("keep-clear", ALWAYS, "keep-clear", ALWAYS, False),
    ("keep-clear", ALWAYS, "zone", SAW, False),
    ("keep-clear", ALWAYS, "moving", SAW, False),
    ("zone", SAW, "zone", SAW, True),
    ("zone", SAW, "zone", GLUE, False),
)


@pytest.mark.parametrize(("one", "when", "other", "other_when", "conflicts"), CELLS)
def test_who_may_overlap_whom(
    one: Nature, when: Presence, other: Nature, other_when: Presence, conflicts: bool
) -> None:
    a, b = element("a", one, when), element("b", other, other_when)
    assert may_not_overlap(a, b) is conflicts
    assert may_not_overlap(b, a) is conflicts


@pytest.mark.parametrize(
    ("one", "other"), tuple(product(("solid", "keep-clear", "zone", "moving"), repeat=2))
)
def test_a_thing_is_never_in_its_own_way(one: Nature, other: Nature) -> None:
    assert not may_not_overlap(element("a", one), element("a", other))


def test_only_a_part_that_blocks_the_feed_is_in_the_way_of_its_own_zones() -> None:
    part = Element("a", "pillar", "solid", UNIT, blocks_feed=True)
    for purpose, blocked in (("infeed", True), ("outfeed", True), ("stand", False)):
        zone = Element("a", "zone", "zone", UNIT, SAW, purpose=purpose)
        assert may_not_overlap(part, zone) is blocked
        assert may_not_overlap(zone, part) is blocked
        assert not may_not_overlap(element("a", "solid"), zone)


@pytest.mark.parametrize("nature", ["solid", "zone", "moving"])
def test_even_while_working_keeps_out_what_moves_and_who_works(nature: Nature) -> None:
    keep = element("k", "keep-clear", even_while_working=True)
    assert may_not_overlap(keep, element("a", nature, SAW))
    assert not may_not_overlap(keep, element("k2", "keep-clear"))


def test_presence() -> None:
    assert ALWAYS.during(AT_REST)
    assert SAW.during("saw")
    assert not SAW.during(AT_REST)
    assert not Presence(None, frozenset({"saw"})).meets(SAW)
    assert Presence(None, frozenset({"saw"})).meets(GLUE)
    assert SAW.within(frozenset({"glue"})).only == frozenset()


# --- heights ---------------------------------------------------------------------------------


def in_scene(*rows: str, tasks: str = "") -> tuple[ShopFile, Scene]:
    text = ROOM + "equipment:\n" + "".join(f"  {row}\n" for row in rows) + tasks
    file = parse(text)
    return file, scene(file.shop, file.layout)


def named(made: Scene, owner: str, start: str) -> Element:
    return next(e for e in made.things[owner] if e.name.startswith(start))


@pytest.mark.parametrize(
    ("height", "blocked"), [('33-7/8"', False), ('34"', False), ('34-1/8"', True)]
)
def test_a_sheet_passes_over_a_lower_bench_and_stops_at_a_higher_one(
    height: str, blocked: bool
) -> None:
    _, made = in_scene(
        "saw: {kind: cabinet table saw, height: 34\", surface: 34\", at: {x: 8', y: 9'}}",
        f"bench: {{width: 72\", depth: 48\", height: {height}, at: {{x: 8', y: 12'}}}}",
    )
    outfeed = next(e for e in made.things["saw"] if e.purpose == "outfeed")
    bench = named(made, "bench", "body")
    assert outfeed.volume.polygon.intersection(bench.volume.polygon).area > 0.5
    assert may_not_overlap(outfeed, bench)
    assert conflict(outfeed.volume, bench.volume) is blocked


@pytest.mark.parametrize(("bottom", "blocked"), [('35"', False), ('34"', True)])
def test_a_wall_cabinet_hangs_over_a_bench(bottom: str, blocked: bool) -> None:
    file, made = in_scene(
        'bench: {width: 60", depth: 24", height: 35", at: {x: 0, y: against north wall}}',
        f'cabinet: {{width: 40", depth: 14", bottom: {bottom}, height: 80", '
        'at: {x: 10", y: against north wall}}',
    )
    assert conflict(named(made, "bench", "body").volume, named(made, "cabinet", "body").volume) is (
        blocked
    )
    clashes = [f for f in judge(file.shop, file.layout).failing if f.check == "solids"]
    assert bool(clashes) is blocked


# --- tasks -----------------------------------------------------------------------------------

TWO = (
    'a: {width: 20", depth: 20", height: 30", at: {x: 50", y: 50"}, '
    'zones: {front: {side: front, depth: 24"}}}',
    'b: {width: 20", depth: 20", height: 30", at: {x: 50", y: 0}, '
    'zones: {rear: {side: back, depth: 24"}}}',
)


@pytest.mark.parametrize(
    ("tasks", "conflicts"),
    [
        ("tasks: {both: {uses: [a, b]}}\n", True),
        ("tasks: {one: {uses: [a]}, two: {uses: [b]}}\n", False),
        ("tasks: {one: {uses: [a], together with: [two]}, two: {uses: [b]}}\n", True),
        ("tasks: {one: {uses: [a]}, two: {uses: [b], together with: one}}\n", True),
        ("", False),
    ],
)
def test_zones_conflict_within_one_task_or_tasks_that_go_on_together(
    tasks: str, conflicts: bool
) -> None:
    file, made = in_scene(*TWO, tasks=tasks)
    front, rear = named(made, "a", "front"), named(made, "b", "rear")
    assert conflict(front.volume, rear.volume)
    assert may_not_overlap(front, rear) is conflicts
    found = [f for f in judge(file.shop, file.layout).failing if f.check == "zones"]
    assert bool(found) is conflicts


CAR = (
    'car: {width: 70", depth: 180", height: 58", at: {x: 60", y: 10"}%s}',
    'cart: {width: 20", depth: 20", height: 30", at: {x: 80", y: 80"}, parked: {x: 200", y: 200"}}',
)


def test_a_car_is_there_in_its_task_only() -> None:
    tasks = "tasks: {car in: {present: [car], uses: []}, work: {uses: []}}\n"
    _, made = in_scene(*(row.replace("%s", "") for row in CAR), tasks=tasks)
    body = named(made, "car", "body")
    during = {task: body in made.solids(task) for task in (AT_REST, "car in", "work")}
    assert during == {AT_REST: False, "car in": True, "work": False}
    again = in_scene(
        CAR[0] % ", only in: [car in]", CAR[1], tasks="tasks: {car in: {}, work: {}}\n"
    )
    assert named(again[1], "car", "body").presence.only == frozenset({"car in"})


@pytest.mark.parametrize(
    ("park", "clash"), [("", True), (", parked: [cart]", False), (", away: [cart]", False)]
)
def test_what_is_parked_or_away_leaves_room_for_the_car(park: str, clash: bool) -> None:
    tasks = f"tasks: {{car in: {{present: [car]{park}}}}}\n"
    file, made = in_scene(*(row.replace("%s", "") for row in CAR), tasks=tasks)
    carts = [e for e in made.things["cart"] if e.name == "body"]
    car = named(made, "car", "body")
    at_rest = [e for e in carts if e.presence.during(AT_REST)]
    in_task = [e for e in carts if e.presence.during("car in")]
    assert [round(e.volume.bounds[0] / 0.0254) for e in at_rest] == [80]
    expected = [80] if clash else [200] if "parked" in park else []
    assert [round(e.volume.bounds[0] / 0.0254) for e in in_task] == expected
    clashes = [e for e in carts if may_not_overlap(e, car) and conflict(e.volume, car.volume)]
    assert bool(clashes) is clash
    failing = [f for f in judge(file.shop, file.layout).failing if f.check == "solids"]
    assert bool(failing) is clash


def test_things_without_a_pose_are_left_out_and_named() -> None:
    _, made = in_scene("a: {width: 1', depth: 1', height: 1'}", TWO[1])
    assert made.absent == ("a",)
    assert "a" not in made.things


# --- what is fed -------------------------------------------------------------------------------


def test_a_full_sheet_takes_its_length_and_the_rooms_before_and_behind() -> None:
    """96 in of sheet with 24 in to stand behind it, and 96 in with 6 in of push-through."""
    _, made = in_scene(
        'saw: {width: 40", depth: 30", height: 34", surface: 34", at: {x: 10\', y: 11\'}, '
        'blade: {at: [20", 15"]}}',
        tasks='stock:\n  sheet: {length: 96", width: 48", thickness: 3/4"}\n'
        'jobs:\n  j: {feed: {stock: sheet, through: saw, offset: 18"}}\n',
    )
    by_purpose = {e.purpose: e.volume for e in made.things["saw"] if e.nature == "zone"}
    inches = {key: [b / 0.0254 for b in v.bounds] for key, v in by_purpose.items()}
    blade_x, blade_y = 140.0, 147.0
    # the fence is on the right: 18 in to it, the other 30 in to the left
    assert inches["infeed"] == pytest.approx([blade_x - 30, blade_y - 96, blade_x + 18, blade_y])
    assert inches["outfeed"] == pytest.approx([blade_x - 30, blade_y, blade_x + 18, blade_y + 102])
    assert inches["push"][1::2] == pytest.approx([blade_y - 120, blade_y - 96])
    assert by_purpose["push"].bottom.value == 0.0
    assert by_purpose["outfeed"].top.value / 0.0254 == pytest.approx(34.75)


@pytest.mark.parametrize("feed", ["left", "right"])
def test_who_feeds_along_a_fence_stands_before_it(feed: str) -> None:
    """The work runs along the fence; nobody needs room behind the fence, at the wall."""
    _, made = in_scene(
        'router: {width: 32", depth: 24", height: 36", surface: 36", '
        f'at: {{x: 10\', y: against north wall}}, blade: {{at: [16", 10"], feed: {feed}}}, '
        'usual feeds: [{length: 48", width: 4", thickness: 1"}]}',
    )
    push = next(e.volume for e in made.things["router"] if e.purpose == "push")
    lane = next(e.volume for e in made.things["router"] if e.purpose == "infeed")
    assert push.bounds[3] == pytest.approx(lane.bounds[3])
    side = push.bounds[0] >= lane.bounds[2] if feed == "left" else push.bounds[2] <= lane.bounds[0]
    assert side
