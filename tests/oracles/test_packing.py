"""Perfect packings from the literature: touching is no overlap, a hair less room is."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from floorplan.geometry.pieces import Piece, box
from floorplan.search.clashes import violations
from floorplan.search.placing import first_feasible
from floorplan.search.problem import Item, Problem, State
from floorplan.units import TOLERANCE

DATA = Path(__file__).parents[1] / "data"


def tiling():
    """Duijvestijn, J. Combinatorial Theory B 25 (1978) 240-243: 21 squares tile a square of 112."""
    return json.loads((DATA / "squared_square_112.json").read_text())


def least_box(n):
    """Least box for squares 1 ... n: OEIS A038666 (areas), Korf, ICAPS 2004 (shapes)."""
    data = json.loads((DATA / "consecutive_squares.json").read_text())
    return data["width"][n - 1], data["height"][n - 1]


def turned(points, degrees):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.asarray(points, dtype=float) @ np.array([[c, s], [-s, c]])


def corners(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def scene(sides, width, height, *, scale=1.0, degrees=0.0):
    """Return squares in a room with walls all round, all of it scaled and turned."""

    def piece(*box_corners):
        outline = scale * turned(corners(*box_corners), degrees)
        return Piece(outline, -math.inf, math.inf, 0)

    far = 10.0
    walls = (
        piece(-far, -far, 0, height + far),
        piece(width, -far, width + far, height + far),
        piece(-far, -far, width + far, 0),
        piece(-far, height, width + far, height + far),
    )
    # The corner of a square is its reference point; it cannot be outside the walls.
    floor = scale * turned(corners(0, 0, width, height), degrees)
    items = tuple(Item(str(s), (0.0,), ((piece(0, 0, s, s),),), floor) for s in sides)
    reach = 2 * scale * math.hypot(width, height)
    return Problem(items, walls, lambda a, b: True, (-reach, -reach, reach, reach))


def placed(spots, *, scale=1.0, degrees=0.0):
    xy = scale * turned(spots, degrees)
    return State.of([(0, x, y) for x, y in xy.tolist()])


@pytest.mark.parametrize("degrees", [0, 30, 45, 211])
@pytest.mark.parametrize("scale", [1, 1 / 3, 0.0254])
def test_the_tiling_touches_and_does_not_overlap(scale, degrees):
    squares = np.array(tiling()["squares_x_y_size"])
    problem = scene(squares[:, 2], 112, 112, scale=scale, degrees=degrees)
    state = placed(squares[:, :2], scale=scale, degrees=degrees)
    assert violations(problem, state) == ()


@pytest.mark.parametrize("degrees", [0, 30])
def test_a_hair_less_room_is_refused(degrees):
    squares = np.array(tiling()["squares_x_y_size"])
    problem = scene(squares[:, 2], 112 - 1e-3, 112, scale=1, degrees=degrees)
    clashes = violations(problem, placed(squares[:, :2], degrees=degrees))
    right = {i for i, (x, _, size) in enumerate(squares.tolist()) if x + size == 112}
    assert {(clash.item, clash.other) for clash in clashes} == {(i, None) for i in right}
    assert all(clash.depth == pytest.approx(1e-3, abs=1e-9) for clash in clashes)


def test_a_square_too_large_by_a_hair_is_refused():
    squares = np.array(tiling()["squares_x_y_size"])
    sizes = squares[:, 2].astype(float)
    sizes[4] += 1e-3
    clashes = violations(scene(sizes, 112, 112), placed(squares[:, :2]))
    assert clashes
    assert all(4 in (clash.item, clash.other) for clash in clashes)


@pytest.mark.parametrize("n", range(1, 9))
def test_consecutive_squares_are_packed_in_their_least_box(n):
    width, height = least_box(n)
    problem = scene(range(1, n + 1), width, height)
    state = first_feasible(problem, seed=1, effort=20_000)
    assert state is not None
    assert violations(problem, state) == ()
    # The same by counting covered unit cells, which needs no geometry at all.
    cover = np.zeros((width, height), dtype=int)
    assert np.allclose(state.xy, state.xy.round(), atol=TOLERANCE)
    for side, (x, y) in enumerate(state.xy.round().astype(int), start=1):
        cover[x : x + side, y : y + side] += 1
    assert cover.max() == 1
    assert cover.sum() == n * (n + 1) * (2 * n + 1) // 6


@pytest.mark.parametrize("n", [3, 4, 5])
def test_a_box_narrower_by_a_hair_holds_them_no_more(n):
    """No two of the squares 3, 4, 5 fit beside each other (2 and 3 for n = 3): heights add up."""
    width, height = least_box(n)
    problem = scene(range(1, n + 1), width, height - 1e-3)
    assert first_feasible(problem, seed=1, effort=300) is None


def test_squares_in_a_scaled_and_turned_box_are_packed_too():
    """General convex pieces take another way through the search than boxes."""
    width, height = least_box(5)
    problem = scene(range(1, 6), width, height, scale=1 / 3, degrees=30)
    state = first_feasible(problem, seed=1, effort=5_000)
    assert state is not None
    assert violations(problem, state) == ()


def test_three_boxes_fill_a_row_without_play():
    items = tuple(
        Item(str(w), (0.0, 90.0), ((box(0, 0, w, 1),), (box(0, 0, 1, w),)))
        for w in (0.7, 1 / 3, 2.1)
    )
    width = 0.7 + 1 / 3 + 2.1
    walls = scene([], width, 1).fixed
    problem = Problem(items, walls, lambda a, b: True, (0, 0, width, 1))
    state = first_feasible(problem, seed=1, effort=200)
    assert state is not None
    assert violations(problem, state) == ()
