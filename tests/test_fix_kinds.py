"""Each kind of change on a shop with the sum done first; a tape's step less does not do."""

from dataclasses import replace

import pytest

from floorplan.checks.judge import judge
from floorplan.search.change import Draft
from floorplan.search.explain import least_change
from floorplan.search.fix import fix
from floorplan.search.rework import cut_flat, raised
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse
from floorplan.shop.whatif import WhatIf

INCH = 0.0254
SIXTEENTH, MILLIMETRE = INCH / 16, 0.001


def fixed(text, most=9):
    """The changes found, each judged once more."""
    found = fix(parse(text), most=most)
    for change in found.changes:
        again = judge(change.verified.shop, change.verified.layout)
        assert again.verdict == "passes", change.text
    return found.changes


def short_of(change, step):
    """The verdict of a shift that stops a step [m] short on each axis along which it goes."""
    (shift,) = change.steps
    made = change.verified
    new = made.layout.pose(shift.thing)
    dx, dy = shift_of(change)
    back = [step * ((d > 1e-9) - (d < -1e-9)) for d in (dx, dy)]
    pose = replace(new, x=new.x - back[0], y=new.y - back[1])
    return judge(made.shop, made.layout.with_pose(shift.thing, pose)).verdict


def shift_of(change):
    """How far east and north the one thing of a shift goes [m]."""
    (shift,) = change.steps
    assert shift.kind == "shift"
    words = shift.text.split(f"shift {shift.thing} ")[1].split()
    signs = {"east": (1, 0), "west": (-1, 0), "north": (0, 1), "south": (0, -1)}
    ways = [signs[word] for word in words if word in signs]
    each = shift.by / len(ways) ** 0.5
    return tuple(each * sum(way[axis] for way in ways) for axis in (0, 1))


L_SHAPED = """\
shop: round the corner
units: m
tape: 0.003
room: {corners: [[0, 0], [5, 0], [5, 2], [3, 2], [3, 5], [0, 5]], height: 2.6}
equipment:
  bench: {width: 2.0, depth: 0.8, height: 0.9, at: {x: 1.5, y: 1.3}}
"""


def test_out_of_the_inner_corner_of_an_l_shaped_room():
    """1.3 + 0.8 - 2 = 0.1 m, 3 mm for the depth of the bench and 3 mm for the corner's place."""
    first = fixed(L_SHAPED)[0]
    assert first.text == "shift bench 106 mm south"
    assert short_of(first, MILLIMETRE) == "unsure"


SLANTED = """\
shop: under a slanting wall
units: m
tape: 0
room: {corners: [[0, 0], [4, 0], [4, 2], [2, 4], [0, 4]], height: 2.6}
equipment:
  crate: {width: 1, depth: 1, height: 0.9, at: {x: 2.2, y: 2.0}}
"""


def test_away_from_a_wall_at_an_angle_the_shortest_way_is_square_to_it():
    """Its corner (3.2, 3) lies 0.2 m beyond x + y = 6 along either axis: 0.1 m on both."""
    first = fixed(SLANTED)[0]
    assert first.text == "shift crate 100 mm west and 100 mm south"
    assert first.steps[0].by == pytest.approx(0.1 * 2**0.5)
    assert short_of(first, MILLIMETRE) == "fails"


NICHE = """\
shop: a niche
units: in
tape: 0
room: {size: [100, 60], height: 100}
equipment:
  press: {width: 60, depth: 60, height: 80, may: stay, at: {x: 0, y: 0}}
  chest: {width: 36, depth: 50, height: 40, may: move and turn, at: {x: 60, y: 5, turn: 90}}
"""


def test_a_turn_where_no_shift_can_help():
    """50 in lie across 100 - 60 = 40 in; turned it is 36 in across and 50 of 60 in deep."""
    changes = fixed(NICHE)
    assert changes[0].steps[0].kind == "turn"
    assert all(step.kind != "shift" for change in changes for step in change.steps)
    pose = changes[0].verified.layout.pose("chest")
    assert pose.turn % 180 == 0
    # its middle was at x 60 + 25, y 5 + 18; 85 - 18 = 67 in is the last place before the east wall
    assert pose.x.value / INCH == pytest.approx(64.0)
    assert pose.y.value / INCH == pytest.approx(0.0)


