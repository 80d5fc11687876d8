"""Regions of places in simple rooms, worked out by hand; the arithmetic stands beside each.

Places are the west and south points of a thing's body, so a body `w` wide in a room `W` wide may
have its x anywhere from 0 to W - w.
"""

import math

import pytest
import shapely
from shapely.geometry import box

from floorplan.search.spots import spots
from floorplan.shop.reader import parse

SAME = 2e-5
ROOM = """
shop: by hand
units: m
tape: 0
room: {size: [4, 3], height: 2.5}
"""


def places(text, thing, **options):
    """Answer for one thing of a shop in the room of 4 m x 3 m, rules about ways out left aside."""
    file = parse(ROOM + text)
    return spots(file.shop, file.layout, thing, **options)


def same(region, expected):
    """Whether two regions differ by no more than the tolerance."""
    return region.symmetric_difference(expected).area < SAME


def test_alone_in_a_room():
    """4 - 1 = 3 and 3 - 0.5 = 2.5; turned by a quarter 4 - 0.5 = 3.5 and 3 - 1 = 2."""
    found = places("equipment: {bench: {width: 1, depth: 0.5, height: 0.9}}", "bench")
    straight, turned = found.turns[0], found.turns[1]
    assert [t.turn for t in found.turns] == [0, 90, 180, 270]
    assert same(straight.region, box(0, 0, 3, 2.5))
    assert same(turned.region, box(0, 0, 3.5, 2))
    # the most play: half of the shorter side
    assert straight.best.play == pytest.approx(1.25, abs=1e-4)
    assert turned.best.play == pytest.approx(1.0, abs=1e-4)
    named = {name for limit in straight.limits for name in limit.names}
    assert named == {"south wall", "east wall", "north wall", "west wall"}


def test_round_a_post():
    """A post from (2, 1) to (2.2, 1.2) keeps out x from 2 - 1 to 2.2, y from 1 - 0.5 to 1.2."""
    found = places(
        "fixed: {post: {width: 0.2, depth: 0.2, height: 2.5, at: {x: 2, y: 1, turn: 0}}}\n"
        "equipment: {bench: {width: 1, depth: 0.5, height: 0.9}}",
        "bench",
        turns=(0,),
    )
    assert same(found.turns[0].region, box(0, 0, 3, 2.5) - box(1, 0.5, 2.2, 1.2))
    out = {part.name: part.area.area for part in found.turns[0].ruled_out}
    assert out["post"] == pytest.approx(1.2 * 0.7, abs=1e-6)


def test_a_lower_thing_passes_below_a_hanging_one():
    """A cabinet from 1.2 m up is no obstacle to a bench 1.2 m high, but to one 1.3 m high."""
    hanging = "fixed: {cabinet: {width: 4, depth: 0.4, bottom: 1.2, height: 2, at: {x: 0, y: 2.6}}}"
    low = places(
        f"{hanging}\nequipment: {{bench: {{width: 1, depth: 0.5, height: 1.2}}}}",
        "bench",
        turns=(0,),
    )
    high = places(
        f"{hanging}\nequipment: {{bench: {{width: 1, depth: 0.5, height: 1.3}}}}",
        "bench",
        turns=(0,),
    )
    assert same(low.turns[0].region, box(0, 0, 3, 2.5))
    assert same(high.turns[0].region, box(0, 0, 3, 2.1))


def test_a_slot_that_fits_to_a_hair_is_a_segment():
    """Between two shelves 1 m apart a cabinet 1 m wide slides along y only, from 0 to 3 - 0.5."""
    text = (
        "fixed:\n"
        "  west shelf: {width: 1.2, depth: 3, height: 2, at: {x: 0, y: 0}}\n"
        "  east shelf: {width: 1.8, depth: 3, height: 2, at: {x: 2.2, y: 0}}\n"
        "equipment: {cabinet: {width: 1, depth: 0.5, height: 0.9}}"
    )
    (found,) = places(text, "cabinet", turns=(0,)).turns
    assert found.region.is_empty
    (segment,) = found.segments
    assert segment.equals_exact(shapely.LineString([(1.2, 0), (1.2, 2.5)]), SAME) or (
        segment.equals_exact(shapely.LineString([(1.2, 2.5), (1.2, 0)]), SAME)
    )
    assert (found.best.play, found.best.certain) == (0.0, True)
    assert found.best.x == pytest.approx(1.2)
    # at a quarter turn it is 0.5 m wide: 0.5 m of play
    (turned,) = places(text, "cabinet", turns=(90,)).turns
    assert same(turned.region, box(1.2, 0, 1.7, 2))


def test_a_room_that_fits_to_a_hair_is_a_point():
    """A table as large as the room stands in one place only."""
    found = places("equipment: {table: {width: 4, depth: 3, height: 0.9}}", "table", turns=(0,))
    assert found.turns[0].region.is_empty
    (point,) = found.turns[0].points
    assert (point.x, point.y) == pytest.approx((0, 0), abs=SAME)


