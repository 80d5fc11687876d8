"""Walkway widths and walking distances against arithmetic that fits on an envelope.

Lengths in the scenes are inches, given to the code as metres: the geometry does not mind the unit.
"""

from math import acos, hypot, pi, sqrt

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from floorplan.motion.walk import Walker, passable, widest_ways

ROOM = box(0, 0, 100, 100)
INCH = 0.0254


def place(x, y, half=0.0):
    """A standing place about a point, as good as the point itself if `half` is not given."""
    half = half or 1e-9
    return box(x - half, y - half, x + half, y + half)


def width(floor, start, goal):
    (way,) = widest_ways(floor, [start], goal)
    assert way.certified
    return way


def walk(floor, start, end, body_radius=0.0):
    return Walker(floor, body_radius=body_radius).distances([start, end])[0, 1]


def test_walk_round_a_square_block():
    # over the corners (40, 60) and (60, 60): 2 sqrt(30^2 + 10^2) + 20
    floor = ROOM - box(40, 40, 60, 60)
    assert walk(floor, (10, 50), (90, 50)) == pytest.approx(2 * hypot(30, 10) + 20, abs=1e-4)


def test_walk_round_the_end_of_a_wall():
    # over (50, 70) and (52, 70): sqrt(30^2 + 50^2) + 2 + sqrt(28^2 + 50^2)
    floor = ROOM - box(50, 0, 52, 70)
    length = hypot(30, 50) + 2 + hypot(28, 50)
    assert walk(floor, (20, 20), (80, 20)) == pytest.approx(length, abs=1e-4)


def test_walk_across_an_empty_room_is_straight():
    assert walk(ROOM, (20, 20), (80, 65)) == pytest.approx(75.0, abs=1e-9)


def test_walk_of_a_round_body_about_one_corner():
    # a corner at (50, 50). From (45, 10) to (90, 55), each 5 off a wall, the tangents run along the
    # walls, 40 long, and the arc is a quarter circle
    floor = ROOM - box(50, 0, 100, 50)
    assert walk(floor, (45, 10), (90, 55), 5.0) == pytest.approx(40 + 5 * pi / 2 + 40, rel=1e-9)
    # from (20, 10) to (90, 80), both at d = 50 from the corner and 270 degrees - 2 acos(4/5) apart
    # as seen from it on the free side: tangents sqrt(d^2 - r^2), and the arc is the angle between
    # the points less acos(r / d) for either tangent
    d, r = 50.0, 8.0
    apart = 3 * pi / 2 - 2 * acos(0.8)
    length = 2 * sqrt(d * d - r * r) + r * (apart - 2 * acos(r / d))
    assert walk(floor, (20, 10), (90, 80), r) == pytest.approx(length, rel=1e-9)


def test_widest_path_past_a_block_is_its_distance_to_the_wall():
    # 40 between block and wall; places that are 20 off everything do not limit
    floor = ROOM - box(40, 40, 60, 60)
    way = width(floor, place(20, 50), place(80, 50))
    assert (way.width, way.limit) == (pytest.approx(40.0, abs=1e-6), "pinch")
    assert hypot(*np.subtract(*way.pinch)) == pytest.approx(way.width, abs=1e-12)


def test_widest_path_over_a_wall():
    way = width(ROOM - box(50, 0, 52, 70), place(20, 20), place(80, 20))
    assert (way.width, way.limit) == (pytest.approx(30.0, abs=1e-6), "pinch")


@pytest.mark.parametrize(("one", "other", "later", "widest"), [(18, 26, 24, 24), (25, 26, 24, 25)])
def test_the_better_of_two_routes_counts_by_its_narrowest_gap(one, other, later, widest):
    # a wall with two gaps; behind the second another gap: max(one, min(other, later))
    walls = [
        box(48, 0, 50, 10),
        box(48, 10 + one, 50, 60),
        box(48, 60 + other, 50, 100),
        box(50, 48, 74, 50),
        box(74, 48, 76, 72),
        box(74, 72 + later, 76, 100),
    ]
    floor = box(0, 0, 140, 100)
    for wall in walls:
        floor = floor - wall
    way = width(floor, place(20, 50, 5), place(110, 50, 5))
    assert max(one, min(other, later)) == widest
    assert (way.width, way.limit) == (pytest.approx(widest, abs=1e-6), "pinch")


@pytest.mark.parametrize("thickness", [0.1, 4.5, 30.0])
def test_a_door_is_as_wide_as_it_is_whatever_its_wall_measures(thickness):
    wall = box(40, 0, 40 + thickness, 34), box(40, 66, 40 + thickness, 100)
    floor = ROOM - wall[0] - wall[1]
    way = width(floor, place(20, 50), place(80, 50))
    assert (way.width, way.limit) == (pytest.approx(32.0, abs=1e-6), "pinch")


