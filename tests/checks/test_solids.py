"""Solids stand apart and in the room: by the least amount, by height, and within the tape."""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

BENCH = 'bench: {width: 60", depth: 24", height: 34", at: {x: 20", y: 20"}}'


@pytest.mark.parametrize(
    ("x", "verdict", "margin"), [("80", "passes", 0.0), ("79 63/64", "fails", -1 / 64)]
)
def test_touching_passes_and_a_64th_in_each_other_fails(
    x: str, verdict: str, margin: float
) -> None:
    rack = f'rack: {{width: 10", depth: 24", height: 60", at: {{x: {x}", y: 20"}}}}'
    found = pick(judged(text_of(BENCH, rack)), "solids", "bench", "rack")
    assert found.verdict == verdict
    assert found.margin == pytest.approx(margin * 0.0254, abs=1e-9)


def test_within_the_tape_it_is_unsure_and_says_so() -> None:
    rack = 'rack: {width: 10", depth: 24", height: 60", at: {x: 80 1/16", y: 20"}}'
    found = pick(judged(text_of(BENCH, rack, tape="1/8 in")), "solids", "bench", "rack")
    assert found.verdict == "unsure"
    # where the bench was found, its width, and where the rack was found: three readings
    assert found.error == pytest.approx(3 / 8 * 0.0254)
    assert 'as drawn it passes by 1/16", the tape allows ± 3/8"' in found.message
    touching = 'rack: {width: 10", depth: 24", height: 60", at: {x: east of bench, y: 20"}}'
    found = pick(judged(text_of(BENCH, touching, tape="1/8 in")), "solids", "bench", "rack")
    assert (found.verdict, found.error) == ("passes", 0.0)


@pytest.mark.parametrize(("bottom", "verdict"), [("34", "passes"), ("33 63/64", "fails")])
def test_a_cabinet_hangs_over_a_bench_by_height(bottom: str, verdict: str) -> None:
    size = f'width: 30", depth: 12", bottom: {bottom}", height: 70"'
    cabinet = f'cabinet: {{{size}, at: {{x: 25", y: 25"}}}}'
    found = pick(judged(text_of(BENCH, cabinet)), "solids", "bench", "cabinet")
    assert found.verdict == verdict
    assert found.by_height


@pytest.mark.parametrize(("top", "verdict"), [("84", "passes"), ("84 1/64", "fails")])
def test_a_rack_stands_under_an_open_overhead_leaf(top: str, verdict: str) -> None:
    """The leaf of a 7 ft door hangs from 84 in up; it is a solid while the door stands open."""
    door = (
        "doors: {big: {wall: south, at: 3', width: 9', height: 7', kind: overhead,"
        ' leads to: outside, leaf: {reach: 8\', bottom: 84", top: 90"}}}\n'
        "tasks: {load: {open: [big]}}\n"
    )
    rack = f'rack: {{width: 20", depth: 20", height: {top}", at: {{x: 60", y: 40"}}}}'
    judgement = judged(text_of(rack, more=door))
    assert pick(judgement, "solids", "rack", "big").verdict == verdict
    assert pick(judgement, "keep-clears", "rack", "big").verdict == verdict


@pytest.mark.parametrize(("bottom", "verdict"), [("60", "passes"), ("59 63/64", "fails")])
def test_a_beam_hangs_over_what_stands(bottom: str, verdict: str) -> None:
    beam = f"from: [0, 30in], to: [20', 30in], width: 6in, bottom: {bottom} in"
    beams = f"size: [20', 16'], beams: {{beam: {{{beam}}}}}"
    rack = 'rack: {width: 20", depth: 20", height: 60", at: {x: 60", y: 20"}}'
    assert pick(judged(text_of(rack, room=beams)), "solids", "rack", "beam").verdict == verdict


@pytest.mark.parametrize(("x", "verdict"), [("0 in", "passes"), ("-1/64 in", "fails")])
def test_a_thing_stands_in_the_room(x: str, verdict: str) -> None:
    rack = f'rack: {{width: 20", depth: 20", height: 60", at: {{x: {x}, y: 20"}}}}'
    found = pick(judged(text_of(rack)), "solids", "rack", "west wall")
    assert found.verdict == verdict
    assert found.rule == "inside-room"


