"""Places against walls, and past what is rolled or carried: rooms worked by hand."""

from pathlib import Path

import pytest
import shapely

from floorplan.checks import carrying, rolling
from floorplan.checks.judge import judge, judge_scene
from floorplan.search.spots import Best, spots
from floorplan.search.spots_stages import spots_at_all
from floorplan.search.subject import Subject
from floorplan.search.ways_kept import WaysKept
from floorplan.shop.model import Pose
from floorplan.shop.reader import load, parse
from floorplan.shop.scene import scene

LAYOUTS = Path(__file__).parents[1] / "layouts"

NICHE = """
shop: niche
units: m
tape: 0.004
room: {{size: [4, 3], height: 2.5}}
equipment:
  pier: {{width: {pier}, depth: 2.4, height: 2.5, at: {{x: 0, y: 0, turn: 0}}}}
  cabinet: {{width: 1.0, depth: 0.5, height: 1.0, at: {{{pose}, turn: 0}},
            keep clear: {{side strip: {{side: left, depth: 0.3}}}}}}
"""


@pytest.mark.parametrize(("pier", "against"), [(2.680, True), (2.690, False)])
def test_a_niche_as_wide_as_the_thing_and_what_it_keeps_clear(pier, against):
    """East of a pier 4 - 2.68 = 1.32 m are left for 1.0 m of cabinet and 0.3 m of strip.

    The room's width, the cabinet's, the strip's and the pier's are each off by up to 4 mm: pushed
    against the wall, which needs nothing there, 16 mm are needed towards the pier.
    """
    text = NICHE.format(pier=pier, pose="x: against east wall, y: 1.0")
    file = parse(text)
    at = spots(file.shop, file.layout, "cabinet", turns=(0,)).turns[0]
    place = shapely.Point(3.0, 1.0)
    there = [c for c in at.contacts if c.places.dwithin(place, 1e-6)]
    assert [c.walls for c in there] == ([("east wall",)] if against else [])
    assert not at.region.dwithin(place, 1e-3)
    verdicts = {
        f.verdict
        for f in judge(file.shop, file.layout).findings
        if f.kind == "required" and "cabinet" in f.about
    }
    assert verdicts == ({"passes"} if against else {"passes", "unsure"})


def test_a_place_against_a_wall_is_judged_so():
    """Only as long as it is pushed against the wall the tape has no say in that gap."""
    file = parse(NICHE.format(pier=2.680, pose="x: 3, y: 1"))
    found = spots(file.shop, file.layout, "cabinet", turns=(0,))
    verdicts = []
    for walls in (("east wall",), ()):
        layout = found.placed(Best(3.0, 1.0, 0.0, True, walls), 0.0)
        made = judge(file.shop, layout).findings
        verdicts.append({f.verdict for f in made if f.kind == "required" and "cabinet" in f.about})
    assert verdicts[0] == {"passes"}
    assert "unsure" in verdicts[1]
    along = [c for c in found.turns[0].contacts if c.walls == ("north wall",)]
    assert along


ROLLED = """
shop: rolled past
units: m
tape: 0
room: {size: [6, 3], height: 2.5}
equipment:
  cart: {width: 0.7, depth: 0.7, height: 0.9, at: {x: 0.2, y: 1.1, turn: 0},
         parked: {x: 5.2, y: 1.1, turn: 0}}
  bench: {width: 0.8, depth: 1.7, height: 0.9, at: {x: 2.5, y: 0, turn: 0}}
tasks: {wide: {uses: [bench], parked: [cart]}}
"""


def rolls_at(file, thing, x, y, turn=0.0):
    made = scene(file.shop, file.layout.with_pose(thing, Pose.at(x, y, turn)))
    return {f.verdict for f in judge_scene(made, [("rolling", rolling.check)]).findings}


@pytest.mark.parametrize(("depth", "certain", "shut"), [(0.9, 0.1, None), (1.7, None, 0.65)])
def test_a_bench_stays_out_of_the_way_of_what_is_rolled_past(depth, certain, shut):
    """A cart of 0.7 m needs as much beside a bench: 0.9 m of bench leave the straight way free.

    With 1.7 m in 3 m of room 0.65 m are left on either side of a bench in the middle.
    """
    file = parse(ROLLED.replace("depth: 1.7", f"depth: {depth}"))
    at = spots(file.shop, file.layout, "bench", turns=(0,)).turns[0]
    for y in (0.01, 0.1, 0.65, 1.15, 1.29):
        inside = at.region.contains(shapely.Point(2.6, y))
        assert not inside or rolls_at(file, "bench", 2.6, y) == {"passes"}, y
        if y == certain:
            assert inside
        if y == shut:
            assert not inside
            assert at.unsure.dwithin(shapely.Point(2.6, y), 1e-6)
            assert rolls_at(file, "bench", 2.6, y) == {"fails"}


