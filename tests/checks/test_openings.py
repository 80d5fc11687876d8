"""Drawers, pull-outs and doors of things: how far they open, before what, and in which task."""

from __future__ import annotations

from math import atan2, degrees, hypot

import pytest
from shops import judged, pick, text_of


def cabinet(opening: str, place: str = 'x: 80", y: 80"') -> str:
    return f'cabinet: {{width: 30", depth: 24", height: 34", at: {{{place}}}, {opening}}}'


DRAWER = 'drawers: {tray: {side: front, width: 30", travel: 20", front: 3/4"%s}}'


def post(x: str, y: str, size: str = '4", 4"') -> str:
    return f"size: [20', 16'], posts: {{post: {{at: [{x}, {y}], size: [{size}]}}}}"


@pytest.mark.parametrize("face", ["55", "59", "59 1/4"])
def test_a_drawer_opens_until_its_front_meets_a_post(face: str) -> None:
    """Shut, the drawer's front lies 3/4 in before the cabinet's face at y = 80 in."""
    room = post('90"', f'{face}"')
    found = pick(judged(text_of(cabinet(DRAWER % ""), room=room)), "openings", kind="required")
    top = eval(face.replace(" ", "+")) + 4
    expected = 80 - 0.75 - top
    assert found.measured is not None
    if expected < 20:
        assert found.measured == pytest.approx(expected * 0.0254, abs=1e-9)
        assert found.needed == pytest.approx(20 * 0.0254)
        assert found.verdict == "fails"
        assert "post is in its way" in found.message
    else:
        assert found.verdict == "passes"


@pytest.mark.parametrize(("y", "verdict"), [('55 1/4"', "passes"), ('55 17/64"', "fails")])
def test_it_opens_fully_or_not_by_a_64th(y: str, verdict: str) -> None:
    """20 in of travel and 3/4 in of front end at y = 59 1/4 in; the post is 4 in deep."""
    found = pick(
        judged(text_of(cabinet(DRAWER % ""), room=post('90"', y))), "openings", kind="required"
    )
    assert found.verdict == verdict
    assert found.margin == pytest.approx(0.0 if verdict == "passes" else -1 / 64 * 0.0254)


def test_a_post_at_its_side_within_the_tape_is_unsure() -> None:
    """The post ends 1/16 in beside the drawer, or 1/16 in it: both cannot be told."""
    for x in ('109 15/16"', '110 1/16"'):
        room = post(x, '70"')
        found = pick(
            judged(text_of(cabinet(DRAWER % ""), room=room, tape="1/8 in")),
            "openings", kind="required",
        )  # fmt: skip
        assert found.verdict == "unsure"
        assert "the tape allows" in found.message
    far = judged(text_of(cabinet(DRAWER % ""), room=post('112"', '70"'), tape="1/8 in"))
    assert pick(far, "openings", kind="required").verdict == "passes"


@pytest.mark.parametrize(("bottom", "verdict"), [('30"', "passes"), ('29 63/64"', "fails")])
def test_a_drawer_passes_under_what_hangs_higher(bottom: str, verdict: str) -> None:
    shelf = (
        f'shelf: {{width: 9", depth: 9", bottom: {bottom}, height: 60", at: {{x: 90", y: 65"}}}}'
    )
    row = cabinet(DRAWER % ', bottom: 20", top: 30"')
    assert pick(judged(text_of(row, shelf)), "openings", kind="required").verdict == verdict


def test_a_share_of_the_travel_may_do() -> None:
    """19 in of 20: 95 % where 95 % are asked for."""
    room = post('90"', '56 1/4"')
    for share, verdict in (("95 %", "passes"), ("96 %", "fails")):
        rules = f"rules: {{drawer-open-share: {share}}}\n"
        found = pick(
            judged(text_of(cabinet(DRAWER % ""), room=room, more=rules)),
            "openings", kind="required",
        )  # fmt: skip
        assert found.verdict == verdict
        assert found.measured == pytest.approx(19 * 0.0254)


