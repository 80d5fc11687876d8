"""Numbers that remember what they depend on, against arithmetic and finite differences."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from floorplan.geometry.affine import Affine, Measurement, Outline, greater, rotation, smaller

A = Measurement("a", 2.0, 0.003)
B = Measurement("b", 5.0, 0.002)
C = Measurement("c", 1.0, 0.0, assumed=True)
ALL = {m.name: m for m in (A, B, C)}
a, b, c = (Affine.of(m) for m in (A, B, C))


def test_arithmetic_keeps_value_and_sensitivities() -> None:
    number = 3 * (a - b) / 2 + 4 - (1 - c)
    assert number.value == pytest.approx(3 * (2 - 5) / 2 + 4 - 0)
    assert number.terms == pytest.approx({"a": 1.5, "b": -1.5, "c": 1.0})


def test_the_error_is_the_worst_case_sum() -> None:
    assert (2 * a - b).error(ALL) == pytest.approx(2 * 0.003 + 0.002)
    assert (a - a).error(ALL) == 0.0
    assert (a + c).assumed(ALL) == ("c",)
    assert (a - a + c - c).assumed(ALL) == ()


def test_a_value_shifts_by_its_terms() -> None:
    assert (2 * a - b).shifted({"a": 0.1, "b": 0.3}) == pytest.approx(2 * 2.1 - 5.3)


def test_the_larger_and_the_smaller_keep_their_own_terms() -> None:
    assert greater(a, b) is b
    assert smaller(a, b) is a


def outline() -> Outline:
    return Outline.of([(0.0, c), (a, 0.0), (b, b - a), (a, b)])


def test_quarter_turns_are_exact() -> None:
    assert (rotation(450.0) == np.array([[0.0, -1.0], [1.0, 0.0]])).all()
    assert (outline().turned(90).turned(270).points == outline().points).all()


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, 217.0])
def test_turned_and_moved_outlines_shift_like_their_numbers(degrees: float) -> None:
    placed = outline().turned(degrees).moved(a * 2, b - c)
    offsets = {"a": 0.01, "b": -0.02, "c": 0.03}
    moved = [Affine(n.shifted(offsets)) for n in (a, b, c)]
    x, y, z = moved
    again = Outline.of([(0.0, z), (x, 0.0), (y, y - x), (x, y)]).turned(degrees)
    again = again.moved(x * 2, y - z)
    np.testing.assert_allclose(placed.shifted(offsets), again.points, atol=1e-12)


def test_the_nearest_point_is_that_of_an_independent_library() -> None:
    shapely = pytest.importorskip("shapely")
    ring = shapely.LinearRing(outline().points)
    random = Random(3)
    for _ in range(50):
        p = (random.uniform(-2, 7), random.uniform(-2, 7))
        x, y = outline().nearest(p)
        expected = ring.distance(shapely.Point(p))
        assert np.hypot(x.value - p[0], y.value - p[1]) == pytest.approx(expected, abs=1e-12)


def test_sides_of_boxes_and_of_nothing_else() -> None:
    box = Outline.box(left=c, right=b, south=0.0, north=a)
    sides = box.turned(90).sides()
    assert sides is not None
    assert [side.value for side in sides] == [-2.0, 1.0, 0.0, 5.0]
    assert sides[0].terms == {"a": -1.0}
    assert box.turned(30).sides() is None
    assert outline().sides() is None
    # a side whose two ends were measured apart is no single number
    assert (
        Outline.of([(0.0, 0.0), (b, 0.0), (Affine(5.0, {"d": 1.0}), a), (0.0, a)]).sides() is None
    )
