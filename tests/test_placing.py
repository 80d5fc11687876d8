"""The placement search against brute force, published optima, and its own promises."""

import itertools
import math

import numpy as np
import pytest
import shapely
from benchmarks import trips
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from floorplan.geometry.pieces import Piece, box, conflict_matrix
from floorplan.motion.free import free_region
from floorplan.search.archive import APART, ClearlyDifferent
from floorplan.search.candidates import feasible_positions, merged, sites_of
from floorplan.search.clashes import violations
from floorplan.search.placing import first_feasible, search
from floorplan.search.pricing import OneByOne
from floorplan.search.problem import Item, Problem, State, States
from floorplan.units import TOLERANCE

BODY, ZONE, OUTSIDE = trips.BODY, trips.ZONE, trips.OUTSIDE
W, D = 5.0, 4.0


def turned(piece, degrees):
    shape = affinity.rotate(Polygon(piece.outline), degrees, origin=(0, 0))
    outline = np.asarray(shape.exterior.coords)[:-1]
    return Piece(outline, piece.bottom, piece.top, piece.label)


def machine(name, w, d, zone, turns=(0.0, 90.0), height=0.9):
    plan = (
        box(0, 0, w, d, bottom=0, top=height, label=BODY),
        box(0, -zone, w, 0, bottom=0, top=2, label=ZONE),
    )
    return Item(name, turns, tuple(tuple(turned(p, t) for p in plan) for t in turns))


@st.composite
def rooms(draw):
    """Draw a few machines, some at 45 degrees, the last one to be placed among the others."""
    size = st.floats(0.3, 1.2)
    turns = st.sampled_from([(0.0, 90.0), (0.0, 45.0), (30.0,), (0.0, 90.0, 180.0, 270.0)])
    count = draw(st.integers(2, 4))
    items = tuple(
        machine(str(k), draw(size), draw(size), draw(size), draw(turns), draw(size))
        for k in range(count)
    )
    post = box(2, 1, 2.3, 1.4, bottom=0, top=3, label=BODY)
    beam = box(0, 2, W, 2.3, bottom=1.1, top=1.3, label=BODY)
    problem = Problem(
        items, (*trips.outside(W, D, 9.0), post, beam), trips.bodies_and_zones, (0, 0, W, D)
    )
    poses = [
        (draw(st.integers(0, len(item.turns) - 1)), draw(st.floats(0, W)), draw(st.floats(0, D)))
        for item in items
    ]
    state = State.of(poses)
    state.placed[-1] = False
    return problem, state


def obstacles(problem, state):
    found = list(problem.fixed)
    for i in np.flatnonzero(state.placed):
        found += [p.at(*state.xy[i]) for p in problem.items[i].pieces[state.turn[i]]]
    return found


def outward_corners(area):
    """Return the corners that stick out; at those that bend inwards no cost is least."""
    found = [np.empty((0, 2))]
    for ring in shapely.get_rings(shapely.orient_polygons(shapely.get_parts(area.simplify(1e-7)))):
        points = shapely.get_coordinates(ring)[:-1]
        behind, ahead = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
        left = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
        found.append(points[left > 1e-9])
    return np.vstack(found)