@pytest.mark.parametrize("side", ["front", "back", "left", "right"])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_drawer_on_any_side_at_any_turn_meets_a_wall(side: str, turn: int) -> None:
    """A square cabinet 10 in from all four walls of a small room: 10 in of the 20."""
    opening = f'drawers: {{tray: {{side: {side}, at: 2", width: 20", travel: 20"}}}}'
    row = (
        f'cabinet: {{width: 24", depth: 24", height: 34", {opening}, '
        f'at: {{x: 10", y: 10", turn: {turn}}}}}'
    )
    found = pick(judged(text_of(row, room='size: [44", 44"]')), "openings", kind="required")
    assert found.measured == pytest.approx(10 * 0.0254)
    sides = ["front", "right", "back", "left"]
    wall = ["south", "east", "north", "west"][(sides.index(side) + turn // 90) % 4]
    assert found.about == ("cabinet", f"{wall} wall")


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize("opens", [90, 120, 180])
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_leaf_turns_until_it_meets_a_post(hand: str, opens: int, turn: int) -> None:
    """The corner of the post that the leaf meets first, by the arc tangent."""
    door = f'doors: {{leaf: {{side: front, at: 5", width: 20", hand: {hand}, opens: {opens}}}}}'
    row = (
        f'cabinet: {{width: 30", depth: 30", height: 34", {door}, '
        f'at: {{x: 80", y: 80", turn: {turn}}}}}'
    )
    # a post of 2 in, 10 to 12 in along the shut leaf from the hinge and 6 to 8 in before it
    along, before = (10.0, 12.0), (6.0, 8.0)
    left = [5 + a for a in along] if hand == "left" else [25 - a for a in along]
    corners = [(x - 15, -15 - y) for x in left for y in before]
    turned = [
        {0: (x, y), 90: (-y, x), 180: (-x, -y), 270: (y, -x)}[turn] for x, y in corners
    ]  # fmt: skip
    low = [min(p[i] for p in turned) + 95 for i in (0, 1)]
    room = post(f'{low[0]}"', f'{low[1]}"', '2", 2"')
    found = pick(judged(text_of(row, room=room)), "openings", kind="required")
    assert hypot(10, 6) < 20
    assert found.unit == "deg"
    assert found.measured == pytest.approx(degrees(atan2(6, 12)), abs=1e-6)
    assert found.needed == opens


def test_a_leaf_meets_a_wall_with_its_tip() -> None:
    """A leaf of 20 in, hinged 12 in from a wall before it: arc sine of 12/20."""
    door = 'doors: {leaf: {side: front, at: 5", width: 20", hand: left}}'
    row = f'cabinet: {{width: 30", depth: 30", height: 34", {door}, at: {{x: 80", y: 12"}}}}'
    found = pick(judged(text_of(row)), "openings", kind="required")
    assert found.measured == pytest.approx(36.8699, abs=1e-4)


def test_two_drawers_of_one_thing_do_not_meet() -> None:
    """Each opens by itself, so drawers round a corner may cross."""
    pair = (
        'drawers: {a: {side: front, width: 30", travel: 20"},'
        ' b: {side: right, width: 24", travel: 20"}}'
    )
    judgement = judged(text_of(cabinet(pair)))
    assert not [f for f in judgement.failing if f.check == "openings"]


def test_room_before_an_open_drawer_is_advised() -> None:
    """20 3/4 in of drawer and 18 in to stand: the rack may begin 38 3/4 in before the face."""
    for y, verdict in (('31 1/4"', "passes"), ('31 17/64"', "fails")):
        rack = f'rack: {{width: 9", depth: 10", height: 60", at: {{x: 90", y: {y}}}}}'
        found = pick(judged(text_of(cabinet(DRAWER % ""), rack)), "openings", kind="advised")
        assert found.verdict == verdict


def test_drawers_of_a_thing_that_is_there_in_one_task_only() -> None:
    """A cart with a drawer, present while gluing; another thing is there only in that task."""
    cart = cabinet(DRAWER % "").replace("cabinet", "cart")
    rack = 'rack: {width: 9", depth: 10", height: 60", at: {x: 90", y: 60"}}'
    tasks = "tasks: {glue: {present: [cart%s]}, work: {uses: []}}\n"
    found = pick(judged(text_of(cart, rack, more=tasks % ", rack")), "openings", "cart", "rack")
    assert found.measured == pytest.approx((80 - 0.75 - 70) * 0.0254)
    found = pick(judged(text_of(cart, rack, more=tasks % "")), "openings", "cart", "rack")
    assert found.verdict == "fails"
    alone = judged(
        text_of(cart, rack, more="tasks: {glue: {present: [cart]}, x: {present: [rack]}}\n")
    )
    assert not [f for f in alone.failing if f.check == "openings"]


def test_drawers_where_a_thing_is_rolled_to_work() -> None:
    cart = cabinet(DRAWER % "", 'x: 80", y: 80"}, working: {x: 80", y: 10"')
    tasks = "tasks: {work: {uses: [cabinet], working: [cabinet]}}\n"
    found = pick(judged(text_of(cart, more=tasks)), "openings", "cabinet", "south wall")
    assert found.measured == pytest.approx((10 - 0.75) * 0.0254)