def test_a_smaller_size_by_no_more_than_it_takes():
    """Where nothing turns, 50 in have to be made 40; 1/16 in wider it stands in the press."""
    text = NICHE.replace("may: move and turn", "may: move")
    sizes = [c for c in fixed(text) if c.steps[0].kind == "size"]
    first = sizes[0].steps[0]
    assert first.by / INCH == pytest.approx(-10.0)
    for depth, verdict in ((40, "passes"), (40.0625, "fails")):
        made = parse(text, "shop.yaml", WhatIf.from_texts(size=[f"chest=36x{depth} in"]))
        assert judge(made.shop, made.layout).verdict == verdict


OUTFEED = """\
shop: behind the saw
units: in
tape: {plan: 1/8, height: 1/16}
room: {size: [240, 200], height: 100}
equipment:
  saw: {kind: cabinet table saw, width: 60, depth: 34, height: 34, surface: 34, may: stay,
    blade: {at: [22, 18], diameter: 10, depth of cut: 3}, at: {x: 90, y: 80}}
  bench: {width: 60, depth: 26, height: 35, surface: 35, at: {x: 90, y: 160}}
stock: {board: {length: 60, width: 12, thickness: 0.75}}
jobs: {table: {feed: {stock: board, through: saw, cut: rip, offset: 6}}}
"""


def test_a_bench_lowered_by_its_feet_and_a_sixteenth_less():
    """35 - 34 = 1 in too high, and 1/16 in for each of the two heights."""
    first = fixed(OUTFEED, most=1)[0]
    assert first.steps[0].kind == "feet"
    assert first.steps[0].by / INCH == pytest.approx(-1.125)
    today = parse(OUTFEED)
    higher = raised(today.shop.thing("bench"), first.steps[0].by + SIXTEENTH)
    assert judge(today.shop.with_thing(higher), today.layout).verdict == "unsure"


def test_one_of_fifteen_things_stands_wrong():
    """Five columns 44 in apart of 24 in boxes; the middle one is 31 in east: 31 + 24 - 44 = 11."""
    rows = "".join(
        f"  t{i}{j}: {{width: 24, depth: 20, height: 30, "
        f"at: {{x: {5 + 44 * i + (31 if (i, j) == (2, 1) else 0)}, y: {10 + 60 * j}}}}}\n"
        for i in range(5)
        for j in range(3)
    )
    head = "shop: many\nunits: in\ntape: 0\nroom: {size: [240, 200], height: 100}\nequipment:\n"
    changes = fixed(head + rows)
    assert {change.text for change in changes if change.steps[0].kind == "shift"} == {
        'shift t21 11" west', 'shift t31 11" east',
    }  # fmt: skip
    assert all(len(change.steps) == 1 for change in changes)


SHEET = """\
shop: a short shop
units: in
tape: 0
room: {size: [240, 330], height: 100}
equipment:
  saw: {kind: cabinet table saw, width: 60, depth: 34, height: 34, surface: 34, may: stay,
    at: {x: 90, y: 65}}
  table: {width: 60, depth: 40, height: 34, surface: 34, may: stay, at: {x: 90, y: 230}}
stock: {sheet: {length: 96, width: 48, thickness: 0.75}}
jobs: {cabinet: {feed: {stock: sheet, through: saw, cut: rip, offset: 24}}}
"""


def flat(text):
    """Where the sheet may be cut up flat, and the verdict of each such change."""
    file = parse(text)
    steps = cut_flat(Draft(file.shop, file.layout), "saw")
    return {
        step.draft.shop.jobs[0].break_downs[0].over: judge(
            step.draft.shop, step.draft.layout
        ).verdict
        for step in steps
    }


def test_cut_on_the_bench_that_carries_half_the_sheet():
    """60 x 40 in carry half of 96 x 48 in both ways; 60 x 23 in do not: then on the floor alone."""
    assert flat(SHEET) == {"table": "passes", "floor": "passes"}
    small = SHEET.replace("depth: 40, height: 34, surface", "depth: 23, height: 34, surface")
    assert small != SHEET
    assert flat(small) == {"floor": "passes"}


