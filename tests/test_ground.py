"""The ground on which one walks and carries hangs together through every open doorway."""

from __future__ import annotations

from math import cos, sin
from random import Random

import pytest
import shapely
from shops import judged, pick, text_of

from floorplan.checks.ground import open_ground
from floorplan.checks.surroundings import ground_for
from floorplan.shop.reader import parse


def _slanted_room(dice: Random) -> str:
    """A rectangle turned by up to 29 degrees, its corners to the thousandth of an inch."""
    width, depth, turn = dice.uniform(100, 300), dice.uniform(100, 300), dice.uniform(-0.5, 0.5)
    corners = [
        (x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn))
        for x, y in ((0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth))
    ]
    west, south = (min(c[axis] for c in corners) for axis in (0, 1))
    written = [[round(x - west, 3), round(y - south, 3)] for x, y in corners]
    middle = [round(sum(c[axis] for c in written) / 4, 2) for axis in (0, 1)]
    at, wide = round(dice.uniform(5, 20), 3), round(dice.uniform(30, 70), 3)
    return (
        f"shop: a room\nunits: in\ntape: 0\n"
        f"room: {{corners: {written}, height: 96, wall names: [a, b, c, d]}}\n"
        f"doors: {{door: {{wall: {dice.choice('abcd')}, at: {at}, width: {wide}, height: 80,\n"
        f"  swing: out, leads to: outside}}}}\n"
        f"equipment: {{press: {{kind: drill press, width: 12, depth: 12,\n"
        f"  at: {{x: {middle[0]}, y: {middle[1]}}}}}}}\n"
    )


@pytest.mark.parametrize("seed", range(40))
def test_no_slit_lies_across_a_doorway(seed: int) -> None:
    """Ground with a slit has a sliver among what is not ground, or is in two parts."""
    shop = parse(_slanted_room(Random(seed))).shop
    for ground in (open_ground(shop), ground_for(shop, list(shop.doors), set(), 3.0)):
        assert ground.geom_type == "Polygon"
        rest = shapely.box(*ground.bounds).difference(ground)
        assert all(not part.buffer(-1e-6).is_empty for part in shapely.get_parts(rest))


def test_a_sheet_goes_through_a_doorway_of_no_round_numbers() -> None:
    """On edge, 1 in thick, through 58 in, and 1.6 in beside a bench: surely a way."""
    found = judged(
        text_of(
            "rack: {width: 96 in, depth: 12 in, height: 60 in, at: {x: 60 in, y: 148 in}}",
            "bench: {width: 40 in, depth: 30 in, height: 34 in, at: {x: 160 in, y: 130 in}}",
            room="size: [200 in, 160 in]",
            height="96 in",
            more="doors: {door: {wall: south, at: 20 in, width: 60 in, clear width: 58 in,\n"
            "  height: 90 in, swing: out, leads to: outside}}\n"
            "stock: {sheet: {length: 96 in, width: 48 in, thickness: 1 in}}\n"
            "jobs: {work: {carry: {stock: sheet, from: door, to: rack, how: on edge}}}\n",
        )
    )
    assert pick(found, "carrying", "sheet").verdict == "passes"


def test_ground_beyond_a_door_to_the_house_counts_only_where_the_way_ends() -> None:
    """Room 4 by 3 m, wall 0.1 m; beyond a door 1 m wide and 0.5 m of reach to each side lie
    2 m by 0.5 m more of ground: sums by hand.
    """
    text = """\
shop: a room and a house
tape: 0
units: metric
room: {size: [4 m, 3 m], height: 2.5 m, wall thickness: 0.1 m}
doors:
  hall: {wall: south, at: 1 m, width: 1 m, height: 2 m, leads to: house, kind: opening}
equipment:
  cube: {width: 0.5 m, depth: 0.5 m, height: 0.5 m, at: {x: 3 m, y: 2 m}}
"""
    shop = parse(text).shop
    hall = list(shop.doors)
    inside = ground_for(shop, hall, set(), 0.5)
    ended = ground_for(shop, hall, {"hall"}, 0.5)
    assert inside.area == pytest.approx(4 * 3, abs=1e-3)
    assert ended.area == pytest.approx(4 * 3 + 1 * 0.1 + 2 * 0.5, abs=1e-3)