@settings(max_examples=25, deadline=None)
@given(rooms(), st.floats(0, W), st.floats(0, D))
def test_positions_are_the_corners_of_the_free_region(scene, guide_x, guide_y):
    """All outward corners of the exact free region and guide points are offered, none outside."""
    problem, state = scene
    item = len(problem.items) - 1
    conflict = conflict_matrix(3, trips.bodies_and_zones)
    for turn, pieces in enumerate(problem.items[item].pieces):
        region = free_region(
            pieces, obstacles(problem, state), conflict, limits=shapely.box(0, 0, W, D)
        )
        guides = np.array([guide_x]), np.array([guide_y])
        found = shapely.points(feasible_positions(problem, state, item, turn, guides))
        assert all(region.contains(point.x, point.y) for point in found)
        wanted = outward_corners(region.area)
        for line in (
            shapely.LineString([(guide_x, 0), (guide_x, D)]),
            shapely.LineString([(0, guide_y), (W, guide_y)]),
        ):
            on_line = shapely.get_parts(region.area.intersection(line))
            # Along an edge the line comes in pieces, one for each neighbour of the edge.
            on_line = on_line[shapely.get_type_id(on_line) == shapely.GeometryType.LINESTRING]
            on_line = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(on_line)))
            long = on_line[shapely.length(on_line) > 1e-3]
            wanted = np.vstack([wanted, shapely.get_coordinates(shapely.boundary(long))])
        tree = shapely.STRtree(found)
        corners = shapely.points(wanted)
        # Where a slot without play goes on from a corner, the corner is not an end.
        slots = shapely.union_all(np.array(region.segments, dtype=object))
        corners = corners[~shapely.dwithin(corners, slots, 1e-3)]
        if len(corners):
            assert len(found)
            near, _ = tree.query(corners, predicate="dwithin", distance=1e-4)
            assert set(near) == set(range(len(corners)))


@settings(max_examples=25, deadline=None)
@given(rooms(), st.floats(0, W), st.floats(0, D))
def test_no_position_on_a_grid_is_cheaper(scene, x, y):
    """The rectilinear distance to a point is least at an offered position (only boxes here)."""
    problem, state = scene
    item = len(problem.items) - 1
    turn = 0
    pieces = problem.items[item].pieces[turn]
    if not all(p.is_box for i in problem.items for ps in i.pieces for p in ps):
        return
    guides = np.array([x]), np.array([y])
    found = feasible_positions(problem, state, item, turn, guides)
    grid = np.stack(np.meshgrid(np.linspace(0, W, 41), np.linspace(0, D, 33)), axis=-1)
    grid = grid.reshape(-1, 2)
    free = np.ones(len(grid), dtype=bool)
    for piece in pieces:
        placed = shapely.polygons(piece.outline[None] + grid[:, None, :])
        for other in obstacles(problem, state):
            bands = min(piece.top, other.top) - max(piece.bottom, other.bottom)
            if trips.bodies_and_zones(piece.label, other.label) and bands > TOLERANCE:
                free &= ~(shapely.area(shapely.intersection(placed, Polygon(other.outline))) > 0)
    if free.any():
        least = np.abs(found - (x, y)).sum(axis=1).min()
        assert least <= np.abs(grid[free] - (x, y)).sum(axis=1).min() + 4 * TOLERANCE


def test_boxes_that_make_one_box_are_merged():
    row = np.array([(0, 0, 2, 1), (1, 0, 3, 1), (0.5, 0.2, 1, 0.8), (5, 5, 6, 6)], dtype=float)
    assert sorted(map(tuple, merged(row))) == [(0, 0, 3, 1), (5, 5, 6, 6)]


def test_boxes_that_only_touch_keep_the_line_between_them():
    row = np.array([(0, 0, 1, 1), (1, 0, 2, 1)], dtype=float)
    assert len(merged(row)) == 2


def corridor(lengths):
    """Return things as deep as the corridor that holds them, in a row without play."""
    items = tuple(
        Item(str(k), (0.0,), ((box(0, 0, length, 1),),)) for k, length in enumerate(lengths)
    )
    total = sum(lengths)
    return Problem(
        items, trips.outside(total, 1, 9.0), lambda a, b: a != b or a == 0, (0, 0, total, 1)
    )


