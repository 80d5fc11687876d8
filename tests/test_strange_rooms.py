"""Places in rooms that are not boxes, against every check asked place by place on a grid."""

import numpy as np
import pytest
import shapely
from test_spots import CLEAR, verdict_at, without

from floorplan.checks.judge import judge
from floorplan.search.spots import spots
from floorplan.search.spots_stages import spots_at_all
from floorplan.shop.reader import parse

TAIL = """
equipment:
  saw: {width: 0.7, depth: 0.6, height: 0.9, at: {x: 1.3, y: 1.2, turn: 0},
        zones: {operator: {side: front, depth: 0.6, purpose: stand}}}
  chest: {width: 0.9, depth: 0.5, height: 0.9, at: {x: 2.0, y: 2.3, turn: 0},
          drawers: {wide: {side: front, at: 0.1, width: 0.7, travel: 0.4, bottom: 0.3, top: 0.6,
                           stand: none}}}
tasks: {saw: {uses: [saw]}}
"""
L_SHAPED = """
shop: an L
units: m
tape: 0.003
room: {corners: [[0, 0], [4.4, 0], [4.4, 2.4], [2.7, 2.4], [2.7, 4.2], [0, 4.2]], height: 2.5}
doors: {gate: {wall: south wall, at: 0.3, width: 0.95, height: 2.1, kind: opening,
               leads to: outside}}
"""
SLANTED = """
shop: a corner cut off
units: m
tape: 0.003
room: {corners: [[0, 0], [4.2, 0], [4.2, 2.2], [2.9, 3.8], [0, 3.8]], height: 2.5}
doors: {gate: {wall: south wall, at: 0.3, width: 0.95, height: 2.1, kind: opening,
               leads to: outside}}
"""
TURNED = """
shop: turned by thirty degrees
units: m
tape: 0.003
room: {corners: [[1.9, 0], [5.364, 2], [3.464, 5.291], [0, 3.291]], height: 2.5}
doors: {gate: {wall: south wall, at: 0.3, width: 0.95, height: 2.1, kind: opening,
               leads to: outside}}
"""
CART = """
  cart: {width: 0.6, depth: 0.5, height: 0.8, at: {x: 0.4, y: 3.0, turn: 0},
         parked: {x: 3.4, y: 0.1, turn: 0}}
"""


def shop_of(head, *, cart=False):
    """One of the rooms with a saw, and a chest whose drawer needs its travel; perhaps a cart."""
    tail = TAIL
    if cart:
        tail = tail.replace(
            "\ntasks: {saw: {uses: [saw]}}", CART + "\ntasks: {saw: {uses: [saw], parked: [cart]}}"
        )
    return parse(head + tail)


def grid(shape, step):
    """(k, 2) places over the bounds of a shape, at no round number [m]."""
    west, south, east, north = shape.bounds
    x, y = np.meshgrid(np.arange(west + 0.013, east, step), np.arange(south + 0.017, north, step))
    return np.column_stack([x.ravel(), y.ravel()])


def compare(file, thing, turn, step):
    """Places at which region and checks disagree, and how many there are of each kind."""
    at = spots(file.shop, file.layout, thing, turns=(turn,)).turns[0]
    safe = without(file, thing)
    edges = shapely.union_all([at.region.boundary, at.unsure.boundary])
    seen, wrong = {"in": 0, "out": 0, "unsure": 0}, []
    for x, y in grid(shapely.Polygon(file.shop.room.floor.points), step):
        spot = shapely.Point(x, y)
        if edges.distance(spot) < CLEAR:
            continue
        inside, doubt = at.region.contains(spot), at.unsure.distance(spot) < CLEAR
        kind = "unsure" if doubt else "in" if inside else "out"
        seen[kind] += 1
        verdict = verdict_at(file, thing, x, y, turn, safe) if kind != "unsure" else "unsure"
        if kind != "unsure" and (verdict == "passes") != (kind == "in"):
            wrong.append((round(x, 4), round(y, 4), kind, verdict))
    return wrong, seen


ROOMS = {"L": L_SHAPED, "slanted": SLANTED, "turned": TURNED}


@pytest.mark.slow
@pytest.mark.parametrize("turn", [0, 90, 180, 30])
@pytest.mark.parametrize("room", list(ROOMS))
@pytest.mark.parametrize("thing", ["saw", "chest"])
def test_regions_against_a_grid_of_checks(room, thing, turn):
    """Certain places pass every check and ruled out ones do not."""
    wrong, seen = compare(shop_of(ROOMS[room]), thing, turn, 0.23)
    assert not wrong
    assert seen["out"] > 20
    assert seen["unsure"] < 0.1 * sum(seen.values())


def test_regions_against_a_few_checks():
    """The same where it is quick."""
    wrong, seen = compare(shop_of(SLANTED), "chest", 90, 0.9)
    assert not wrong
    assert seen["out"] > 5


@pytest.mark.slow
@pytest.mark.parametrize("thing", ["saw", "chest", "cart"])
def test_regions_past_and_from_what_is_rolled(thing):
    """With a cart that is rolled away before the saw is used."""
    file = shop_of(SLANTED, cart=True)
    wrong, seen = compare(file, thing, 0, 0.31)
    assert not wrong
    assert seen["in"] > 3


@pytest.mark.slow
@pytest.mark.parametrize("cart", [False, True])
@pytest.mark.parametrize("room", list(ROOMS))
def test_the_best_spot_passes_every_check(room, cart):
    """Whatever the room, what is offered as certain is."""
    file = shop_of(ROOMS[room], cart=cart)
    for thing in ("saw", "chest"):
        found = spots_at_all([(file.shop, file.layout)], thing)
        assert found.best is not None
        turn, best = found.best
        if not best.certain:
            continue
        safe = without(file, thing)
        assert verdict_at(file, thing, best.x, best.y, turn, safe) == "passes"
        made = judge(file.shop, found.placed(best, turn))
        rolls = {f.verdict for f in made.findings if f.check == "rolling" and f.kind == "required"}
        assert rolls <= {"passes"}
