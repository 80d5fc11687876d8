"""Room for a task: free or not by the least amount, who may share it, what goes on together."""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

BENCH = (
    'bench: {width: 60", depth: 24", height: 34", at: {x: 20", y: 80"},'
    ' zones: {front: {side: front, depth: 24"}}}'
)


@pytest.mark.parametrize(("y", "verdict"), [("46", "passes"), ("46 1/64", "fails")])
def test_a_standing_place_is_free_or_not(y: str, verdict: str) -> None:
    """The place reaches from 80 in down to 56 in; a rack 10 in deep ends at 56 or above."""
    rack = f'rack: {{width: 10", depth: 10", height: 60", at: {{x: 40", y: {y}"}}}}'
    found = pick(judged(text_of(BENCH, rack)), "zones", "bench", "rack")
    assert found.verdict == verdict
    assert found.measured == found.margin


def test_within_the_tape_it_is_unsure() -> None:
    rack = 'rack: {width: 10", depth: 10", height: 60", at: {x: 40", y: 46 1/64"}}'
    found = pick(judged(text_of(BENCH, rack, tape="1/8 in")), "zones", "bench", "rack")
    assert found.verdict == "unsure"
    assert 'as drawn it fails by 1/16", the tape allows' in found.message


@pytest.mark.parametrize(("bottom", "verdict"), [("80", "passes"), ("79 63/64", "fails")])
def test_a_shelf_over_the_head_is_no_matter(bottom: str, verdict: str) -> None:
    """A person takes up 80 in of height (common practice, no source)."""
    shelf = (
        f'shelf: {{width: 10", depth: 10", bottom: {bottom}", height: 90", at: {{x: 40", y: 60"}}}}'
    )
    found = pick(judged(text_of(BENCH, shelf)), "zones", "bench", "shelf")
    assert (found.verdict, found.by_height) == (verdict, True)


def test_a_place_outside_the_room_is_no_place() -> None:
    bench = BENCH.replace('y: 80"', 'y: 10"')
    found = pick(judged(text_of(bench)), "zones", "bench", "south wall")
    assert found.margin == pytest.approx(-14 * 0.0254)


SIZE = 'width: 20", depth: 20", height: 34"'
A = f'a: {{{SIZE}, at: {{x: 20", y: 20"}}, zones: {{rear: {{side: back, depth: 30"}}}}}}'
B = f'b: {{{SIZE}, at: {{x: 20", y: 90"}}, zones: {{front: {{side: front, depth: 30"}}}}}}'


@pytest.mark.parametrize(
    ("tasks", "conflict"),
    [
        ("{both: {uses: [a, b]}}", True),
        ("{one: {uses: [a]}, two: {uses: [b]}}", False),
        ("{one: {uses: [a], together with: [two]}, two: {uses: [b]}}", True),
    ],
)
def test_alone_two_places_may_share_floor_unless_both_are_needed_at_once(
    tasks: str, conflict: bool
) -> None:
    """The places overlap by 10 in."""
    judgement = judged(text_of(A, B, more=f"tasks: {tasks}\n"))
    wrong = [f for f in judgement.failing if f.check == "zones"]
    assert bool(wrong) is conflict
    assert all(f.margin == pytest.approx(-10 * 0.0254) for f in wrong)
    if "together" in tasks:
        assert any("(meanwhile: two)" in f.message for f in wrong)


@pytest.mark.parametrize(
    ("tasks", "planer_at", "verdicts"),
    [
        ("{rip: {uses: [saw]}, plane: {uses: [planer]}}", 90, {"passes"}),
        ("{rip: {uses: [saw], together with: [plane]}, plane: {uses: [planer]}}", 90, {"fails"}),
        ("{both: {uses: [saw, planer]}}", 90, {"fails"}),
        ("{rip: {uses: [saw]}, plane: {uses: [planer]}}", 50, {"fails"}),
    ],
)
def test_saw_and_planer_share_floor_when_only_one_is_likely_to_run(
    tasks: str, planer_at: int, verdicts: set[str]
) -> None:
    """UK education ministry, design and technology equipment, page on the circular saw (school).

    The room round saw and planer may be shared when only one is likely to run at a time.  Each
    needs 30 in towards the other and 50 in lie between them: 10 in are shared.  A planer that
    itself stands in the saw's room is in the way whatever runs.
    """
    saw = A.replace("a:", "saw:").replace("rear:", "behind the saw:")
    planer = B.replace("b:", "planer:").replace('y: 90"', f'y: {planer_at}"')
    judgement = judged(text_of(saw, planer, more=f"tasks: {tasks}\n"))
    zones = [f for f in judgement.findings if f.check == "zones" and f.kind == "required"]
    assert ({f.verdict for f in zones if f.verdict != "passes"} or {"passes"}) == verdicts


def test_what_is_there_for_a_task_that_goes_on_meanwhile_is_in_the_way() -> None:
    rack = 'rack: {width: 10", depth: 10", height: 60", at: {x: 40", y: 60"}}'
    tasks = "tasks: {dry: {present: [rack]}, work: {uses: [bench]%s}}\n"
    apart = judged(text_of(BENCH, rack, more=tasks % ""))
    assert not [f for f in apart.failing if f.check == "zones"]
    found = pick(
        judged(text_of(BENCH, rack, more=tasks % ", together with: [dry]")),
        "zones",
        "bench",
        "rack",
    )
    assert found.verdict == "fails"


@pytest.mark.parametrize("people", [1, 2])
@pytest.mark.parametrize(("where", "free"), [("working", True), ("standing", False)])
def test_a_thing_is_where_its_task_has_it(people: int, where: str, free: bool) -> None:
    """A cart that stands before the bench but is rolled away to be worked at."""
    cart = (
        'cart: {width: 20", depth: 20", height: 30", at: {x: 40", y: 58"},'
        ' working: {x: 150", y: 120"}}'
    )
    tasks = f"people: {people}\ntasks: {{work: {{uses: [bench]"
    tasks += ", working: [cart]}}\n" if where == "working" else "}}\n"
    judgement = judged(text_of(BENCH, cart, more=tasks))
    wrong = [f for f in judgement.failing if f.check == "zones" and "cart" in f.about]
    assert bool(wrong) is not free
