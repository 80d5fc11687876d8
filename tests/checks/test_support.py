"""Statics of a fed piece against moments taken by hand, and the longest board by a tape's sums."""

from __future__ import annotations

import math
from math import inf, isinf
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog
from shapely import Polygon, box, union_all

from floorplan.checks import boards, support
from floorplan.geometry.balance import Plate, bearing, hand_force
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

INCH, POUND = 0.0254, 0.45359237
G = 9.80665


# --- a beam on two supports ----------------------------------------------------------------


def beam_force(mass: float, length: float, head: float, spans: list[tuple[float, float]]) -> float:
    """Hand force [N] on a beam 0.2 m wide over tables 1 m wide, `spans` along it [m]."""
    plate, heads = Plate(length, -0.1, 0.1), np.array([head])
    under = union_all([box(a, -0.5, b, 0.5) for a, b in spans])
    return float(hand_force(mass * G, plate, heads, bearing(under, plate, heads))[0])


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        # leading end just on the table: hand and table edge carry half each
        (0.0, -0.5),
        # 1 m on the table of a 3 m piece: moments about the edge give 0.5 / 2
        (1.0, -0.25),
        # the centre on the edge, then on the table: nothing to do
        (1.5, 0.0),
        (2.0, 0.0),
        # centre 0.25 m past the rear edge at 2 m, tail 1.25 m before it
        (3.75, 0.25 / 1.25),
        # centre 1 m past, tail 0.5 m before: twice the weight
        (4.5, 2.0),
        # tail at the edge: no lever arm
        (5.0, inf),
    ],
)
def test_the_hand_force_is_that_of_moments_about_the_edge(head: float, expected: float) -> None:
    force = beam_force(10.0, 3.0, head, [(0.0, 2.0)])
    assert force == pytest.approx(expected * 10.0 * G, abs=1e-9)


def test_a_second_surface_carries_once_the_leading_end_is_over_it() -> None:
    # a break of 1 m in the support of a 3 m piece: the end reaches the bench before it tips
    assert beam_force(10.0, 3.0, 3.4, [(0.0, 2.0), (3.0, 5.0)]) == 0.0
    # a break of 2 m is more than half the piece: at 3.9 m its centre is 0.4 m past the table
    wide = [(0.0, 2.0), (4.0, 6.0)]
    assert beam_force(10.0, 3.0, 3.9, wide) == pytest.approx(10 * G * 0.4 / 1.1)


def test_moments_of_both_supports_balance_everywhere() -> None:
    # an independent way to the same force: the support reaction and the hand add up to the weight
    weight, length, edge = 12.0 * G, 2.44, 0.9
    for head in (1.3, 1.7, 2.3, 2.9):
        force = beam_force(12.0, length, head, [(-0.4, edge)])
        reaction = weight + max(force, 0.0)
        tail = head - length
        centre = head - length / 2
        if centre > edge:
            assert reaction * edge == pytest.approx(weight * centre + force * tail, rel=1e-9)


# --- a plate over an edge to its side ------------------------------------------------------


def test_over_a_side_the_hand_lifts_where_its_arm_is_longest() -> None:
    """A plate 1 m long and 2 m wide whose centre is 0.2 m past the left side of its table.

    About that side a hand on the right corner, 0.8 m from it, presses a quarter of the weight; one
    under the left corner, 1.2 m from it, lifts a sixth.
    """
    plate, heads = Plate(1.0, -1.0, 1.0), np.array([1.5])
    table = box(0.0, -2.0, 2.0, -0.2)
    force = hand_force(60.0, plate, heads, bearing(table, plate, heads))[0]
    assert force == pytest.approx(-10.0)
    # with nothing ahead of the centre of gravity to bear on, lifting is of no use
    short = bearing(box(0.0, -2.0, 1.0, -0.2), plate, heads)
    assert hand_force(60.0, plate, heads, short)[0] == pytest.approx(15.0)


def test_least_forces_are_those_of_a_linear_programme() -> None:
    """Vertical forces and moments in balance, bearing forces only upwards; solved by scipy."""
    rng, seen = np.random.default_rng(5), set()
    for _ in range(60):
        plate = Plate(rng.uniform(0.5, 3.0), -rng.uniform(0.1, 1.5), rng.uniform(0.1, 1.5))
        boxes = [box(*low, *(low + rng.uniform(0.2, 1.2, 2))) for low in rng.uniform(-1, 1, (3, 2))]
        heads = np.array([rng.uniform(-0.5, 4.5)])
        (hull,) = bearing(union_all(boxes), plate, heads)
        if not isinstance(hull, Polygon) or hull.is_empty:
            continue
        force = float(hand_force(1.0, plate, heads, np.array([hull]))[0])
        corners = np.asarray(hull.exterior.coords)[:-1]
        hands, centre = plate.ends(heads, leading=False)[0], plate.centres(heads)[0]
        least = min(_by_programme(corners, hands, centre, sign) for sign in (1.0, -1.0))
        assert abs(force) == pytest.approx(least, rel=1e-6, abs=1e-7)
        seen.add("none" if force == 0 else "inf" if isinf(force) else "up" if force < 0 else "down")
    assert seen == {"none", "inf", "up", "down"}


