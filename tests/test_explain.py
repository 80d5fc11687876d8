"""What clears one finding: worked by hand, and judged."""

from random import Random

import pytest

from floorplan.checks.judge import judge
from floorplan.search.explain import _steps, least_change
from floorplan.shop.model import Layout
from floorplan.shop.reader import load, parse
from tests.shops import random_plan

ROOM = """\
shop: a shop
units: in
tape: 1/8
room: {size: [240 +- 0, 200 +- 0], height: 100 +- 0}
"""
BOXES = """\
equipment:
  a: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 20, y: 60, turn: 0}}
  b: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 57, y: 60, turn: 0}}
  c: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 102, y: 60, turn: 0}}
"""


def judged(body: str):
    made = parse(ROOM + body)
    return judge(made.shop, made.layout)


def test_the_shift_of_one_pair_by_hand():
    """20 + 40 - 57 = 3 in of overlap and 1/8 in of error, whatever else stands beside them."""
    made = judged(BOXES)
    (found,) = made.failing
    assert least_change(made, found) in ('shift a 3-1/8" west', 'shift b 3-1/8" east')


def test_what_passes_needs_nothing():
    made = judged(BOXES)
    passing = next(f for f in made.findings if f.verdict == "passes")
    assert least_change(made, passing) == ""


def test_feet_where_heights_decide():
    """A shelf hangs from 30 in up: the box below is 31 in high, each known to 1/8 in."""
    made = judged(
        """\
equipment:
  box: {width: 40, depth: 30, height: 31, at: {x: 20, y: 60, turn: 0}}
  shelf: {width: 40, depth: 30, bottom: 30, height: 60, may: stay, at: {x: 20, y: 60, turn: 0}}
"""
    )
    texts = {least_change(made, found) for found in made.failing}
    assert texts <= {'lower box by 1-1/4"', 'raise shelf by 1-1/4"'}
    assert texts


def test_a_wall_is_left_by_the_least_shift():
    made = judged("equipment:\n  a: {width: 40, depth: 30, height: 30, at: {x: 205, y: 60}}\n")
    # 205 + 40 - 240 = 5 in into the wall; the width may be off by 1/8 in, the set place is not
    (found,) = made.failing
    assert least_change(made, found) == 'shift a 5-1/8" west'


def test_a_door_that_meets_a_bench():
    made = judged(
        """\
doors:
  door: {wall: south, at: 20, width: 32, height: 80, hand: left, swing: in, leads to: house}
equipment:
  bench: {width: 30, depth: 20, height: 34, may: stay, at: {x: 20, y: 20, turn: 0}}
"""
    )
    texts = [least_change(made, found) for found in made.failing]
    assert any("swing out" in text or "hang door" in text for text in texts)


@pytest.mark.parametrize("name", ["two-car-garage", "l-shaped-basement", "long-narrow-metric"])
def test_every_failing_finding_of_the_demos_says_something(name):
    file = load(f"layouts/{name}.yaml")
    made = judge(file.shop, file.layout)
    said = [least_change(made, found) for found in made.failing]
    assert sum(bool(text) for text in said) >= len(said) // 2
    for text, found in zip(said, made.failing, strict=True):
        assert "\n" not in text
        if text.startswith(("shift", "lower", "raise")):
            assert any(word in text for word in found.about)


@pytest.mark.parametrize("seed", [0, 1, 2, 5])
def test_what_is_told_clears_the_finding_in_the_whole_random_shop(seed):
    """The change told, made and judged by every check: the same two no longer fail each other."""
    file = parse(random_plan(Random(seed), 4).text())
    made = judge(file.shop, file.layout)
    told = [(found, text) for found in made.failing if (text := least_change(made, found))]
    assert told or not made.failing or {f.check for f in made.failing} <= {"way-out"}
    for found, text in told:
        steps = [step for step in _steps(made, found) if step.text == text]
        if not steps:
            assert found.check == "way-out", text  # the ground as a whole: told how much is short
            continue
        after = steps[0].draft
        poses = {**file.layout.poses, **after.layout.poses}
        left = judge(after.shop, Layout(poses)).failing
        same = [
            f for f in left if (f.check, f.rule, f.task) == (found.check, found.rule, found.task)
        ]
        assert all(set(f.about) != set(found.about) for f in same), text


@pytest.mark.parametrize(("gap", "words"), [(9, '7-3/8" less'), (0.1, '1-5/16" more')])
def test_a_gap_is_told_which_way_it_has_to_change(gap: float, words: str) -> None:
    """A gap of 1 in to 2 in is asked for; two places and a depth are known to 1/8 in.

    9 - 2 + 3 x 1/8 = 7-3/8 in too far, 1 - 0.1 + 3 x 1/8 = 1.275 in too near.
    """
    made = judged(
        f"""\
equipment:
  saw: {{width: 40, depth: 30, height: 34, at: {{x: 60, y: 60, turn: 0}},
        surface: 34, blade: {{at: [20, 15], diameter: 10}}}}
  bench: {{width: 40, depth: 30, height: 33.9, surface: 33.9, at: {{x: 60, y: {90 + gap}, turn: 0}},
          takes the outfeed of: saw, outfeed: {{gap: [1, 2]}}}}
"""
    )
    told = [least_change(made, f) for f in made.failing if f.rule == "outfeed-gap-most"]
    assert any(words in text for text in told), told
