"""Room for clamps beyond the edges of a bench, by sums on paper."""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

INCH = 0.0254


def bench(clamps: str, *, turn: int = 0) -> str:
    """From x = 60 to 120 in and y = 60 to 90 in, at turn 90 from x = 60 to 90, y = 60 to 120."""
    return (
        f'bench: {{width: 60", depth: 30", height: 34", at: {{x: 60", y: 60", turn: {turn}}},'
        f" clamp room: {clamps}}}"
    )


def rack(x: float, y: float, *, height: float = 60, bottom: float = 0) -> str:
    size = f'width: 20", depth: 10", bottom: {bottom}", height: {height}"'
    return f'rack: {{{size}, at: {{x: {x}", y: {y}"}}}}'


@pytest.mark.parametrize(
    ("clamps", "x", "y", "free"),
    [
        ('{front: 24", task: glue}', 80, 36, 14),  # its far side is 14 in before y = 60
        ('{front: 24", task: glue}', 118, 36, 14),  # 2 in beside would do, it is told straight out
        ('{back: 24", task: glue}', 80, 97, 7),
        ('{left: 24", task: glue}', 34, 70, 6),
        ('{right: 24", task: glue}', 125, 70, 5),
    ],
)
def test_what_is_free_is_told_straight_out_from_the_edge(
    clamps: str, x: float, y: float, free: float
) -> None:
    found = pick(judged(text_of(bench(clamps), rack(x, y))), "zones", "bench", "rack")
    assert (found.rule, found.verdict, found.task) == ("clamp-room", "fails", "glue")
    assert found.measured == pytest.approx(free * INCH)
    assert found.needed == pytest.approx(24 * INCH)
    assert found.margin == pytest.approx((free - 24) * INCH)
    assert f'{free}" of 24" clamp room at the {clamps[1 : clamps.index(":")]} of bench' in (
        found.message
    )


def test_the_sides_turn_with_the_bench() -> None:
    """At a quarter turn the operator stands to the east, past x = 90 in."""
    text = text_of(bench('{front: 24", task: glue}', turn=90), rack(100, 80))
    found = pick(judged(text), "zones", "bench", "rack")
    assert found.measured == pytest.approx(10 * INCH)


@pytest.mark.parametrize(
    ("height", "bottom", "verdict"),
    [
        (30, 0, "passes"),  # clamps reach down 4 in below the top (common practice, no source)
        (30.01, 0, "fails"),
        (60, 42, "passes"),  # and up 8 in above it
        (60, 41.99, "fails"),
    ],
)
def test_clamps_pass_over_what_is_low_and_below_what_hangs(
    height: float, bottom: float, verdict: str
) -> None:
    text = text_of(bench('12"'), rack(80, 45, height=height, bottom=bottom), more=USES)
    assert pick(judged(text), "zones", "bench", "rack", task="work").verdict == verdict


USES = "tasks: {work: {uses: [bench]}}\n"


def test_one_depth_holds_on_all_four_sides() -> None:
    file = parse(text_of(bench('12"'), more=USES))
    zones = file.shop.thing("bench").zones
    assert {zone.side for zone in zones} == {"front", "back", "left", "right"}
    assert all(zone.purpose == "clamp" for zone in zones)


def test_clamps_stay_while_glue_dries_and_nobody_works_where_they_are() -> None:
    """Nobody stands at a task that lasts, but its clamps are there all the time."""
    saw = (
        'saw: {width: 20", depth: 20", height: 34", at: {x: 80", y: 10"},'
        ' zones: {rear: {side: back, depth: 24"}}}'
    )
    more = "tasks: {glue: {lasts: 2 h, uses: [bench], together with: [cut]}, cut: {uses: [saw]}}\n"
    for depth, verdict in (('6"', "passes"), ('6.1"', "fails")):
        text = text_of(bench(f"{{front: {depth}, task: glue}}"), saw, more=more)
        found = [f for f in judged(text).failing if f.check == "zones"]
        assert ("fails" if found else "passes") == verdict


def test_within_the_tape_beside_it_nobody_can_tell() -> None:
    """1/64 in beside the room, though the rack stands 10 in deep in its way."""
    text = text_of(bench('{front: 24", task: glue}'), rack(119.99, 36), tape="1/8 in")
    found = pick(judged(text), "zones", "bench", "rack")
    assert found.verdict == "unsure"


@pytest.mark.parametrize(
    ("clamps", "message"),
    [
        ("{task: glue}", "the clamp room of `bench` names no side"),
        ('{frnt: 12"}', "did you mean `front`?"),
        ("{front: many}", "many"),
        ('{front: 12", bottom: 40", top: 30"}', "has no height"),
        ('-3"', "no sign is wanted here"),
    ],
)
def test_what_makes_no_sense_is_refused(clamps: str, message: str) -> None:
    with pytest.raises(ShopFileError) as wrong:
        parse(text_of(bench(clamps), more=USES))
    assert message in str(wrong.value)


def test_a_rule_can_soften_it() -> None:
    text = text_of(
        bench('{front: 24", task: glue}'), rack(80, 36), more="rules: {clamp-room: off}\n"
    )
    assert not [f for f in judged(text).findings if f.rule == "clamp-room"]