def _by_programme(corners: Any, hands: Any, centre: Any, sign: float) -> float:
    at = np.vstack([corners, hands])
    up = np.concatenate([np.ones(len(corners)), np.full(2, -sign)])
    balance = np.vstack([up, at[:, 0] * up, at[:, 1] * up])
    cost = np.concatenate([np.zeros(len(corners)), np.ones(2)])
    found = linprog(cost, A_eq=balance, b_eq=[1.0, *centre])
    return float(found.fun) if found.success else inf


# --- whole files ---------------------------------------------------------------------------

SHOP = """\
shop: trial
units: in
tape: {tape}
room: {{size: [300, 300], height: 100}}
doors:
  gate: {{wall: north, at: {gate}, width: 60, clear width: 58, height: 84, leads to: outside}}
windows:
  light: {{wall: south, at: 130, width: 40, sill: 30, height: 30}}
equipment:
  saw:
    width: 60
    depth: 30
    height: 34
    surface: 34
    blade: {{at: [20, 15], diameter: 10, depth of cut: 3}}
    at: {{x: 120, y: 140, turn: 0}}
  bench: {{width: 60, depth: {depth}, height: {bench}, surface: {bench}, at: {{x: 110, y: 170}}}}
stock:
  sheet: {{length: 96, width: 48, thickness: 3/4, density: 48 lb/ft3}}
tasks:
  rip: {{uses: [saw], open: [gate]}}
jobs:
  work: {{feed: {{stock: sheet, through: saw, offset: 24}}}}
"""


def made(
    depth: float = 60, bench: float = 34, tape: str = "0", gate: float = 110
) -> tuple[support.Support, list[str]]:
    file = parse(SHOP.format(depth=depth, bench=bench, tape=tape, gate=gate))
    found = scene(file.shop, file.layout)
    (one,) = support.supports(found)
    return one, [f.verdict for f in support.check(found).findings]


def reach_behind() -> float:
    """How far behind the middle of a 10 in blade raised 3 in it leaves the table [in]."""
    return math.sqrt(5**2 - 2**2)


def test_the_weight_of_the_sheet_is_that_of_two_cubic_feet() -> None:
    one, _ = made()
    assert one.mass / POUND == pytest.approx(96.0, rel=1e-9)


def test_least_outfeed_depth_without_a_hand_and_with_one() -> None:
    one, _ = made()
    tail = one.needed.value / INCH - 48
    # clear of the cutter: its tail is the push-through of 6 in behind the blade's rear
    assert 6.0 < tail <= 6.0 + 5.0
    # with 15 lb on the tail of 96 lb: 96 x (c - e) = 15 x (e - t), where c - t = 48
    edge = tail + 48 * 96 / (96 + 15)
    assert one.with_hand.value / INCH == pytest.approx(edge, abs=1e-6)
    span = (-15 * INCH, edge * INCH)
    force = beam_force(one.mass, 96 * INCH, (tail + 96) * INCH, [span])
    assert force / G / POUND == pytest.approx(15.0, rel=1e-6)


def test_a_deep_bench_carries_and_a_shallow_one_does_not() -> None:
    deep, verdicts = made(depth=60)
    assert (deep.tips_at, deep.hold_down, verdicts) == (None, 0.0, ["passes"])
    # the blade is in the middle of 30 in of table; a 10 in bench reaches 25 in behind it
    shallow, verdicts = made(depth=10)
    assert shallow.covered.value / INCH == pytest.approx(25.0)
    assert shallow.tips_at is not None
    assert shallow.tips_at / INCH == pytest.approx(25.0 + 48.0)
    assert verdicts == ["fails"]


def test_a_table_beside_the_piece_carries_nothing() -> None:
    """A blade 60 in to the right of its table: the piece is held nowhere, and that is said."""
    text = SHOP.format(depth=60, bench=34, tape="0", gate=110)
    file = parse(
        text.replace("at: [20, 15]", "at: [160, 15]").replace("{x: 110, y: 170}", "{x: 0, y: 200}")
    )
    (answer,) = support.supports(scene(file.shop, file.layout))
    assert answer.covered.value == answer.surfaces[0].near.value
    found = support.check(scene(file.shop, file.layout)).findings
    assert found
    assert all(f.verdict != "passes" for f in found)