def test_finds_the_best_order_in_a_corridor_without_play():
    """Every order of five things is enumerated: the single-row layout problem, solved whole."""
    lengths = [0.7, 1.3, 0.4, 2.0, 1.1]
    weights = np.array(
        [(0, 4, 1, 7, 2), (4, 0, 5, 1, 3), (1, 5, 0, 6, 2), (7, 1, 6, 0, 1), (2, 3, 2, 1, 0)], float
    )
    middles = np.array([[(0.5 * length, 0.5)] for length in lengths])
    objective = trips.Trips(weights, middles)

    def cost(order):
        at = np.zeros(5)
        end = 0.0
        for k in order:
            at[k] = end + 0.5 * lengths[k]
            end += lengths[k]
        return 0.5 * (np.abs(at[:, None] - at) * weights).sum()

    least = min(cost(order) for order in itertools.permutations(range(5)))
    outcome = search(corridor(lengths), objective, seed=1, effort=2_000)
    assert outcome.feasible
    assert outcome.cost == pytest.approx(least)


@pytest.mark.parametrize("name", ["nug12", "nug15", "nug20", "nug25", "nug30"])
def test_listed_permutations_cost_the_listed_optimum(name):
    """QAPLIB, Burkard, Karisch, Rendl, J. Global Optimization 10 (1997) 391-403."""
    problem, objective, cells = trips.assignment(name)
    data = trips.load(f"qap_{name}")
    corners = np.zeros_like(cells)
    corners[data["permutation_0based"]] = cells
    state = trips.state_at(corners)
    assert objective.total(state) == data["optimum"]
    assert violations(problem, state) == ()


def test_nug12_is_nearly_solved():
    """Optimum 578: Nugent, Vollmann, Ruml, Operations Research 16 (1968) 150-173."""
    problem, objective, _ = trips.assignment("nug12")
    outcome = search(problem, objective, seed=1, effort=20_000)
    assert 578 <= outcome.cost <= 1.02 * 578
    assert violations(problem, outcome.best) == ()


@pytest.mark.parametrize("name", ["P6", "D6", "D8"])
def test_departments_reach_the_best_known_cost(name):
    """Das, Int. J. Production Research 31 (1993) 279-297; best known on whole units, not proved."""
    problem, objective = trips.departments(name)
    best = trips.load(f"flp_{name}")["best_found"]
    outcome = search(problem, objective, seed=1, effort=2_000)
    assert outcome.cost <= 1.02 * best["cost"]
    assert violations(problem, outcome.best) == ()


@pytest.mark.parametrize("name", ["P6", "D6", "D8"])
def test_listed_departments_cost_what_is_listed(name):
    problem, objective = trips.departments(name)
    best = trips.load(f"flp_{name}")["best_found"]
    poses = []
    for item, (x, y, w, d) in zip(problem.items, best["placements_x_y_w_h"], strict=True):
        sizes = [pieces[0].bounds[2:] for pieces in item.pieces]
        poses.append((sizes.index((w, d)), x, y))
    state = State.of(poses)
    assert objective.total(state) == pytest.approx(best["cost"])
    assert violations(problem, state) == ()


def test_zones_can_only_make_it_dearer():
    """The eight machines without zones, trips from the same points, cost no more."""
    problem, objective = trips.eight_machines()
    items = tuple(
        Item(item.name, item.turns, tuple(pieces[:1] for pieces in item.pieces))
        for item in problem.items
    )
    bare = Problem(items, problem.fixed, problem.conflict, problem.bounds)
    with_zones = search(problem, objective, seed=1, effort=1_000)
    without = search(bare, objective, seed=1, effort=1_000, start=with_zones.best)
    assert violations(problem, with_zones.best) == ()
    assert without.cost <= with_zones.cost


def same(a, b):
    return all(
        getattr(a, part).tobytes() == getattr(b, part).tobytes()
        for part in ("turn", "xy", "placed")
    )


def test_seed_and_effort_fix_the_answer():
    problem, objective = trips.garage(8, seed=4)
    one = search(problem, objective, seed=7, effort=800)
    again = search(problem, objective, seed=7, effort=800, seconds=600.0)
    assert same(one.best, again.best)
    assert [cost for cost, _ in one.archive] == [cost for cost, _ in again.archive]
    assert all(same(a, b) for (_, a), (_, b) in zip(one.archive, again.archive, strict=True))
    other = search(problem, objective, seed=8, effort=800)
    assert not same(one.best, other.best)


