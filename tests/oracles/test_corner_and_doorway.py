"""A rectangle round a corner, through a doorway, into a passage: closed forms on either side.

All sizes are in inches. The corner: with the outer corner at the origin and the inner one at
(a, b), a sheet whose long side touches both outer walls at angle t leaves the inner corner at
a sin t + b cos t - L sin t cos t from that side, which must be at least the width (elementary
geometry; for width 0 it is the ladder problem, L = (a^(2/3) + b^(2/3))^(3/2)). The passage behind
a doorway is derived the same way, from the sheet's back end between the jambs.
"""

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from floorplan.motion.carry import Body, CarrySpace, Pose, carry
from floorplan.motion.slices import Slice

INCH = 0.0254
NEAR = 1 / 32  # the two bounds lie this far to either side of the closed form [in]


def scaled(polygon):
    return Polygon(np.asarray(polygon.exterior.coords) * INCH)


def pose(x, y, degrees):
    return Pose(x * INCH, y * INCH, math.radians(degrees))


def verdict(space, length, width, start, goal):
    body = Body.rectangle(length * INCH, width * INCH)
    return carry(space, body, start=start, goal=goal, margin=False).verdict


def least(function, low, high):
    grid = np.linspace(low, high, 2001)
    k = int(np.argmin([function(t) for t in grid]))
    bounds = grid[max(k - 1, 0)], grid[min(k + 1, 2000)]
    found = minimize_scalar(function, bounds=bounds, method="bounded", options={"xatol": 1e-12})
    return min(found.fun, function(low), function(high))


# --- the corner ---


def corner_limit(a, b, w):
    def reach(t):
        return (a * math.sin(t) + b * math.cos(t) - w) / (math.sin(t) * math.cos(t))

    return max(least(reach, 1e-3, math.pi / 2 - 1e-3), a, b)


def corner_space(a, b, far=400):
    return CarrySpace(scaled(Polygon([(0, 0), (far, 0), (far, b), (a, b), (a, far), (0, far)])))


def corner_verdicts(a, b, length, width):
    """Verdicts for the sheet along and across the corridors at either end."""
    space = corner_space(a, b)
    return {
        verdict(space, length, width, pose(a / 2, 280, one), pose(280, b / 2, other))
        for one in (0, 90)
        for other in (0, 90)
    }


# a, b, width, and the largest length worked out beforehand
CORNERS = [
    (36, 36, 0, 101.823),
    (48, 36, 0, 118.388),
    (36, 36, 0.75, 100.323),
    (42, 42, 0.75, 117.294),
    (48, 48, 1.5, 132.765),
    (36, 60, 0.75, 132.807),
    (36, 36, 12, 77.823),
    (36, 36, 24, 53.823),
    (48, 48, 24, 87.765),
    (48, 36, 24, 69.897),
    (36, 48, 30, 57.490),
    (42, 42, 30, 58.794),
    (54, 54, 48, 56.735),
    (60, 60, 48, 73.706),
    (72, 72, 48, 107.647),
    (30, 96, 29, 99.256),
    (60, 48, 48, 60.000),  # enters along one corridor and leaves across the other, unturned
    (96, 48, 48, 96.000),
    (36, 36, 36, 36.000),
]


@pytest.mark.parametrize(("a", "b", "width", "limit"), CORNERS)
def test_corner_is_enclosed_from_both_sides(a, b, width, limit):
    exact = corner_limit(a, b, width)
    assert exact == pytest.approx(limit, abs=6e-4)
    assert "passes" in corner_verdicts(a, b, exact - NEAR, width)
    assert corner_verdicts(a, b, exact + NEAR, width) == {"fails"}


@pytest.mark.parametrize(("a", "b", "width"), [(48, 48, 24), (36, 60, 0.75), (36, 48, 30)])
def test_largest_length_round_a_corner_by_bisection(a, b, width):
    limit = corner_limit(a, b, width)
    space = corner_space(a, b)
    ends = pose(a / 2, 280, 90), pose(280, b / 2, 0)
    passing, failing = width, 2 * (a + b)
    while failing - passing > 1e-4 * limit:
        middle = (passing + failing) / 2
        if verdict(space, middle, width, *ends) == "passes":
            passing = middle
        else:
            failing = middle
    assert limit * (1 - 5e-4) <= passing <= limit


# --- a thin sheet with someone beside it ---


def corridor_with_someone(length, person, depth):
    """Width of two equal corridors that a thin sheet needs whose carrier walks on the outside.

    At angle t the middle of the sheet is at least X from one outer wall, Y from the other, by its
    own ends or by the carrier's corners; the inner corner at (a, a) must be beyond its line, so
    X sin t + Y cos t <= a (sin t + cos t).
    """

    def narrow(t):
        s, c = math.sin(t), math.cos(t)
        x = max(length * c / 2, person * s + depth * c / 2)
        y = max(length * s / 2, person * c + depth * s / 2)
        return -(x * s + y * c) / (s + c)

    return -least(narrow, 1e-6, math.pi / 2 - 1e-6)


