"""The smallest change that makes a failing shop pass: worked by hand, and judged again."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from floorplan.checks.judge import judge
from floorplan.report.fix import fix_data, fix_text
from floorplan.search.change import Draft, Step
from floorplan.search.fix import Fixer, Fixes, fix
from floorplan.search.known import Known
from floorplan.search.unmet import OutOfPatience, key_of, smallest_clash
from floorplan.shop.model import Pose
from floorplan.shop.reader import ShopFile, parse

INCH = 0.0254
ROOM = """\
shop: a shop
units: in
tape: {tape}
room: {{size: [240 +- 0, 200 +- 0], height: 100 +- 0}}
"""


def shop(body: str, tape: str = "1/8", room: str = ROOM) -> ShopFile:
    return parse(room.format(tape=tape) + body)


def inches(number: float | None) -> float:
    assert number is not None
    return number / INCH


def checked(found: Fixes) -> Fixes:
    """Every change judged again, from the shop and layout it gives, and in order."""
    for change in found.changes:
        again = judge(change.verified.shop, change.verified.layout)
        assert again.verdict == "passes", change.text
        assert change.steps[-1].draft.shop is change.verified.shop
    for one, other in pairwise(found.changes):
        assert one.order <= other.order
    return found


BOXES = """\
equipment:
  a: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 20, y: 60, turn: 0}}
  b: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 57, y: 60, turn: 0}}
"""


def test_a_shop_that_passes_needs_no_change():
    made = shop(BOXES.replace("x: 57", "x: 100"))
    found = fix(made)
    assert found.changes == ()
    assert found.clash is None


def test_the_least_shift_by_hand():
    """They overlap by 20 + 40 - 57 = 3 in; where the other stands is known to 1/8 in."""
    found = checked(fix(shop(BOXES)))
    first = found.changes[0]
    assert (first.steps[0].kind, first.text) == ("shift", 'shift b 3-1/8" east')
    assert inches(first.steps[0].by) == pytest.approx(3.125)
    # a may go west as well as b east, and a turn comes after a short shift
    assert [c.steps[0].thing for c in found.changes[:2]] == ["b", "a"]
    assert [c.steps[0].kind for c in found.changes] == ["shift", "shift", "turn", "turn", "turn"]


def test_without_measuring_error_the_shift_is_the_overlap_itself():
    found = checked(fix(shop(BOXES, tape="0")))
    assert inches(found.changes[0].steps[0].by) == pytest.approx(3.0)


def test_only_as_many_as_asked_for():
    assert len(fix(shop(BOXES), most=1).changes) == 1


def test_what_may_not_move_is_not_moved():
    found = checked(
        fix(shop(BOXES.replace("height: 30, at: {x: 57", "height: 30, may: stay, at: {x: 57")))
    )
    assert {step.thing for c in found.changes for step in c.steps if step.kind != "size"} == {"a"}


def test_what_leans_on_a_wall_slides_along_it():
    """Against the north wall its y is contact, without error; a reserve would part it from it."""
    body = BOXES.replace("x: 20, y: 60", "x: 20, y: against north").replace(
        "x: 57, y: 60", "x: 57, y: against north"
    )
    found = checked(fix(shop(body)))
    assert found.changes[0].text == 'shift b 3-1/8" east'
    pose = found.changes[0].verified.layout.pose("b")
    assert pose is not None
    assert inches(pose.y.value) == pytest.approx(170.0)


SAW = """\
equipment:
  saw:
    kind: cabinet table saw
    width: 60
    depth: 34
    height: 34
    surface: 34
    blade: {at: [22, 18], diameter: 10, depth of cut: 3}
    may: stay
    at: {x: 90, y: 80, turn: 0}
  bench: {width: 60, depth: 26, height: 35, surface: 35, at: {x: 90, y: 160, turn: 0}}
stock:
  board: {length: 60, width: 12, thickness: 0.75}
jobs:
  table:
    feed: {stock: board, through: saw, cut: rip, offset: 6}
