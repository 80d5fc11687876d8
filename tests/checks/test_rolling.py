"""What a task parks is rolled to its place: free ways and shut ones, worked out by hand."""

from __future__ import annotations

from math import sqrt

import pytest
from shapely.geometry import Polygon
from shops import judged, pick, text_of

from floorplan.checks.rolling import rolls_of
from floorplan.motion.turning import outline_at
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

INCH = 0.0254
NOBODY = "rules: {mover-room: 0 in}\n"
CART = (
    'cart: {width: 20", depth: 20", height: 30", at: {x: 100", y: 20"}, parked: {x: 100", y: 150"}}'
)
TASKS = "tasks: {sweep: {parked: [cart]}}\n"


def racks(gap: float) -> tuple[str, str]:
    """Two racks from wall to wall with a gap of so many inches, its middle 110 in from the west."""
    west, east = 110 - gap / 2, 110 + gap / 2
    return (
        f'west rack: {{width: {west}", depth: 24", height: 60", at: {{x: 0, y: 90"}}}}',
        f'east rack: {{width: {240 - east}", depth: 24", height: 60", at: {{x: {east}", y: 90"}}}}',
    )


@pytest.mark.parametrize(
    ("gap", "tape", "verdict"),
    [
        (26, "0", "passes"),
        (20.25, "0", "passes"),
        (19.5, "0", "fails"),
        (20.25, "1/2 in", "unsure"),
    ],
)
def test_a_cart_of_20_in_rolls_through_a_gap_just_wider(
    gap: float, tape: str, verdict: str
) -> None:
    found = pick(judged(text_of(CART, *racks(gap), more=TASKS + NOBODY, tape=tape)), "rolling")
    assert (found.verdict, found.kind, found.task) == (verdict, "required", "sweep")
    assert found.margin is not None
    if tape == "0":
        assert found.error == 0.0
        assert found.margin <= (gap - 20) * INCH + 1e-6
        assert found.margin >= (gap - 20) * INCH - 2 * 0.0121


def test_whoever_rolls_it_needs_room_too() -> None:
    """Parked in a niche 24 in deep the cart is pushed in from the open side; in one shut by a
    second rack 30 in before it nobody of 24 in can be behind it while it goes in."""
    niche = (
        'left: {width: 30", depth: 44", height: 60", at: {x: 42", y: 148"}}',
        'right: {width: 30", depth: 44", height: 60", at: {x: 102", y: 148"}}',
    )
    cart = CART.replace('x: 100", y: 150"', 'x: 77", y: 170"')
    assert pick(judged(text_of(cart, *niche, more=TASKS)), "rolling").verdict == "passes"
    before = 'before: {width: 160", depth: 20", height: 60", at: {x: 20", y: 103"}}'
    # 25 in are left before the niche: enough for the cart from the side, not for two of them
    shut = judged(text_of(cart, *niche, before, more=TASKS))
    assert pick(shut, "rolling").verdict != "passes"
    alone = judged(text_of(cart, *niche, before, more=TASKS + NOBODY))
    assert pick(alone, "rolling").verdict == "passes"


@pytest.mark.parametrize(("length", "verdict"), [(1.81, "passes"), (1.85, "fails")])
def test_the_corner_of_a_passage_as_its_closed_form_says(length: float, verdict: str) -> None:
    """Two passages of 1 m that meet at a right angle take 0.5 m by 2 (sqrt 2 - 0.5) = 1.828 m."""
    assert 1.81 < 2 * (sqrt(2) - 0.5) < 1.85
    text = (
        "shop: a passage\nunits: m\ntape: 0\n"
        "room: {corners: [[0, 0], [5, 0], [5, 1], [1, 1], [1, 5], [0, 5]], height: 3}\n"
        f"equipment:\n  cart: {{width: {length}, depth: 0.5, height: 1,"
        " at: {x: 0.25, y: 3, turn: 90}, parked: {x: 3, y: 0.25, turn: 180}}\n"
        "tasks: {sweep: {parked: [cart]}}\nrules: {mover-room: 0 m}\n"
    )
    assert pick(judged(text), "rolling").verdict == verdict


