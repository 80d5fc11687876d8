"""Convex decomposition against shapely: exact cover, no overlap, convex pieces, few of them."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from floorplan.geometry.convex import convex_pieces, is_convex, signed_area, tidy

L_SHAPE = Polygon([(0, 0), (3, 0), (3, 1), (1, 1), (1, 2), (0, 2)])
T_SHAPE = Polygon([(1, 0), (2, 0), (2, 2), (3, 2), (3, 3), (0, 3), (0, 2), (1, 2)])
FRAME = box(0, 0, 4, 3).difference(box(1, 1, 3, 2))


def assert_covers(polygon, pieces):
    shapes = [Polygon(piece) for piece in pieces]
    for piece, shape in zip(pieces, shapes, strict=True):
        assert signed_area(piece) > 0
        assert shape.convex_hull.area == pytest.approx(shape.area, rel=1e-9)
    union = shapely.union_all(shapes)
    assert sum(shape.area for shape in shapes) == pytest.approx(polygon.area, rel=1e-9)
    assert union.symmetric_difference(polygon).area < 1e-9 * polygon.area


@pytest.mark.parametrize(
    ("polygon", "most"),
    [
        (box(0, 0, 2, 1), 1),
        (L_SHAPE, 2),
        (T_SHAPE, 2),
        (FRAME, 4),
        (affinity.rotate(L_SHAPE, 30, origin=(0, 0)), 2),
        (affinity.rotate(FRAME, 30, origin=(0, 0)), 8),
        (Polygon([(0, 0), (4, 0), (4, 4), (2, 1), (0, 4)]), 3),
        (Point(0, 0).buffer(1), 1),
        (Point(0, 0).buffer(2).difference(Point(0, 0).buffer(1)), 200),
    ],
)
def test_covers_without_overlap_in_few_pieces(polygon, most):
    pieces = convex_pieces(polygon)
    assert_covers(polygon, pieces)
    assert len(pieces) <= most


def test_rectilinear_polygons_become_boxes_on_their_own_coordinates():
    for piece in convex_pieces(FRAME):
        assert len(piece) == 4
        assert set(piece[:, 0]) <= {0.0, 1.0, 3.0, 4.0}
        assert set(piece[:, 1]) <= {0.0, 1.0, 2.0, 3.0}


def test_corners_on_a_straight_edge_are_dropped():
    assert len(tidy(np.array([(0, 0), (1, 0), (2, 0), (2, 2), (2, 2), (0, 2)]))) == 4


def test_a_clockwise_outline_is_turned_round():
    assert signed_area(tidy(np.array([(0, 0), (0, 1), (1, 1), (1, 0)]))) == pytest.approx(1)


def test_a_dent_is_not_convex():
    assert not is_convex(np.array([(0, 0), (2, 0), (2, 2), (1, 1), (0, 2)]))


@pytest.mark.parametrize("bad", [Polygon(), Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])])
def test_refuses_what_has_no_area(bad):
    with pytest.raises(ValueError):
        convex_pieces(bad)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.3, 2.0), min_size=5, max_size=14),
    st.booleans(),
)
def test_star_polygons(radii, holed):
    steps = [2 * math.pi * i / len(radii) for i in range(len(radii))]
    corners = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, steps, strict=True)]
    polygon = Polygon(corners)
    if holed:
        polygon = polygon.difference(box(-0.05, -0.05, 0.05, 0.05))
    assert_covers(polygon, convex_pieces(polygon))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(1, 4), st.integers(1, 4)),
        min_size=1,
        max_size=6,
    )
)
def test_unions_of_boxes(boxes):
    union = shapely.union_all([box(x, y, x + w, y + h) for x, y, w, h in boxes])
    for polygon in shapely.get_parts(union):
        pieces = convex_pieces(polygon)
        assert_covers(polygon, pieces)
        assert all(len(piece) == 4 for piece in pieces)
