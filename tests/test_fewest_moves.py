"""The layout that moves least: by hand, and offered beside those that move everything."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from floorplan.checks.judge import judge
from floorplan.search.arrange import arrange
from floorplan.search.change import Draft
from floorplan.search.few_moves import few_moves
from floorplan.search.fewest import FewestMoves
from floorplan.search.rank import moved, rank, reparked, with_fewest_moves
from floorplan.search.screening import certified, demanding, required, screened
from floorplan.search.setting import movable_names, movable_spots
from floorplan.shop.model import Pose
from floorplan.shop.reader import ShopFile, parse
from tests.shops import random_plan

SHOP = """
shop: few
units: m
tape: 0.003
room: {size: [6, 5], height: 2.6}
doors:
  front: {wall: south, at: 2.4, width: 1, height: 2.1, kind: opening, leads to: outside}
priorities: [walking]
equipment:
  bench: {width: 1.6, depth: 0.7, height: 0.9, may: move and turn, at: {x: 0.2, y: 4.0, turn: 0},
    zones: {stand: {side: front, depth: 0.7, purpose: stand}}}
  cupboard: {width: 0.8, depth: 0.5, height: 1.9, may: move and turn, at: {x: 5.0, y: 4.3, turn: 0}}
  table: {width: 1.4, depth: 0.8, height: 0.8, may: move and turn, at: {x: 4.0, y: 0.3, turn: 0}}
  stool: {width: 0.5, depth: 0.5, height: 0.6, may: move, at: {x: {stool}, y: 3.4, turn: 0}}