@pytest.mark.parametrize(
    ("length", "person", "depth"),
    # limited by the sheet as if it were alone, by the person, by both
    [(100, 26, 20), (100, 34, 30), (60, 26.25, 20)],
)
def test_a_sheet_with_its_carrier_on_the_outside_of_a_corner(length, person, depth):
    limit = corridor_with_someone(length, person, depth)
    corners = ((-depth / 2, 0), (depth / 2, 0), (depth / 2, person), (-depth / 2, person))
    body = Body.rectangle(length * INCH, 0.0).accompanied(
        tuple((x * INCH, y * INCH) for x, y in corners)
    )
    found = []
    for a in (limit - NEAR, limit + NEAR):
        ends = {"start": pose(a - 0.01, 280, 90), "goal": pose(280, a - 0.01, 180)}
        found.append(carry(corner_space(a, a), body, margin=False, **ends).verdict)
    assert found == ["fails", "passes"]


@pytest.mark.parametrize(
    ("length", "width", "corridor"), [(96, 48, 67.882), (96, 24, 50.912), (96, 0.75, 34.472)]
)
def test_square_corridor_a_sheet_needs(length, width, corridor):
    exact = (length + 2 * width) / (2 * math.sqrt(2))
    assert exact == pytest.approx(corridor, abs=6e-4)
    for slack, expected in ((1 / 64, "passes"), (-1 / 64, "fails")):
        a = exact + slack
        ends = pose(a / 2, 280, 90), pose(280, a / 2, 0)
        assert verdict(corner_space(a, a), length, width, *ends) == expected


def test_best_rectangle_in_a_corridor_has_its_area():
    # Among rectangles that pass, L w = 2 w (sqrt(2) a - w) is largest, a^2, at w = a / sqrt(2).
    a, w = 40, 40 / math.sqrt(2)
    assert corner_limit(a, a, w) * w == pytest.approx(a * a, rel=1e-9)
    ends = pose(a / 2, 280, 90), pose(280, a / 2, 0)
    assert verdict(corner_space(a, a), 2 * w - NEAR, w, *ends) == "passes"
    assert verdict(corner_space(a, a), 2 * w + NEAR, w, *ends) == "fails"


def half_disc(radius, corners=24):
    t = np.linspace(0, math.pi, corners)
    x, y = radius * np.cos(t), radius * np.sin(t) - 0.4 * radius
    return list(zip(x * INCH, y * INCH, strict=True))


def test_half_disc_turns_about_the_inner_corner():
    # The half-disc as high as the corridor is wide passes (area pi/2; Hammersley's first shape).
    a = 40
    space = corner_space(a, a)
    for radius, expected in ((39.9, "passes"), (40.1, "fails")):
        body = Body.convex(half_disc(radius))
        rest = a - 0.4 * radius - 0.02  # the flat side lies on the inner wall of each corridor
        start = pose(rest, 280, 90)
        goal = pose(280, rest, 180)
        assert carry(space, body, start=start, goal=goal, margin=False).verdict == expected


@pytest.mark.parametrize("aspect", [1.0, 1.6, 2.0, 2.5, 3.5, 6.0])
def test_nothing_larger_than_the_proved_bound_passes_a_corner(aspect):
    # Kallus and Romik, Improved upper bounds in the moving sofa problem, arXiv:1706.06630: no
    # rigid shape of area above 2.37 a^2 passes a corner of corridors of width a.
    a = 40
    width = math.sqrt(2.3701 * a * a / aspect)
    assert "passes" not in corner_verdicts(a, a, aspect * width, width)


# --- the T junction: a stem of width a from below into a bar of width b ---


def tee_verdict(a, b, length, width):
    far = 300
    tee = unary_union([box(-far, 0, far, b), box(-a / 2, -far, a / 2, 1)])
    ends = pose(0, -200, 90), pose(200, b / 2, 0)
    return verdict(CarrySpace(scaled(tee)), length, width, *ends)


@pytest.mark.parametrize(("a", "b", "width"), [(60, 60, 48), (60, 48, 40), (36, 48, 30)])
def test_tee_is_never_worse_than_the_corner(a, b, width):
    assert tee_verdict(a, b, corner_limit(a, b, width) - NEAR, width) == "passes"


@pytest.mark.parametrize(("a", "b", "width", "length"), [(60, 60, 48, 75.0), (60, 48, 40, 71.85)])
def test_fat_sheet_backs_into_the_other_arm(a, b, width, length):
    # Lengths found passable by an independent calculation with slices of half a degree.
    assert length > corner_limit(a, b, width)
    assert tee_verdict(a, b, length, width) == "passes"


def test_tee_gains_nothing_for_a_thin_sheet():
    assert tee_verdict(36, 48, corner_limit(36, 48, 0) + NEAR, 0) == "fails"


# --- the doorway ---


