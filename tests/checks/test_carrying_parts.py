"""The piece and whoever carries it reach to different heights: each is stopped by what it meets.

The scenes are sums of lengths: what the piece passes over or under is nothing to the people, and
the other way round.  A brute-force judge of its own does the same for random shops in
`tests/attacks/carried.py`.
"""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
import shapely
from attacks.carried import random_shop, text_of
from shapely.geometry import Polygon, box

from floorplan.checks.ways import Way, way_of
from floorplan.motion.carry import Body, CarrySpace, Pose, carry, may_pass
from floorplan.motion.replay import is_clear
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

STRIP = """\
shop: strip
units: in
tape: {tape}
room: {{size: [120, 120], height: 110}}
equipment:
  west side: {{width: {side}, depth: 120, bottom: {bottom}, height: {top}, at: {{x: 0, y: 0}}}}
  east side: {{width: {side}, depth: 120, bottom: {bottom}, height: {top}, at: {{x: {east}, y: 0}}}}
places:
  along: {{x: 60, y: 60, turn: 90}}
  across: {{x: 60, y: 60, turn: 0}}
stock:
  sheet: {{length: 96, width: 48, thickness: 3/4}}
jobs:
  turn: {{carry: {{stock: sheet, from: along, to: across, how: on edge with carrier, height: 12}}}}
rules: {{body-width: 20, carry-body-depth: 16, person-height: 80}}
"""


def strip(bottom: float, top: float, free: float = 60.0, tape: str = "0") -> Way:
    """A sheet turned across a strip of free floor, between two low or two hanging boxes."""
    side = (120.0 - free) / 2
    text = STRIP.format(bottom=bottom, top=top, side=side, east=side + free, tape=tape)
    return _way(text)


def _way(text: str) -> Way:
    file = parse(text)
    ((job, wanted),) = file.shop.carries()
    way = way_of(scene(file.shop, file.layout), job, wanted)
    assert way is not None
    return way


@pytest.mark.parametrize(
    ("bottom", "top", "verdict"),
    [
        (0, 8, "passes"),  # the sheet at 12 in goes over it
        (0, 12, "passes"),
        (0, 13, "fails"),
        (60, 90, "passes"),  # it reaches 60 in and goes under it
        (59, 90, "fails"),
    ],
)
def test_a_sheet_passes_over_and_under_what_stops_only_its_carrier(
    bottom: float, top: float, verdict: str
) -> None:
    way = strip(bottom, top)
    assert way.verdict == verdict
    if verdict == "passes":
        assert is_clear(way.around.space, way.body, way.answer.path)
        assert not is_clear(way.around.space.met_by_all(), way.body, way.answer.path)
    else:
        assert {"west side", "east side"} & set(way.limits)


def test_the_margin_is_what_is_left_of_the_floor_for_the_carrier() -> None:
    # along the strip the sheet is held over its middle, and its carrier reaches 20.375 in to one
    # side; widened by d they reach d/2 farther
    assert strip(0, 8, free=40.5).verdict == "fails"
    way = strip(0, 8, free=41.5)
    assert way.verdict == "passes"
    assert way.margin is not None
    assert way.margin.value / 0.0254 == pytest.approx(2 * (20.75 - 20.375), abs=1 / 16)


@pytest.mark.parametrize(("top", "verdict"), [("11.8", "passes"), ("11.95", "unsure")])
def test_a_height_within_the_tape_of_one_part_is_unsure(top: str, verdict: str) -> None:
    assert strip(0, float(top), tape="1/16").verdict == verdict


OVER = """\
shop: over a bench
units: in
tape: 0
room: {{size: [240, 112], height: 96}}
equipment:
  bench: {{width: 100, depth: {deep}, height: {top}, at: {{x: 70, y: {south}}}}}
  {more}
places:
  one side: {{x: 34, y: 56, turn: 90}}
  other side: {{x: 206, y: 56, turn: 90}}
stock:
  panel: {{length: 80, width: 40, thickness: 3/4}}
jobs:
  over: {{carry: {{stock: panel, from: one side, to: other side, how: by two, height: {height}}}}}
rules: {{body-width: 20, body-depth: 12, person-height: 80}}
"""


def over(
    deep: float, top: float, height: float = 36.0, south: float | None = None, more: str = ""
) -> Way:
    low = (112 - deep) / 2 if south is None else south
    return _way(OVER.format(deep=deep, top=top, south=low, height=height, more=more))


