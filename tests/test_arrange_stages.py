"""Plans over years searched together: by hand in small rooms, and against each stage by itself."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from floorplan.cli.main import main
from floorplan.search.arrange_stages import StagedArrangement, arrange_stages
from floorplan.search.clashes import violations
from floorplan.search.plans import plan_priorities
from floorplan.search.problem import State
from floorplan.search.setting import Demands
from floorplan.search.staged_placement import StagedPlacement, StagedWishes
from floorplan.search.ways_wish import BLOCKED_SHARE
from floorplan.search.wishes import Wishes
from floorplan.shop.reader import parse
from floorplan.shop.stages import layout_at, shop_at

FOOT = 0.3048
# Everything stands square to the room.  The bench is 4 ft wide and slides along the north wall;
# its owner walks from it to a point in the middle of a room 10 ft wide: alone it stands in the
# middle, x = 3 ft, and leaves 3 ft on either side.  The press to come is 5 ft 10 in wide and
# 3 ft 6 in deep; in a room 5 ft deep it cannot stand before or behind the bench, so it needs
# 5 ft 10 in beside it: the bench must stand within 2 in of the west or the east wall.
NARROW = """\
shop: narrow
tape: 0
room: {size: [10', 5'], height: 8'}
stages:
  now: {}
  later: {when: next year}
equipment:
  bench: {width: 4', depth: 2', height: 3', may: slide, along: north, at: {x: 3', y: 3', turn: 0},
          zones: {front: {side: front, depth: 18 in, purpose: stand}}}
  press: {width: 5' 10", depth: 3' 6", height: 5', turns: [0], from: later}
places:
  middle: {x: 5', y: 6"}
jobs:
  work: {walk: [{from: bench, to: middle, times: 10}]}
"""


def plans(text: str, effort: int = 150) -> StagedArrangement:
    file = parse(text)
    return arrange_stages(file.shop, file.layout, effort=effort)


def west(found: StagedArrangement, stage: int, thing: str) -> float:
    """Of the best plan [ft]."""
    pose = found.layouts[0].judged.stages[stage].layout.pose(thing)
    assert pose is not None
    return pose.x.value / FOOT


def test_the_future_moves_the_bench_out_of_the_middle() -> None:
    found = plans(NARROW)
    best = found.layouts[0].judged
    assert best.verdict == "passes"
    now = west(found, 0, "bench")
    assert now <= 2 / 12 + 1e-6 or now >= 6 - 2 / 12 - 1e-6
    assert west(found, 1, "bench") == now
    assert best.measures["stage changes"].value == 0
    assert found.future is not None
    lone = found.future.lone.layout.pose("bench")
    assert lone is not None
    assert abs(lone.x.value / FOOT - 3) < 1
    assert found.future.differs == ("bench",)
    assert found.future.because == ("it leaves no place for press in stage later",)


def test_without_anything_to_come_the_present_is_its_own() -> None:
    found = plans(NARROW.replace(', from: later}', ', until: now, from: now}').replace(
        "  press:", "  box: {width: 1', depth: 1', height: 1', turns: [0], from: later}\n  press:"
    ).replace("5' 10\"", "2'"))  # fmt: skip
    assert found.future is not None
    assert found.future.differs == ()
    assert found.future.text == "The present stands as it would without its future"


def test_a_later_strip_is_named_as_the_reason() -> None:
    # the duct comes down at x = 5 ft, y = 4 ft, in the middle of where the bench would stand;
    # 6 in wide it leaves 4 ft 9 in on either side
    text = NARROW.replace("  press:", "  fan: {width: 6 in, depth: 6 in, height: 2', turns: [0],"
        " at: {x: 9' 6\", y: 0}, may: stay, ports: {out: {at: [3 in, 0], height: 1',"
        " diameter: 6 in}}}\n  press:").replace("5' 10\", depth: 3' 6\"", "2', depth: 2'") + (
        "air:\n  runs:\n    main: {from: fan, from stage: later, diameter: 6 in,\n"
        "           path: [[5', 4', 1'], [5', 4', 7'], [5', 6', 7']]}\n"
    )  # fmt: skip
    found = plans(text)
    now = west(found, 0, "bench")
    assert now <= 0.75 + 1e-6 or now >= 5.25 - 1e-6
    assert found.future is not None
    assert "bench" in found.future.differs
    assert found.future.because[0].startswith("bench stands in strip for main")
    assert found.future.because[0].endswith("(stage now)")


SWAPPED = """\
shop: swapped
tape: 0
room: {size: [10', 5'], height: 8'}
stages: {now: {}, later: {}}
equipment:
  bench: {width: 4', depth: 2', height: 3', turns: [0], at: {x: 0, y: 3', turn: 0}}
  east box: {width: 5', depth: 4', height: 3', may: stay, until: now, at: {x: 5', y: 0, turn: 0}}
  west box: {width: 5', depth: 4', height: 3', may: stay, from: later, at: {x: 0, y: 0, turn: 0}}
"""


def test_what_cannot_keep_its_place_is_moved_once_and_counted() -> None:
    found = plans(SWAPPED)
    best = found.layouts[0].judged
    assert best.verdict == "passes"
    assert best.changes[1].moved == ("bench",)
    assert best.measures["stage changes"].value == 1
    assert west(found, 0, "bench") <= 1 + 1e-6
    assert west(found, 1, "bench") >= 5 - 1e-6


def test_what_never_fits_is_said_stage_by_stage() -> None:
    text = SWAPPED.replace("until: now", "from: now").replace("5', depth: 4'", "5', depth: 5'")
    found = plans(text, effort=60)
    assert found.layouts[0].judged.verdict == "fails"
    assert found.clash
    assert found.future is None


def test_a_replacement_stays_in_the_place_of_the_other_where_it_can() -> None:
    text = SWAPPED.replace(
        "  west box",
        "  big bench: {width: 4' 6\", depth: 2', height: 3', turns: [0], replaces: bench,\n"
        "              from: later}\n  west box",
    ).replace("x: 0, y: 0, turn", "x: 5', y: 0, turn")
    found = plans(text)
    best = found.layouts[0].judged
    assert best.verdict == "passes"
    assert best.changes[1].rebuilt == ()
    assert best.measures["stage changes"].value == 0


# --- the joint problem against each stage by itself ------------------------------------------

THREE = """\
shop: three
tape: 1/8 in
room: {size: [12', 12'], height: 8', keep clear: {hatch: {at: [9', 9'], size: [2', 2'], until: b}}}
doors:
  door: {wall: south, at: 4', width: 36 in, clear width: 34 in, height: 80 in, leads to: outside}
stages: {a: {}, b: {}, c: {}}
equipment:
  saw: {kind: portable table saw, at: {x: 3', y: 4', turn: 0}, until: b}
  bench: {kind: workbench, at: {x: 1', y: 9', turn: 0}}
  press: {kind: drill press, at: {x: 9', y: 2', turn: 0}, from: b}
  rack: {width: 4', depth: 1', bottom: 4', height: 6', may: move and turn, from: c,
         at: {x: 5', y: 11'}}
tasks:
  drill: {uses: [press], from: c}
jobs:
  work: {walk: [saw, bench, door], feed: {length: 3', width: 1', thickness: 3/4", through: saw},
         until: b}
"""


def _question(text: str, demands: Demands) -> StagedPlacement:
    file = parse(text)
    assert file.shop.plan is not None
    numbers = range(len(file.shop.plan.stages))
    return StagedPlacement(
        tuple(shop_at(file.shop, i) for i in numbers),
        tuple(layout_at(file.shop, file.layout, i) for i in numbers),
        ("saw", "bench", "press", "rack"),
        demands,
    )


@pytest.mark.parametrize("reserve", [True, False])
def test_a_plan_is_feasible_just_where_every_stage_is(reserve: bool) -> None:
    setting = _question(THREE, Demands(reserve=reserve)).setting
    dice = np.random.default_rng(1)
    seen = {True: 0, False: 0}
    for _ in range(60):
        state = State.empty(4)
        for i in dice.choice(4, size=2, replace=False):
            item = setting.problem.items[i]
            state.put(int(i), int(dice.integers(len(item.turns))), dice.uniform(0.0, 2.6, 2))
        alone = [
            not violations(part.problem, setting.part(state, number))
            for number, part in enumerate(setting.settings)
        ]
        joint = not violations(setting.problem, state)
        assert joint == all(alone)
        seen[joint] += 1
    assert min(seen.values()) >= 2, seen


def test_the_cost_of_a_plan_is_that_of_its_stages() -> None:
    question = _question(THREE, Demands())
    setting = question.setting
    state = question.start
    each = [
        (Wishes(part), setting.part(state, number)) for number, part in enumerate(setting.settings)
    ]
    standing = sum(wishes.standing(part) for wishes, part in each)
    blocked = sum(wishes.blocked(part) for wishes, part in each)
    joint = StagedWishes(setting)
    assert blocked == joint.blocked(state)
    assert joint.total(state) == pytest.approx(standing * (1.0 + BLOCKED_SHARE * blocked))


def test_pieces_that_are_the_same_in_every_stage_are_one() -> None:
    setting = _question(THREE, Demands()).setting
    bench = setting.problem.items[1]
    each = [part.problem.items[setting.at[i][1]] for i, part in enumerate(setting.settings)]
    assert {len(item.pieces[0]) for item in each} == {len(bench.pieces[0])}
    assert len(setting.problem.fixed) < sum(len(s.problem.fixed) for s in setting.settings)


def test_changes_count_before_walking_unless_the_file_says_otherwise() -> None:
    assert plan_priorities(("required rules", "walking", "moves")) == (
        "required rules", "stage changes", "walking", "moves",
    )  # fmt: skip
    own = ("required rules", "walking", "stage changes")
    assert plan_priorities(own) == own
    assert plan_priorities(("required rules",)) == ("required rules", "stage changes")


# --- the command ------------------------------------------------------------------------------


def _run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    status = main([*arguments, "--no-figures"])
    return status, capsys.readouterr().out


def test_a_plan_is_written_back_and_read_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, target = tmp_path / "swapped.yaml", tmp_path / "new.yaml"
    path.write_text("# kept\n" + SWAPPED, encoding="utf-8")
    status, out = _run(
        capsys, "arrange", str(path), "--effort", "100", "--json", "--write", str(target)
    )
    assert status == 0
    data = json.loads(out)
    best = data["layouts"][0]
    assert best["poses"] == best["stages"][0]["poses"]
    assert [row["stage"] for row in best["stages"]] == ["now", "later"]
    assert best["stages"][1]["changes"]["moved"] == ["bench"]
    text = target.read_text(encoding="utf-8")
    assert text.startswith("# kept\n")
    assert "stages: {later: {at:" in text
    status, out = _run(capsys, "check", str(target), "--json")
    assert status == 0
    again = json.loads(out)
    for row, old in zip(again["stages"], best["stages"], strict=True):
        assert row["poses"] == old["poses"]


def test_one_stage_arranges_byte_for_byte_as_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = NARROW[: NARROW.index("stages:")] + NARROW[NARROW.index("equipment:") :]
    plain = plain.replace(", from: later", "")
    path = tmp_path / "shop.yaml"
    answers = []
    for text in (plain, plain + "stages: {now: {}}\n"):
        path.write_text(text, encoding="utf-8")
        answers.append(_run(capsys, "arrange", str(path), "--effort", "100", "--json"))
    assert answers[0] == answers[1]


def test_the_same_seed_gives_the_same_plan() -> None:
    one, two = (plans(NARROW, effort=100) for _ in range(2))
    poses = [[made.layout.poses for made in found.layouts[0].judged.stages] for found in (one, two)]
    assert poses[0] == poses[1]


def test_one_stage_of_a_plan_can_be_arranged_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(SWAPPED, encoding="utf-8")
    status, out = _run(capsys, "arrange", str(path), "--stage", "later", "--effort", "60", "--json")
    assert status == 0
    data = json.loads(out)
    assert data["stage"] == "later"
    assert set(data["layouts"][0]["poses"]) == {"bench", "west box"}