def test_a_lower_bench_carries_up_to_the_limit_and_a_higher_one_stops() -> None:
    assert made(bench=33.75)[0].tips_at is None  # a quarter of an inch lower, the usual limit
    assert made(bench=33.7)[0].tips_at is not None
    high = made(bench=34.01)[0]
    assert high.stopped_by is not None
    assert high.stopped_by.owner == "bench"
    assert made(bench=34.0)[0].stopped_by is None


def test_a_bench_within_the_tape_of_the_limit_is_unsure() -> None:
    assert "unsure" in made(bench=33.75, tape="1/16")[1]
    assert "unsure" not in made(bench=33.9, tape="1/16")[1]


# --- over the side of the table ------------------------------------------------------------


def beside(offset: float, *, wing: float = 0.0, tape: str = "0") -> tuple[float, str]:
    """Room to the side [in] and verdict for a crosscut of a full sheet, 96 in across.

    The table reaches 20 in to the left of the blade, the bench behind it as far.
    """
    text = SHOP.format(depth=60, bench=34, tape=tape, gate=110).replace("x: 110", "x: 120")
    text = text.replace("offset: 24", f"offset: {offset}, cut: crosscut")
    if wing:
        part = f"{{at: [{-wing}, 0], size: [{wing}, 30], bottom: 30, top: 34}}"
        text = text.replace("    at: {x: 120,", f"    parts: {{wing: {part}}}\n    at: {{x: 120,")
    file = parse(text)
    made = support.check(scene(file.shop, file.layout)).findings
    (found,) = (f for f in made if f.rule == "feed-support-side")
    assert found.margin is not None
    return found.margin / INCH, found.verdict


# a hand lifts 15 lb of 96 at the left end of the tail, 48 in from the middle: as if the middle
# were 48 x 15 / (96 - 15) in nearer
LIFTED = 48 * 15 / 81


def test_a_crosscut_of_a_full_sheet_tips_over_the_side_of_the_table() -> None:
    # its middle is 48 - 20 = 28 in to the left of the blade, 8 in over the side
    room, verdict = beside(20)
    assert (room, verdict) == (pytest.approx(20 - 28 + LIFTED, abs=1e-6), "passes")
    # 10 in farther over: no hand of 15 lb keeps it
    room, verdict = beside(10)
    assert (room, verdict) == (pytest.approx(20 - 38 + LIFTED, abs=1e-6), "fails")


def test_a_wing_at_the_height_of_the_table_carries() -> None:
    # the bench still ends 20 in to the left, but the table goes on: at the last place the piece
    # is judged, 4 in of it or less lie on the wing, and the bench decides with the wing's corner
    far, verdict = beside(10, wing=16)
    assert verdict == "fails"
    assert far > 20 - 38 + LIFTED + 1.0
    assert beside(20, wing=16)[0] > 20 - 28 + LIFTED


def test_the_least_change_decides_over_the_side() -> None:
    # 48 - offset = 20 + LIFTED leaves nothing to spare
    least = 48 - 20 - LIFTED
    assert beside(least)[1] == "passes"
    assert beside(least - 0.001)[1] == "fails"
    assert beside(least + 0.05, tape="1/8")[1] == "unsure"


ASIDE = """\
shop: aside
units: in
tape: 0
room: {{size: [600, 600], height: 100}}
equipment:
  saw: {{width: 40, depth: 30, height: 34, surface: 34, at: {{x: {0}, y: {1}, turn: {4}}},
    blade: {{at: [20, 15], diameter: 10, depth of cut: 3}}}}
  stand: {{width: 20, depth: 4, height: 34, surface: 34, at: {{x: {2}, y: {3}, turn: {4}}}}}
stock:
  sheet: {{length: 96, width: 48, thickness: 3/4, density: 48 lb/ft3}}
jobs:
  work: {{feed: {{stock: sheet, through: saw, offset: 24}}}}
"""


