"""Widest ways and walks on random floors: laws that hold for all, and independent references."""

import networkx as nx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt, label
from shapely import affinity
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Polygon, box

from floorplan.motion.clearance import boundary_of, climb, summit
from floorplan.motion.gaps import rooms_of
from floorplan.motion.walk import Walker, passable, widest_ways
from floorplan.motion.widest import sound

GRID = 1e-7
"""Corners are rounded by the code; widths may differ by a few of these."""


def scene(seed, *, things=12, step=None, turned=False):
    """A room 7.3 x 6.7 m with boxes, standing places before them, a door and the ground outside."""
    rng = np.random.default_rng(seed)
    room, outside = box(0, 0, 7.3, 6.7), box(3.5, -3, 7.3, -0.1)
    floor = shapely.union_all([room, box(4, -0.1, 6.4, 0), outside])
    boxes, places = [], []
    for _ in range(things):
        w, d = rng.uniform(0.4, 1.4), rng.uniform(0.4, 0.9)
        x, y = rng.uniform(0, 7.3 - w), rng.uniform(0, 6.7 - d)
        if step:
            w, d, x, y = (round(v / step) * step for v in (w, d, x, y))
        body, stand = box(x, y, x + w, y + d), box(x, y - 0.6, x + w, y)
        if turned:
            turn = rng.uniform(0, 360)
            body, stand = (affinity.rotate(s, turn, origin=(x, y)) for s in (body, stand))
        if all(body.intersection(other).area < 1e-9 for other in boxes):
            boxes.append(body)
            places.append(stand)
    return floor.difference(shapely.union_all(boxes)), places, outside


def widths(floor, starts, goals):
    ways = widest_ways(floor, starts, goals)
    assert all(way.certified for way in ways)
    return np.array([way.width for way in ways])


def any_scene(seed):
    step = (None, 0.1, 0.3, 0.05)[seed % 4]
    return scene(seed, things=(6, 15, 30)[seed % 3], step=step, turned=seed % 8 in (1, 4))


seeds = st.integers(0, 10_000)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=seeds, turn=st.floats(0, 360), size=st.floats(0.5, 3), shift=st.floats(-50, 50))
def test_widths_move_turn_mirror_and_scale_with_the_scene(seed, turn, size, shift):
    floor, places, goal = any_scene(seed)

    def moved(shape):
        shape = affinity.scale(shape, size, -size, origin=(0, 0))
        return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), shift, -shift)

    before = widths(floor, places, goal)
    after = widths(moved(floor), [moved(p) for p in places], moved(goal)) / size
    assert after == pytest.approx(before, abs=20 * GRID)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=seeds)
def test_one_more_obstacle_never_widens_a_way(seed):
    floor, places, goal = any_scene(seed)
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 6, size=2)
    less = floor.difference(affinity.rotate(box(x, y, x + 0.5, y + 0.7), rng.uniform(0, 90)))
    assert (widths(less, places, goal) <= widths(floor, places, goal) + 10 * GRID).all()


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=seeds)
def test_a_way_is_as_wide_back_as_forth(seed):
    floor, places, goal = any_scene(seed)
    there = widths(floor, places[:3], goal)
    back = [widths(floor, [goal], place)[0] for place in places[:3]]
    assert back == pytest.approx(there, abs=10 * GRID)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=seeds)
def test_passable_says_what_the_width_says(seed):
    floor, places, goal = any_scene(seed)
    wide = widths(floor, places, goal)
    for width in (0.3, 0.6, 0.9, *wide[:2], *(wide[:2] + 0.9e-5), *(wide[:2] + 1.2e-5)):
        assert passable(floor, places, goal, width) == tuple(wide >= width - 1e-5)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=seeds)
def test_pinches_face_each_other_across_free_floor(seed):
    floor, places, goal = any_scene(seed)
    for way in widest_ways(floor, places, goal):
        assert (way.pinch is not None) == (way.limit == "pinch")
        if way.pinch:
            line = LineString(way.pinch)
            assert line.length == pytest.approx(way.width, abs=1e-12)
            assert floor.boundary.distance(line.centroid) == pytest.approx(way.width / 2, abs=3e-7)