def test_what_stands_before_the_other_is_rolled_first() -> None:
    """Two carts one behind the other in a dead end 30 in wide: only one order is free."""
    lane = 'wall: {width: 8", depth: 100", height: 60", at: {x: 30", y: 0}}'
    carts = (
        'inner: {width: 22", depth: 22", height: 30", at: {x: 4", y: 4"},'
        ' parked: {x: 100", y: 120"}}',
        'outer: {width: 22", depth: 22", height: 30", at: {x: 4", y: 40"},'
        ' parked: {x: 140", y: 120"}}',
    )
    tasks = "tasks: {sweep: {parked: [inner, outer]}}\n"
    text = text_of(lane, *carts, more=tasks + NOBODY)
    made = judged(text)
    assert {f.verdict for f in made.findings if f.check == "rolling"} == {"passes"}
    file = parse(text)
    rolls = rolls_of(scene(file.shop, file.layout), file.shop.tasks[0])
    assert [roll.thing for roll in rolls.rolls] == ["outer", "inner"]
    one = judged(text_of(lane, *carts, more="tasks: {sweep: {parked: [inner]}}\n" + NOBODY))
    assert pick(one, "rolling", "inner").verdict == "fails"


def test_every_roll_is_free_when_replayed_finely() -> None:
    """Poses a hundredth of the way apart, the cart's own square against the racks as drawn."""
    file = parse(text_of(CART, *racks(27), more=TASKS))
    made = scene(file.shop, file.layout)
    (roll,) = rolls_of(made, file.shop.tasks[0]).rolls
    assert roll.passage.verdict == "passes"
    solids = [e.volume.polygon for e in made.solids("sweep") if e.owner != "cart"]
    room = Polygon(file.shop.room.floor.points)
    for stretch in roll.passage.stretches:
        for a, b in zip(stretch.path, stretch.path[1:], strict=False):
            for k in range(101):
                at = type(a)(*(
                    getattr(a, key) + (getattr(b, key) - getattr(a, key)) * k / 100
                    for key in ("x", "y", "angle")
                ))  # fmt: skip
                plan = outline_at(stretch.body, at).buffer(-1e-5, join_style="mitre")
                assert room.covers(plan)
                assert not any(plan.intersects(solid) for solid in solids)


def test_what_is_away_by_then_is_not_in_the_way() -> None:
    car = 'car: {width: 239", depth: 24", height: 58", at: {x: 0, y: 60"}}'
    task = "tasks: {work: {AWAYparked: [cart]}}\n"
    there = judged(text_of(CART, car, more=task.replace("AWAY", "")))
    assert pick(there, "rolling").verdict == "fails"
    gone = judged(text_of(CART, car, more=task.replace("AWAY", "away: [car], ")))
    assert pick(gone, "rolling").verdict == "passes"


def test_a_thing_without_a_parked_place_is_told() -> None:
    bare = CART.partition(", parked")[0] + "}"
    found = pick(judged(text_of(bare, more=TASKS)), "rolling", "cart")
    assert (found.kind, found.verdict, found.margin) == ("advised", "unsure", None)
    assert "has no parked place" in found.message


def test_what_one_doubtful_roll_may_let_pass_is_not_said_to_fail() -> None:
    """The inner cart can only leave after the outer one, whose parked place is 1/16 in within a
    box, the tape allowing 1/8 in: nobody can tell of either.  With the outer one staying, or with
    the lane itself shut, the inner one surely fails."""
    lane = 'wall: {width: 8", depth: 100", height: 60", at: {x: 30", y: 0}}'
    box = 'box: {width: 20", depth: 20", height: 60", at: {x: 161-15/16", y: 120"}}'
    inner = (
        'inner: {width: 22", depth: 22", height: 30", at: {x: 4", y: 4"},'
        ' parked: {x: 60", y: 120"}}'
    )
    outer = (
        'outer: {width: 22", depth: 22", height: 30", at: {x: 4", y: 40"},'
        ' parked: {x: 140", y: 120"}}'
    )

    def verdicts(*things: str, parked: str = "inner, outer") -> dict[str, str]:
        more = f"tasks: {{sweep: {{parked: [{parked}]}}}}\n" + NOBODY
        made = judged(text_of(*things, inner, outer, more=more, tape="1/8 in"))
        return {f.about[0]: f.verdict for f in made.findings if f.check == "rolling"}

    assert verdicts(lane, box) == {"inner": "unsure", "outer": "unsure"}
    assert verdicts(lane, box, parked="inner") == {"inner": "fails"}
    shut = 'shut: {width: 30", depth: 10", height: 60", at: {x: 0, y: 28"}}'
    assert verdicts(lane, box, shut)["inner"] == "fails"
