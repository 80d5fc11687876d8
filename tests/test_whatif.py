"""Suppositions on the command line: judged as if the file said so, and never written anywhere."""

from pathlib import Path

import pytest

from floorplan.checks.judge import judge
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import load, parse
from floorplan.shop.whatif import WhatIf, WhatIfError

INCH = 0.0254
TEXT = """\
shop: one bench and a saw
units: in
tape: 1/8
room: {size: [240, 200], height: 100}
doors:
  door: {wall: south, at: 20, width: 40, clear width: 36, height: 80, swing: out, leads to: outside}
equipment:
  saw:
    kind: cabinet table saw
    width: 62
    at: {x: 80, y: 60, turn: 0}
  bench:
    kind: assembly bench
    width: 66
    depth: 40
    height: 33-7/8
    surface: 33-7/8
    drawers:
      left: {side: front, at: 2, width: 30, travel: 16, bottom: 20, top: 28}
    takes the outfeed of: saw
    outfeed: {gap: [0, 2]}
    at: {x: 80, y: north of saw + 1/4, turn: 180}
  rack: {width: 20, depth: 30, height: 60, within 10 ft of: saw, at: {x: 0, y: 0}}
stock:
  sheet: {length: 96, width: 48, thickness: 0.75}
tasks:
  rip: {uses: [saw], open: [door]}
  clean: {uses: [saw, bench]}
jobs:
  cabinet:
    walk: [rack, saw, bench, door, rack]
    feed: {stock: sheet, through: saw, cut: rip, offset: 12}
    break down: {stock: sheet, over: bench}
"""


def supposed(**options: list[str]):
    return parse(TEXT, "shop.yaml", WhatIf.from_texts(**options))


def test_nothing_supposed_is_the_file_itself():
    plain, empty = parse(TEXT), supposed()
    assert not WhatIf.from_texts()
    assert empty.supposed == ()
    assert judge(plain.shop, plain.layout).measures == judge(empty.shop, empty.layout).measures


def test_a_supposed_size_judges_like_a_written_one():
    written = TEXT.replace("width: 66\n    depth: 40", "width: 60 in\n    depth: 30 in")
    by_hand = parse(written)
    by_option = supposed(size=["bench=60x30 in"])
    one, other = (judge(f.shop, f.layout) for f in (by_hand, by_option))
    assert [(f.message, f.margin, f.error) for f in one.findings] == [
        (f.message, f.margin, f.error) for f in other.findings
    ]


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("bench=60x30 in", (60, 30)),
        ("bench=60x30", (60, 30)),
        ("bench = 5 ft x 30 in", (60, 30)),
        ("bench=5 ft x 30 in x 34 in", (60, 30)),
        ("bench=1524 x 762 mm", (60, 30)),
        ("bench=4' 6-1/2\" × 2'", (54.5, 24)),
    ],
)
def test_sizes_as_people_write_them(text, inches):
    bench = supposed(size=[text]).shop.thing("bench")
    assert (bench.width.value, bench.depth.value) == pytest.approx([i * INCH for i in inches])


def test_a_surface_on_top_follows_a_supposed_height():
    made = supposed(size=["bench=66 x 40 x 36"])
    bench = made.shop.thing("bench")
    assert bench.surface is not None
    assert bench.surface.value == pytest.approx(36 * INCH)
    # one number, not two that may err apart
    assert dict(bench.surface.terms) == dict(bench.height.terms)
    assert "surface" in made.supposed[0]


def test_a_drawer_wider_than_its_new_side_is_told():
    assert any("`left`" in note for note in supposed(size=["bench=30x40"]).supposed)
    assert len(supposed(size=["bench=80x44"]).supposed) == 1


def test_a_supposed_rule_holds_and_is_told():
    made = supposed(set=["way-out-width=24 in", "door-swing=off"])
    assert made.shop.rules.value("way-out-width") == pytest.approx(24 * INCH)
    assert made.shop.rules["door-swing"].off
    assert any("way-out-width is 24 in" in note for note in made.shop.notes)