def test_into_an_inner_corner_the_least_way_out_counts() -> None:
    """The notch of an L begins at (10 ft, 8 ft); 3 in over one of its edges, 9 over the other."""
    room = "corners: [[0, 0], [20', 0], [20', 8'], [10', 8'], [10', 16'], [0, 16']]"
    rack = 'rack: {width: 20", depth: 20", height: 60", at: {x: 109", y: 79"}}'
    judgement = judged(text_of(rack, room=room))
    walls = [f for f in judgement.failing if f.check == "solids"]
    assert {round(f.margin / 0.0254, 6) for f in walls if f.margin is not None} == {-3.0}


def test_too_high_for_the_room() -> None:
    for height, verdict in (("108", "passes"), ("108 1/64", "fails")):
        rack = f'rack: {{width: 20", depth: 20", height: {height}", at: {{x: 90", y: 79"}}}}'
        found = pick(judged(text_of(rack)), "solids", "rack", "ceiling")
        assert found.verdict == verdict
        assert found.by_height


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize(("x", "verdict"), [("92", "passes"), ("91 63/64", "fails")])
def test_a_gap_to_keep_holds_for_both_and_against_every_neighbour(
    first: bool, x: str, verdict: str
) -> None:
    bench = BENCH.replace("height:", 'keep gap: 12", height:')
    near = 'near: {width: 10", depth: 10", height: 60", at: {x: 5", y: 20"}}'
    rack = f'rack: {{width: 10", depth: 24", height: 60", at: {{x: {x}", y: 20"}}}}'
    rows = (bench, near, rack) if first else (rack, near, bench)
    judgement = judged(text_of(*rows))
    assert pick(judgement, "solids", "bench", "rack").verdict == verdict
    assert pick(judgement, "solids", "bench", "near").margin == pytest.approx(-7 * 0.0254)


CAR = 'car: {width: 70", depth: 100", height: 58", at: {x: 60", y: 10"}}'
CART = 'cart: {width: 20", depth: 20", height: 30", at: {x: 80", y: 80"}, parked: {x: 10", y: 10"}}'


def test_a_car_is_in_the_way_in_its_task_only() -> None:
    parked = "tasks: {car in: {present: [car], parked: [cart]}, work: {uses: []}}\n"
    away = [f for f in judged(text_of(CAR, CART, more=parked)).failing if f.check == "solids"]
    assert not away
    stays = "tasks: {car in: {present: [car]}, work: {uses: []}}\n"
    found = pick(judged(text_of(CAR, CART, more=stays)), "solids", "car", "cart")
    assert found.verdict == "fails"


def test_where_it_is_parked_it_must_fit_too() -> None:
    cart = CART.replace('x: 10", y: 10"}', 'x: 50", y: 60"}')
    tasks = "tasks: {car in: {present: [car], parked: [cart]}}\n"
    found = pick(judged(text_of(CAR, cart, more=tasks)), "solids", "car", "cart")
    assert found.margin == pytest.approx(-10 * 0.0254)


def test_of_two_parts_the_doubtful_one_is_told_though_another_is_nearer() -> None:
    """A lamp 1/4 in off, exactly measured, hides no body that is 3/8 in off give or take 1/2."""
    bench = (
        'bench: {width: 60" +- 1/2", depth: 24", height: 34", at: {x: 20", y: 20"}, parts: '
        '{lamp: {at: [50", 0], size: [10 1/8", 4"], bottom: 40", top: 50"}}}'
    )
    rack = 'rack: {width: 10", depth: 24", height: 60", at: {x: 80 3/8", y: 20"}}'
    found = pick(judged(text_of(bench, rack)), "solids", "bench", "rack")
    assert found.verdict == "unsure"
    assert found.margin == pytest.approx(3 / 8 * 0.0254)
    assert found.error == pytest.approx(1 / 2 * 0.0254)
