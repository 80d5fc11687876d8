"""What must stay clear at any time: by the least amount, swung doors, space that may slide."""

from __future__ import annotations

from math import cos, radians, sin

import pytest
from shops import judged, pick, text_of

AREA = "size: [20', 16'], keep clear: {strip: {at: [20in, 20in], size: [30in, 30in]%s}}"


@pytest.mark.parametrize(("x", "verdict"), [("50", "passes"), ("49 63/64", "fails")])
def test_a_drawn_area_is_clear_or_not(x: str, verdict: str) -> None:
    rack = f'rack: {{width: 10", depth: 10", height: 60", at: {{x: {x}", y: 30"}}}}'
    found = pick(judged(text_of(rack, room=AREA % "")), "keep-clears", "strip", "rack")
    assert found.verdict == verdict


def test_within_the_tape_it_is_unsure() -> None:
    rack = 'rack: {width: 10", depth: 10", height: 60", at: {x: 50 1/16", y: 30"}}'
    judgement = judged(text_of(rack, room=AREA % "", tape="1/8 in"))
    assert pick(judgement, "keep-clears", "strip", "rack").verdict == "unsure"


def test_a_thing_rolled_there_for_one_task_fails_too() -> None:
    """NEC 110.26(B) as read: working space is no place for storage, not even now and then."""
    places = 'at: {x: 100", y: 30"}, parked: {x: 25", y: 25"}'
    cart = f'cart: {{width: 10", depth: 10", height: 30", {places}}}'
    tasks = "tasks: {sweep: {parked: [cart]}}\n"
    judgement = judged(text_of(cart, room=AREA % "", more=tasks))
    assert pick(judgement, "keep-clears", "strip", "cart").verdict == "fails"


def test_drawers_and_people_only_where_it_holds_even_while_working() -> None:
    row = (
        'cabinet: {width: 30", depth: 24", height: 34", at: {x: 20", y: 60"},'
        ' drawers: {tray: {side: front, width: 30", travel: 20"}}}'
    )
    for even, verdict in (("", "passes"), (", even while working: yes", "fails")):
        found = pick(judged(text_of(row, room=AREA % even)), "openings", kind="required")
        assert found.verdict == verdict


DOOR = "doors: {side: {wall: south, at: 60in, width: 36in, height: 80in, %s, leads to: outside}}\n"


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("heading", [0.0, 22.0, 45.0, 71.0])
def test_a_leaf_sweeps_a_quarter_circle(hand: str, heading: float) -> None:
    """A thin post just outside of the arc is clear, just inside it is not.

    Seen from inside, towards the wall, the left-hand hinge of a door in the south wall is at its
    east end.
    """
    for reach, verdict in ((36.02, "passes"), (35.97, "fails")):
        x, y = reach * cos(radians(heading)), reach * sin(radians(heading))
        # a post whose corner nearest to the hinge is the point at `reach`
        left = 96 - x - 1 if hand == "left" else 60 + x
        rack = f'rack: {{width: 1", depth: 1", height: 60", at: {{x: {left:.9f}", y: {y:.9f}"}}}}'
        more = DOOR % f"hand: {hand}, swing: in"
        found = pick(judged(text_of(rack, more=more)), "keep-clears", "side", "rack")
        assert found.verdict == verdict
        assert found.margin == pytest.approx((reach - 36) * 0.0254, abs=0.0004 * 0.9144)


def test_a_leaf_that_opens_outwards_sweeps_nothing_inside() -> None:
    rack = 'rack: {width: 30", depth: 10", height: 60", at: {x: 60", y: 0"}}'
    judgement = judged(text_of(rack, more=DOOR % "hand: left, swing: out"))
    assert not [f for f in judgement.findings if f.check == "keep-clears"]


def panel(*rows: str, more: str = "") -> str:
    fixed = "fixed: {panel: {kind: electrical panel, at: {wall: south, along: 100in}}}\n"
    return text_of(*rows, more=fixed + more)


@pytest.mark.parametrize("slack", [0.0, 1.0, 5.3, -1 / 64, -2.0])
@pytest.mark.parametrize("shift", [0.0, 3.1, 7.0, 10.9])
def test_the_space_before_a_panel_slides_to_where_it_is_free(slack: float, shift: float) -> None:
    """30 in wide before a panel of 16 in, not centred (NEC 110.26(A)(2)): between two posts.

    The panel takes 100 to 116 in, so the space may begin anywhere from 86 to 100 in.
    """
    begin = 86.0 + shift
    left = f'left: {{width: 2", depth: 2", height: 60", at: {{x: {begin - 2}", y: 10"}}}}'
    right = (
        f'right: {{width: 2", depth: 2", height: 60", at: {{x: {begin + 30 + slack}", y: 10"}}}}'
    )
    judgement = judged(panel(left, right))
    found = pick(judgement, "keep-clears", "panel")
    assert found.verdict == ("passes" if slack >= 0 else "fails")
    assert found.margin is not None
    if slack < 0:
        # as good as can be: midway, or at the end of its way
        at = max(0.0, shift + slack / 2)
        expected = -max(shift - at, at - shift - slack)
        assert found.margin == pytest.approx(expected * 0.0254, abs=1e-9)


def test_the_space_that_slides_is_unsure_where_the_slot_is() -> None:
    """The slot is 1/4 in short, or that much too wide; both its ends are 1/8 in unsure."""
    for slack in (0.2, -0.2):
        left = 'left: {width: 2" +- 0", depth: 2", height: 60", at: {x: 90", y: 10"}}'
        at = f'at: {{x: {122 + slack}", y: 10"}}'
        right = f'right: {{width: 2" +- 0", depth: 2", height: 60", {at}}}'
        text = panel(left, right).replace("tape: 0", "tape: 1/8 in")
        assert pick(judged(text), "keep-clears", "panel").verdict == "unsure"
    wide = f'right: {{width: 2", depth: 2", height: 60", at: {{x: {122 + 0.3}", y: 10"}}}}'
    exact = 'left: {width: 2", depth: 2", height: 60", at: {x: 90", y: 10"}}'
    assert pick(judged(panel(exact, wide)), "keep-clears", "panel").verdict == "passes"
