"""Outfeed surfaces: step, gap, cover, beside; and things that stand within reach of another."""

from __future__ import annotations

from math import hypot

import pytest
from shops import judged, pick, text_of

# the blade lies 15 in from the left and 10 in from the rear, the saw takes x 105 to 135, y to 164
SAW = (
    'saw: {width: 30", depth: 20", height: 34", surface: 34",'
    ' blade: {at: [15", 10"], reach: 0}, at: {x: 105", y: 144"}}'
)
JOB = (
    "stock: {board: {length: 40in, width: 20in, thickness: 1in}}\n"
    "jobs: {rip: {feed: [{stock: board, through: saw, cut: rip, offset: 10in}]}}\n"
)


def bench(
    *, surface: str = "34", x: float = 100, gap: float = 0.25, depth: str = "60", outfeed: str = ""
) -> str:
    size = f'width: 40", depth: {depth}", height: {surface}", surface: {surface}"'
    link = f"takes the outfeed of: saw{outfeed}"
    return f'bench: {{{size}, {link}, at: {{x: {x}", y: {164 + gap}"}}}}'


def link(row: str, rule: str, tape: str = "0", needed: float | None = None):  # type: ignore[no-untyped-def]
    judgement = judged(text_of(SAW, row, room="size: [20', 24']", more=JOB, tape=tape))
    found = [
        f
        for f in judgement.findings
        if f.check == "links" and f.rule == rule and needed in (None, f.needed)
    ]
    assert found
    return found[0]


@pytest.mark.parametrize(
    ("surface", "least", "most"),
    [
        ("34", "passes", "passes"),
        ("34 1/64", "fails", "passes"),
        ("33 3/4", "passes", "passes"),
        ("33 47/64", "passes", "fails"),
    ],
)
def test_never_higher_and_little_lower(surface: str, least: str, most: str) -> None:
    """Level or up to 1/4 in lower, never higher (common practice, no source)."""
    assert link(bench(surface=surface), "outfeed-step-least").verdict == least
    assert link(bench(surface=surface), "outfeed-step-most").verdict == most
    if least == "fails":
        assert "HIGHER" in link(bench(surface=surface), "outfeed-step-least").message


def test_a_step_within_the_tape_is_unsure() -> None:
    found = link(bench(surface="33 31/32"), "outfeed-step-least", tape="1/16 in")
    assert found.verdict == "unsure"
    assert found.error == pytest.approx(2 / 16 * 0.0254)


@pytest.mark.parametrize(("gap", "verdict"), [(0.5, "passes"), (0.5 + 1 / 64, "fails")])
def test_the_gap_behind_the_table(gap: float, verdict: str) -> None:
    """At most 1/2 in (common practice, no source)."""
    found = link(bench(gap=gap), "outfeed-gap-most", needed=pytest.approx(0.0127))
    assert found.verdict == verdict
    assert found.measured == pytest.approx(gap * 0.0254)


def test_gap_cover_and_step_as_the_file_wants_them() -> None:
    wanted = ", outfeed: {cover: 70in, gap: [1in, 2in], step: [1/8in, 1/2in]}"
    row = bench(gap=1.5, outfeed=wanted, surface="33 3/4")
    judgement = judged(text_of(SAW, row, room="size: [20', 24']", more=JOB))
    assert not [f for f in judgement.findings if f.check == "links" and f.verdict != "passes"]
    found = link(bench(gap=0.99, outfeed=wanted, surface="33 3/4"), "outfeed-gap-most")
    assert (found.verdict, found.kind) == ("fails", "required")
    # from the blade to the rear edge: 10 in of saw, 1 1/2 in of gap and the depth
    for depth, verdict in (("58 1/2", "passes"), ("58 31/64", "fails")):
        row = bench(gap=1.5, outfeed=wanted, surface="33 3/4", depth=depth)
        found = link(row, "take-off-table")
        assert (found.verdict, found.kind) == (verdict, "required")


@pytest.mark.parametrize(
    ("x", "verdict"),
    [(120.0, "passes"), (120 + 1 / 64, "fails"), (80.0, "passes"), (79.99, "fails")],
)
def test_the_middle_of_the_piece_must_lie_on_it(x: float, verdict: str) -> None:
    """The board's middle runs along x = 120 in, the bench is 40 in wide."""
    assert link(bench(x=x), "outfeed-cover").verdict == verdict


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_at_every_turn_of_the_saw(turn: int) -> None:
    """The saw in the middle of a square room, the bench behind it, all turned together."""
    corner = {0: (-15, -10), 90: (-10, -15), 180: (-15, -10), 270: (-10, -15)}[turn]
    place = {0: (-20, 10.25), 90: (-70.25, -20), 180: (-20, -70.25), 270: (10.25, -20)}[turn]
    saw = SAW.replace(
        'x: 105", y: 144"', f'x: {150 + corner[0]}", y: {150 + corner[1]}", turn: {turn}'
    )
    row = bench().replace(
        'x: 100", y: 164.25"', f'x: {150 + place[0]}", y: {150 + place[1]}", turn: {turn}'
    )
    judgement = judged(text_of(saw, row, room="size: [300in, 300in]", more=JOB))
    found = {f.rule: f for f in judgement.findings if f.check == "links" and f.needed}
    assert found["outfeed-gap-most"].measured == pytest.approx(0.25 * 0.0254, abs=1e-9)
    assert found["take-off-table"].measured == pytest.approx(70.25 * 0.0254, abs=1e-9)


@pytest.mark.parametrize(("reach", "verdict"), [("26in", "passes"), ("25.99in", "fails")])
def test_within_reach_of_a_corner(reach: str, verdict: str) -> None:
    """10 in east and 24 in north from corner to corner: 26 in."""
    size = "width: 20in, depth: 20in, height: 34in"
    a = f"a: {{{size}, at: {{x: 20in, y: 20in}}, within {reach} of: b}}"
    b = f"b: {{{size}, at: {{x: 50in, y: 64in}}}}"
    found = pick(judged(text_of(a, b)), "links", "a", "b")
    assert hypot(10, 24) == 26
    assert (found.verdict, found.measured) == (verdict, pytest.approx(26 * 0.0254))


def test_within_reach_of_a_place() -> None:
    a = "a: {width: 20in, depth: 20in, height: 34in, at: {x: 20in, y: 20in}, within 3ft of: outlet}"
    places = "places: {outlet: {x: 76in, y: 30in}}\n"
    assert pick(judged(text_of(a, more=places)), "links", "a", "outlet").verdict == "passes"
    places = "places: {outlet: {x: 76.02in, y: 30in}}\n"
    assert pick(judged(text_of(a, more=places)), "links", "a", "outlet").verdict == "fails"
    taped = judged(text_of(a, more=places, tape="1/8 in"))
    assert pick(taped, "links", "a", "outlet").verdict == "unsure"