"""


def test_feet_come_before_any_shift():
    """The bench is 35 - 34 = 1 in above the saw table; both heights may be off by 1/8 in."""
    found = checked(fix(shop(SAW)))
    first = found.changes[0].steps[0]
    assert (first.kind, first.thing) == ("feet", "bench")
    assert inches(first.by) == pytest.approx(-1.25)
    bench = found.changes[0].verified.shop.thing("bench")
    assert bench.surface is not None
    assert inches(bench.surface.value) == pytest.approx(33.75)
    kinds = [change.steps[0].kind for change in found.changes]
    efforts = [change.steps[0].effort for change in found.changes]
    assert efforts == sorted(efforts)
    assert "cut flat" in kinds or "shift" in kinds


def test_feet_give_two_inches_and_no_more():
    found = checked(fix(shop(SAW.replace("height: 35, surface: 35", "height: 37, surface: 37"))))
    assert all(step.kind != "feet" for change in found.changes for step in change.steps)


def test_a_drawer_goes_to_another_side_before_anything_is_moved():
    body = """\
fixed:
  post: {width: 4, depth: 4, height: 90, at: {x: 50, y: 40}}
equipment:
  chest:
    width: 60
    depth: 24
    height: 34
    drawers:
      wide: {side: front, at: 10, width: 40, travel: 18, bottom: 4, top: 30, stand: none}
    at: {x: 20, y: 50, turn: 0}
"""
    found = checked(fix(shop(body)))
    first = found.changes[0].steps[0]
    assert (first.kind, first.text) == ("drawer", "put drawer `wide` of chest on its back")
    assert any(change.steps[0].kind == "shift" for change in found.changes)


def test_a_door_of_a_thing_is_hung_on_its_other_side():
    """The leaf, 24 in wide, swings through the post west of it; from its other end it does not."""
    body = """\
fixed:
  post: {width: 4, depth: 4, height: 90, at: {x: 20, y: 30}}
equipment:
  cupboard:
    width: 24
    depth: 20
    height: 60
    doors:
      leaf: {side: front, at: 0, width: 24, hand: left, opens: 90, bottom: 4, top: 50, stand: none}
    may: stay
    at: {x: 20, y: 50, turn: 0}
"""
    failing = shop(body)
    found = checked(fix(failing))
    first = found.changes[0].steps[0]
    assert (first.kind, first.thing) == ("door", "cupboard")
    opening = found.changes[0].verified.shop.thing("cupboard").openings[0]
    # the hinge was at the left end of the front, (0, -20), and is at its right end now
    assert np.array(opening.hinge) / INCH == pytest.approx([24.0, -20.0])
    old = failing.shop.thing("cupboard").openings[0].sweep.points
    new = opening.sweep.points
    assert np.sort(new[:, 0]) == pytest.approx(np.sort(24 * INCH - old[:, 0]))


def test_a_room_door_may_hang_otherwise_or_swing_out():
    body = """\
doors:
  door: {wall: south, at: 20, width: 32, height: 80, hand: left, swing: in, leads to: house}
equipment:
  bench: {width: 30, depth: 20, height: 34, at: {x: 20, y: 20, turn: 0}}
"""
    found = checked(fix(shop(body), most=9))
    texts = [change.text for change in found.changes]
    assert "let door swing out" in texts
    assert found.changes[0].steps[0].kind == "door"


SHORT = """\
equipment:
  saw:
    kind: cabinet table saw
    width: 60
    depth: 34
    height: 34
    surface: 34
    may: stay
    at: {x: 90, y: 65, turn: 0}
  table: {width: 40, depth: 30, height: 30, surface: 30, may: stay, at: {x: 10, y: 150, turn: 0}}
stock:
  sheet: {length: 96, width: 48, thickness: 0.75}
jobs:
  cabinet:
    feed: {stock: sheet, through: saw, cut: rip, offset: 24}
"""


def test_a_sheet_that_does_not_go_through_is_cut_flat_instead():
    """Before the blade 96 + 24 in are needed, or 48 + 24 in across; 65 + 34 - 18 in are there."""
    found = checked(fix(shop(SHORT), most=9))
    kinds = [change.steps[0].kind for change in found.changes]
    assert "cut flat" in kinds
    # turning the sheet (48 in along the feed) is tried before cutting it elsewhere
    assert kinds.index("sheet") < kinds.index("cut flat")
    flat = found.changes[kinds.index("cut flat")].verified.shop
    assert flat.jobs[0].feeds == ()
    assert flat.jobs[0].break_downs[0].stock == "sheet"


def test_two_things_when_one_is_not_enough():
    body = (
        BOXES
        + """\
  c: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 20, y: 140, turn: 0}}
  d: {width: 40 +- 0, depth: 30 +- 0, height: 30, at: {x: 58, y: 140, turn: 0}}