def test_room_to_work_counts():
    """A bench 0.5 m deep with 0.6 m to stand before it needs y from 0.6 to 2.5."""
    found = places(
        "equipment: {bench: {width: 1, depth: 0.5, height: 0.9, "
        "zones: {work: {side: front, depth: 0.6}}}}",
        "bench",
        turns=(0,),
    )
    assert same(found.turns[0].region, box(0, 0.6, 3, 2.5))
    below = [limit for limit in found.turns[0].limits if limit.line.centroid.y < 0.7]
    assert below[0].names == ("bench: work against south wall",)


def test_within_reach_of_a_point():
    """A unit square within 1 m of a point: the square of places 1 m wide, grown by 1 m.

    Its area by Steiner's formula is A + P r + pi r2 = 1 + 4 + pi, all of it within the room.
    """
    file = parse(
        "shop: reach\nunits: m\ntape: 0\nroom: {size: [10, 10], height: 2.5}\n"
        "places: {outlet: {x: 5, y: 5}}\n"
        "equipment: {stand: {width: 1, depth: 1, height: 1, within 1 of: outlet}}"
    )
    found = spots(file.shop, file.layout, "stand", turns=(0,))
    assert found.turns[0].region.area == pytest.approx(1 + 4 + math.pi, rel=1e-4)
    named = {name for limit in found.turns[0].limits for name in limit.names}
    assert named == {"stand within reach of outlet"}


def test_the_tape_leaves_a_band_unsure():
    """Sizes off by 4 mm: a bench 1 m wide in a room 4 m wide surely fits to 3 m less 8 mm."""
    file = parse(
        "shop: taped\nunits: m\ntape: 0.004\nroom: {size: [4, 3], height: 2.5}\n"
        "equipment: {bench: {width: 1, depth: 0.5, height: 0.9}}"
    )
    (found,) = spots(file.shop, file.layout, "bench", turns=(0,)).turns
    assert same(found.region, box(0, 0, 2.992, 2.492))
    assert same(found.unsure, box(0, 0, 3, 2.5) - box(0, 0, 2.992, 2.492))


DOOR = """
doors: {way: {wall: south, at: 1.5, width: 1, height: 2, kind: opening, leads to: outside}}
rules: {way-out-width: 0.8 m}
equipment:
  bench: {width: 1, depth: 0.5, height: 0.9, zones: {work: {side: front, depth: 0.6}}}
  rack: {width: 4, depth: 0.4, height: 1, at: {x: 0, y: 2.6, turn: 0},
         zones: {reach: {side: front, depth: 0.6}}}
  block: {width: 2, depth: 0.3, height: 1}
"""


def test_a_way_out_must_stay_as_wide_as_needed():
    """A bar 2 m long, 0.3 m deep across a room 4 m wide, somebody behind it at the north wall.

    The rack's place ends at y 2, so the bar may lie from y 0 to 1.7.  At y between 0.8 and 1.2 it
    is at least 0.8 m from the door's wall and from the rack's face at 2.6 (1.2 + 0.3 + 0.8 < 2.6):
    one walks round it whichever end has 0.8 m, x - 0 >= 0.8 or 4 - (x + 2) >= 0.8; as its x goes
    from 0 to 2 one of the two always holds.  Against the south wall it must leave 0.8 m of the
    door that goes from 1.5 to 2.5: at y 0 either x >= 2.3, which the room does not allow, or
    x + 2 <= 1.7, which it does not allow either.  The door is blocked up to a diagonal gap of
    0.8 m to the door's jambs.
    """
    (found,) = places(DOOR, "block", turns=(0,)).turns
    assert found.region.buffer(SAME).covers(box(0, 0.8, 2, 1.2))
    for x in (0.0, 0.5, 1.0, 1.5, 2.0):
        assert found.region.distance(shapely.Point(x, 0.0)) > 0.3
    blocked = [part for part in found.ruled_out if part.kind == "way out"]
    assert [part.name for part in blocked] == ["way out from rack"]
    assert found.unsure.area < 0.2


def test_the_limit_of_a_straight_corridor_is_exact():
    """Before a wall of shelves: a cart 1 m wide in a corridor 2 m wide leaves 1 m in all.

    Somebody stands at the north end and the door is at the south end.  With 0.8 m needed the cart
    may stand up to 0.2 m off either side wall and no farther.
    """
    text = """
doors: {way: {wall: south, at: 1.2, width: 1, height: 2, kind: opening, leads to: outside}}
rules: {way-out-width: 0.8 m}
fixed:
  shelves: {width: 2, depth: 3, height: 2, at: {x: 2, y: 0}}
equipment:
  desk: {width: 1.4, depth: 0.4, height: 1, at: {x: 0.3, y: 2.6, turn: 0},
         zones: {reach: {side: front, depth: 0.6}}}
  cart: {width: 1, depth: 0.2, height: 1}
"""
    (found,) = places(text, "cart", turns=(0,)).turns
    middle = box(0, 1.0, 1, 1.2)  # away from the door and the desk only the sides matter
    expected = box(0, 1.0, 0.2, 1.2) | box(0.8, 1.0, 1, 1.2)
    assert same(found.region & middle, expected)
    assert (found.unsure & middle).area < SAME