@pytest.mark.parametrize("seed", range(8))
def test_widths_agree_with_a_raster(seed):
    """Erosion on a raster: cell centres whose distance to the blocked ones exceeds half the width.

    A cell centre is blocked if it is not on the floor, so a clearance is overestimated by at most
    the half diagonal of a cell, and centres miss the best spot by as much.
    """
    floor, places, goal = any_scene(seed)
    cell = 0.02
    x, y = np.arange(-0.5, 8, cell), np.arange(-3.5, 7.2, cell)
    centres = np.meshgrid(x, y)
    shapely.prepare(floor)
    clear = distance_transform_edt(shapely.contains_xy(floor, *centres)) * cell
    at_goal = shapely.contains_xy(goal, *centres)
    for place, width in zip(places, widths(floor, places, goal), strict=True):
        at_start = shapely.contains_xy(place, *centres)
        low, high = 0.0, 4.0
        while high - low > 1e-3:
            middle = 0.5 * (low + high)
            parts = label(clear > middle / 2, structure=np.ones((3, 3)))[0]
            shared = np.intersect1d(parts[at_start], parts[at_goal])
            low, high = (middle, high) if shared.max(initial=0) > 0 else (low, middle)
        assert abs(width - low) <= 2 * cell * np.sqrt(2) + 1e-3


@pytest.mark.parametrize("seed", range(6))
def test_widths_agree_with_fine_erosions(seed):
    """Bisection with erosions whose arcs have 64 chords a quarter; small dents may cost 1 %."""
    floor, places, goal = any_scene(seed + 100)
    for place, width in zip(places[:5], widths(floor, places[:5], goal), strict=True):
        low, high = 0.0, 4.0
        while high - low > 1e-4:
            middle = 0.5 * (low + high)
            parts = shapely.get_parts(floor.buffer(-middle / 2, quad_segs=64))
            joined = (shapely.intersects(parts, place) & shapely.intersects(parts, goal)).any()
            low, high = (middle, high) if joined else (low, middle)
        assert width == pytest.approx(low, rel=0.012, abs=3e-4)


@pytest.mark.parametrize("seed", range(12))
def test_every_room_has_one_summit(seed):
    """Climbing from anywhere in a room above all its gaps ends at the same height."""
    floor = sound(any_scene(seed)[0])
    rooms = rooms_of(floor)
    assert rooms.whole
    rng = np.random.default_rng(seed)
    for index in rng.choice(len(rooms.faces), size=min(8, len(rooms.faces)), replace=False):
        face = rooms.faces[index]
        gaps = rooms.door_gap[(rooms.doors == index).any(axis=1)]
        rim = rooms.gaps.width[gaps].max(initial=0.0) / 2
        low_x, low_y, high_x, high_y = face.bounds
        points = rng.uniform((low_x, low_y), (high_x, high_y), size=(60, 2))
        points = points[shapely.contains_xy(face, points)]
        high = points[rooms.boundary.clearance(points) > rim + 1e-6]
        ends = [summit(rooms.boundary, point) for point in high]
        assert all(settled for _, _, settled in ends)
        assert all(face.distance(shapely.points(point)) < 1e-6 for point, _, _ in ends)
        assert np.ptp([height for _, height, _ in ends] or [0.0]) < 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_climbing_along_lines_misses_no_finely_sampled_point(seed):
    boundary = boundary_of(sound(any_scene(seed)[0]))
    rng = np.random.default_rng(seed)
    pieces = rng.uniform(0, 6, size=(30, 2, 2))
    group = np.arange(30) // 3
    best, piece, proven = climb(boundary, pieces, group, np.full(30, np.inf), groups=10)
    share = np.linspace(0, 1, 2001)[:, None]
    sampled = [boundary.clearance(a + share * (b - a)).max() * 2 for a, b in pieces]
    expected = np.array(sampled).reshape(10, 3).max(axis=1)
    step = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T).max() / 2000
    assert proven.all()
    assert (best >= expected - 1e-9).all()
    assert (best <= expected + step).all()
    assert (group[piece] == np.arange(10)).all()


def test_slots_thin_walls_and_touching_corners():
    # walls of 0.1 in, 2.54 mm, with a slot of 0.1 in between their ends
    thin = 0.00254
    slot = box(0, 0, 4, 3) - box(2, 0, 2 + thin, 1) - box(2, 1 + thin, 2 + thin, 3)
    assert widths(slot, [box(0.5, 1, 1, 2)], box(3, 1, 3.5, 2)) == pytest.approx([thin], abs=2e-7)
    assert passable(slot, [box(0.5, 1, 1, 2)], box(3, 1, 3.5, 2), 0.1) == (False,)
    # two boxes that touch in a corner let nobody through, two that abut neither
    touching = box(0, 0, 4, 4) - box(0, 2, 2, 4) - box(2, 0, 4, 2)
    assert widths(touching, [box(0, 0, 1, 1)], box(3, 3, 4, 4)) == pytest.approx([0.0])
    abutting = box(0, 0, 4, 4) - box(1, 0, 2, 2.1) - box(1, 2.1 + 1e-15, 2, 4)
    assert widths(abutting, [box(0, 0, 1, 1)], box(3, 0, 4, 4)) == pytest.approx([0.0])