def test_what_is_moved_twice_on_the_way_is_told_once():
    """Many pairs at fault, each pair one trouble: no thing is named twice in one change."""
    rows = "".join(
        f"  {name}: {{width: 40, depth: 30, height: 30, at: {{x: {x}, y: {y}}}}}\n"
        for name, x, y in (
            ("a", 20, 20), ("b", 57, 20), ("c", 20, 80), ("d", 57, 80), ("e", 20, 140),
            ("f", 57, 140), ("g", 95, 84), ("h", 95, 26),
        )
    )  # fmt: skip
    head = "shop: many\nunits: in\ntape: 1/8\nroom: {size: [240, 200], height: 100}\nequipment:\n"
    changes = fixed(head + rows)
    assert changes
    for change in changes:
        names = [step.thing for step in change.steps]
        assert len(set(names)) == len(names), change.text
        told = set(names)
        now = parse(head + rows).layout
        for (name, _), pose in change.verified.layout.poses.items():
            old: Pose = now.pose(name)
            assert (pose == old) or name in told or pose.x.value == old.x.value


YARD = """\
shop: yard
room: {{size: [16', 12'], height: 8', wall thickness: 4 1/2 in}}
tape: {tape}
site:
  lot: {{corners: [[-40', -40'], [60', -40'], [60', 60'], [-40', 60']], error: 2 in}}
  lines: {{street: [0, 1], east line: [1, 2], rear: [3, 2], west line: [0, 3]}}
  setbacks: {{default: 5', measured to: wall}}
  shed: {{width: 6', depth: 5', height: 8', attached: no, at: {{x: {x}, y: {y}, turn: 0}}}}
"""


@pytest.mark.parametrize(
    ("x", "y", "told"),
    [
        # 50' + 6' + 5' - 60' = 1', and the lot's corners may be off by 2 in
        ("50'", "40'", 'shift the shed 14" west'),
        # 51' + 5' + 5' - 60' = 1' besides
        ("50'", "51'", 'shift the shed 14" west and 14" south'),
        # far beyond the line: 64' + 6' + 5' - 60' = 15'
        ("64'", "40'", "shift the shed 15' 2\" west"),
    ],
)
def test_a_shed_goes_back_behind_its_setback_by_hand(x, y, told):
    made = parse(YARD.format(tape=0, x=x, y=y))
    found = fix(made)
    assert {f.check for f in found.today.failing} == {"shed"}
    assert found.changes[0].text == told
    for change in found.changes:
        assert judge(change.verified.shop, change.verified.layout).verdict == "passes"
    assert least_change(found.today, found.today.failing[0]) != ""
    # a sixteenth of an inch less still fails, or cannot be told
    place = found.changes[0].verified.shop.site.shed.place
    near = replace(place, x=place.x + 0.0254 / 16)
    site = found.changes[0].verified.shop.site
    back = replace(made.shop, site=replace(site, shed=replace(site.shed, place=near)))
    assert judge(back, made.layout).verdict == "unsure"


def test_a_shed_that_fits_nowhere_is_told_as_a_clash():
    """Setbacks of 60' from both sides of a lot of 100' leave nothing."""
    text = YARD.format(tape=0, x="50'", y="40'").replace("default: 5'", "default: 60'")
    found = fix(parse(text))
    assert found.changes == ()
    assert found.clash is not None


def test_a_thing_too_deep_for_its_niche_is_told_to_be_turned():
    """A rack of 60 by 20 in reaches 10 in beyond a room 50 in wide, whichever way it is shifted."""
    made = parse(
        """\
shop: slot
units: in
tape: 0
room: {size: [50, 200], height: 100}
equipment:
  rack: {width: 60, depth: 20, height: 60, may: move and turn, at: {x: 0, y: 80, turn: 0}}
"""
    )
    today = judge(made.shop, made.layout)
    assert all(least_change(today, f).startswith("turn rack 90°") for f in today.failing)
    assert today.failing
