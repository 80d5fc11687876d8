"""Free regions against brute force, closed forms, and slots that fit to a hair."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon
from shapely.geometry import box as rectangle

from floorplan.geometry.pieces import Piece, box, penetration
from floorplan.motion.free import free_region, roomiest
from floorplan.units import TOLERANCE

ALL = np.ones((1, 1), dtype=bool)


def room(width, depth, *, thick=20.0):
    """Return the outside of a room as four boxes."""
    return [
        box(-thick, -thick, 0, depth + thick),
        box(width, -thick, width + thick, depth + thick),
        box(-thick, -thick, width + thick, 0),
        box(-thick, depth, width + thick, depth + thick),
    ]


def tenths(value):
    return round(value, 4)


def turned(piece, degrees):
    shape = affinity.rotate(Polygon(piece.outline), degrees, origin=(0, 0))
    outline = np.asarray(shape.exterior.coords)[:-1]
    return Piece(outline, piece.bottom, piece.top, piece.label)


def test_empty_room_leaves_the_inner_fit_rectangle():
    region = free_region([box(0, 0, 2, 1)], room(5, 4), ALL, limits=rectangle(0, 0, 5, 4))
    assert region.area.equals(rectangle(0, 0, 3, 3))
    assert not region.segments
    assert not region.points


def test_a_diamond_in_a_room():
    """A square of side 2 turned 45 degrees needs half its diagonal, sqrt 2, on every side."""
    diamond = turned(box(-1, -1, 1, 1), 45)
    region = free_region([diamond], room(6, 5), ALL, limits=rectangle(0, 0, 6, 5))
    root = math.sqrt(2)
    wanted = rectangle(root, root, 6 - root, 5 - root)
    assert region.area.symmetric_difference(wanted).area < 1e-8


def test_heights_that_only_touch_do_not_conflict():
    low, high = box(0, 0, 1, 1, bottom=0, top=0.9), box(0, 0, 3, 3, bottom=0.9, top=2)
    region = free_region([low], [high], ALL, limits=rectangle(0, 0, 2, 2))
    assert region.area.equals(rectangle(0, 0, 2, 2))


def test_a_hair_of_height_conflicts():
    low, high = box(0, 0, 1, 1, bottom=0, top=0.901), box(0, 0, 3, 3, bottom=0.9, top=2)
    assert free_region([low], [high], ALL, limits=rectangle(0, 0, 2, 2)).is_empty


def test_classes_that_may_overlap_do_not_conflict():
    conflict = np.array([[True, False], [False, False]])
    zone, body = box(0, 0, 1, 1, label=1), box(0, 0, 1, 1, label=0)
    limits = rectangle(0, 0, 1, 1)
    assert free_region([zone], [box(0, 0, 9, 9)], conflict, limits=limits).area.area == 1
    assert free_region([body], [box(0, 0, 9, 9)], conflict, limits=limits).is_empty


def test_slot_of_exact_width_is_a_segment():
    """A thing 1 wide between two blocks 1 apart slides 3 - 1 along the slot and not across."""
    blocks = [box(0, 0, 2, 3), box(3, 0, 5, 3)]
    region = free_region([box(0, 0, 1, 1)], blocks + room(5, 3), ALL, limits=rectangle(0, 0, 5, 3))
    assert region.area.is_empty
    assert not region.points
    (slot,) = region.segments
    assert slot.length == pytest.approx(2, abs=1e-6)
    assert slot.hausdorff_distance(shapely.LineString([(2, 0), (2, 2)])) < 2 * TOLERANCE
    spot = roomiest(region)
    assert (spot.x, spot.y, spot.play) == pytest.approx((2, 1, 0), abs=2 * TOLERANCE)


def test_hole_of_exact_size_is_a_point():
    walls = room(4, 3)
    region = free_region([box(0, 0, 4, 3)], walls, ALL, limits=rectangle(-1, -1, 4, 3))
    assert region.area.is_empty
    assert not region.segments
    (point,) = region.points
    assert point.distance(Point(0, 0)) < 2 * TOLERANCE
    assert roomiest(region).play == 0


@pytest.mark.parametrize("degrees", [0, 17, 45])
@pytest.mark.parametrize("scale", [1, 1 / 3])
def test_exact_slots_survive_turning_and_scaling(degrees, scale):
    def placed(piece):
        outline = turned(piece, degrees).outline * scale
        return Piece(outline, piece.bottom, piece.top, piece.label)

    scene = [placed(p) for p in [box(0, 0, 2, 3), box(3, 0, 5, 3), *room(5, 3)]]
    limits = rectangle(-9, -9, 9, 9).intersection(
        affinity.scale(
            affinity.rotate(rectangle(0, 0, 5, 3), degrees, origin=(0, 0)),
            scale,
            scale,
            origin=(0, 0),
        )
    )
    region = free_region([placed(box(0, 0, 1, 1))], scene, ALL, limits=limits)
    assert region.area.is_empty
    (slot,) = region.segments
    assert slot.length == pytest.approx(2 * scale, abs=4 * TOLERANCE)
    wider = free_region([placed(box(0, 0, 1.001, 1))], scene, ALL, limits=limits)
    assert wider.is_empty


def test_a_slot_beside_an_open_floor_is_reported_too():
    blocks = [box(0, 0, 2, 3), box(3, 0, 5, 3)]
    region = free_region([box(0, 0, 1, 1)], blocks + room(5, 6), ALL, limits=rectangle(0, 0, 5, 6))
    assert region.area.equals(rectangle(0, 3, 4, 5))
    (slot,) = region.segments
    assert slot.length == pytest.approx(3, abs=1e-3)


def test_edges_name_the_pair_that_limits():
    obstacles = room(5, 4)
    region = free_region([box(0, 0, 2, 1)], obstacles, ALL, limits=rectangle(-1, -1, 6, 6))
    found = {edge.pairs: {edge.start, edge.end} for edge in region.edges()}
    assert found == {
        ((0, 0),): {(0.0, 0.0), (0.0, 3.0)},
        ((0, 1),): {(3.0, 0.0), (3.0, 3.0)},
        ((0, 2),): {(0.0, 0.0), (3.0, 0.0)},
        ((0, 3),): {(0.0, 3.0), (3.0, 3.0)},
    }


def test_most_play_is_in_the_middle_of_the_widest_place():
    region = free_region([box(0, 0, 1, 1)], room(7, 5), ALL, limits=rectangle(0, 0, 7, 5))
    spot = roomiest(region)
    assert spot.play == pytest.approx(2, abs=TOLERANCE)
    assert spot.y == pytest.approx(2, abs=TOLERANCE)


def test_nothing_is_roomiest_where_nothing_fits():
    region = free_region([box(0, 0, 9, 9)], room(5, 4), ALL, limits=rectangle(0, 0, 5, 4))
    assert region.is_empty
    assert roomiest(region) is None


@st.composite
def scenes(draw):
    """Draw a thing of a body and a zone at some turn, among blocks of some turns and heights."""
    # tenths of a millimetre: a coordinate of 1e-311 m is nothing that a tape could read
    side = st.floats(0.3, 1.5).map(tenths)
    turn = st.sampled_from([0, 90, 30, 45, 77])
    w, d = draw(side), draw(side)
    degrees = draw(turn)
    thing = [
        turned(box(0, 0, w, d, bottom=0, top=0.9, label=0), degrees),
        turned(box(0, -0.5, w, 0, bottom=0, top=2.0, label=1), degrees),
    ]
    blocks = []
    for _ in range(draw(st.integers(1, 6))):
        block = turned(box(0, 0, draw(side), draw(side)), draw(turn))
        outline = block.outline + np.array(
            [draw(st.floats(0, 5).map(tenths)), draw(st.floats(0, 4).map(tenths))]
        )
        bottom = draw(st.sampled_from([0, 0.5, 0.9, 1.8]))
        blocks.append(Piece(outline, bottom, bottom + 1, draw(st.integers(0, 1))))
    return thing, blocks


@settings(max_examples=40, deadline=None)
@given(scenes())
def test_agrees_with_a_grid_of_overlap_tests(scene):
    """No grid point farther from an edge than the tolerances disagrees with shapely overlaps."""
    thing, blocks = scene
    conflict = np.array([[True, True], [True, False]])
    limits = rectangle(0, 0, 5, 4)
    region = free_region(thing, blocks, conflict, limits=limits)
    x, y = (
        a.ravel() for a in np.meshgrid(np.linspace(0.03, 4.97, 23), np.linspace(0.03, 3.97, 19))
    )
    clash = np.zeros(x.shape, dtype=bool)
    for piece in thing:
        placed = shapely.polygons(piece.outline[None] + np.column_stack([x, y])[:, None, :])
        for block in blocks:
            bands = min(piece.top, block.top) - max(piece.bottom, block.bottom)
            if conflict[piece.label, block.label] and bands > TOLERANCE:
                overlap = shapely.area(shapely.intersection(placed, Polygon(block.outline)))
                clash |= overlap > 0
    points = shapely.points(x, y)
    free = shapely.intersects(points, region.area)
    far = shapely.distance(points, region.area.boundary) > 1e-6
    assert np.array_equal(free[far], ~clash[far])


@settings(max_examples=30, deadline=None)
@given(scenes())
def test_the_roomiest_spot_keeps_its_play(scene):
    thing, blocks = scene
    conflict = np.array([[True, True], [True, False]])
    region = free_region(thing, blocks, conflict, limits=rectangle(0, 0, 5, 4))
    spot = roomiest(region)
    if spot is None:
        return
    for step in range(8):
        angle = step * math.pi / 4
        at = (spot.x + spot.play * math.cos(angle), spot.y + spot.play * math.sin(angle))
        for piece in thing:
            for block in blocks:
                bands = min(piece.top, block.top) - max(piece.bottom, block.bottom)
                if conflict[piece.label, block.label] and bands > TOLERANCE:
                    assert penetration(piece.outline + at, block.outline) <= 2 * TOLERANCE
