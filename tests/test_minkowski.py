"""Minkowski sums against convex hulls of vertex sums, and against Steiner's formula."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Polygon

from floorplan.geometry.convex import signed_area
from floorplan.geometry.minkowski import minkowski_sum, no_fit, no_fits
from floorplan.geometry.pieces import penetration


@st.composite
def convex_outlines(draw):
    """Draw the convex hull of a few points, counter-clockwise."""
    coordinate = st.integers(-20, 20).map(lambda n: n / 7)
    points = draw(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=9))
    hull = MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon" or hull.area < 1e-3:
        hull = Polygon([(0, 0), (1, 0), (0, 1)])
    return np.asarray(shapely.orient_polygons(hull).exterior.coords)[:-1]


def regular(sides, radius):
    angles = 2 * np.pi * np.arange(sides) / sides
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


def hull_of_sums(a, b):
    return MultiPoint((a[:, None, :] + b[None, :, :]).reshape(-1, 2)).convex_hull


@given(convex_outlines(), convex_outlines())
def test_equals_the_hull_of_vertex_sums(a, b):
    merged = minkowski_sum(a, b)
    assert Polygon(merged).symmetric_difference(hull_of_sums(a, b)).area < 1e-9
    assert signed_area(merged) > 0


@given(convex_outlines(), convex_outlines())
def test_order_does_not_matter(a, b):
    one, other = Polygon(minkowski_sum(a, b)), Polygon(minkowski_sum(b, a))
    assert one.symmetric_difference(other).area < 1e-9


@given(convex_outlines())
def test_steiner_formula(a):
    """Area(A + disc r) = area + perimeter r + pi r2 (Schneider, Convex Bodies, CUP 2014, ch. 4).

    For a polygon with n sides about the disc the answer lies between those for its inscribed and
    circumscribed circles.
    """
    n, r = 720, 0.8
    area = signed_area(minkowski_sum(a, regular(n, r)))
    shape = Polygon(a)

    def steiner(radius):
        return shape.area + shape.length * radius + math.pi * radius**2

    assert steiner(r * math.cos(math.pi / n)) - 1e-9 <= area <= steiner(r) + 1e-9


@given(convex_outlines(), convex_outlines())
def test_mixed_area_is_linear(a, b):
    """Area(A + tB) = area A + 2 t V(A, B) + t2 area B: the mixed area V is the same from any t."""

    def mixed(t):
        whole = signed_area(minkowski_sum(a, t * b))
        return (whole - signed_area(a) - t * t * signed_area(b)) / (2 * t)

    assert mixed(0.5) == pytest.approx(mixed(3.0), rel=1e-9, abs=1e-9)
    # Minkowski's inequality, same source.
    assert mixed(1.0) ** 2 >= signed_area(a) * signed_area(b) * (1 - 1e-9)


def test_two_boxes_give_a_box():
    a = np.array([(0, 0), (2, 0), (2, 1), (0, 1)], dtype=float)
    assert len(minkowski_sum(a, 3 * a)) == 4


@given(convex_outlines(), convex_outlines(), st.floats(-4, 4), st.floats(-4, 4))
def test_inside_the_no_fit_polygon_is_overlap(obstacle, body, x, y):
    inside = Polygon(no_fit(obstacle, body))
    point = shapely.Point(x, y)
    overlap = Polygon(body + np.array([x, y])).intersection(Polygon(obstacle)).area
    if shapely.distance(point, inside.exterior) > 1e-6:
        assert inside.contains(point) == (overlap > 0)


@given(convex_outlines(), convex_outlines(), st.floats(-4, 4), st.floats(-4, 4))
def test_penetration_is_the_distance_to_the_no_fit_edge(obstacle, body, x, y):
    inside = Polygon(no_fit(obstacle, body))
    depth = penetration(body + np.array([x, y]), obstacle)
    if inside.contains(shapely.Point(x, y)):
        assert depth == pytest.approx(inside.exterior.distance(shapely.Point(x, y)), abs=1e-9)
    else:
        assert depth <= 1e-9


@given(st.lists(convex_outlines(), min_size=1, max_size=3), convex_outlines())
def test_many_at_once(obstacles, body):
    pairs = np.array([(0, i) for i in range(len(obstacles))])
    for outline, obstacle in zip(no_fits(obstacles, [body], pairs), obstacles, strict=True):
        assert Polygon(outline).symmetric_difference(hull_of_sums(obstacle, -body)).area < 1e-9