tasks: {work: {uses: [bench]}}
jobs: {shelf: {walk: [{from: bench, to: table, times: 4}]}}
"""


def shop(stool: float) -> ShopFile:
    return parse(SHOP.replace("{stool}", str(stool)))


def fewest(file: ShopFile) -> tuple[str, ...] | None:
    """Which things the layout that moves least moves."""
    few = FewestMoves(
        file.shop, file.layout, movable_names(file.shop, file.layout),
        movable_spots(file.shop, file.layout), 1,
    )  # fmt: skip
    made = few.found(
        judge(file.shop, file.layout),
        lambda at: certified(screened(file.shop, at)),
        lambda: False,
    )
    if made is None:
        return None
    assert judge(file.shop, made.layout).verdict == "passes"
    return moved(file.shop, made.layout, file.layout)


def test_only_what_stands_in_the_way_is_moved() -> None:
    """The stool stands where one works at the bench (y 3.3 to 4.0): it, or the bench, must go."""
    file = shop(0.6)
    found = fewest(file)
    assert found is not None
    assert len(found) == 1
    assert set(found) <= {"stool", "bench"}


def test_what_stays_and_fails_is_not_placed_round() -> None:
    """Bench and stool fail each other: with the table alone free no layout is looked for."""
    file = shop(0.6)
    now = judge(file.shop, file.layout)
    pair = {"bench", "stool"}
    assert all(pair >= set(f.about) for f in now.failing)
    few = FewestMoves(
        file.shop, file.layout, movable_names(file.shop, file.layout),
        movable_spots(file.shop, file.layout), 1,
    )  # fmt: skip
    assert few._stays_wrong(now, frozenset({"table", "cupboard"}))
    assert not few._stays_wrong(now, frozenset({"table", "stool"}))
    made = few._placed(frozenset({"table", "cupboard"}), lambda at: judge(file.shop, at))
    assert made is None or made.verdict != "passes"


@pytest.mark.parametrize("seed", range(6))
def test_what_is_asked_in_short_is_what_every_check_finds(seed: int) -> None:
    """Verdict and what fails are those of the full judgement, on random shops."""
    file = parse(random_plan(Random(seed), 4).text())
    made = judge(file.shop, file.layout)
    short = required(file.shop, file.layout)
    brief = required(file.shop, file.layout, briefly=True)
    assert short.verdict == made.verdict
    assert (brief.verdict == "passes") == (made.verdict == "passes")
    certain = [f for f in made.failing if f.check not in ("carrying", "rolling")]
    assert [f.message for f in short.failing if f.check not in ("carrying", "rolling")] == [
        f.message for f in certain
    ]


@pytest.mark.parametrize("rule", ["reach-across", "feed-support"])
def test_advice_that_the_user_requires_is_asked(rule: str) -> None:
    file = shop(2.5)
    names = {name for name, _ in demanding(file.shop)}
    assert names.isdisjoint({"reach", "support", "walking", "open-floor"})
    hard = replace(file.shop, rules=file.shop.rules.with_override(rule, kind="required"))
    assert len(demanding(hard)) == len(names) + 1


def test_it_is_offered_beside_those_that_move_more() -> None:
    """With one layout more than it needs a rank of its own, best for moves."""
    file = shop(0.6)
    found = arrange(file.shop, file.layout, effort=400)
    counts = [len(moved(file.shop, row.layout, file.layout)) for row in found.layouts]
    assert all(row.judgement.verdict == "passes" for row in found.layouts)
    assert min(counts) == 1
    assert "moves" in found.layouts[counts.index(1)].best_for or counts.count(1) > 1


def test_where_today_passes_nothing_is_looked_for() -> None:
    file = shop(2.5)
    assert not judge(file.shop, file.layout).failing
    found = arrange(file.shop, file.layout, effort=300)
    assert found.layouts


def test_the_last_place_is_given_only_to_one_that_moves_fewer_and_differs() -> None:
    file = shop(0.6)
    today = file.layout
    far = today.with_pose("table", Pose.at(0.3, 0.3, 0.0)).with_pose("stool", Pose.at(2, 2, 0.0))
    other = far.with_pose("cupboard", Pose.at(3.0, 4.3, 0.0))
    few = today.with_pose("stool", Pose.at(3.0, 2.5, 0.0))
    near = today.with_pose("table", Pose.at(4.1, 0.3, 0.0)).with_pose("stool", Pose.at(3, 2.5, 0))
    shop_ = file.shop
    # two and three things against one
    assert with_fewest_moves(shop_, [far, other, few], today, [0, 1], 2) == [0, 2]
    assert with_fewest_moves(shop_, [far, other, few], today, [0, 1], 3) == [0, 1, 2]
    # it is there already, or what is there moves no more
    assert with_fewest_moves(shop_, [far, other, few], today, [0, 2], 2) == [0, 2]
    assert with_fewest_moves(shop_, [far, far], today, [0], 3) == [0]
    # a table 10 cm aside is no other layout
    assert with_fewest_moves(shop_, [near, few], today, [0], 3) == [0]


def test_it_is_told_as_changes_that_pass() -> None:
    file = shop(0.6)
    now = judge(file.shop, file.layout)
    (change,), to_its_end = few_moves(Draft(file.shop, file.layout), now)
    assert to_its_end
    assert change.verified.verdict == "passes"
    last = change.steps[-1].draft.layout
    for step in change.steps:
        assert step.text.split()[0] in ("shift", "turn")
        assert change.verified.layout.pose(step.thing) == last.pose(step.thing)


def test_a_search_that_reaches_its_bound_says_so(monkeypatch) -> None:
    """With next to no items to put back nothing is found, and that is told, not hidden."""
    monkeypatch.setattr("floorplan.search.few_moves.MOST_TRIED", -1)
    file = shop(0.6)
    now = judge(file.shop, file.layout)
    assert few_moves(Draft(file.shop, file.layout), now) == ((), False)


def test_another_parked_place_is_told_where_nothing_else_moves() -> None:
    text = SHOP.replace("{stool}", "3.0").replace(
        "at: {x: 3.0, y: 3.4, turn: 0}}",
        "on wheels: yes, at: {x: 3.0, y: 3.4, turn: 0}, parked: {x: 0.2, y: 2.0, turn: 0}}",
    )
    file = parse(text)
    there = file.layout.with_pose("stool", Pose.at(4.0, 2.0, 0.0), "parked")
    assert moved(file.shop, there, file.layout) == ()
    assert reparked(file.shop, there, file.layout) == ("stool",)
    (only,) = rank([judge(file.shop, there)], file.layout, show=1, priorities=file.shop.priorities)
    assert "where stool is parked" in only.reason
    (same,) = rank(
        [judge(file.shop, file.layout)], file.layout, show=1, priorities=file.shop.priorities
    )
    assert same.reason.endswith("nothing has to move")