def test_l_room_and_start_against_a_wall():
    # arms 1.2 and 0.9 wide; the start along the wall of the first reaches 0.6 into it, its middle.
    # The goal is the last 0.5 m of the second arm: on its middle line 0.45 from either side
    room = Polygon([(0, 0), (5, 0), (5, 0.9), (1.2, 0.9), (1.2, 5), (0, 5)])
    (way,) = widest_ways(room, [box(0, 3, 0.6, 4)], box(4.5, 0, 5, 0.9))
    assert (way.width, way.limit) == (pytest.approx(0.9, abs=1e-6), "pinch")
    (way,) = widest_ways(room, [box(0, 3, 0.4, 4)], box(4, 0, 5, 0.9))
    assert (way.width, way.limit) == (pytest.approx(0.8, abs=1e-6), "start")


def test_start_partly_and_wholly_covered():
    # of a start 1 m wide a box covers all but 0.2 m, which lies 0.2 off the box
    room = box(0, 0, 6, 4) - box(2, 1, 3, 2)
    ways = widest_ways(room, [box(2.2, 1, 3.2, 2), box(2.2, 1.2, 2.8, 1.8)], box(4, 1, 5, 2))
    assert (ways[0].width, ways[0].limit) == (pytest.approx(0.4, abs=1e-6), "start")
    assert (ways[1].width, ways[1].limit) == (0.0, "none")


def test_enough_spares_the_search_but_not_the_truth():
    floor, places, goal = any_scene(3)
    exact = widest_ways(floor, places, goal)
    for way, quick in zip(exact, widest_ways(floor, places, goal, enough=0.5), strict=True):
        assert quick.width <= way.width + 1e-9
        assert (quick.width >= 0.5) == (way.width >= 0.5)
        assert not quick.certified or quick.width == pytest.approx(way.width)


def test_odd_floors_and_places():
    room = box(0, 0, 4, 4)
    assert widest_ways(room, [], room) == ()
    assert widest_ways(Polygon(), [room], room)[0].limit == "none"
    assert widest_ways(room, [Polygon()], room)[0].limit == "none"
    assert widest_ways(room, [room], Polygon())[0].limit == "none"
    assert passable(Polygon(), [room], room, 0.5) == (False,)
    crossed = Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    assert widest_ways(crossed, [box(0, 1, 1, 3)], box(3, 1, 4, 3))[0].width == 0.0
    mixed = GeometryCollection([box(0, 0, 4, 4), LineString([(5, 0), (6, 0)])])
    assert widths(mixed, [room], mixed) == pytest.approx([4.0])
    apart = MultiPolygon([box(0, 0, 1, 4), box(2, 0, 4, 4)])
    assert widths(apart, [box(0, 0, 1, 1), room], box(3, 0, 4, 4)) == pytest.approx([0.0, 2.0])


def reference_walks(floor, points, radius, chords):
    """Shortest paths over all pairs of corners of the eroded floor, by brute force."""
    ground = floor.buffer(-radius, quad_segs=chords) if radius else floor
    corners = np.concatenate([points, np.unique(shapely.get_coordinates(ground), axis=0)])
    one, other = np.triu_indices(len(corners), k=1)
    lines = shapely.linestrings(np.stack([corners[one], corners[other]], axis=1))
    grown = ground.buffer(1e-7, join_style="mitre")
    shapely.prepare(grown)
    seen = shapely.covers(grown, lines)
    graph = nx.Graph()
    graph.add_nodes_from(range(len(corners)))
    length = shapely.length(lines)
    graph.add_weighted_edges_from(zip(one[seen], other[seen], length[seen], strict=True))
    walks = np.full((len(points), len(points)), np.inf)
    for index in range(len(points)):
        for node, value in nx.single_source_dijkstra_path_length(graph, index).items():
            if node < len(points):
                walks[index, node] = value
    return walks