def test_without_a_thing_nothing_speaks_of_it():
    made = supposed(without=["saw"])
    shop = made.shop
    assert not shop.has("saw")
    assert shop.thing("bench").outfeed_of == ()
    assert shop.thing("rack").within_of == ()
    assert [task.name for task in shop.tasks if task.name in ("rip", "clean")] == ["clean"]
    assert shop.task("clean").uses == ("bench",)
    (job,) = shop.jobs
    # of rack-saw, saw-bench, bench-door, door-rack the first two touch the saw; none is invented
    assert [(leg.start, leg.end) for leg in job.legs] == [("bench", "door"), ("door", "rack")]
    assert job.feeds == ()
    assert len(job.break_downs) == 1
    for word in ("outfeed", "10 ft", "rip", "clean", "2 walks", "1 feed"):
        assert any(word in note for note in made.supposed), word
    assert judge(shop, made.layout).findings


def test_what_leaned_on_a_thing_that_is_gone_keeps_its_place_and_error():
    plain, made = parse(TEXT), supposed(without=["saw"])
    old, new = (f.layout.pose("bench").y for f in (plain, made))
    assert new.value == pytest.approx(old.value, abs=1e-6)
    # 60 + 34 + 1/4 in; of these three the saw's depth is assumed, so two tape errors of 1/8 in
    assert new.error(made.shop.measurements) == pytest.approx(2 * INCH / 8, abs=1e-6)


def test_without_the_bench_the_break_down_goes_too():
    made = supposed(without=["bench"])
    assert made.shop.jobs[0].break_downs == ()
    assert any("break-down" in note for note in made.supposed)


def test_replacing_keeps_place_and_links_and_takes_the_new_sizes():
    made = supposed(replace=["saw=portable table saw"])
    saw = made.shop.thing("saw")
    assert saw.kind == "portable table saw"
    assert saw.width.value == pytest.approx(30 * INCH)  # the written 62 in is gone with the old saw
    assert made.layout.pose("saw").x.value == pytest.approx(80 * INCH)
    assert [link.machine for link in made.shop.thing("bench").outfeed_of] == ["saw"]
    rack = supposed(replace=["rack=sheet rack"]).shop.thing("rack")
    assert [reach.target for reach in rack.within_of] == ["saw"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"without": ["sow"]}, "did you mean `saw`?"),
        ({"without": ["saw", "saw"]}, "taken out already"),
        ({"without": ["saw"], "size": ["saw=60x30 in"]}, "taken out already"),
        ({"size": ["bensh=60x30 in"]}, "did you mean `bench`?"),
        ({"size": ["bench=60"]}, "WIDTH x DEPTH"),
        ({"size": ["bench=60x"]}, "WIDTH x DEPTH"),
        ({"size": ["bench=60 in x blue"]}, "blue"),
        ({"size": ["bench"]}, "thing=WIDTH x DEPTH"),
        ({"size": ["bench=0 x 30 in"]}, "more than 0"),
        ({"set": ["way-out-widht=24 in"]}, "way-out-width"),
        ({"set": ["way-out-width=blue"]}, "way-out-width"),
        ({"set": ["way-out-width"]}, "rule=value"),
        ({"replace": ["saw=jointr"]}, "did you mean `jointer`?"),
        ({"replace": ["saw=sheet rack"]}, "saw"),
    ],
)
def test_one_clear_message(options, words):
    with pytest.raises(WhatIfError) as caught:
        supposed(**options)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_fault_of_the_file_itself_stays_a_fault_of_the_file():
    with pytest.raises(ShopFileError):
        parse(TEXT.replace("width: 66", "widht: 66"), "x", WhatIf.from_texts(without=["saw"]))


def test_the_file_is_never_touched(tmp_path: Path):
    path = tmp_path / "shop.yaml"
    path.write_bytes(TEXT.encode())
    before = path.read_bytes()
    changes = WhatIf.from_texts(
        set=["way-out-width=24 in"], without=["rack"], size=["bench=60x30 in"],
        replace=["saw=portable table saw"],
    )  # fmt: skip
    made = load(path, changes)
    assert made.supposed
    assert path.read_bytes() == before
    assert made.text == TEXT
    assert sorted(tmp_path.iterdir()) == [path]
