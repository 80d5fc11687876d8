"""All checks together: rules that are off or softened, verdict of a layout, what is left out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from shops import judged, pick, text_of

from floorplan.checks.finding import overall, worst_first
from floorplan.checks.judge import judge
from floorplan.shop.reader import parse

DEMOS = tuple(sorted((Path(__file__).parents[2] / "layouts").glob("*.yaml")))
BENCH = 'bench: {width: 60", depth: 24", height: 34", at: {x: 20", y: 20"}}'
RACK = 'rack: {width: 10", depth: 24", height: 60", at: {x: 75", y: 20"}}'


def test_a_rule_that_is_off_is_gone_and_a_softened_one_is_advice() -> None:
    assert judged(text_of(BENCH, RACK)).verdict == "fails"
    off = judged(text_of(BENCH, RACK, more="rules: {solids-apart: off}\n"))
    assert off.verdict == "passes"
    assert not [f for f in off.findings if f.rule == "solids-apart"]
    soft = judged(text_of(BENCH, RACK, more="rules: {solids-apart: advised}\n"))
    assert soft.verdict == "passes"
    found = pick(soft, "solids", "bench", "rack")
    assert (found.kind, found.verdict) == ("advised", "fails")
    assert soft.wishes


def test_verdict_of_a_layout() -> None:
    base = pick(judged(text_of(BENCH)), "solids", "bench")
    kinds = {
        v: replace(base, verdict=v, kind=k)
        for v, k in (("passes", "required"), ("unsure", "required"), ("fails", "required"))
    }  # type: ignore[arg-type]
    advised = replace(kinds["fails"], kind="advised")
    assert overall([]) == "passes"
    assert overall([kinds["passes"], advised]) == "passes"
    assert overall([kinds["passes"], kinds["unsure"], advised]) == "unsure"
    assert overall([kinds["unsure"], kinds["fails"]]) == "fails"
    ordered = worst_first([advised, kinds["passes"], kinds["unsure"], kinds["fails"]])
    assert [f.verdict for f in ordered] == ["fails", "unsure", "fails", "passes"]


def test_a_size_from_a_kind_marks_what_depends_on_it() -> None:
    row = "heater: {kind: water heater, at: {x: 20in, y: 20in}}"
    rack = 'rack: {width: 10", depth: 24", height: 60", at: {x: 46", y: 20"}}'
    judgement = judged(text_of(row, rack))
    assert "heater: width" in pick(judgement, "solids", "heater", "rack").assumed
    assert "heater: width" in judgement.assumed


def test_a_thing_without_a_place_is_left_out() -> None:
    judgement = judged(text_of(BENCH, 'later: {width: 60", depth: 24", height: 34"}'))
    assert judgement.scene.absent == ("later",)
    assert not [f for f in judgement.findings if "later" in f.about]


@pytest.mark.parametrize(
    ("door", "verdict"), [("open: [gate]", "passes"), ("present: [bar]", "fails")]
)
def test_what_is_there_in_a_task_may_stand_in_its_open_doorway(door: str, verdict: str) -> None:
    gate = (
        "doors: {gate: {wall: south, at: 40in, width: 60in, clear width: 60in, height: 80in,"
        " kind: opening, leads to: outside}}\n"
    )
    bar = "bar: {width: 10in, depth: 40in, height: 40in, only in: [load], at: {x: 60in, y: -1in}}"
    judgement = judged(text_of(bar, more=gate + f"tasks: {{load: {{{door}}}}}\n"))
    assert pick(judgement, "solids", "bar").verdict == verdict


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_findings_of_the_demo_shops_are_sound(path: Path) -> None:
    file = parse(path.read_text()).at(0)
    judgement = judge(file.shop, file.layout)
    names = {
        *(t.name for t in file.shop.things), *(d.name for d in file.shop.doors),
        *(w.name for w in file.shop.windows), *(p.name for p in file.shop.places),
        *(w.name for w in file.shop.room.walls), *(f.name for f in file.shop.room.fixtures),
        *(s.name for s in file.shop.stock), *(k.name for k in file.shop.keep_clears),
        *(j.name for j in file.shop.jobs), "ceiling", "floor", "room", "the walls", "usual piece",
    }  # fmt: skip
    for f in judgement.findings:
        assert set(f.about) <= names, f.about
        assert f.message
        assert "{" not in f.message
        assert f.rule in file.shop.rules
        if f.margin is not None:
            assert f.measured == pytest.approx(
                f.needed - f.margin if "most" in f.message else f.needed + f.margin
            ) or f.measured == pytest.approx(f.needed - f.margin)
            if f.check == "rolling":  # the worst of all edges, whose parts are not followed
                continue
            assert f.error == pytest.approx(
                sum(abs(w) * file.shop.measurements[n].error for n, w in f.terms.items())
            )