"""
    )
    found = checked(fix(shop(body)))
    assert found.changes
    first = found.changes[0]
    assert len(first.steps) == 2
    # the overlaps are 3 and 2 in, and each time 1/8 in of where the other stands
    assert sorted(inches(step.by) for step in first.steps) == pytest.approx([2.125, 3.125])
    assert {step.thing for step in first.steps} & {"a", "b"}
    assert {step.thing for step in first.steps} & {"c", "d"}


def test_a_smaller_size_when_nothing_can_move():
    narrow = """\
shop: a niche
units: in
tape: 0
room: {{size: [100, 60], height: 100}}
"""
    body = """\
equipment:
  a: {width: 60, depth: 60, height: 80, may: stay, at: {x: 0, y: 0, turn: 0}}
  b: {width: 44, depth: 50, height: 80, may: slide, along: north, at: {x: 56, y: 10, turn: 0}}
"""
    found = checked(fix(shop(body, room=narrow)))
    first = found.changes[0].steps[0]
    # 60 + 44 = 104 in stand in 100 in
    assert first.kind == "size"
    assert inches(first.by) == pytest.approx(-4.0)


CLASH = """\
equipment:
  a: {width: 60 +- 0, depth: 60 +- 0, height: 80, may: stay, at: {x: 0, y: 0, turn: 0}}
  table:
    width: 36 +- 0
    depth: 30 +- 0
    height: 30
    may: move
    zones:
      one side: {side: front, depth: 30 +- 0, purpose: stand}
      other side: {side: back, depth: 30 +- 0, purpose: stand}
    at: {x: 62, y: 0, turn: 0}
"""


def test_when_nothing_helps_the_clash_is_shown_by_dropping_each():
    """60 in of floor for 30 + 30 + 30 in: one side of the table can be free, never both."""
    small = """\
shop: a niche
units: in
tape: 0
room: {{size: [98, 60], height: 100}}
"""
    made = shop(CLASH, room=small)
    found = fix(made)
    assert found.changes == ()
    assert found.clash is not None
    assert found.clash.smallest
    names = {demand.finding.message for demand in found.clash.demands}
    assert len(names) == len(found.clash.demands) >= 1
    for demand in found.clash.demands:
        assert demand.without
    # dropped in the file itself, the rest can be met
    without = made.text.replace(
        "      one side: {side: front, depth: 30 +- 0, purpose: stand}\n", ""
    )
    assert without != made.text
    again = parse(without)
    assert judge(again.shop, again.layout).verdict == "passes" or checked(fix(again)).changes


@pytest.mark.parametrize("seed", range(6))
def test_no_place_on_a_fine_grid_is_nearer(seed):
    """Brute force: every place in steps of 1 in, judged by overlap of rectangles alone."""
    rng = np.random.default_rng(seed)
    spots = rng.integers([0, 0], [180, 150], (6, 2))
    sizes = rng.integers([20, 20], [50, 40], (6, 2))
    spots[1] = spots[0] + [5, 3]
    boxes = list(zip(spots, sizes, strict=True))
    rows = []
    for i, ((x, y), (w, d)) in enumerate(boxes):
        x, y = min(int(x), 240 - int(w)), min(int(y), 200 - int(d))
        may = "move" if i == 1 else "stay"
        rows.append((x, y, int(w), int(d), may))
    if any(_overlap(rows[i], rows[j]) for i in range(6) for j in range(i) if 1 not in (i, j)):
        rows = [r for i, r in enumerate(rows) if i < 2]
    body = "equipment:\n" + "".join(
        f"  t{i}: {{width: {w}, depth: {d}, height: 30, may: {may}, "
        f"at: {{x: {x}, y: {y}, turn: 0}}}}\n"
        for i, (x, y, w, d, may) in enumerate(rows)
    )
    found = checked(fix(shop(body, tape="0"), most=9))
    shifts = [c.steps[0] for c in found.changes if c.steps[0].kind == "shift"]
    best = _brute(rows)
    if best is None:
        return
    assert shifts
    assert inches(shifts[0].by) <= best + 1e-6
    # the grid holds the least place to within its step
    assert inches(shifts[0].by) >= best - 2.0


def _overlap(a, b) -> bool:
    return a[0] < b[0] + b[2] and b[0] < a[0] + a[2] and a[1] < b[1] + b[3] and b[1] < a[1] + a[3]


def _brute(rows) -> float | None:
    _, _, w, d, _ = rows[1]
    others = [r for i, r in enumerate(rows) if i != 1]
    xs, ys = np.meshgrid(np.arange(0, 240 - w + 1), np.arange(0, 200 - d + 1))
    free = np.ones(xs.shape, dtype=bool)
    for x, y, ow, od, _ in others:
        free &= ~((xs < x + ow) & (x < xs + w) & (ys < y + od) & (y < ys + d))
    away = np.hypot(xs - rows[1][0], ys - rows[1][1])[free]
    return None if not away.size else float(away.min())


def test_words_and_data():
    found = fix(shop(BOXES))
    rows = fix_data(found)["fix"]
    assert rows[0] == {
        "kind": "shift", "thing": "b", "by": pytest.approx(3.125 * INCH), "unit": "m",
        "verified": True, "text": 'shift b 3-1/8" east', "steps": rows[0]["steps"],
    }  # fmt: skip
    text = fix_text(found, (), ())
    assert 'shift b 3-1/8" east' in text
    assert text.index("shift b") < text.index("turn")


def test_a_drawer_is_not_put_where_another_one_is():
    """The back has a drawer at the same height; moved up it leaves the place free."""
    body = """\