def free_points(floor, count, radius, seed):
    rng = np.random.default_rng(seed)
    points = rng.uniform((0, -3), (7.3, 6.7), size=(400, 2))
    free = shapely.contains_xy(floor, points)
    free &= shapely.distance(floor.boundary, shapely.points(points)) > radius + 1e-3
    return points[free][:count]


@pytest.mark.parametrize("radius", [0.0, 0.17, 0.25])
@pytest.mark.parametrize("seed", range(4))
def test_walks_agree_with_brute_force_on_eroded_floors(seed, radius):
    """With 6 chords a quarter the eroded corners lie up to 0.9 % of a radius within the arcs."""
    floor, _, _ = scene(seed, things=7, step=(None, 0.3)[seed % 2], turned=seed == 2)
    points = free_points(floor, 5, radius, seed)
    walks, expected = (
        Walker(floor, body_radius=radius).distances(points),
        reference_walks(floor, points, radius, 6),
    )
    assert (np.isfinite(walks) == np.isfinite(expected)).all()
    finite = np.isfinite(walks)
    slack = 1e-6 if radius == 0.0 else 6e-3
    assert (walks[finite] >= expected[finite] - 1e-6).all()
    assert (walks[finite] <= expected[finite] * (1 + slack) + 1e-6).all()


@pytest.mark.parametrize("radius", [0.0, 0.05, 0.23])
@pytest.mark.parametrize("seed", range(4))
def test_paths_are_as_long_as_told_and_keep_clear(seed, radius):
    floor, places, _ = scene(seed, things=10)
    points = np.array([place.centroid.coords[0] for place in places])
    points = points[shapely.contains_xy(floor, points)][:6]
    walker = Walker(floor, body_radius=radius)
    walks = walker.distances(points)
    assert (walks == walks.T).all()
    for one in range(len(points)):
        for other in range(one):
            path = walker.path(points[one], points[other])
            if not np.isfinite(walks[one, other]):
                assert len(path) == 0
                continue
            length = LineString(path).length if len(path) > 1 else 0.0
            assert walks[one, other] * 0.999 - 1e-6 <= length <= walks[one, other] + 1e-6
            assert LineString(path).within(floor.buffer(1e-5))
            # the stretch from a point where the body does not fit is the only one too close
            fits = shapely.distance(floor.boundary, shapely.points(path)) >= radius - 1e-5
            middle = path[fits.argmax() : len(path) - fits[::-1].argmax()]
            assert fits[1:-1].all()
            assert floor.boundary.distance(LineString(middle)) >= radius - 5e-4


def test_walks_obey_the_triangle_inequality():
    floor, _, _ = scene(5, things=10)
    points = free_points(floor, 8, 0.2, 5)
    walks = Walker(floor, body_radius=0.2).distances(points)
    detour = walks[:, :, None] + walks[None, :, :]
    assert (walks[:, None, :] <= detour + 1e-9).all()


def test_a_body_passes_a_gap_of_exactly_its_size():
    floor = box(0, 0, 5, 3) - box(2, 0, 2.6, 1.1) - box(2, 1.6, 2.6, 3)
    points = [(1, 1.35), (4, 1.35)]
    assert Walker(floor, body_radius=0.25).distances(points)[0, 1] == pytest.approx(3.0, abs=1e-9)
    assert Walker(floor, body_radius=0.2501).distances(points)[0, 1] == np.inf


def test_a_point_too_near_a_wall_starts_from_where_the_body_fits():
    # 0.1 off a wall of 0.1 in, the body needs 0.25 and steps 0.15 back, on its own side of the wall
    floor = box(0, 0, 4, 3) - box(2, 0, 2.00254, 3)
    walks = Walker(floor, body_radius=0.25).distances([(1.9, 1), (1.0, 1), (3.0, 1)])
    assert walks[0, 1] == pytest.approx(0.15 + 0.75, abs=2e-5)
    assert walks[0, 2] == np.inf


def test_walker_refuses_nonsense():
    with pytest.raises(ValueError, match="negative"):
        Walker(box(0, 0, 1, 1), body_radius=-0.1)
    with pytest.raises(ValueError, match="no floor"):
        Walker(Polygon(), body_radius=0.1)


def test_nowhere_to_stand():
    walker = Walker(box(0, 0, 1, 1), body_radius=0.6)
    assert walker.distances([(0.5, 0.5), (0.2, 0.2)])[0, 1] == np.inf
    assert len(walker.path((0.5, 0.5), (0.2, 0.2))) == 0