def test_a_cart_is_rolled_from_where_it_gets_out():
    """West of a bench that leaves 0.3 m nobody rolls a cart of 0.7 m east.

    So all 2.5 - 0.7 by 3 - 0.7 m of places there are ruled out, no place in them being unsure.
    """
    file = parse(ROLLED.replace("depth: 1.7", "depth: 2.7"))
    at = spots(file.shop, file.layout, "cart", turns=(0,)).turns[0]
    assert at.region.bounds[0] > 3.3 - 1e-6
    assert at.unsure.is_empty or at.unsure.bounds[0] > 1.8
    shut = [part for part in at.ruled_out if part.kind == "rolling"]
    assert [part.name for part in shut] == ["cart rolled for wide"]
    assert shut[0].area.area == pytest.approx(1.8 * 2.3, rel=1e-3)
    for x, y in ((3.6, 0.3), (4.0, 2.0), (5.0, 1.0)):
        assert at.region.contains(shapely.Point(x, y))


@pytest.mark.slow
def test_a_cart_at_its_places_by_the_rolling_check():
    """Every place that is certain rolls, those that are ruled out do not."""
    file = parse(ROLLED.replace("depth: 1.7", "depth: 2.7"))
    for x, y in ((3.6, 0.3), (4.0, 2.0), (5.0, 1.0)):
        assert rolls_at(file, "cart", x, y) == {"passes"}
    for x, y in ((0.9, 1.0), (0.02, 0.02), (1.78, 2.28)):
        assert rolls_at(file, "cart", x, y) == {"fails"}
    turn, best = spots_at_all([(file.shop, file.layout)], "cart").best
    assert best.certain
    assert rolls_at(file, "cart", best.x, best.y, turn) == {"passes"}


CARRIED = """
shop: carried past
units: m
tape: 0.004
room: {size: [6, 4], height: 2.5}
doors: {way: {wall: south, at: 0.4, width: 1.2, height: 2.1, kind: opening, leads to: outside}}
stock: {panel: {length: 1.6, width: 0.9, thickness: 0.018}}
places: {stack: {x: 5, y: 3.2}}
equipment:
  post: {width: 0.4, depth: 1.9, height: 2, at: {x: 3, y: 0, turn: 0}}
  bench: {width: 1.2, depth: 0.5, height: 1.4, at: {x: 4, y: 0.1, turn: 0}}
jobs: {box: {carry: [{stock: panel, from: way, to: stack, how: flat}]}}
"""


@pytest.mark.slow
def test_a_bench_stays_out_of_the_way_of_what_is_carried_past():
    """North of the post 1.0 m is enough for a panel of 0.9 m, 0.9 m is not sure."""
    file = parse(CARRIED)
    at = spots(file.shop, file.layout, "bench", turns=(0,)).turns[0]
    for x, y in ((4.3, 0.3), (4.5, 1.0), (3.6, 0.5)):
        assert at.region.contains(shapely.Point(x, y)), (x, y)
    for x, y in ((2.6, 2.6), (2.6, 2.1), (2.6, 3.0), (0.5, 0.3)):
        assert not at.region.contains(shapely.Point(x, y)), (x, y)
    inner = at.region.buffer(-0.02)
    for share in (0.1, 0.4, 0.7):
        point = inner.boundary.interpolate(share, normalized=True)
        made = scene(file.shop, file.layout.with_pose("bench", Pose.at(point.x, point.y, 0.0)))
        assert {f.verdict for f in carrying.check(made).findings} == {"passes"}, point


@pytest.mark.slow
def test_nobody_stands_beyond_an_open_door_to_push():
    """South of the planer whoever pushes a rail would stand outside: ruled out, not unsure."""
    file = load(LAYOUTS / "two-car-garage.yaml")
    at = spots(file.shop, file.layout, "planer", turns=(0,)).turns[0]
    place = shapely.Point(1.865, 0.94)
    assert not at.unsure.dwithin(place, 0.3)
    told = [part.name for part in at.ruled_out if part.area.contains(place)]
    assert told == ["way out from planer"]
    made = judge(file.shop, file.layout.with_pose("planer", Pose.at(1.865, 0.94, 0.0)))
    wrong = [f for f in made.findings if f.kind == "required" and f.verdict != "passes"]
    assert ("way-out", "fails") in {(f.check, f.verdict) for f in wrong if "planer" in f.about}


def test_a_way_found_at_one_turn_proves_places_at_another():
    """The cart's way north of a bench across is found once and holds for the bench turned too."""
    file = parse(ROLLED)
    kept = WaysKept(Subject(file.shop, file.layout, ("bench",), reserve=True))
    wanted = kept._wanted[0]
    first = len(wanted.ways)
    kept.sort(0.0, shapely.box(2.4, 0.0, 2.6, 0.3))
    assert len(wanted.ways) > first
    # turned and along the south wall it is clear of that way, which swings out 0.5 m east of it
    place = shapely.Point(2.15, 0.01)
    assert not kept.sort(90.0, place, tries=0).passes.is_empty
    assert rolls_at(file, "bench", place.x, place.y, 90.0) == {"passes"}
    wanted.ways[first:] = []
    assert kept.sort(90.0, place, tries=0).passes.is_empty
