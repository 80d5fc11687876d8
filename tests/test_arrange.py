"""The main job: from a shop file to ranked layouts, each judged exactly."""

from __future__ import annotations

import json

import numpy as np
import pytest

from floorplan.checks.judge import judge
from floorplan.report.data import arrangement, dump
from floorplan.search.arrange import TOO_NARROW, arrange, doors_too_narrow
from floorplan.search.carry_ends import carry_ends
from floorplan.search.clashes import violations
from floorplan.search.rank import clearly_different
from floorplan.search.setting import Demands, Setting, movable_names
from floorplan.shop.model import Pose
from floorplan.shop.reader import ShopFile, parse

SMALL = """\
shop: small room
tape: {plan: 1/8 in, height: 1/16 in}
room: {size: [16', 14'], height: 8'}
doors:
  door: {wall: south, at: 6', width: 36 in, clear width: 34 in, height: 80 in,
         swing: out, leads to: outside}
fixed:
  panel: {kind: electrical panel, at: {wall: north, along: 60 in}}
equipment:
  bench: {width: 60 in, depth: 24 in, height: 34 in, at: {x: 20 in, y: 30 in},
          zones: {front: {side: front, depth: 24 in}}}
  press: {kind: drill press, at: {x: 120 in, y: 100 in}}
  rack: {width: 48 in, depth: 18 in, height: 60 in, at: {x: 10 in, y: 120 in},
         zones: {front: {side: front, depth: 30 in}}}
jobs:
  work: {walk: [door, rack, bench, press, bench]}
"""


@pytest.fixture(scope="module")
def small() -> ShopFile:
    return parse(SMALL, "small.yaml")


def test_layouts_pass_and_are_clearly_different(small: ShopFile) -> None:
    found = arrange(small.shop, small.layout, effort=200)
    assert len(found.layouts) == 3
    for ranked in found.layouts:
        assert judge(small.shop, ranked.layout).verdict == "passes"
    for i, a in enumerate(found.layouts):
        for b in found.layouts[i + 1 :]:
            assert clearly_different(small.shop, a.layout, b.layout)


def test_same_seed_and_effort_give_the_same_bytes(small: ShopFile) -> None:
    first, second = (
        dump(arrangement(arrange(small.shop, small.layout, effort=150, seed=3))) for _ in range(2)
    )
    assert first == second


def test_another_seed_may_find_another_answer_and_says_its_seed(small: ShopFile) -> None:
    found = arrange(small.shop, small.layout, effort=60, seed=7)
    assert json.loads(dump(arrangement(found)))["seed"] == 7


def test_fixed_and_staying_things_stay(small: ShopFile) -> None:
    text = SMALL.replace("press: {kind: drill press,", "press: {kind: drill press, may: stay,")
    file = parse(text)
    found = arrange(file.shop, file.layout, effort=120)
    for ranked in found.layouts:
        for name in ("press", "panel"):
            pose, old = ranked.layout.pose(name), file.layout.pose(name)
            assert pose is not None
            assert old is not None
            assert (pose.x.value, pose.y.value) == (old.x.value, old.y.value)


def test_a_thing_without_a_place_is_placed() -> None:
    file = parse(SMALL.replace(", at: {x: 120 in, y: 100 in}}", "}"))
    assert file.layout.pose("press") is None
    found = arrange(file.shop, file.layout, effort=120)
    assert all(r.layout.pose("press") is not None for r in found.layouts)


def test_a_thing_that_slides_stays_on_its_wall() -> None:
    file = parse(SMALL.replace("height: 60 in, at:", "height: 60 in, may: slide, along: west, at:"))
    found = arrange(file.shop, file.layout, effort=150)
    assert found.layouts
    for ranked in found.layouts:
        pose = ranked.layout.pose("rack")
        assert pose is not None
        assert pose.x.value == pytest.approx(0.0, abs=1e-9)
        assert pose.turn == 90.0


def test_walking_is_what_decides_when_all_else_is_equal(small: ShopFile) -> None:
    found = arrange(small.shop, small.layout, effort=300)
    walked = [r.judgement.measures["walking"].value for r in found.layouts]
    rest = [(r.values["required rules"], r.values["advised rules"]) for r in found.layouts]
    if len(set(rest)) == 1:
        assert walked[0] <= min(walked) * 1.03 + 1e-9


def test_nothing_feasible_names_what_clashes() -> None:
    """Two zones of 5 ft each cannot both lie in a room 7 ft deep that is full of benches."""
    text = """\
shop: tight
tape: 0
room: {size: [60 in, 100 in], height: 8'}
doors: {door: {wall: south, at: 10 in, width: 36 in, height: 80 in, swing: out, leads to: outside}}
equipment:
  long: {width: 60 in, depth: 30 in, height: 34 in, may: move and turn, turns: [0],
         zones: {front: {side: front, depth: 80 in}}}
"""
    file = parse(text)
    found = arrange(file.shop, file.layout, effort=100)
    assert found.layouts[0].judgement.verdict == "fails"
    assert found.note
    assert found.clash == ("long: front",)