def test_an_empty_room_is_limited_by_its_places_only():
    # 20 off one wall and 30 off another
    assert width(ROOM, place(20, 50), place(70, 50)).limit == "start"
    assert width(ROOM, place(20, 50), place(70, 50)).width == pytest.approx(40.0, abs=1e-6)
    assert width(ROOM, place(70, 50), place(20, 50)).limit == "goal"
    assert width(ROOM, place(70, 50), place(20, 50)).width == pytest.approx(40.0, abs=1e-6)


def test_gap_between_two_corners():
    # corners (45, 45) and (54, 57): sqrt(9^2 + 12^2) = 15
    floor = ROOM - box(0, 0, 45, 45) - box(54, 57, 100, 100)
    way = width(floor, place(20, 80), place(80, 20))
    assert way.width == pytest.approx(15.0, abs=1e-6)
    assert set(way.pinch) == {(45.0, 45.0), (54.0, 57.0)}


def test_gap_between_a_corner_and_a_slanted_wall():
    # from (40, 40) to the line x + y = 120: 40 / sqrt 2, with its foot at (60, 60)
    floor = ROOM - box(0, 0, 40, 40) - Polygon([(120, 0), (120, 120), (0, 120)])
    way = width(floor, place(15, 60, 5), place(60, 15, 5))
    assert way.width == pytest.approx(40 / sqrt(2), abs=1e-6)
    assert np.allclose(sorted(way.pinch), [(40, 40), (60, 60)], atol=1e-6)


def test_gap_between_two_corners_of_one_ring():
    # an hour-glass: its waist joins two corners of the outer ring
    glass = Polygon([(0, 0), (100, 0), (57, 50), (100, 100), (0, 100), (43, 50)])
    way = width(glass, place(50, 20, 3), place(50, 80, 3))
    assert (way.width, set(way.pinch)) == (
        pytest.approx(14.0, abs=1e-6),
        {(43.0, 50.0), (57.0, 50.0)},
    )


@pytest.mark.parametrize("inches", [27.9, 28.0])
def test_a_gap_between_boxes_is_exactly_as_wide_as_set(inches):
    gap = inches * INCH
    floor = box(0, 0, 5, 3) - box(2, 0, 2.6, 1.1) - box(2, 1.1 + gap, 2.6, 3)
    start, goal = box(0.5, 1, 1, 1.5), box(4, 1, 4.5, 1.5)
    way = width(floor, start, goal)
    assert way.width == pytest.approx(gap, abs=1e-6)
    assert passable(floor, [start], goal, 28.0 * INCH) == (inches >= 28.0,)


def test_a_corridor_is_as_wide_as_it_is_for_places_within_it():
    # a place as wide as the corridor holds its middle line; one along the wall reaches 10 off it
    corridor = box(0, 0, 200, 30)
    across, beside = box(20, 0, 40, 30), box(20, 0, 40, 10)
    assert width(corridor, across, box(180, 0, 200, 30)).width == pytest.approx(30.0, abs=1e-6)
    assert width(corridor, beside, box(160, 0, 185, 30)).width == pytest.approx(20.0, abs=1e-6)


def test_round_places_far_from_the_middle_still_find_the_summit():
    # start and goal both hold the middle of the room, where the clearance is 50
    assert width(ROOM, Point(50, 50).buffer(30), ROOM).width == pytest.approx(100.0, abs=1e-6)


def test_a_start_with_its_best_spot_beyond_a_slit():
    # a wall with a slit of 2; most of the start lies beyond it, where there is room for 49
    floor = ROOM - box(50, 0, 51, 49) - box(50, 51, 51, 100)
    way = width(floor, box(44, 0, 80, 100), place(20, 50, 1))
    # on the goal's side the start reaches from x = 44 to the wall at 50, and is farthest off at
    # (44, 50) in front of the slit: sqrt(6^2 + 1^2) from both of its corners
    assert (way.width, way.limit) == (pytest.approx(2 * hypot(6, 1), abs=1e-6), "start")


def test_no_way_at_all():
    floor = ROOM - box(50, 0, 51, 100)
    way = width(floor, place(20, 50, 5), place(80, 50, 5))
    assert (way.width, way.pinch, way.limit) == (0.0, None, "none")
    assert walk(floor, (20, 50), (80, 50)) == np.inf
    assert len(Walker(floor, body_radius=0).path((20, 50), (80, 50))) == 0


def test_goal_within_an_obstacle():
    floor = ROOM - box(50, 40, 70, 60)
    assert width(floor, place(20, 50, 5), box(55, 45, 65, 55)).limit == "none"


def test_goal_may_be_a_line():
    # a threshold 30 long in a wall: a centre on it is 0 off that wall, one 25 in front
    # of it is 25 off
    assert width(ROOM, place(50, 50, 5), LineString([(35, 100), (65, 100)])).width == 0.0
    way = width(ROOM, place(50, 50, 5), LineString([(35, 75), (65, 75)]))
    assert (way.width, way.limit) == (pytest.approx(50.0, abs=1e-6), "goal")