def test_seconds_only_cut_it_short():
    problem, objective = trips.garage(8, seed=4)
    outcome = search(problem, objective, seed=1, effort=10**9, seconds=0.3)
    assert outcome.cut_short
    assert outcome.tried < 10**9
    assert violations(problem, outcome.best) == ()


def test_many_states_cost_what_each_of_them_costs():
    """Prices asked state by state and all at once are the same; so are the positions."""
    problem, objective = trips.garage(6, seed=2)
    states = States.of(
        [first_feasible(problem, objective, seed=seed, effort=500) for seed in range(1, 6)]
    )
    apart = OneByOne(objective, problem)
    assert objective.total_each(states) == pytest.approx(apart.total_each(states))
    sites = sites_of(problem)
    for item in range(6):
        states.placed[item] = False
        guides = objective.guides_each(item, states)
        for together, one in zip(guides, apart.guides_each(item, states), strict=True):
            assert together == pytest.approx(one)
        which, turn, xy = sites.positions_each(item, states, *guides)
        scores = objective.score_each(item, which, turn, xy, states)
        assert scores == pytest.approx(apart.score_each(item, which, turn, xy, states))
        for number in range(5):
            each = list(zip(guides[0][number], guides[1][number], strict=True))
            own_turn, own_xy = sites.positions(item, states.one(number), each)
            assert np.array_equal(own_turn, turn[which == number])
            assert np.array_equal(own_xy, xy[which == number])
        states.placed[item] = True


class Stopped(trips.Trips):
    """An objective whose user loses patience."""

    def total_each(self, states):
        self.asked.append(1)
        if len(self.asked) == 40:
            raise KeyboardInterrupt
        return super().total_each(states)


def test_an_interrupt_gives_the_best_so_far():
    problem, objective = trips.garage(8, seed=4)
    stopped = Stopped(objective.weights, objective.points)
    object.__setattr__(stopped, "asked", [])
    outcome = search(problem, stopped, seed=1, effort=10_000)
    assert outcome.interrupted
    assert outcome.feasible
    assert outcome.cost == pytest.approx(objective.total(outcome.best))
    assert violations(problem, outcome.best) == ()


def test_the_archive_holds_clearly_different_feasible_states():
    problem, objective = trips.garage(8, seed=4)
    outcome = search(problem, objective, seed=1, effort=2_000, keep=5)
    different = ClearlyDifferent(problem)
    assert len(outcome.archive) == 5
    costs = [cost for cost, _ in outcome.archive]
    assert costs == sorted(costs)
    assert costs[0] == outcome.cost
    for cost, state in outcome.archive:
        assert objective.total(state) == pytest.approx(cost)
        assert violations(problem, state) == ()
    for (_, a), (_, b) in itertools.combinations(outcome.archive, 2):
        assert different(a, b)


def test_clearly_different_is_three_feet_or_a_turn_and_one():
    item = Item("bench", (0.0, 180.0), ((box(0, 0, 1, 1),), (box(0, 0, 1, 1),)))
    problem = Problem((item,), (), lambda a, b: True, (0, 0, 9, 9))
    different = ClearlyDifferent(problem)
    base = State.of([(0, 1.0, 1.0)])
    assert not different(base, State.of([(0, 1.0 + APART - 0.01, 1.0)]))
    assert different(base, State.of([(0, 1.0 + APART + 0.01, 1.0)]))
    assert not different(base, State.of([(1, 1.0, 1.29)]))
    assert different(base, State.of([(1, 1.0, 1.31)]))


