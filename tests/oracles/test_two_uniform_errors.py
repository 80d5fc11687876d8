"""The share of possible shops against closed forms for sums of uniform errors.

The difference of two independent uniform errors on [-e, e] has the triangular density on
[-2e, 2e] (elementary convolution; for sums of n such errors P. Hall, "The distribution of means
for samples of size N drawn from a population in which the variate takes values between 0 and 1",
Biometrika 19, 1927).  With g between two things as read, P(gap >= 0) = 1 - (2e - g)^2 / (8 e^2)
for 0 <= g <= 2e, and the mirror image below.
"""

from math import comb, factorial, floor

import numpy as np
import pytest

from floorplan.checks.judge import judge
from floorplan.search.trust import trust
from floorplan.shop.reader import parse

TEXT = """\
shop: two boxes
units: in
tape: 1/8
room: {{size: [240 +- 0, 200 +- 0], height: 100 +- 0}}
equipment:
  post: {{width: 40 +- 0, depth: 30 +- 0, height: 30, at: {{x: 20, y: 20, turn: 0}}}}
  bench: {{width: 40 +- 0, depth: 30 +- 0, height: 30, at: {{x: {x}, y: 20, turn: 0}}}}
"""


def judged(x: str):
    made = parse(TEXT.format(x=x))
    return judge(made.shop, made.layout)


def hall(n: int, x: float) -> float:
    """P(sum of n uniforms on [0, 1] <= x), P. Hall 1927."""
    return sum((-1) ** k * comb(n, k) * (x - k) ** n for k in range(floor(x) + 1)) / factorial(n)


@pytest.mark.parametrize("sixteenths", [-3, -2, -1, 1, 2, 3])
def test_two_readings(sixteenths):
    gap, e = sixteenths / 16, 1 / 8
    expected = 1 - (2 * e - abs(gap)) ** 2 / (8 * e * e)
    if gap < 0:
        expected = 1 - expected
    found = trust(judged(f"{60 + gap}"), draws=20_000)
    # worked in sixteenths, g = 1: 1 - (4 - 1)^2 / 32 = 0.71875
    if sixteenths == 1:
        assert expected == pytest.approx(0.71875)
    assert found.share == pytest.approx(expected, abs=1.5 * found.error)
    assert 0 < found.error < 0.01


def test_three_readings():
    """The bench's own width measured too: the sum of three uniform errors, from Hall's formula."""
    text = TEXT.replace("post: {{width: 40 +- 0", "post: {{width: 40").format(x="60.1")
    made = parse(text)
    found = trust(judge(made.shop, made.layout), draws=20_000)
    # gap 0.1 in, e = 1/8 in: sum of three on [0, 1] must not exceed 1.5 + 0.1 / (2 e)
    expected = hall(3, 1.5 + 0.1 / 0.25)
    assert found.share == pytest.approx(expected, abs=1.5 * found.error)
    assert [row.weight for row in found.deciding] == pytest.approx([1 / 3] * 3)


def test_the_interval_covers_the_truth_about_as_often_as_it_says():
    expected = 0.71875
    made = judged("60.0625")
    hits = 0
    for seed in range(40):
        found = trust(made, seed=seed, draws=300)
        hits += abs(found.share - expected) <= found.error
    # 95 % of 40 is 38; fewer than 33 has a chance below 1 in 1000 (binomial)
    assert hits >= 33


def test_an_independent_draw_agrees():
    rng = np.random.default_rng(99)
    read = rng.uniform(-1 / 8, 1 / 8, (400_000, 2))
    brute = float((1 / 16 + read[:, 0] - read[:, 1] >= 0).mean())
    found = trust(judged("60.0625"), draws=20_000)
    assert found.share == pytest.approx(brute, abs=1.5 * found.error)
