"""Room to cut a sheet up flat, on the floor or over a bench; and the floor left open."""

from __future__ import annotations

from math import pi

import pytest
from shops import judged, pick, text_of

STOCK = "stock: {sheet: {length: 96in, width: 48in, thickness: 3/4in}}\n"
FLOOR = STOCK + "jobs: {cut: {break down: {stock: sheet}}}\n"
OVER = STOCK + "jobs: {cut: {break down: {stock: sheet, over: table}}}\n"
POST = "post: {width: 4in, depth: 4in, height: 80in, at: {x: 0in, y: 0in}}"


@pytest.mark.parametrize(
    ("room", "around"),
    [("[144in, 96in]", 24.0), ("[143.9in, 96in]", 23.95), ("[96in, 144in]", 24.0)],
)
def test_on_an_empty_floor(room: str, around: float) -> None:
    """The sheet's size and as much on all four sides; along or across the room."""
    found = pick(judged(text_of(POST, room=f"size: {room}", more=FLOOR)), "break-down")
    if around == 24.0:
        # the post stands in the corner of that room, 4 in of each side
        assert found.measured == pytest.approx((around - 4 / 2) * 0.0254, abs=2e-5)
    assert found.kind == "advised"


def test_on_a_floor_with_a_post_in_the_middle() -> None:
    """Room of 200 by 200 in, a post of 4 in in the middle: 98 in on every side of it.

    The sheet lies along a wall: (98 - 48) / 2 = 25 in all round.
    """
    post = POST.replace("x: 0in, y: 0in", "x: 98in, y: 98in")
    for wanted, verdict in (("25 in", "passes"), ("25.1 in", "fails")):
        more = FLOOR + f"rules: {{break-down-room: {wanted}}}\n"
        found = pick(judged(text_of(post, room="size: [200in, 200in]", more=more)), "break-down")
        assert found.verdict == verdict
        assert found.measured == pytest.approx(25 * 0.0254, abs=2e-5)


def test_nowhere() -> None:
    found = pick(judged(text_of(POST, room="size: [60in, 90in]", more=FLOOR)), "break-down")
    assert found.verdict == "fails"
    assert "nowhere" in found.message


TABLE = "table: {width: 60in, depth: 30in, height: 34in, at: {x: 60in, y: 60in}}"


@pytest.mark.parametrize(("x", "verdict"), [(162.0, "passes"), (162 - 1 / 64, "fails")])
def test_over_a_table(x: float, verdict: str) -> None:
    """The sheet's middle is the table's, x = 90 in: it ends at 138 in, and 24 in on."""
    rack = f"rack: {{width: 10in, depth: 30in, height: 60in, at: {{x: {x}in, y: 60in}}}}"
    found = pick(judged(text_of(TABLE, rack, more=OVER)), "break-down", "table")
    assert (found.verdict, found.kind) == (verdict, "advised")


def test_over_a_table_within_the_tape_is_unsure() -> None:
    rack = "rack: {width: 10in, depth: 30in, height: 60in, at: {x: 162 1/16in, y: 60in}}"
    found = pick(judged(text_of(TABLE, rack, more=OVER, tape="1/8 in")), "break-down", "table")
    assert found.verdict == "unsure"
    # half the table's width and half the sheet's length; both places
    assert found.error == pytest.approx((0.5 + 0.5 + 1 + 1) / 8 * 0.0254)


def test_open_floor_is_where_a_walkway_wide_disc_can_lie() -> None:
    """The room less the table; a disc of 36 in leaves (1 - pi/4) r2 of each room corner."""
    size = "width: 30in, depth: 10in, bottom: 80in, height: 90in"
    rows = TABLE, f"shelf: {{{size}, at: {{x: 0in, y: 0in}}}}"
    measure = judged(text_of(*rows)).measures["open floor"]
    expected = 240 * 192 - 60 * 30 - (4 - pi) * 18**2
    assert measure.value == pytest.approx(expected * 0.0254**2, rel=1e-4)
