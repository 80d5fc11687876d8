"""What changed between layouts, and what each wins and loses, worked by hand."""

import json

import pytest

from floorplan.checks.judge import judge
from floorplan.report.compare import compare_data, compare_text, difference_text
from floorplan.search.compare import compare
from floorplan.shop.reader import parse
from floorplan.shop.whatif import WhatIf
from floorplan.units import System

INCH = 0.0254
TEXT = """\
shop: a shop
units: in
tape: 1/8
room: {size: [240 +- 0, 200 +- 0], height: 100 +- 0}
doors:
  door: {wall: south, at: 20, width: 40, clear width: 36, height: 80, swing: out, leads to: outside}
equipment:
  rack: {width: 40, depth: 20, height: 30, at: {x: 20, y: 60, turn: 0}}
  bench: {width: 40, depth: 30, height: 30, at: {x: 120, y: 60, turn: 0}}
jobs:
  box:
    walk: [rack, bench]
"""


def judged(text: str = TEXT, **options: list[str]):
    made = parse(text, "shop.yaml", WhatIf.from_texts(**options))
    return judge(made.shop, made.layout)


def test_two_alike_differ_in_nothing():
    found = compare([("a", judged()), ("b", judged())])
    assert found.changed == ((), ())
    assert found.mended == found.broken == ((), ())
    assert all(row.best == (0, 1) for row in found.rows)
    assert found.wins(0) == found.loses(1) == ()
    assert "as good as the others" in compare_text(found, (), ())


def test_one_alone_cannot_be_compared():
    with pytest.raises(ValueError, match="two or more"):
        compare([("a", judged())])


def test_what_moved_by_how_much():
    other = judged(TEXT.replace("x: 120, y: 60, turn: 0", "x: 132, y: 54, turn: 90"))
    found = compare([("a", judged()), ("b", other)])
    (row,) = found.changed[1]
    assert (row.what, row.kind, row.turn) == ("bench", "moved", 90.0)
    assert (row.east / INCH, row.north / INCH) == pytest.approx((12.0, -6.0))
    text = difference_text(row, System.IMPERIAL)
    assert text.startswith('bench: 12" east, 6" south, turned 90')


def test_sizes_rules_and_what_is_gone():
    other = judged(size=["bench=30x30"], without=["rack"], set=["way-out-width=24 in"])
    found = compare([("a", judged()), ("b", other)])
    kinds = {(row.what, row.kind) for row in found.changed[1]}
    assert kinds == {("bench", "size"), ("rack", "gone"), ("way-out-width", "rule")}
    size = next(row for row in found.changed[1] if row.kind == "size")
    assert size.before == pytest.approx((40 * INCH, 30 * INCH, 30 * INCH))
    assert size.after == pytest.approx((30 * INCH, 30 * INCH, 30 * INCH))


def test_the_shorter_walk_and_the_more_open_floor_win():
    """The bench 40 in nearer: the walk is 40 in shorter; 10 x 30 in of floor more are open."""
    near = judged(TEXT.replace("x: 120, y: 60", "x: 80, y: 60"))
    found = compare([("far", judged()), ("near", near)])
    row = next(row for row in found.rows if row.name == "walking")
    assert row.less_is_better
    assert row.best == (1,)
    assert (row.values[0] - row.values[1]) / INCH == pytest.approx(40.0, abs=0.01)
    assert "walking" in {r.name for r in found.loses(0)}
    smaller = judged(size=["bench=30x30"])
    found = compare([("wide", judged()), ("narrow", smaller)])
    floor = next(row for row in found.rows if row.name == "open floor")
    # 300 sq in are 2.08 sq ft: just more than the 2 sq ft that count as equal
    assert floor.best == (1,)
    assert floor.values[1] - floor.values[0] == pytest.approx(300 * INCH * INCH)


def test_what_counts_as_equal_is_nobodys_gain():
    """60 sq in are less than the 2 sq ft in which floors count as equal."""
    found = compare([("wide", judged()), ("narrow", judged(size=["bench=38x30"]))])
    floor = next(row for row in found.rows if row.name == "open floor")
    assert floor.best == (0, 1)


def test_mended_and_broken():
    clash = judged(TEXT.replace("x: 120, y: 60", "x: 57, y: 60"))
    found = compare([("clash", clash), ("apart", judged()), ("clash too", clash)])
    assert [f.about for f in found.mended[1]] == [("rack", "bench")]
    assert found.broken[1] == ()
    assert found.mended[2] == found.broken[2] == ()
    back = compare([("apart", judged()), ("clash", clash)])
    assert [f.about for f in back.broken[1]] == [("rack", "bench")]
    row = next(row for row in back.rows if row.name == "required rules not met")
    assert (row.values, row.best) == ((0.0, 1.0), (0,))


def test_words_and_data():
    other = judged(TEXT.replace("x: 120, y: 60", "x: 57, y: 60"))
    found = compare([("a", judged()), ("b", other)])
    text = compare_text(found, ("look at it again",), ())
    assert "bench: 5' 3\" west" in text
    assert "broken: rack is in bench" in text
    assert "1 more required rules not met" in text
    data = compare_data(found)
    json.dumps(data, allow_nan=False)
    assert [layout["name"] for layout in data["layouts"]] == ["a", "b"]
    assert data["layouts"][1]["changed"][0]["east"] == pytest.approx(-63 * INCH, abs=1e-6)
    assert data["layouts"][1]["broken"][0]["about"] == ["rack", "bench"]