def wall_with_door(door, thickness, depth=200, behind=200, run=300):
    """Open ground below a wall whose upper face is y = 0, and a passage above it."""
    ground = box(-run, -thickness - depth, run, -thickness)
    jambs = box(-door / 2, -thickness - 1, door / 2, 1)
    return CarrySpace(scaled(unary_union([ground, jambs, box(-run, 0, run, behind)])))


@pytest.mark.parametrize(("door", "thickness"), [(32, 4.5), (32, 0.5), (60, 4.5)])
def test_straight_doorway_is_as_wide_as_it_is(door, thickness):
    space = wall_with_door(door, thickness)
    ends = {"start": pose(0, -100, 90), "goal": pose(0, 100, 90)}
    found = carry(space, Body.rectangle(72 * INCH, 24 * INCH), **ends)
    assert found.verdict == "passes"
    assert door - 24 - 1 / 16 <= found.margin / INCH <= door - 24 + 1e-3
    assert found.pinch.gap / INCH == pytest.approx(door, abs=1e-6)
    assert found.length / INCH == pytest.approx(200, abs=1e-6)
    for width, expected in ((door, "passes"), (door + 0.002, "fails")):
        assert verdict(space, 72, width, **ends) == expected


@pytest.mark.parametrize(("width", "door", "limit"), [(48, 60, 32.79), (24, 36, 41.46)])
def test_angle_at_which_a_doorway_is_passed_straight(width, door, limit):
    t = 4.5
    exact = math.degrees(math.acos(width / math.hypot(door, t)) - math.atan(t / door))
    assert exact == pytest.approx(limit, abs=0.006)
    body = Body.rectangle(96 * INCH, width * INCH)
    space = wall_with_door(door, t)
    for degrees, linked in ((exact - 0.02, True), (exact + 0.02, False)):
        at_angle = Slice(space, body, math.radians(90 + degrees))
        below, above = at_angle.part_at(0, -100 * INCH), at_angle.part_at(0, 100 * INCH)
        assert (below == above) is linked


def passage_limit(length, w, door, t):
    """Least depth of the passage behind a doorway for a sheet that turns between the jambs."""
    th0 = math.asin(w / math.hypot(door, t)) + math.atan(t / door)
    th1 = math.asin(w / door)

    def deep(q):
        return -(length * math.sin(q) + w * math.cos(q) - door * math.sin(q) * math.cos(q))

    def shallow(q):
        return -(length * math.sin(q) - door * math.tan(q) + w / math.cos(q))

    return -min(least(deep, 0, th1), least(shallow, th1, th0))


# length, width, door, wall thickness, depth worked out beforehand
PASSAGES = [
    (96, 24, 32, 0.01, 72.01),
    (96, 24, 32, 4.5, 75.06),
    (96, 24, 36, 4.5, 67.45),
    (96, 0.75, 32, 4.5, 11.07),
    (96, 0.75, 36, 6.5, 12.49),
    (96, 1.5, 30, 5.5, 16.43),
    (96, 48, 54, 4.5, 85.33),
    (96, 48, 60, 4.5, 76.80),
    (96, 48, 96, 4.5, 48.00),
    (72, 30, 32, 4.5, 67.50),
    (60, 48, 52, 4.5, 55.39),
    (48, 32, 36, 4.5, 42.67),
    (40, 20, 36, 4.5, 22.22),
]


@pytest.mark.parametrize(("length", "width", "door", "thickness", "limit"), PASSAGES)
def test_passage_behind_a_doorway_is_enclosed(length, width, door, thickness, limit):
    exact = passage_limit(length, width, door, thickness)
    assert exact == pytest.approx(limit, abs=0.006)
    for slack, expected in ((NEAR, "passes"), (-NEAR, "fails")):
        space = wall_with_door(door, thickness, behind=exact + slack)
        ends = pose(0, -120, 90), pose(-200, (exact + slack) / 2, 0)
        assert verdict(space, length, width, *ends) == expected


# --- turning on the spot ---


@pytest.mark.parametrize(
    ("length", "width", "disc"), [(96, 48, 107.33), (96, 24, 98.95), (60, 60, 84.85)]
)
def test_turning_disc(length, width, disc):
    exact = math.hypot(length, width)
    assert exact == pytest.approx(disc, abs=0.006)
    sides = 24
    t = (np.arange(sides) + 0.5) * 2 * math.pi / sides

    def round_room(inside):
        """Regular room that circumscribes a circle of the diameter."""
        r = inside / 2 / math.cos(math.pi / sides)
        return CarrySpace(scaled(Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]))))

    ends = pose(0, 0, 0), pose(0, 0, 90)
    assert verdict(round_room(exact + 0.01), length, width, *ends) == "passes"
    # A circle that holds the whole room is smaller than the sheet's diagonal.
    assert verdict(round_room((exact - 0.01) * math.cos(math.pi / 24)), length, width, *ends) == (
        "fails"
    )