fixed:
  post: {width: 4, depth: 4, height: 90, at: {x: 50, y: 40}}
equipment:
  chest:
    width: 60
    depth: 24
    height: 34
    drawers:
      one: {side: front, at: 10, width: 40, travel: 14, bottom: 4, top: 30, stand: none}
      two: {side: back, at: 10, width: 40, travel: 9, bottom: 4, top: 30, stand: none}
    at: {x: 20, y: 50, turn: 0}
"""
    offered = checked(fix(shop(body), most=9)).changes
    assert all("on its back" not in change.text for change in offered)
    lower = body.replace("travel: 9, bottom: 4, top: 30", "travel: 9, bottom: 31, top: 33")
    assert lower != body
    offered = checked(fix(shop(lower), most=9)).changes
    assert any("on its back" in change.text for change in offered)


def test_a_board_is_not_cut_across_instead_of_along():
    found = checked(fix(shop(SAW), most=9))
    assert all("crosscut" not in change.text for change in found.changes)


def test_nothing_is_cut_flat_where_it_cannot_lie():
    """No place on the floor has 24 in all round a sheet, and the table is too small for it."""
    crowded = (
        SHORT
        + """\
doors:
  door: {wall: east, at: 20, width: 32, height: 80, swing: out, leads to: house}
"""
    )
    filled = crowded.replace(
        "stock:", "  pile: {width: 90, depth: 96, height: 30, may: stay, at: {x: 0, y: 0}}\n"
        "  heap: {width: 80, depth: 190, height: 30, may: stay, at: {x: 152, y: 0}}\nstock:", 1
    )  # fmt: skip
    found = checked(fix(shop(filled), most=9))
    assert all(step.kind != "cut flat" for change in found.changes for step in change.steps)


def test_what_is_too_close_to_call_is_shifted_out_of_doubt():
    """1/16 in apart, both places known to 1/8 in: set 1/8 in off the other it surely clears it."""
    found = checked(fix(shop(BOXES.replace("x: 57", "x: 60-1/16").replace("60-1/16", "60.0625"))))
    assert found.today.verdict == "unsure"
    assert found.changes[0].text == 'shift b 1/16" east'


@pytest.mark.parametrize(
    ("kind", "thing", "trouble", "effort"),
    [
        ("feet", "b", 1.0, 0), ("sheet", "saw", 0.0, 1), ("drawer", "b", 0.0, 2),
        ("door", "b", 0.0, 2), ("cut flat", "saw", 0.0, 3), ("shift", "b", 6.0, 4),
        ("turn", "b", 6.0, 5), ("turn", "b", 6.1, 6), ("shift", "b", 6.1, 6), ("size", "b", 1.0, 7),
        ("feet", "saw", 1.0, 8), ("shift", "saw", 1.0, 8), ("turn", "saw", 1.0, 8),
    ],
)  # fmt: skip
def test_the_order_in_which_an_owner_would_try(kind, thing, trouble, effort):
    made = shop(SAW.replace("  bench:", "  b:"))
    step = Step(kind, thing, None, "", "", Draft(made.shop, made.layout), trouble * INCH)
    assert step.effort == effort


def test_each_demand_of_a_clash_is_needed():
    """Three overlaps of six things: two changes mend two of them, never all three."""
    rows = "".join(
        f"  {name}: {{width: 40 +- 0, depth: 30 +- 0, height: 30, at: {{x: {x}, y: {y}}}}}\n"
        for name, x, y in (
            ("a", 20, 20), ("b", 57, 20), ("c", 20, 80),
            ("d", 57, 80), ("e", 20, 140), ("f", 57, 140),
        )
    )  # fmt: skip
    made = shop("equipment:\n" + rows)
    found = checked(fix(made))
    assert [len(change.steps) for change in found.changes] == [3]
    # with two things only, as when a clash is looked for, it cannot be done
    failing = found.today.failing
    assert len(failing) == 3
    start = Draft(made.shop, made.layout)
    keys = [key_of(f) for f in failing]
    nothing = frozenset({("none", "", (), None, None)})
    assert Fixer(Known(made), nothing).changes(start, found.today, 1) == ()
    for key in keys:
        change = Fixer(Known(made), frozenset({key})).changes(start, found.today, 1)[0]
        left = judge(change.verified.shop, change.verified.layout).failing
        assert [key_of(f) for f in left] == [key]


@pytest.mark.parametrize("core", [{0}, {1, 4}, {0, 2, 3}, {0, 1, 2, 3, 4}])
def test_the_clash_is_the_part_that_cannot_be_spared(core):
    """With a made-up answer in which exactly the sets that hold the core are impossible."""
    made = shop(BOXES)
    (one,) = fix(made).today.failing
    failing = [replace(one, line=line) for line in range(1, 6)]
    keys = [key_of(f) for f in failing]

    def frees(dropped):
        left = {i for i, key in enumerate(keys) if key not in dropped}
        return None if core <= left else f"without {sorted(core - left)}"

    clash = smallest_clash(failing, frees)
    assert clash is not None
    assert clash.smallest
    assert {d.finding.line - 1 for d in clash.demands} == core
    assert all(d.without for d in clash.demands)


def test_a_search_that_stops_at_its_bound_says_so(monkeypatch):
    made = shop(BOXES)
    whole = fix(made)
    assert whole.stopped_after == 0
    assert fix_data(whole)["stopped_after"] is None
    assert "stopped at its bound" not in fix_text(whole, (), ())
    monkeypatch.setattr("floorplan.search.fix.PATIENCE_OF_ONE", 2)
    cut = checked(fix(made))
    assert 0 < len(cut.changes) < len(whole.changes)
    assert cut.changes[0].text == whole.changes[0].text
    assert cut.stopped_after == len(cut.changes) == 1
    assert "stopped at its bound, after 1 layout put" in " ".join(fix_text(cut, (), ()).split())


def test_a_clash_that_took_too_long_says_so():
    made = shop(BOXES)
    (one,) = fix(made).today.failing

    def frees(dropped):
        raise OutOfPatience

    clash = smallest_clash([one], frees)
    assert clash is not None
    assert not clash.smallest


def test_a_way_out_that_is_too_narrow_by_hand():
    """150 - 130 = 20 in lie between wall unit and chest, 28 in are needed: 8 in, both ends known.

    The wall unit stands in the corner and its width is exact, the chest is set where it goes.
    """
    body = """\