def test_the_reserve_is_given_up_only_when_nothing_else_helps() -> None:
    """A 60 in bench in a 60 in room: as measured it fits, with the tape's error it may not."""
    text = """\
shop: exact
room: {size: [60 in, 120 in], height: 8'}
doors: {door: {wall: south, at: 10 in, width: 36 in, height: 80 in, swing: out, leads to: outside}}
equipment:
  bench: {width: 60 in, depth: 30 in, height: 34 in, turns: [0],
          zones: {front: {side: front, depth: 24 in}}}
"""
    file = parse(text)
    found = arrange(file.shop, file.layout, effort=80)
    assert found.layouts
    assert "reserve" in found.note
    assert found.layouts[0].judgement.verdict == "unsure"
    exact = parse("tape: 0\n" + text)
    found = arrange(exact.shop, exact.layout, effort=80)
    assert found.layouts[0].judgement.verdict == "passes"


def test_pieces_of_the_search_are_those_of_the_scene(small: ShopFile) -> None:
    """Without a reserve the search's own test of overlap agrees with the exact judgement."""
    names = movable_names(small.shop, small.layout)
    setting = Setting(small.shop, small.layout, names, Demands(reserve=False, advised=False))
    from floorplan.search.clashes import violations

    clashes = violations(setting.problem, setting.state(small.layout))
    failing = [
        f
        for f in judge(small.shop, small.layout).failing
        if f.check in ("solids", "keep-clears", "zones") and f.verdict == "fails"
    ]
    assert bool(clashes) == bool(failing)


def test_today_is_always_beside(small: ShopFile) -> None:
    found = arrange(small.shop, small.layout, effort=60)
    assert found.today.layout is small.layout
    data = arrangement(found)
    assert set(data) >= {"seed", "tried", "today", "layouts"}
    assert set(data["layouts"][0]) >= {
        "rank", "verdict", "poses", "measures", "best_for", "dominated", "reason", "findings",
    }  # fmt: skip


RACK = """\
shop: a rack to stand before
tape: 0
units: in
room: {size: [200, 160], height: 96}
doors:
  door: {wall: south, at: 20, width: 60, clear width: 58, height: 90, swing: out, leads to: outside}
equipment:
  rack: {width: 96, depth: 12, height: 60, may: stay, at: {x: 60, y: 148, turn: 0}}
  bench: {width: 40, depth: 30, height: 34, at: {x: 150, y: 20},
          zones: {front: {side: front, depth: 24, purpose: stand}}}
stock:
  sheet: {length: 96, width: 48, thickness: 1}
jobs:
  work:
    walk: [{from: bench, to: rack, times: 9}]
    carry: {stock: sheet, from: door, to: rack, how: on edge}
"""


def test_room_to_hold_a_sheet_before_its_rack_is_kept_free() -> None:
    """The sheet is held 20 mm before the rack, on edge, 1 in thick.

    Turned by half a turn the rack, 12 in deep, has its front to the north.
    """
    file = parse(RACK.replace("may: stay, ", ""))
    rack = file.shop.thing("rack")
    for turn, low, high in ((0.0, -25.4 - 20, -20.0), (180.0, 304.8 + 20, 304.8 + 20 + 25.4)):
        (held,) = carry_ends(file.shop, rack, Pose.at(0.0, 0.0, turn))
        points = held.volume.outline.points * 1000.0
        assert points[:, 1].min() == pytest.approx(low)
        assert points[:, 1].max() == pytest.approx(high)
        assert np.ptp(points[:, 0]) == pytest.approx(96 * 25.4)


def test_a_bench_that_would_walk_least_does_not_stand_where_the_sheet_is_held() -> None:
    file = parse(RACK)
    found = arrange(file.shop, file.layout, effort=400, show=1)
    assert found.layouts[0].judgement.verdict == "passes"
    setting = Setting(file.shop, file.layout, ("bench",), Demands())
    at_rack = file.layout.with_pose("bench", Pose.at(100 * 0.0254, 117 * 0.0254, 0.0))
    assert violations(setting.problem, setting.state(at_rack)) != ()
    clear = file.layout.with_pose("bench", Pose.at(100 * 0.0254, 115 * 0.0254, 0.0))
    assert violations(setting.problem, setting.state(clear)) == ()


def test_a_door_too_narrow_for_the_way_out_is_told_at_once():
    """A clear 30 in door and a way out of 36 in: no layout can pass, and one search is enough."""
    text = """\
shop: narrow door
units: in
tape: 0
room: {size: [140, 120], height: 96}
doors:
  way: {wall: south, at: 40, width: 32, clear width: 30, height: 80, swing: out, leads to: outside}
rules: {way-out-width: %s in}
equipment:
  desk: {width: 50, depth: 24, height: 30, at: {x: 5, y: 90},
    zones: {seat: {side: front, depth: 30, purpose: stand}}}
"""
    wide, narrow = (parse(text % width) for width in (30, 36))
    assert not doors_too_narrow(wide.shop)
    found = arrange(narrow.shop, narrow.layout, effort=30)
    assert found.note == TOO_NARROW
    assert found.layouts[0].judgement.verdict == "fails"
    assert found.layouts[0].judgement.failing
    assert all("way" in f.about for f in found.layouts[0].judgement.failing)
