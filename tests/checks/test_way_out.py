"""The way out: the narrowest of several gaps, exactly; which doors count; what hangs over it."""

from __future__ import annotations

from math import hypot

import pytest
from shops import judged, pick, text_of

STAND = 'zones: {front: {side: front, depth: 24"}}'
DOOR = (
    "doors: {%s: {wall: %s, at: %sin, width: 40in, clear width: 40in, height: 80in,"
    " kind: opening, leads to: %s}}\n"
)
ROOM = "size: [20', 16']"


def bench(x: float = 150, y: float = 160, turn: int = 0) -> str:
    size = 'width: 60", depth: 24", height: 34"'
    return f'bench: {{{size}, at: {{x: {x}", y: {y}", turn: {turn}}}, {STAND}}}'


def door(name: str = "way", wall: str = "west", at: float = 20, to: str = "outside") -> str:
    return DOOR % (name, wall, at, to)


def wall_of(name: str, x: float, south: float, north: float) -> str:
    """A rack across the room from north to south at x, 10 in wide."""
    size = f'width: 10", depth: {north - south}", height: 90"'
    return f'{name}: {{{size}, at: {{x: {x}", y: {south}"}}}}'


@pytest.mark.parametrize(("gap", "verdict"), [(28.0, "passes"), (28 - 1 / 64, "fails")])
def test_past_a_rack_to_the_door(gap: float, verdict: str) -> None:
    """29 CFR 1910.36(g)(2): 28 in at all points."""
    found = pick(judged(text_of(bench(), wall_of("rack", 100, gap, 192), more=door())), "way-out")
    assert found.verdict == verdict
    assert found.measured == pytest.approx(gap * 0.0254, abs=1e-7)
    assert set(found.about) == {"bench", "rack", "south wall"}


def test_the_narrowest_of_several_gaps_on_the_widest_way() -> None:
    """Two racks with two gaps each: min over the way of the larger gap of each rack."""
    rows = (
        wall_of("first", 100, 34, 150),  # 34 in at the south, 42 in at the north
        wall_of("second", 60, 45, 160),  # 45 in at the south, 32 in at the north
    )
    found = pick(judged(text_of(bench(y=100), *rows, more=door(at=100))), "way-out")
    # along the south wall 34 and 45 in; to the north 42 and 32 in; between them 30 in
    assert found.measured == pytest.approx(34 * 0.0254, abs=1e-6)
    assert set(found.about) == {"bench", "first", "south wall"}


def test_a_slanting_pinch_between_two_corners() -> None:
    """Corners at (110, 60) and (126, 90): the distance is that of the two points."""
    rows = (wall_of("low", 100, 0, 60), wall_of("high", 126, 90, 192))
    found = pick(judged(text_of(bench(), *rows, more=door())), "way-out")
    assert found.measured == pytest.approx(hypot(16, 30) * 0.0254, abs=1e-7)
    assert set(found.about) == {"bench", "low", "high"}


def test_within_the_tape_it_is_unsure() -> None:
    rack = wall_of("rack", 100, 28 + 1 / 16, 190)
    found = pick(judged(text_of(bench(), rack, more=door(), tape="1/8 in")), "way-out")
    assert found.verdict == "unsure"
    assert found.error == pytest.approx(0.125 * 0.0254)
    assert "as drawn it passes by" in found.message


def test_out_by_the_second_door() -> None:
    rack = wall_of("rack", 100, 0, 192)
    shut = judged(text_of(bench(), rack, more=door()))
    assert "no way out" in pick(shut, "way-out").message
    two = door()[:-2] + ", " + door("other", "east").removeprefix("doors: {")
    found = pick(judged(text_of(bench(), rack, more=two)), "way-out")
    assert found.verdict == "passes"


def test_a_door_to_the_house_is_no_way_out() -> None:
    found = pick(judged(text_of(bench(), more=door(to="house"))), "way-out")
    assert (found.verdict, found.kind, found.margin) == ("unsure", "advised", None)
    assert "no door leads outside" in found.message


def test_through_the_house_door_and_round_is_no_way_out_either() -> None:
    """The house door lies beside the outside one in one wall, a partition between them."""
    doors = door(wall="south", at=60)[:-2] + ", "
    doors += door("house", "south", 110, "house").removeprefix("doors: {")
    rack = wall_of("rack", 100, 0, 192)
    found = pick(judged(text_of(bench(), rack, more=doors)), "way-out")
    assert "no way out" in found.message


def test_from_one_leg_of_an_l_no_way_leads_through_its_walls() -> None:
    """The door opens into the notch of an L; the other leg borders on the same notch."""
    room = "corners: [[0, 0], [240, 0], [240, 96], [120, 96], [120, 192], [0, 192]]"
    room = room.replace("240", "240in").replace("96", "96in").replace("120", "120in")
    room = room.replace("192", "192in")
    doors = DOOR % ("way", "north wall 2", 4, "outside")
    rack = wall_of("rack", 122, 0, 96)
    inside = judged(text_of(bench(40, 150), rack, room=room, more=doors))
    assert "no way out" in pick(inside, "way-out").message


def test_a_shop_without_a_door_is_read_and_not_checked() -> None:
    judgement = judged(text_of(bench()))
    found = pick(judgement, "way-out")
    assert found.kind == "advised"
    assert judgement.verdict == "passes"