doors:
  door: {wall: south, at: 10, width: 40, clear width: 36, height: 80, leads to: outside, swing: out}
equipment:
  wall unit: {width: 130 +- 0, depth: 40 +- 0, height: 84, may: stay, at: {x: 0, y: 60}}
  press:
    width: 30
    depth: 20
    height: 60
    may: stay
    zones: {operator: {side: front, depth: 40, purpose: stand}}
    at: {x: 20, y: 175}
  chest: {width: 80 +- 0, depth: 40 +- 0, height: 84, may: move, at: {x: 150, y: 60}}
"""
    failing = shop(body)
    assert [f.check for f in judge(failing.shop, failing.layout).failing] == ["way-out"]
    found = checked(fix(failing))
    assert found.changes[0].text == 'shift chest 8" east'
    assert {change.steps[0].kind for change in found.changes[1:]} == {"size"}


def test_no_change_is_no_change_at_all():
    """A thing that is in nobody's way yet is asked, but never offered as it stands."""
    for found in (fix(shop(BOXES)), fix(shop(SAW), most=9)):
        assert all(not step.is_still for change in found.changes for step in change.steps)


CORRIDOR = """\
shop: past the bench
units: m
tape: 0.003
room: {size: [4.2, 6], height: 2.6}
doors: {way: {wall: north, at: 0.4, width: 3, height: 2.1, kind: opening, leads to: outside}}
equipment:
  cart: {width: 0.7, depth: 0.7, height: 0.9, on wheels: yes, may: stay,
    at: {x: 0.1, y: 0.3}, parked: {x: 0.1, y: 5.0}}
  bench: {width: 3.0, depth: 0.7, height: 0.9, may: move, at: {x: 0.6, y: 2.6}}
tasks: {rest: {parked: [cart]}}
"""


