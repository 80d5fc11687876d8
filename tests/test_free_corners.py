"""Which points slanted forbidden sets leave free, against shapely's own distances."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from floorplan.geometry.arrangement import FEW, Slanted, free_of
from floorplan.units import TOLERANCE

NO_BOXES = np.empty((0, 4))


def scattered(count: int, seed: int) -> list[np.ndarray]:
    """Convex sets of three to six corners, counter-clockwise, that may overlap [m]."""
    dice = np.random.default_rng(seed)
    sets = []
    for _ in range(count):
        angles = 2 * np.pi * (np.arange(number := dice.integers(3, 7)) / number) + dice.uniform(
            0, 6
        )
        middle, size = dice.uniform(0, 5, 2), dice.uniform(0.05, 0.8)
        sets.append(middle + size * np.column_stack([np.cos(angles), np.sin(angles)]))
    return sets


@pytest.mark.parametrize("count", [1, FEW, 3 * FEW + 1])
def test_what_is_left_free_is_what_lies_in_no_set_deeper_than_the_tolerance(count: int) -> None:
    """Depth by shapely: the distance of an inner point from the outline of its set."""
    sets = scattered(count, seed=count)
    points = np.random.default_rng(9).uniform(-0.5, 5.5, (400, 2))
    points = np.concatenate([points, *sets])
    depth = np.zeros(len(points))
    for one in map(shapely.Polygon, sets):
        inside = shapely.contains_xy(one, points)
        deep = shapely.distance(shapely.boundary(one), shapely.points(points))
        depth = np.maximum(depth, np.where(inside, deep, 0.0))
    assert 0 < (depth > TOLERANCE).sum() < len(points)
    found = free_of(points, NO_BOXES, Slanted.of(sets))
    assert np.array_equal(found, points[depth <= TOLERANCE])


def test_a_set_is_within_reach_only_if_it_reaches_in_by_more_than_the_tolerance() -> None:
    """A square on its corner, from 0 to 2 both ways: what lies at its tip lies beyond it."""
    tip = np.array([[1.0, 0.0], [2.0, 1.0], [1.0, 2.0], [0.0, 1.0]])
    slanted = Slanted.of([tip, tip + 10.0])
    for east, reached in ((0.5 * TOLERANCE, 0), (2 * TOLERANCE, 1), (11.0, 2)):
        near = slanted.reaching(np.array([-1.0, 0.0]), np.array([east, 20.0]))
        assert len(near.sizes) == reached
        assert len(near.start) == 4 * reached
    parts = list(slanted.parts(1))
    assert [part.start.tolist() for part in parts] == [tip.tolist(), (tip + 10.0).tolist()]