@pytest.mark.parametrize(
    ("deep", "top", "verdict"),
    [
        (50, 34, "passes"),  # the panel goes over it, the two walk on both sides of it
        (50, 36, "passes"),
        (50, 37, "fails"),  # it stops the panel, and 31 in beside it are too narrow for 40
        (79, 34, "passes"),  # 80 in are between the two
        (95, 34, "fails"),  # 8.5 in beside it are too narrow for 12
    ],
)
def test_two_carry_a_panel_over_a_bench_between_them(deep: float, top: float, verdict: str) -> None:
    way = over(deep, top)
    assert way.verdict == verdict
    if verdict == "passes":
        assert is_clear(way.around.space, way.body, way.answer.path)
        assert way.answer.pinch is not None
    else:
        assert "bench" in way.limits


def test_a_cabinet_over_the_panel_stops_only_the_people() -> None:
    shelf = "shelf: {width: 20, depth: %s, bottom: 50, height: 90, at: {x: 110, y: 0}}"
    assert over(50, 34, more=shelf % 3).verdict == "passes"
    stopped = over(50, 34, more=shelf % 16)
    assert stopped.verdict == "fails"


# --- among polygons ------------------------------------------------------------------------


def _scene(random: Random) -> tuple[Polygon, list[Polygon], list[frozenset[int]]]:
    boxes, stops = [], []
    for _ in range(6):
        x, y = random.uniform(0, 3), random.uniform(0, 3)
        boxes.append(box(x, y, x + random.uniform(0.1, 0.8), y + random.uniform(0.1, 0.8)))
        stops.append(frozenset(random.choice(((0,), (1,), (0, 1)))))
    return box(0, 0, 3.5, 3.5), boxes, stops


BODY = Body.rectangle(1.2, 0.02).accompanied(((-0.15, 0.0), (0.15, 0.0), (0.15, 0.5), (-0.15, 0.5)))


def test_free_positions_are_those_at_which_each_part_meets_nothing_of_its_own() -> None:
    # a position counts as the polygons of shapely say, part by part
    for seed in range(6):
        random = Random(seed)
        room, boxes, stops = _scene(random)
        space = CarrySpace(room, boxes, stops, 2)
        angle = random.uniform(0, 6)
        free = shapely.union_all(space.free(*BODY.all_at(angle)))
        seen = set()
        for _ in range(150):
            at = np.array([random.uniform(0, 3.5), random.uniform(0, 3.5)])
            parts = [Polygon(part + at) for part in BODY.all_at(angle)]
            clear = all(room.covers(part) for part in parts) and not any(
                parts[k].intersects(b)
                for b, stopped in zip(boxes, stops, strict=True)
                for k in stopped
            )
            if shapely.distance(free.boundary, shapely.points(at)) > 1e-6:
                assert free.contains(shapely.points(at)) == clear
                seen.add(clear)
        assert False in seen


def test_obstacles_that_stop_all_parts_answer_as_if_nothing_were_told_apart() -> None:
    random = Random(3)
    room, boxes, _ = _scene(random)
    ends = {"start": Pose(0.7, 0.1, 0.0), "goal": Pose(2.8, 2.9, 0.0)}
    plain = carry(CarrySpace(room, boxes), BODY, **ends)
    told = carry(CarrySpace(room, boxes, [frozenset((0, 1))] * len(boxes), 2), BODY, **ends)
    assert plain == told or (plain.verdict, plain.path, plain.margin) == (
        told.verdict,
        told.path,
        told.margin,
    )


def test_a_body_of_other_parts_than_the_space_knows_is_refused() -> None:
    space = CarrySpace(box(0, 0, 3, 3), [box(1, 1, 2, 2)], [frozenset((1,))], 2)
    pose = Pose(0.5, 0.5, 0.0)
    with pytest.raises(ValueError, match="2 parts"):
        may_pass(space, Body.rectangle(0.2, 0.1), start=pose, goal=pose)
    with pytest.raises(ValueError, match="2 parts"):
        carry(space, Body.rectangle(0.2, 0.1), start=pose, goal=pose)


def test_a_union_that_rounding_defeats_is_still_found() -> None:
    # the piece and its people side by side share edges but for rounding; the library once gave up
    file = parse(text_of(random_shop(Random("c9001-2"))))
    (job,) = file.shop.jobs
    way = way_of(scene(file.shop, file.layout), job.name, job.carries[0])
    assert way is not None
    assert way.verdict == "passes"
    assert is_clear(way.around.space, way.body, way.answer.path)
