"""Feeding a piece: bench a hair above or below, through an open door, and the kickback line."""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

# blade in the middle of the saw, 15 in from each side and 10 in from the rear; no reach
SAW = (
    'saw: {width: 30", depth: 20", height: 34", surface: 34",'
    ' blade: {at: [15", 10"], reach: 0}, at: {%s}}'
)
JOB = (
    "stock: {sheet: {length: 96in, width: 48in, thickness: 3/4in}}\n"
    "jobs: {rip: {feed: [{stock: sheet, through: saw, cut: rip, offset: 24in}]}}\n"
)
ROOM = "size: [20', 24']"


def saw(x: float = 105, y: float = 144, turn: int = 0) -> str:
    return SAW % f'x: {x}", y: {y}", turn: {turn}'


def shop(*rows: str, room: str = ROOM, more: str = "", tape: str = "0") -> str:
    return text_of(*rows, room=room, more=JOB + more, tape=tape)


@pytest.mark.parametrize(
    ("top", "verdict"), [("34", "passes"), ("33 63/64", "passes"), ("34 1/64", "fails")]
)
def test_a_bench_a_hair_above_the_saw_table_stops_the_sheet(top: str, verdict: str) -> None:
    bench = f'bench: {{width: 40", depth: 40", height: {top}", at: {{x: 100", y: 180"}}}}'
    found = pick(judged(shop(saw(), bench)), "feeding", "bench", task="use saw")
    assert found.verdict == verdict
    assert found.by_height
    if verdict == "fails":
        assert found.margin == pytest.approx(-1 / 64 * 0.0254)
        assert "in the way by" in found.message
        assert "in height" in found.message


def test_a_bench_within_the_tape_is_unsure() -> None:
    bench = 'bench: {width: 40", depth: 40", height: 34 1/32", at: {x: 100", y: 180"}}'
    found = pick(judged(shop(saw(), bench, tape="1/16 in")), "feeding", "bench", "saw")
    assert found.verdict == "unsure"
    assert "as drawn it fails by" in found.message


@pytest.mark.parametrize(("bottom", "verdict"), [("34 3/4", "passes"), ("34 47/64", "fails")])
def test_a_cabinet_hangs_over_the_sheet(bottom: str, verdict: str) -> None:
    """The sheet is 3/4 in thick."""
    size = f'width: 10", depth: 10", bottom: {bottom}", height: 60"'
    cabinet = f'cabinet: {{{size}, at: {{x: 100", y: 200"}}}}'
    found = pick(judged(shop(saw(), cabinet)), "feeding", "cabinet", "saw")
    assert found.verdict == verdict.replace("passes", "passes")


@pytest.mark.parametrize(("north", "verdict"), [(154 + 96 + 6, "passes"), (255.99, "fails")])
def test_behind_the_cutter_the_length_and_the_push_through(north: float, verdict: str) -> None:
    """96 in behind the blade at y = 154 in and 6 in to push (common practice, no source)."""
    found = pick(judged(shop(saw(), room=f"size: [20', {north}in]")), "feeding", "north wall")
    assert found.verdict == verdict


@pytest.mark.parametrize(("y", "verdict"), [(110.0, "passes"), (109.99, "fails")])
def test_before_the_cutter_the_length_and_the_person(y: float, verdict: str) -> None:
    """96 in and 24 in to stand before the blade, which is 10 in from the saw's front."""
    room = "size: [20', 30']"
    found = pick(judged(shop(saw(y=y), room=room)), "feeding", "south wall")
    assert found.verdict == verdict
    assert found.rule == "feed-standing-room"


DOOR = (
    "doors: {gate: {wall: north, at: %sin, width: 60in, clear width: 60in, height: 7',"
    " kind: opening, leads to: outside}}\n"
)