@pytest.mark.parametrize(
    ("bottom", "tape", "verdict"),
    [("80", "0", "passes"), ("79 63/64", "0", "fails"), ("80 1/32", "1/16 in", "unsure"),
     ("79 31/32", "1/16 in", "unsure"), ("80 1/16", "1/16 in", "passes")],
)  # fmt: skip
def test_what_hangs_over_the_way(bottom: str, tape: str, verdict: str) -> None:
    """29 CFR 1910.36(g)(1): projections from the ceiling not below 80 in."""
    size = f'width: 10", depth: 192", bottom: {bottom}", height: 95"'
    shelf = f'shelf: {{{size}, at: {{x: 100", y: 0"}}}}'
    found = pick(judged(text_of(bench(), shelf, more=door(), tape=tape)), "way-out", "bench")
    assert found.verdict == verdict
    if verdict == "unsure":
        assert "the tape does not tell whether one passes under shelf" in found.message


def test_two_places_of_one_thing_are_told_apart() -> None:
    row = bench().replace(
        "front: {side: front",
        "left: {side: front, to: 20in, depth: 24in}, right: {side: front, from: 40in",
    )
    messages = [
        f.message for f in judged(text_of(row, more=door())).findings if f.check == "way-out"
    ]
    assert any("bench (left)" in m for m in messages)
    assert any("bench (right)" in m for m in messages)


def test_a_place_partly_outside_the_room_counts_as_far_as_it_is_inside() -> None:
    """12 in of the place are in the room; the rest would lie beyond the wall, near the door."""
    row = bench(150, 12)
    rack = wall_of("rack", 140, 0, 192)
    found = pick(judged(text_of(row, rack, more=door(wall="south", at=90))), "way-out")
    assert "no way out" in found.message


def test_what_is_there_in_one_task_blocks_that_one_and_those_together_with_it() -> None:
    rack = wall_of("rack", 100, 10, 192)
    tasks = "tasks: {dry: {present: [rack]}, work: {uses: [bench]%s}}\n"
    free = pick(judged(text_of(bench(), rack, more=door() + tasks % "")), "way-out", task="work")
    assert free.verdict == "passes"
    held = judged(text_of(bench(), rack, more=door() + tasks % ", together with: [dry]"))
    found = pick(held, "way-out", task="work")
    assert found.measured == pytest.approx(10 * 0.0254, abs=1e-7)
    assert "meanwhile dry" in found.message


def test_with_a_drawer_open_the_way_is_advised() -> None:
    """30 in between bench and rack; a drawer of 10 in leaves 20."""
    row = bench(110, 100).replace(
        "zones", 'drawers: {tray: {side: left, width: 24", travel: 10"}}, zones'
    )
    rack = wall_of("rack", 70, 0, 192)
    judgement = judged(text_of(row, rack, more=door(wall="north", at=80)))
    found = pick(judgement, "way-out", "bench", kind="advised")
    assert found.task == "tray of bench open"
    assert found.kind == "advised"


@pytest.mark.parametrize(("deep", "verdict"), [(28.0, "passes"), (27.98, "fails")])
def test_the_room_where_one_stands(deep: float, verdict: str) -> None:
    """A slot before a bench against the north wall, with the way out at both its ends free.

    A counter opposite leaves `deep` to stand in.
    """
    counter = (
        f'counter: {{width: 100", depth: 30", height: 34", at: {{x: 100", y: {160 - deep - 30}"}}}}'
    )
    found = pick(judged(text_of(bench(120), counter, more=door(), tape="0")), "way-out", "bench")
    assert found.verdict == verdict
    assert found.measured == pytest.approx(deep * 0.0254, abs=1e-6)


def test_the_error_of_the_room_where_one_stands_is_that_of_both_sides() -> None:
    counter = 'counter: {width: 100", depth: 30", height: 34", at: {x: 100", y: 102"}}'
    found = pick(
        judged(text_of(bench(120), counter, more=door(), tape="1/8 in")), "way-out", "bench"
    )
    # where the bench was found, where the counter was found, and its depth
    assert found.error == pytest.approx(3 / 8 * 0.0254)
    assert found.verdict == "unsure"


@pytest.mark.parametrize(("room", "verdict"), [(104.0, "passes"), (103.98, "fails")])
def test_with_a_sheet_on_the_saw_the_way_is_advised(room: float, verdict: str) -> None:
    """A sheet of 48 in before the saw, on the way from its tail to a door behind the saw.

    Half of what the room leaves is free on each side; the saw itself is 30 in wide.
    """
    blade = "blade: {at: [15in, 10in], reach: 0}"
    size = f"width: 30in, depth: 20in, height: 34in, surface: 34in, {blade}"
    saw = f"saw: {{{size}, at: {{x: {room / 2 - 15}in, y: 150in}}}}"
    job = (
        "stock: {sheet: {length: 96in, width: 48in, thickness: 1in}}\n"
        "jobs: {rip: {feed: [{stock: sheet, through: saw, cut: rip, offset: 24in}]}}\n"
    )
    size = f"size: [{room}in, 30']"
    judgement = judged(text_of(saw, room=size, more=job + door(wall="north", at=20)))
    found = pick(judgement, "way-out", "saw", kind="advised")
    assert found.verdict == verdict
    assert "with a sheet (rip) on saw" in found.message
    assert pick(judgement, "way-out", "saw", kind="required").verdict == "passes"