def test_what_cannot_fit_is_told_with_the_least_overlap():
    """Two squares of side 1 in 1.5 x 1: the least overlap is a strip half a unit wide."""
    items = tuple(Item(name, (0.0,), ((box(0, 0, 1, 1),),)) for name in "ab")
    problem = Problem(items, trips.outside(1.5, 1, 9.0), lambda a, b: a == 0, (0, 0, 1.5, 1))
    outcome = search(problem, seed=1, effort=500)
    assert not outcome.feasible
    assert math.isinf(outcome.cost)
    assert outcome.best.placed.all()
    assert sum(clash.depth for clash in outcome.clashes) == pytest.approx(0.5, abs=1e-6)


def test_starting_from_an_overlapping_state():
    problem, objective = trips.garage(6, seed=2)
    start = State.of([(0, 1.0, 1.0)] * 6)
    assert violations(problem, start)
    found = first_feasible(problem, objective, seed=1, start=start)
    assert violations(problem, found) == ()


def test_a_feasible_start_is_kept_if_nothing_is_better():
    problem, objective = trips.garage(6, seed=2)
    good = search(problem, objective, seed=1, effort=1_500)
    again = search(problem, objective, seed=2, effort=5, start=good.best)
    assert again.cost <= good.cost


def test_an_item_keeps_to_its_limits():
    """One stays on a point, one on a slanted line, one in a triangle."""
    unit = ((box(0, 0, 0.4, 0.4),),)
    triangle = np.array([(0, 2), (2, 2), (0, 4)], dtype=float)
    items = (
        Item("stays", (0.0,), unit, (3.0, 3.0, 3.0, 3.0)),
        Item("slides", (0.0,), unit, np.array([(0, 0), (3, 1.5)], dtype=float)),
        Item("keeps to a corner", (0.0,), unit, triangle),
    )
    problem = Problem(items, trips.outside(W, D, 9.0), trips.bodies_and_zones, (0, 0, W, D))
    weights = np.ones((3, 3)) - np.eye(3)
    objective = trips.Trips(weights, np.zeros((3, 1, 2)))
    outcome = search(problem, objective, seed=1, effort=300)
    stays, slides, corner = outcome.best.xy
    assert stays == pytest.approx([3, 3])
    assert slides[1] == pytest.approx(0.5 * slides[0])
    assert Polygon(triangle).distance(shapely.Point(corner)) < TOLERANCE
    # By hand: the line ends at (3, 1.5), under the post; the triangle's side x + y = 4 costs
    # least anywhere with 3 >= x, 3 >= y >= 1.5: 1.5 + 2 + 2.
    assert outcome.cost == pytest.approx(1.5 + (3 + 3 - 4) + (3 + 1.5 - 4 + 2 * 0.5))


def test_a_garage_of_ten_things_is_filled():
    problem, objective = trips.garage(10, seed=1)
    state = first_feasible(problem, objective, seed=1, effort=2_000)
    assert state is not None
    assert violations(problem, state) == ()


def test_turns_of_45_degrees_and_swings_are_placed_exactly():
    """A quarter-round door swing is kept clear by boxes and by a bench across the corner."""
    arc = [(0.9 * math.cos(a), 0.9 * math.sin(a)) for a in np.linspace(0, math.pi / 2, 9)]
    swing = Piece(np.array([(0.0, 0.0), *arc]), 0.0, 2.0, BODY)
    items = tuple(machine(str(k), 1.0, 0.6, 0.6, (0.0, 45.0, 90.0)) for k in range(4))
    problem = Problem(
        items, (*trips.outside(W, D, 9.0), swing), trips.bodies_and_zones, (0, 0, W, D)
    )
    weights = np.ones((4, 4)) - np.eye(4)
    objective = trips.Trips(weights, np.zeros((4, 3, 2)))
    outcome = search(problem, objective, seed=1, effort=200)
    assert outcome.feasible
    assert violations(problem, outcome.best) == ()


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_eight_machines_come_close_to_the_best_known(seed):
    """7550 is the best that any search found, not proved."""
    problem, objective = trips.eight_machines()
    outcome = search(problem, objective, seed=seed, effort=40_000)
    assert violations(problem, outcome.best) == ()
    assert 7550 - 1e-6 <= outcome.cost <= 7575