@pytest.mark.parametrize(
    ("at", "verdict", "margin"),
    [(96.0, "passes", 0.0), (96 + 1 / 64, "fails", -1 / 64), (84.0 - 1 / 64, "fails", -1 / 64)],
)
@pytest.mark.parametrize("is_open", [True, False])
def test_out_through_an_open_door_the_jambs_limit_it_sideways(
    at: float, verdict: str, margin: float, is_open: bool
) -> None:
    """The sheet runs from 96 to 144 in; a clear 60 in may begin from 84 to 96 in."""
    tasks = "tasks: {rip: {uses: [saw], open: [gate]}}\n" if is_open else ""
    judgement = judged(shop(saw(), room="size: [20', 200in]", more=DOOR % at + tasks))
    found = pick(judgement, "feeding", "saw", "north wall")
    if not is_open:
        assert found.margin == pytest.approx(-(154 + 102 - 200) * 0.0254)
        return
    assert found.verdict == verdict
    assert found.margin == pytest.approx(margin * 0.0254, abs=1e-9)


def test_out_through_an_open_door_under_its_head() -> None:
    """A door 34 3/4 in high lets the sheet pass; 1/64 in less does not."""
    for head, verdict in (("34 3/4in", "passes"), ("34 47/64in", "fails")):
        door = (DOOR % 90).replace("7'", head)
        tasks = "tasks: {rip: {uses: [saw], open: [gate]}}\n"
        judgement = judged(shop(saw(), room="size: [20', 200in]", more=door + tasks))
        assert pick(judgement, "feeding", "saw", "north wall").verdict == verdict


def test_a_part_of_the_machine_that_blocks_the_feed() -> None:
    pillar = 'parts: {pillar: {at: [0, 0], size: [4", 4"], bottom: 0, top: 60"%s}}, at:'
    for blocks, verdict in (("", "passes"), (", blocks: feed", "fails")):
        row = saw().replace("at: {x", pillar % blocks + " {x")
        judgement = judged(shop(row))
        outfeed = [f for f in judgement.findings if f.check == "feeding" and f.about == ("saw",)]
        assert bool(outfeed) is (verdict == "fails")


# --- the kickback line ---------------------------------------------------------------------

WINDOW = "windows: {pane: {wall: south, at: %sin, width: 20in, sill: 40in, height: 30in}}\n"
HALF = (8 + 1 / 8) / 2


@pytest.mark.parametrize(
    ("at", "verdict"),
    [
        (120 + HALF, "passes"),
        (120 + HALF - 1 / 64, "fails"),
        (100 - HALF, "passes"),
        (100 - HALF + 1 / 64, "fails"),
    ],
)
def test_a_window_beside_the_kickback_line(at: float, verdict: str) -> None:
    """The blade is at x = 120 in, the strip 8 1/8 in wide (common practice, no source)."""
    found = pick(judged(shop(saw(), more=WINDOW % at)), "feeding", "saw", "pane")
    assert (found.verdict, found.kind, found.rule) == (verdict, "advised", "kickback-width")


def test_a_window_beside_it_within_the_tape_is_unsure() -> None:
    judgement = judged(shop(saw(), more=WINDOW % (120 + HALF - 0.1), tape="1/8 in"))
    assert pick(judgement, "feeding", "saw", "pane").verdict == "unsure"


def test_a_door_in_the_line_and_one_behind_a_corner() -> None:
    door = "doors: {side: {wall: south, at: 110in, width: 36in, %s, leads to: outside}}\n"
    hinged = judged(shop(saw(), more=door % "height: 80in"))
    assert pick(hinged, "feeding", "saw", "side").verdict == "fails"
    window = "windows: {pane: {wall: south, at: 10in, width: 20in, sill: 40in, height: 30in}}\n"
    aside = judged(shop(saw(), more=window))
    assert not [f for f in aside.findings if f.rule == "kickback-width"]


@pytest.mark.parametrize("feed", ["left", "right"])
def test_a_machine_fed_sideways_throws_back_sideways(feed: str) -> None:
    row = saw().replace("reach: 0}", f"reach: 0, feed: {feed}}}")
    side = "east" if feed == "left" else "west"
    window = (
        f"windows: {{pane: {{wall: {side}, at: 150in, width: 20in, sill: 40in, height: 30in}}}}\n"
    )
    found = pick(judged(shop(row, room="size: [40', 24']", more=window)), "feeding", "saw", "pane")
    # the blade is at y = 154 in, 4 in inside of the window and of half the strip's 8 1/8 in
    assert found.margin == pytest.approx(-(4 + HALF) * 0.0254)
