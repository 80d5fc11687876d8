"""The first shop file can be read at once, is commented, and its shop works as it stands."""

from __future__ import annotations

import pytest

from floorplan.checks.judge import judge
from floorplan.shop.edit import EditError
from floorplan.shop.reader import parse
from floorplan.shop.starter import starter_text
from floorplan.units import System


@pytest.mark.parametrize("metric", [False, True])
def test_it_reads_at_once_and_nothing_required_fails(metric: bool) -> None:
    file = parse(starter_text("my shop", metric))
    assert file.shop.name == "my shop"
    assert file.shop.system is (System.METRIC if metric else System.IMPERIAL)
    answer = judge(file.shop, file.layout)
    assert [f.message for f in answer.failing] == []
    assert answer.verdict == "passes"
    assert answer.measures["walking"].value > 0
    assert any(f.check == "feeding" and f.task == "rip a sheet" for f in answer.findings)


@pytest.mark.parametrize("metric", [False, True])
def test_it_explains_itself(metric: bool) -> None:
    text = starter_text("my shop", metric)
    comments = sum("#" in line for line in text.splitlines())
    assert comments >= 20
    assert "<" not in text


@pytest.mark.parametrize("metric", [False, True])
@pytest.mark.parametrize("start", ["  # posts:\n", "# places:\n", "# rules:  "])
def test_what_is_commented_out_can_be_switched_on(start: str, metric: bool) -> None:
    lines = starter_text("my shop", metric).splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith(start.rstrip("\n")))
    for i in (first, first + 1):
        lines[i] = lines[i].replace("# ", "", 1)
    assert parse("\n".join(lines)).shop.name == "my shop"


def test_the_other_commented_examples_can_be_switched_on() -> None:
    text = starter_text("my shop")
    for example in (
        "may: stay",
        "turns: [0, 90]",
        "band saw: {kind",
        "clamp room: {front",
        "priorities: [",
    ):
        assert f"# {example}" in text
        text = text.replace(f"# {example}", example)
    shop = parse(text).shop
    assert shop.thing("saw").freedom.moves is False
    assert shop.has("band saw")


@pytest.mark.parametrize("name", ["no", "12:30", "a # b", "x: y", 'it\'s "mine"', "  "])
def test_any_name_comes_back_as_it_was_given(name: str) -> None:
    assert parse(starter_text(name)).shop.name == (name.strip() or "my shop")


def test_a_name_of_two_lines_is_made_one_and_an_unprintable_one_refused() -> None:
    assert parse(starter_text("my\nshop")).shop.name == "my shop"
    with pytest.raises(EditError):
        starter_text("a\x07b")
