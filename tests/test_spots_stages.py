"""Places that hold at every stage: rooms worked by hand, and each stage by itself."""

import pytest
import shapely

from floorplan.checks.judge import judge
from floorplan.search.spots import spots
from floorplan.search.spots_stages import spots_at_all
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse

TEXT = """
shop: over years
units: m
tape: {tape}
room: {{size: [4, 3], height: 2.5}}
stages: {{now: {{}}, later: {{when: in a year}}}}
equipment:
  bench: {{width: 1.0, depth: 0.5, height: 0.9, at: {{x: 1, y: 1, turn: 0}}{more}}}
  crate: {{width: 0.5, depth: 3, height: 1, at: {{x: 0, y: 0, turn: 0}}, until: now}}
  cabinet: {{width: 0.5, depth: 3, height: 2, at: {{x: 3.5, y: 0, turn: 0}}, from: later}}
"""


def both(text):
    file = parse(text)
    stages = [file.at(number) for number in (0, 1)]
    return stages, spots_at_all([(s.shop, s.layout) for s in stages], "bench")


def test_between_what_goes_and_what_comes():
    """West 0.5 m of crate now, east 0.5 m of cabinet later: 3 m less 1 m of bench, by 2.5 m."""
    stages, found = both(TEXT.format(tape=0, more=""))
    at = next(t for t in found.turns if t.turn == 0)
    assert at.region.bounds == pytest.approx((0.5, 0.0, 2.5, 2.5), abs=1e-5)
    assert at.region.area == pytest.approx(2.0 * 2.5, abs=1e-4)
    now, later = (spots(s.shop, s.layout, "bench", turns=(0,)).turns[0] for s in stages)
    assert now.region.bounds == pytest.approx((0.5, 0.0, 3.0, 2.5), abs=1e-5)
    assert later.region.bounds == pytest.approx((0.0, 0.0, 2.5, 2.5), abs=1e-5)
    sides = {}
    for limit in at.limits:
        middle = limit.line.interpolate(0.5, normalized=True)
        sides.update(dict.fromkeys(limit.names, (round(middle.x, 2), round(middle.y, 2))))
    assert sides["crate (now)"] == (0.5, 1.25)
    assert sides["cabinet (later)"] == (2.5, 1.25)
    assert {"north wall", "south wall"} <= set(sides)
    assert not {"east wall", "west wall", "crate", "cabinet"} & set(sides)
    ruled = {part.name for part in at.ruled_out}
    assert {"crate", "cabinet (later)"} <= ruled
    assert found.at_best().verdict == "passes"


def test_a_slot_that_two_stages_leave_between_them():
    """2.0 m of room for a bench 3.0 m long at no stage, for one 3 m between both exactly once."""
    _, found = both(TEXT.format(tape=0, more="").replace("width: 1.0", "width: 3.0"))
    at = next(t for t in found.turns if t.turn == 0)
    assert at.region.is_empty
    assert [line.length for line in at.segments] == pytest.approx([2.5], abs=1e-4)
    assert at.best.x == pytest.approx(0.5, abs=1e-5)
    _, found = both(TEXT.format(tape=0, more="").replace("width: 1.0", "width: 3.001"))
    assert next(t for t in found.turns if t.turn == 0).is_empty


@pytest.mark.parametrize("tape", [0, 0.004])
def test_each_place_against_the_checks_of_both_stages(tape):
    """Certain places pass at each stage, places ruled out fail at one of them."""
    text = TEXT.format(tape=tape, more=", zones: {work: {side: front, depth: 0.6}}")
    stages, found = both(text)
    seen = {"in": 0, "out": 0, "unsure": 0}
    for at in found.turns:
        for x in (0.498, 0.503, 0.51, 1.2, 2.48, 2.503):
            for y in (0.598, 0.61, 1.98, 2.47):
                place = shapely.Point(x, y)
                if at.region.boundary.distance(place) < 1e-4:
                    continue
                verdicts = set()
                for stage in stages:
                    layout = stage.layout.with_pose("bench", Pose.at(x, y, at.turn))
                    verdicts |= {
                        f.verdict
                        for f in judge(stage.shop, layout).findings
                        if f.kind == "required" and "bench" in f.about
                    }
                kind = (
                    "in" if at.region.contains(place)
                    else "unsure" if at.unsure.dwithin(place, 1e-4)
                    else "out"
                )  # fmt: skip
                seen[kind] += 1
                assert (kind == "in") == (verdicts <= {"passes"}), (at.turn, x, y, verdicts)
                assert kind != "unsure" or "fails" not in verdicts, (at.turn, x, y, verdicts)
    assert seen["in"] > 10
    assert seen["out"] > 10
    assert (seen["unsure"] > 0) == (tape > 0)
