"""Shortest trees along the axes against exact values, bounds and an independent library.

The values were worked out by dynamic programming on the lines through the points and, up to six
points, by trying every choice of added points; nothing here comes from the code under test. Bounds:
half perimeter <= shortest tree <= spanning tree <= 3/2 shortest tree (Hwang, SIAM Journal on
Applied Mathematics 30(1), 1976, 104-114).
"""

import itertools

import networkx as nx
import numpy as np
import pytest

from floorplan.air.lattice import Obstacle, lattice
from floorplan.air.steiner import NoWayError, steiner_tree

ROWS = [
    ([(0, 0), (1, 0), (0, 1), (1, 1)], 3, 3),
    ([(0, 0), (2, 0), (0, 1), (2, 1)], 4, 4),
    ([(0, 0), (4, 1), (1, 3)], 7, 9),
    ([(0, 1), (2, 1), (1, 0), (1, 2)], 4, 6),
    ([(0, 0), (2, 0), (0, 2), (2, 2), (1, 1)], 6, 8),
    ([(0, 0), (1, 3), (2, 1), (3, 4), (4, 2)], 10, 12),
    ([(0, 2), (1, 0), (3, 0), (4, 2), (3, 4), (1, 4)], 12, 13),
    ([(0, 0), (10, 3), (14, 12), (3, 15), (20, 7), (18, 18)], 53, 61),
    ([(0, 0), (0, 4), (2, 4), (4, 4), (6, 4), (8, 0)], 16, 16),
    ([(4, 18), (2, 8), (3, 15), (14, 15), (20, 12), (6, 3), (15, 0)], 50, 53),
    ([(12, 13), (19, 0), (14, 8), (7, 18), (3, 10), (0, 0), (0, 20)], 59, 64),
    ([(17, 0), (12, 6), (13, 0), (16, 7), (14, 15), (17, 7), (11, 7)], 26, 29),
]


def shortest(points, obstacles=(), height=0.0):
    """Length of the shortest tree on the lines through the points."""
    spots = [(*map(float, p), height) for p in points]
    made = lattice(list(zip(*spots, strict=True)), obstacles)
    return steiner_tree(made, [{made.node(spot): 0.0} for spot in spots])


def spanning(points):
    """Length of the shortest tree that joins the points directly, by networkx."""
    graph = nx.Graph()
    for a, b in itertools.combinations(points, 2):
        graph.add_edge(a, b, weight=abs(a[0] - b[0]) + abs(a[1] - b[1]))
    return nx.minimum_spanning_tree(graph).size(weight="weight")


def hanan_graph(points):
    xs, ys = (sorted({p[i] for p in points}) for i in (0, 1))
    graph = nx.Graph()
    for i, x in enumerate(xs):
        for j, y in enumerate(ys):
            if i + 1 < len(xs):
                graph.add_edge((x, y), (xs[i + 1], y), weight=xs[i + 1] - x)
            if j + 1 < len(ys):
                graph.add_edge((x, y), (x, ys[j + 1]), weight=ys[j + 1] - y)
    return graph


@pytest.mark.parametrize(("points", "exact", "direct"), ROWS)
def test_shortest_trees(points, exact, direct):
    found = shortest(points)
    assert found.length == pytest.approx(exact, abs=1e-9)
    assert spanning(points) == direct
    half = sum(max(p[i] for p in points) - min(p[i] for p in points) for i in (0, 1))
    assert half <= found.length <= direct <= 1.5 * found.length


@pytest.mark.parametrize(("points", "exact", "direct"), ROWS)
def test_no_longer_than_an_approximation(points, exact, direct):
    rival = nx.approximation.steiner_tree(hanan_graph(points), points, method="kou")
    assert shortest(points).length <= rival.size(weight="weight") + 1e-9


@pytest.mark.parametrize(("points", "exact", "direct"), ROWS[2:8])
def test_turned_mirrored_moved_scaled(points, exact, direct):
    turned = [(-y + 3.5, x - 1.25) for x, y in points]
    mirrored = [(-x, y) for x, y in points]
    scaled = [(0.3048 * x, 0.3048 * y) for x, y in points]
    assert shortest(turned).length == pytest.approx(exact)
    assert shortest(mirrored).length == pytest.approx(exact)
    assert shortest(scaled).length == pytest.approx(0.3048 * exact)


@pytest.mark.parametrize("seed", range(6))
def test_adding_a_terminal_never_shortens(seed):
    random = np.random.default_rng(seed)
    points = [tuple(map(int, p)) for p in random.integers(0, 20, (6, 2))]
    points = list(dict.fromkeys(points))
    lengths = [shortest(points[:n]).length for n in range(1, len(points) + 1)]
    assert all(a <= b + 1e-9 for a, b in itertools.pairwise(lengths))
    for n in range(2, len(points) + 1):
        assert lengths[n - 1] <= spanning(points[:n]) + 1e-9


def test_the_pieces_are_a_tree_of_that_length():
    points = ROWS[9][0]
    spots = [(*map(float, p), 0.0) for p in points]
    made = lattice(list(zip(*spots, strict=True)))
    found = steiner_tree(made, [{made.node(s): 0.0} for s in spots])
    graph = nx.Graph()
    for a, b in found.pieces:
        graph.add_edge(a, b, weight=float(np.abs(made.spots[a] - made.spots[b]).sum()))
    assert nx.is_tree(graph)
    assert graph.size(weight="weight") == pytest.approx(50)
    assert all(made.node(s) in graph for s in spots)


def test_in_three_dimensions_corners_of_a_cube():
    # the shortest tree of a unit cube's eight corners along the axes has length 7: seven edges
    corners = list(itertools.product((0.0, 1.0), repeat=3))
    made = lattice([[0, 1]] * 3)
    found = steiner_tree(made, [{made.node(c): 0.0} for c in corners])
    assert found.length == pytest.approx(7)


def test_round_an_obstacle():
    # from (0, 0) to (2, 0) past a wall from y = -1 to 1 at x = 1: 1 up, 2 along, 1 down
    wall = Obstacle("wall", np.array([[0.9, -1], [1.1, -1], [1.1, 1], [0.9, 1]]), -1.0, 1.0)
    made = lattice([[0, 2], [-1.5, 0, 1], [0]], [wall])
    ends = [{made.node((x, 0.0, 0.0)): 0.0} for x in (0.0, 2.0)]
    assert steiner_tree(made, ends).length == pytest.approx(4)
    high = Obstacle("wall", np.array([[0.9, -2], [1.1, -2], [1.1, 2], [0.9, 2]]), -1.0, 1.0)
    shut = lattice([[0, 2], [-1.5, 0, 1], [0]], [high])
    with pytest.raises(NoWayError) as told:
        steiner_tree(shut, ends)
    assert told.value.cut_off == (0,)


def test_a_terminal_may_have_a_choice_of_nodes():
    # the nearer of two nodes is taken, unless it costs more than it saves
    made = lattice([[0, 1, 5], [0], [0]])
    near, far, root = (made.node((x, 0.0, 0.0)) for x in (1.0, 0.0, 5.0))
    assert steiner_tree(made, [{near: 0.0, far: 0.0}, {root: 0.0}]).length == pytest.approx(4)
    assert steiner_tree(made, [{near: 2.0, far: 0.0}, {root: 0.0}]).length == pytest.approx(5)
