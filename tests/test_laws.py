"""What must not change an answer: where a shop lies, its mirror image, units, order of things."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shops import Plan, answers, judged, random_plan

from floorplan.checks.finding import SEVERITY, verdict_of
from floorplan.checks.judge import Judgement

few = settings(max_examples=12, derandomize=True, deadline=None, database=None)
plans = st.builds(lambda seed: random_plan(Random(seed)), st.integers(0, 10**6))


def same(a: Judgement, b: Judgement) -> None:
    rows, others = answers(a), answers(b)
    assert len(rows) == len(others)
    for row, other in zip(rows, others, strict=True):
        assert row[:5] == other[:5]
        assert row[5] == pytest.approx(other[5], abs=2e-6)
    assert a.verdict == b.verdict
    for name, measure in a.measures.items():
        # open floor is grown by arcs of chords, which lie otherwise after a turn
        off = 1e-2 if name == "open floor" else 1e-5
        assert measure.value == pytest.approx(b.measures[name].value, abs=off)


@few
@given(plans, st.integers(-4000, 4000), st.integers(-4000, 4000))
def test_it_does_not_matter_where_the_origin_lies(plan: Plan, dx: int, dy: int) -> None:
    same(judged(plan.text()), judged(plan.moved(float(dx), float(dy)).text()))


@few
@given(plans)
def test_the_mirror_image_is_judged_alike(plan: Plan) -> None:
    same(judged(plan.text()), judged(plan.mirrored().text()))


@few
@given(plans)
def test_a_quarter_turn_is_judged_alike(plan: Plan) -> None:
    same(judged(plan.text()), judged(plan.turned().text()))
    assert plan.turned().turned().turned().turned() == plan


@few
@given(plans)
def test_inches_and_millimetres_say_the_same(plan: Plan) -> None:
    # rules have their own values in each system, so only the file's numbers change unit
    same(judged(plan.text()), judged(plan.text(unit="in")))


@few
@given(plans, st.randoms(use_true_random=False))
def test_the_order_of_things_does_not_matter(plan: Plan, random: Random) -> None:
    names = [box.name for box in plan.boxes]
    random.shuffle(names)
    a, b = judged(plan.text()), judged(plan.ordered(names).text())
    rank = {verdict: i for i, verdict in enumerate(("fails", "unsure", "passes"))}
    # which of two neighbours tells of their gap depends on the order, what is wrong does not
    for check in ("solids", "zones", "way-out"):
        wrong = [
            sorted({(tuple(sorted(f.about)), f.task or "", f.verdict, round(f.margin or 0.0, 6))
                    for f in j.findings if f.check == check and rank[f.verdict] < 2}, key=repr)
            for j in (a, b)
        ]  # fmt: skip
        assert wrong[0] == wrong[1]
    assert a.verdict == b.verdict


@few
@given(plans, st.integers(1, 30))
def test_a_bigger_thing_never_gains_room(plan: Plan, grown: int) -> None:
    first = plan.boxes[0]
    bigger = replace(first, width=first.width + grown, stand=0.0)
    before = judged(replace(plan, boxes=(replace(first, stand=0.0), *plan.boxes[1:])).text())
    after = judged(replace(plan, boxes=(bigger, *plan.boxes[1:])).text())
    assert least(after, first.name) <= least(before, first.name) + 1e-6
    old, new = before.measures.get("way out"), after.measures.get("way out")
    if old is not None and new is not None:
        assert new.value <= old.value + 1e-6


def least(judgement: Judgement, name: str) -> float:
    """The tightest gap that is told of a thing [m]."""
    gaps = [f.margin for f in judgement.findings if f.check == "solids" and name in f.about]
    return min(gap for gap in gaps if gap is not None)


@few
@given(st.floats(-0.1, 0.1), st.floats(0, 0.05), st.floats(0, 0.02), st.floats(0, 0.02))
def test_a_verdict_never_gets_better_with_less_margin_or_surer_with_more_error(
    margin: float, error: float, less: float, more: float
) -> None:
    order = {"fails": 0, "unsure": 1, "passes": 2}
    assert order[verdict_of(margin - less, error)] <= order[verdict_of(margin, error)]
    if verdict_of(margin, error) == "unsure":
        assert verdict_of(margin, error + more) == "unsure"
    assert verdict_of(margin, 0.0) != "unsure" or abs(margin) <= 1e-5


@few
@given(plans)
def test_an_error_of_the_tape_only_makes_answers_unsure(plan: Plan) -> None:
    exact, taped = judged(plan.text()), judged(plan.text(tape="3 mm"))
    verdicts = {exact.verdict, taped.verdict}
    assert taped.verdict in ("unsure", exact.verdict), verdicts


@few
@given(plans)
def test_findings_come_worst_first(plan: Plan) -> None:
    ranks = [SEVERITY[f.kind, f.verdict] for f in judged(plan.text()).findings]
    assert ranks == sorted(ranks)
