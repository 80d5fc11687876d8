"""Buildings and the shed before a door: for who goes out, for what is carried, for a long board.

Every sum is done by hand from the file's numbers.
"""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

from floorplan.checks.finding import Finding

WALL = 4.5
"""Thickness of the wall [in]."""
LOT = "  lot: {corners: [[-50', -50'], [80', -50'], [80', 50'], [-50', 50']]}\n"
BENCH = (
    "bench: {width: 40 in, depth: 30 in, height: 34 in, at: {x: 20 in, y: 100 in},\n"
    "    zones: {work: {side: front, depth: 30 in, purpose: stand}}}"
)


def shop(*equipment: str, site: str = "", jobs: str = "", lead: str = "outside") -> str:
    """A room with one door 46 in clear in its south wall, and what the site says."""
    return text_of(
        *(equipment or (BENCH,)),
        more="doors: {door: {wall: south, at: 8', width: 4', clear width: 46 in, height: 80 in,\n"
        f"  swing: out, leads to: {lead}}}}}\n"
        "stock: {sheet: {length: 96 in, width: 48 in, thickness: 3/4 in},\n"
        "  board: {length: 96 in, width: 6 in, thickness: 1 in}}\n"
        f"{jobs}site:\n{LOT}{site}",
    ).replace("height: 9'}", f"height: 9', wall thickness: {WALL} in}}")


def before(gap: float, *, error: str = "", height: str = "12'") -> str:
    """A long building whose wall runs parallel to the door's, `gap` inches from its face."""
    y = f"{-(WALL + gap) - 120} in{error}"
    return f"  buildings: {{barn: {{at: [-40', {y}], size: [80', 120 in], height: {height}}}}}\n"


def way_out(site: str) -> Finding:
    return pick(judged(shop(site=site)), "way-out", "bench")


@pytest.mark.parametrize(
    ("gap", "width", "verdict"),
    [
        (200.0, 46.0, "passes"),
        (42.0, 42.0, "passes"),
        (28.0, 28.0, "passes"),
        (20.0, 20.0, "fails"),
    ],
)
def test_the_way_out_is_as_wide_as_what_is_left_before_the_door(
    gap: float, width: float, verdict: str
) -> None:
    found = way_out(before(gap))
    assert found.verdict == verdict
    assert found.measured == pytest.approx(width * 0.0254, abs=1e-5)
    assert ("barn" in found.about) == (gap < 46.0)


def test_what_the_tape_may_be_off_outside_counts() -> None:
    """29 in less 2 in may be less than the 28 in needed; less 1/2 in it is not."""
    assert way_out(before(29.0, error=" +- 2 in")).verdict == "unsure"
    assert way_out(before(29.0, error=" +- 1/2 in")).verdict == "passes"


def test_without_a_gap_there_is_no_way_out_and_a_building_behind_another_wall_is_none() -> None:
    shut = way_out(before(0.0))
    assert shut.verdict == "fails"
    assert "barn" in shut.about
    behind = "  buildings: {barn: {at: [0, 196.5 in], size: [20', 10'], height: 12'}}\n"
    assert way_out(behind).measured == pytest.approx(46.0 * 0.0254, abs=1e-5)


def test_a_shed_before_the_door_narrows_the_way_out() -> None:
    """The shed's rear wall lies 24 in before the door's, and it is wider than the ground looked at.

    The same shed 60 in off does not matter.
    """
    for gap, width in ((24.0, 24.0), (60.0, 46.0)):
        shed = (
            "  shed: {width: 30', depth: 4', height: 8', eave: 6 in,\n"
            f"    at: {{x: -5', y: {-(WALL + gap) - 48} in, turn: 0}}}}\n"
        )
        found = way_out(shed)
        assert found.measured == pytest.approx(width * 0.0254, abs=1e-5)
        assert ("shed" in found.about) == (gap < 46.0)


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [
        (40.0, "passes"),
        pytest.param(10.0, "passes", marks=pytest.mark.slow),
        pytest.param(5.0, "fails", marks=pytest.mark.slow),
    ],
)
def test_a_sheet_is_carried_in_along_the_wall_where_it_cannot_come_square(
    gap: float, verdict: str
) -> None:
    """96 in by 3/4 in on edge, through 46 in in a wall of 4.5 in, from a strip before it.

    It gets through the wall at an angle `a` to it at least, where 4.5 cos a + 3/4 = 46 sin a: at
    6.6 degrees. Then, its tip at the inner face, 96 - 4.5 / sin a are outside and reach
    96 sin a - 4.5 + 3/4 cos a = 7.2 in from the wall: 5 in are too few and 10 in enough.
    """
    rack = "rack: {width: 96 in, depth: 12 in, height: 60 in, at: {x: 70 in, y: 178 in}}"
    jobs = "jobs: {work: {carry: {stock: sheet, from: door, to: rack, how: on edge}}}\n"
    found = pick(judged(shop(rack, site=before(gap), jobs=jobs)), "carrying", "sheet")
    assert found.verdict == verdict


def test_a_sheet_goes_over_what_is_lower_than_it_is_carried() -> None:
    rack = "rack: {width: 96 in, depth: 12 in, height: 60 in, at: {x: 70 in, y: 178 in}}"
    jobs = "jobs: {work: {carry: {stock: sheet, from: door, to: rack, how: on edge}}}\n"
    low = shop(rack, site=before(5.0, height="5 in"), jobs=jobs)
    assert pick(judged(low), "carrying", "sheet").verdict == "passes"


def test_a_door_into_the_house_leads_into_the_house() -> None:
    """A sheet that is fetched out of the house does not meet the house."""
    rack = "rack: {width: 96 in, depth: 12 in, height: 60 in, at: {x: 70 in, y: 178 in}}"
    jobs = "jobs: {work: {carry: {stock: sheet, from: door, to: rack, how: on edge}}}\n"
    made = judged(shop(rack, site=before(0.0), jobs=jobs, lead="house"))
    assert pick(made, "carrying", "sheet").verdict == "passes"


def test_a_board_fed_out_of_the_open_door_needs_the_ground_there() -> None:
    """Feed goes south, out of the door; a building inches nearer is that much more in the way."""
    saw = "saw: {kind: cabinet table saw, at: {x: 80 in, y: 45 in, turn: 180}}"
    jobs = (
        "tasks: {ripping: {uses: [saw], open: [door]}}\n"
        "jobs: {work: {feed: {stock: board, through: saw, cut: rip, offset: 3 in}}}\n"
    )

    def feed(gap: float) -> list[Finding]:
        made = judged(shop(saw, site=before(gap), jobs=jobs))
        return [f for f in made.findings if f.rule == "feed-clear" and f.verdict == "fails"]

    near, nearer = feed(30.0), feed(24.0)
    assert [f.about for f in near] == [f.about for f in nearer] == [("saw", "barn")]
    assert near[0].margin - nearer[0].margin == pytest.approx(6.0 * 0.0254, abs=1e-5)
    # it is free from where nothing is left of how far the building was in the way
    enough = 30.0 - near[0].margin / 0.0254
    assert not feed(enough + 0.1)
    assert feed(enough - 0.1)
