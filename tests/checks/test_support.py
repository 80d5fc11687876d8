"""Statics of a fed piece against moments taken by hand, and the longest board by a tape's sums."""

from __future__ import annotations

import math
from math import inf

import pytest

from floorplan.checks import boards, support
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

INCH, POUND = 0.0254, 0.45359237
G = 9.80665


# --- a beam on two supports ----------------------------------------------------------------


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
    force = support.hand_force(10.0, 3.0, head, [(0.0, 2.0)])
    assert force == pytest.approx(expected * 10.0 * G, abs=1e-9)


def test_a_second_surface_carries_once_the_leading_end_is_over_it() -> None:
    # a break of 1 m in the support of a 3 m piece: the end reaches the bench before it tips
    spans = [(0.0, 2.0), (3.0, 5.0)]
    assert support.hand_force(10.0, 3.0, 3.4, spans) == 0.0
    # a break of 2 m is more than half the piece: at 3.9 m its centre is 0.4 m past the table
    wide = [(0.0, 2.0), (4.0, 6.0)]
    assert support.hand_force(10.0, 3.0, 3.9, wide) == pytest.approx(10 * G * 0.4 / 1.1)


def test_moments_of_both_supports_balance_everywhere() -> None:
    # an independent way to the same force: the support reaction and the hand add up to the weight
    weight, length, edge = 12.0 * G, 2.44, 0.9
    for head in (1.3, 1.7, 2.3, 2.9):
        force = support.hand_force(12.0, length, head, [(-0.4, edge)])
        reaction = weight + max(force, 0.0)
        tail = head - length
        centre = head - length / 2
        if centre > edge:
            assert reaction * edge == pytest.approx(weight * centre + force * tail, rel=1e-9)


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
    force = support.hand_force(one.mass, 96 * INCH, (tail + 96) * INCH, [(-15 * INCH, edge * INCH)])
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
