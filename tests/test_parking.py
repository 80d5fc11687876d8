"""Parked and working places: found by the search, and there only in their tasks."""

from __future__ import annotations

import pytest

from floorplan.checks.judge import judge
from floorplan.search.arrange import arrange
from floorplan.search.setting import Demands, Setting, movable_names, movable_spots
from floorplan.shop.model import Layout
from floorplan.shop.reader import ShopFile, parse
from floorplan.shop.scene import scene
from floorplan.shop.writer import with_layout

FOOT = 0.3048
BAY = """\
shop: a bay
tape: 0
room: {size: [13', 20'], height: 9'}
doors:
  big door: {wall: south, at: 2', width: 9', height: 7', kind: overhead, leads to: outside}
equipment:
  car: {width: 6', depth: 12', height: 58", may: stay, at: {x: 5', y: 6"},
        zones: {gets out: {side: left, depth: 30", from: 2', to: 5', purpose: stand}}}
  table: {width: 4', depth: 3', height: 3', at: {x: 5', y: 8'},
          zones: {front: {side: front, depth: 24", purpose: stand}}}
tasks:
  car in: {uses: [car], present: [car], parked: [table], open: [big door]}
  work: {uses: [table]}
"""
STAYS = "at: {x: 5', y: 8'}"


@pytest.fixture(scope="module")
def bay() -> ShopFile:
    return parse(BAY)


def where(layout: Layout, thing: str, place: str) -> tuple[float, float, float]:
    pose = layout.pose(thing, place)
    assert pose is not None
    return pose.x.value / FOOT, pose.y.value / FOOT, pose.turn


def test_what_a_task_parks_is_sought_a_place_unless_it_stays(bay: ShopFile) -> None:
    assert movable_spots(bay.shop, bay.layout) == (("table", "parked"),)
    given = parse(BAY.replace(STAYS, f"{STAYS}, may: stay, parked: {{x: 0, y: 16'}}"))
    assert movable_spots(given.shop, given.layout) == ()
    free = parse(BAY.replace(STAYS, f"{STAYS}, parked: {{x: 0, y: 16'}}"))
    assert movable_spots(free.shop, free.layout) == (("table", "parked"),)


def test_the_table_is_found_a_place_beside_the_car(bay: ShopFile) -> None:
    found = arrange(bay.shop, bay.layout, effort=120)
    best = found.layouts[0]
    assert best.judgement.verdict == "passes"
    x, y, turn = where(best.layout, "table", "parked")
    wide, deep = (4.0, 3.0) if turn in (0.0, 180.0) else (3.0, 4.0)
    # clear of the car, worked out from the two rectangles alone
    assert x + wide <= 5.0 + 1e-6 or x >= 11.0 - 1e-6 or y >= 12.5 - 1e-6
    assert 0.0 <= x <= 13.0 - wide + 1e-6
    assert 0.0 <= y <= 20.0 - deep + 1e-6


def test_with_the_car_filling_the_bay_no_place_is_found() -> None:
    text = BAY.replace("width: 6', depth: 12'", "width: 12', depth: 19'")
    text = text.replace("x: 5', y: 6\"}", 'x: 6", y: 6"}')
    file = parse(text.replace("from: 2', to: 5'", "advised: yes"))
    found = arrange(file.shop, file.layout, effort=60)
    assert found.layouts[0].judgement.verdict == "fails"
    assert found.note
    assert found.clash == ("the things themselves do not fit",)


def test_a_sought_place_counts_in_its_task_only(bay: ShopFile) -> None:
    layout = bay.layout.with_pose("table", bay.layout.poses["table", "standing"], "parked")
    made = scene(bay.shop, layout)
    parked, standing = (
        [e for e in made.things["table"] if e.name == "body" and e.presence.during(task)]
        for task in ("car in", "work")
    )
    assert len(parked) == len(standing) == 1
    assert parked[0] is not standing[0]
    # what stands is told first: the top on which something lies
    assert made.things["table"][0] is standing[0]


def test_the_search_moves_the_pieces_of_the_scene(bay: ShopFile) -> None:
    setting = Setting(
        bay.shop, bay.layout, movable_names(bay.shop, bay.layout), Demands(reserve=False),
        movable_spots(bay.shop, bay.layout),
    )  # fmt: skip
    assert setting.spots == (("table", "standing"), ("table", "parked"))
    assert [item.name for item in setting.problem.items] == ["table", "table"]
    state = setting.state(bay.layout)
    assert state.placed.tolist() == [True, False]
    state.put(1, 2, state.xy[0] + 1.0)
    again = setting.layout_of(state, rounded=False)
    assert where(again, "table", "parked")[2] == 180.0
    assert where(again, "table", "standing") == (5.0, 8.0, 0.0)


def test_found_places_are_written_back(bay: ShopFile) -> None:
    found = arrange(bay.shop, bay.layout, effort=60)
    layout = found.layouts[0].layout
    text = with_layout(bay, layout)
    assert "parked: {" in text
    again = parse(text)
    assert where(again.layout, "table", "parked") == pytest.approx(where(layout, "table", "parked"))
    assert judge(again.shop, again.layout).verdict == "passes"
