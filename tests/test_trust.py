"""In what share of the possible true shops does a layout pass, and which readings decide it?"""

import numpy as np
import pytest

from floorplan.checks.judge import judge
from floorplan.report.trust import percent, trust_data, trust_lines
from floorplan.search.possible import possible
from floorplan.search.trust import trust
from floorplan.shop.reader import load, parse
from floorplan.units import System

INCH = 0.0254
TEXT = """\
shop: a corner
units: in
tape: 1/8
room: {{size: [240, 200], height: 100}}
fixed:
  post: {{width: 4 +- 0, depth: 4 +- 0, height: 90, at: {{x: {post}, y: {y} +- 0}}}}
equipment:
  cupboard:
    width: 40 +- 0
    depth: 20 +- 0
    height: 60
    doors:
      leaf: {{side: front, at: 0, width: 30, hand: left, bottom: 4, top: 50, stand: none}}
    at: {{x: 20 +- 1/2, y: 80 +- 0, turn: 0}}
  bench: {{width: 40, depth: 30, height: 34, at: {{x: 120, y: 20, turn: 90}}}}
"""


def judged(post: str = "62", y: int = 85):
    """The post beside the cupboard (y = 85) or before its door (y = 60)."""
    made = parse(TEXT.format(post=post, y=y))
    return judge(made.shop, made.layout)


def test_what_passes_by_more_than_the_tape_passes_everywhere():
    found = trust(judged())
    assert (found.share, found.error, found.draws, found.deciding) == (1.0, 0.0, 0, ())


def test_what_fails_by_more_than_the_tape_passes_nowhere():
    found = trust(judged("30"))
    assert (found.share, found.error) == (0.0, 0.0)


def test_a_possible_shop_is_the_file_read_with_other_numbers():
    """Substituting readings must give what the reader makes of a file that says so."""
    made = parse(TEXT.format(post="62", y=60))
    text = TEXT.format(post="62.05", y=60)
    for old, new in (
        ("x: 20 +- 1/2", "x: 20.3"), ("width: 30,", "width: 29.9,"), ("x: 120", "x: 119.94"),
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    other = parse(text)
    offsets = {
        "post: x": 0.05 * INCH, "cupboard: x": 0.3 * INCH,
        "cupboard: leaf width": -0.1 * INCH, "bench: x": -0.06 * INCH,
    }  # fmt: skip
    assert set(offsets) <= set(made.shop.measurements)
    shop, layout = possible(made.shop, made.layout, offsets)
    truth, written = judge(shop, layout), judge(other.shop, other.layout)
    key = {(f.check, f.rule, f.about, f.task): f.margin for f in written.findings}
    assert len(truth.findings) == len(written.findings)
    for found in truth.findings:
        margin = key[found.check, found.rule, found.about, found.task]
        assert found.error == 0.0
        assert found.margin == pytest.approx(margin, abs=1e-9)


def test_a_leaf_that_turns_past_a_post_is_sampled_by_its_angle():
    """The leaf reaches the post or not: a margin in degrees, far from linear in the readings."""
    # hinge at (20, 80), leaf 30 long: it clears the post's corner (x, 64) where
    # (x - 20)^2 + 16^2 >= 30^2, that is x >= 45.377
    made = judged("45.4 +- 1/4", y=60)
    assert made.verdict == "unsure"
    found = trust(made, draws=400)
    names = [n for f in made.failing for n in f.terms if made.shop.measurements[n].error]
    noise = np.random.default_rng(5)
    hits = 0
    for _ in range(120):
        off = {
            n: noise.uniform(-1, 1) * made.shop.measurements[n].error for n in dict.fromkeys(names)
        }
        shop, layout = possible(made.shop, made.layout, off)
        hits += judge(shop, layout).verdict == "passes"
    # two samples of 400 and 120: four standard errors of their difference
    assert found.share == pytest.approx(hits / 120, abs=4 * (0.25 / 120 + 0.25 / 400) ** 0.5)


def test_the_worse_reading_decides_first():
    found = trust(judged("60.1"))
    assert [row.measurement for row in found.deciding] == ["cupboard: x", "post: x"]
    # (1/2)^2 : (1/8)^2 = 16 : 1
    assert found.deciding[0].weight == pytest.approx(16 / 17)
    assert found.deciding[0].line == 14
    assert sum(row.weight for row in found.deciding) == pytest.approx(1.0)


def test_the_same_seed_gives_the_same_answer_and_another_another():
    made = judged("60.1")
    assert trust(made, seed=3) == trust(made, seed=3)
    assert trust(made, seed=3).share != trust(made, seed=4).share


def test_assumed_sizes_are_told():
    made = load("layouts/two-car-garage.yaml")
    found = trust(judge(made.shop, made.layout))
    assert found.assumed
    assert any("assumed" in line for line in trust_lines(found, System.IMPERIAL))


def test_words_and_data_say_the_same():
    found = trust(judged("60.1"))
    text = "\n".join(trust_lines(found, System.IMPERIAL))
    assert 'measure `cupboard: x` again [line 14]: ± 1/2"' in text
    data = trust_data(found)
    assert set(data) >= {"share", "error", "deciding"}
    assert data["deciding"][0]["measurement"] == "cupboard: x"
    assert data["share"] == pytest.approx(found.share, abs=1e-6)


@pytest.mark.parametrize(
    ("share", "text"), [(1.0, "100 %"), (0.99999, "99.9 %"), (0.5, "50 %"), (0.0, "0 %")]
)
def test_a_doubt_that_is_left_never_reads_as_none(share, text):
    assert percent(share) == text