def test_what_stands_in_the_way_of_a_roll_is_shifted_aside():
    """The cart is 0.7 m wide and has 0.6 m on both sides of the bench: 0.1 m more, and the tape."""
    found = fix(parse(CORRIDOR), most=1)
    assert [f.check for f in found.today.failing] == ["rolling"]
    best = found.changes[0]
    (step,) = best.steps
    assert (step.kind, step.thing) == ("shift", "bench")
    assert 0.1 <= step.by <= 0.2
    assert best.verified.verdict == "passes"


def test_what_is_asked_in_short_of_a_roll_is_what_the_check_finds():
    """Surely shut is told before anything else, by the same names; what rolls is not told."""
    made = parse(CORRIDOR)
    known, start = Known(made), Draft(made.shop, made.layout)
    full = judge(made.shop, made.layout)
    known.expect(full.failing)
    (brief,) = known.judge(start).failing
    (found,) = full.failing
    assert (brief.check, brief.verdict, key_of(brief)) == ("rolling", "fails", key_of(found))
    (told,) = known.measured(known.judge(start)).failing
    assert (told.margin, told.about, told.message) == (found.margin, found.about, found.message)
    wide = made.layout.with_pose("bench", Pose.at(1.0, 2.6, 0.0))
    assert known.judge(Draft(made.shop, wide)).verdict == judge(made.shop, wide).verdict == "passes"


def test_things_without_which_the_way_out_is_still_shut_are_not_tried():
    """Two boxes stand one behind the other in a corridor: only both together free the way."""
    made = parse(
        """\
shop: two in a row
units: m
tape: 0
room: {size: [1.5, 8], height: 2.6}
doors: {way: {wall: north, at: 0.1, width: 1.3, height: 2.1, kind: opening, leads to: outside}}
equipment:
  desk: {width: 1.0, depth: 0.6, height: 0.8, may: stay, at: {x: 0, y: 0},
    zones: {seat: {side: back, depth: 0.8, purpose: stand}}}
  low: {width: 1.2, depth: 0.5, height: 0.8, may: move, at: {x: 0, y: 3}}
  far: {width: 1.2, depth: 0.5, height: 0.8, may: move, at: {x: 0, y: 5}}
"""
    )
    start = Draft(made.shop, made.layout)
    failing = judge(made.shop, made.layout).failing
    assert {f.check for f in failing} == {"way-out"}
    known = Known(made)
    assert not known.clears(start, frozenset({"low"}), failing)
    assert not known.clears(start, frozenset({"far"}), failing)
    assert known.clears(start, frozenset({"low", "far"}), failing)