def westmost(low: tuple[float, float], size: tuple[float, float], turn: float) -> list[float]:
    """Westernmost and southernmost point of a box turned about the blade, at 300, 300 [in]."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    (x, y), (w, d) = low, size
    corners = np.array([(x, y), (x + w, y), (x + w, y + d), (x, y + d)])
    return list((corners @ np.array([[c, s], [-s, c]]) + 300).min(axis=0))


@pytest.mark.parametrize("turn", [0, 90, 37, 200])
def test_a_stand_aside_of_the_middle_carries_with_the_table(turn: float) -> None:
    """Table 20 in to both sides and 15 in behind the blade, stand 2 to 22 in to the right of it,
    40 to 44 in behind: the line from (15, 20 left) to (44, 2 right) crosses the middle at
    15 + 29 x 20 / 22.
    """
    at = [*westmost((-20, -15), (40, 30), turn), *westmost((2, 40), (20, 4), turn)]
    file = parse(ASIDE.format(*(round(v, 9) for v in at), turn))
    (one,) = support.supports(scene(file.shop, file.layout))
    assert one.covered.value / INCH == pytest.approx(15 + 29 * 20 / 22, abs=1e-5)
    assert one.sideways is not None
    assert one.sideways.side == "left"


JOINTED = """\
shop: jointed
units: in
tape: 0
room: {size: [400, 400], height: 100}
equipment:
  jointer: {kind: jointer, at: {x: 150, y: 180, turn: 0}}
stock:
  board: {length: 96, width: 6, thickness: 1, density: 48 lb/ft3}
jobs:
  work: {feed: {stock: board, through: jointer, offset: 6}}
"""


def test_a_long_board_over_a_jointer() -> None:
    """The table ends 35 in behind the cutter; 16 lb pressed with 15, its tail 7 in behind it."""
    file = parse(JOINTED)
    (one,) = support.supports(scene(file.shop, file.layout))
    assert one.covered.value / INCH == pytest.approx(35)
    assert one.with_hand.value / INCH == pytest.approx(7 + 48 * 16 / 31)


# --- rollers -------------------------------------------------------------------------------

PLANED = """\
shop: planed
units: in
tape: 0
room: {size: [300, 300], height: 100}
equipment:
  planer: {kind: planer, at: {x: 140, y: 140, turn: 0}}
stock:
  beam: {length: 96, width: 8, thickness: THICK, density: 48 lb/ft3}
jobs:
  work: {feed: {stock: beam, through: planer, offset: 4}}
"""


@pytest.mark.parametrize(("thick", "verdict"), [(1.5, "passes"), (1.52, "fails")])
def test_a_long_board_out_of_a_planer_is_held_at_its_leading_end(
    thick: float, verdict: str
) -> None:
    """The table ends 13 in behind the cutter, 1 in of which it cuts on; 6 in more are pushed.

    Its tail 7 in behind the cutter, the board's middle is 42 in past the table's end, and the hand
    at the leading end 90 in: it holds 42 / 90 of the weight, 48 lb/ft3 x 96 x 8 x thick in3.
    """
    file = parse(PLANED.replace("THICK", str(thick)))
    made = scene(file.shop, file.layout)
    (one,) = support.supports(made)
    pounds = 48 / 1728 * 96 * 8 * thick
    assert one.mass / POUND == pytest.approx(pounds, rel=1e-9)
    assert -one.curve[-1][1] / G / POUND == pytest.approx(pounds * 42 / 90, rel=1e-9)
    (found,) = support.check(made).findings
    assert (found.verdict, pounds * 42 / 90 <= 15) == (verdict, verdict == "passes")


# --- the longest board ---------------------------------------------------------------------


def longest(*, gate: float, window: float) -> boards.LongestBoard:
    text = SHOP.format(depth=60, bench=34, tape="0", gate=gate).replace("at: 130", f"at: {window}")
    file = parse(text)
    (one,) = boards.longest_boards(scene(file.shop, file.layout))
    return one


# the blade runs at 140 in from the west; a gate at 110 and a window at 130 lie in line with it
BLADE_Y = 140 + 15


def test_the_longest_board_leaves_room_to_push_and_to_stand() -> None:
    one = longest(gate=10, window=10)
    behind = 300 - BLADE_Y - reach_behind() - 6
    before = BLADE_Y - reach_behind() - 24
    assert one.length / INCH == pytest.approx(min(behind, before), abs=0.3)
    assert one.before == "south wall"
    assert one.through == ()


def test_an_open_door_behind_lets_the_board_out_but_nobody_stands_in_a_wall() -> None:
    one = longest(gate=110, window=10)
    assert one.length / INCH == pytest.approx(BLADE_Y - reach_behind() - 24, abs=0.3)
    assert (one.before, one.behind) == ("south wall", "")


def test_through_door_and_window_a_board_may_be_longer_than_the_room() -> None:
    one = longest(gate=110, window=130)
    assert one.length / INCH > 300
    assert one.through == ("gate", "light")
