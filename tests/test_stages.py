"""A shop over years: what is there when, what binds before it comes, what a stage costs.

Expected numbers are worked by hand beside each test.
"""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import pytest

from floorplan.checks.judge import judge
from floorplan.checks.judge_stages import judge_stages
from floorplan.checks.stage_changes import holes_of
from floorplan.cli.main import main
from floorplan.shop.faults import ShopFileError
from floorplan.shop.plan import Span
from floorplan.shop.reader import parse
from floorplan.shop.stages import layout_at, shop_at
from floorplan.units import TOLERANCE

ROOM = """\
shop: trial
tape: 0
room: {size: [12', 16'], height: 8'}
doors:
  door: {wall: south, at: 4', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
         leads to: outside}
stages:
  now: {}
  second bench: {when: in two years}
  collector: {when: some day}
"""
TWO = """\
equipment:
  bench: {width: 5', depth: 2', height: 34 in, at: {x: 0, y: 12', turn: 0}}
  cupboard: {width: 2', depth: 2', height: 6', at: {x: 8', y: 12', turn: 0}}
"""


def faults(text: str) -> str:
    with pytest.raises(ShopFileError) as caught:
        parse(text)
    return str(caught.value)


def there(text: str) -> list[set[str]]:
    """Things of each stage."""
    shop = parse(text).shop
    assert shop.plan is not None
    return [{t.name for t in shop_at(shop, i).things} for i in range(len(shop.plan.stages))]


# --- what is there when --------------------------------------------------------------------


def test_spans_by_brute_force() -> None:
    ends = [(a, b) for a in range(4) for b in range(a, 4)]
    for (a, b), (c, d) in product(ends, ends):
        one, two = set(range(a, b + 1)), set(range(c, d + 1))
        assert Span(a, b).meets(Span(c, d)) == bool(one & two)
        common = Span(a, b).common(Span(c, d))
        assert set(range(common.first, common.last + 1)) == one & two
        assert [s in Span(a, b) for s in range(4)] == [s in one for s in range(4)]


def test_a_thing_is_there_from_and_until() -> None:
    names = ["now", "second bench", "collector"]
    for first, last in product([None, 0, 1, 2], [None, 0, 1, 2]):
        low, high = first or 0, 2 if last is None else last
        words = "" if first is None else f", from: {names[first]}"
        words += "" if last is None else f", until: {names[last]}"
        text = ROOM + TWO.replace("height: 34 in,", f"height: 34 in{words},")
        if low > high:
            assert "is before" in faults(text)
            continue
        found = ["bench" in things for things in there(text)]
        assert found == [low <= stage <= high for stage in range(3)]


def test_a_replacement_takes_the_place_and_the_part_of_the_other() -> None:
    text = ROOM + TWO + (
        "  big bench: {width: 6', depth: 30 in, height: 34 in, replaces: bench,\n"
        "              from: second bench}\n"
        "jobs:\n  work: {walk: [bench, cupboard]}\n"
    )  # fmt: skip
    file = parse(text)
    assert [things - {"cupboard"} for things in there(text)] == [
        {"bench"}, {"big bench"}, {"big bench"},
    ]  # fmt: skip
    assert [shop_at(file.shop, i).jobs[0].legs[0].start for i in range(3)] == [
        "bench", "big bench", "big bench",
    ]  # fmt: skip
    # the backs are flush at y = 14 ft; middle to middle it would begin at x = -6 in: slid to 0
    pose = layout_at(file.shop, file.layout, 1).pose("big bench")
    assert pose is not None
    assert pose.x.value == pytest.approx(0.0, abs=TOLERANCE)
    assert pose.y.value == pytest.approx((14 * 12 - 30) * 0.0254, abs=TOLERANCE)
    judged = judge_stages(file.shop, file.layout)
    assert judged.changes[1].new == ("big bench",)
    assert judged.changes[1].gone == ("bench",)
    assert judged.measures["stage changes"].value == 0


def test_a_moved_thing_and_a_replacement_elsewhere_are_counted() -> None:
    text = ROOM + TWO.replace(
        "turn: 0}}\n  cup", "turn: 0}, stages: {collector: {at: {x: 1', y: 12', turn: 0}}}}\n  cup"
    ) + (
        "  shelf: {width: 2', depth: 2', height: 5', replaces: cupboard, from: second bench,\n"
        "          at: {x: 8', y: 4', turn: 0}}\n"
    )  # fmt: skip
    judged = judge_stages(*_shop(text))
    assert judged.changes[1].rebuilt == ("shelf not in the place of cupboard",)
    assert judged.changes[2].moved == ("bench",)
    assert [c.count for c in judged.changes] == [0, 1, 1]
    assert judged.measures["stage changes"].value == 2


def _shop(text: str):  # type: ignore[no-untyped-def]
    file = parse(text)
    return file.shop, file.layout


# --- what binds before it comes ------------------------------------------------------------

DUCT = """\
air:
  collector:
    from: collector
    fan: {flow: [0 cfm, 800 cfm, 1600 cfm], pressure: [12 in wg, 9 in wg, 0 in wg]}
  runs:
    main:
      from: planer
      from stage: collector
      path: [[72 in, 120 in, 20 in], [72 in, 120 in, 84 in], [9', 120 in, 84 in],
             [9', 17', 84 in]]
      diameter: 6 in
"""
PLANER = """\
  planer: {width: 2', depth: 2', height: 34 in, from: second bench,
           at: {x: 60 in, y: 7', turn: 0}, ports: {main: {at: [1', 0], height: 20 in,
           diameter: 6 in}}}
"""


def test_the_strip_of_a_later_duct_binds_now() -> None:
    # the duct's underside is 84 - 3 = 81 in; it passes over x = 105 to 111 in at y = 12 ft:
    # a cupboard of 81 in touches it, one of 82 in stands 1 in into it
    for tall, verdict in ((81, "passes"), (82, "fails")):
        text = ROOM + TWO.replace("height: 6'", f"height: {tall} in") + PLANER + DUCT
        judged = judge_stages(*_shop(text))
        assert [made.verdict for made in judged.stages][:2] == [verdict, verdict]
        now = judged.stages[0]
        about = [f for f in now.findings if f.rule == "duct-strip" and "cupboard" in f.about]
        assert about[0].verdict == verdict
        assert now.shop.air is None
        last = judged.stages[2]
        assert last.shop.air is not None
        assert [run.later for run in last.shop.air.runs] == [False]
    without = ROOM + TWO.replace("height: 6'", "height: 82 in")
    assert judge_stages(*_shop(without)).stages[0].verdict == "passes"


def test_the_duct_cuts_one_hole_when_it_comes() -> None:
    shop, layout = _shop(ROOM + TWO + PLANER + DUCT)
    judged = judge_stages(shop, layout)
    assert judged.changes[1].holes == ()
    # it ends 1 ft beyond the north wall
    assert judged.changes[2].holes == ("duct main",)
    assert shop.air is not None
    assert holes_of(shop.air.runs[0], shop.room) == 1


def test_holes_counted_by_hand() -> None:
    text = ROOM + TWO + PLANER + DUCT
    for path, holes in (
        ("[[1', 1', 7'], [5', 1', 7']]", 0),
        ("[[1', 1', 7'], [12', 1', 7']]", 0),  # ends on the wall's inner face
        ("[[1', 1', 7'], [13', 1', 7']]", 1),
        ("[[1', 1', 7'], [13', 1', 7'], [13', 5', 7'], [5', 5', 7']]", 2),
        ("[[1', 1', 7'], [1', 1', 9']]", 1),  # through the ceiling
    ):
        start = text.index("path: ") + 6
        changed = text[:start] + path + text[text.index("\n      diameter: 6 in\n") :]
        air = parse(changed).shop.air
        assert air is not None
        assert holes_of(air.runs[0], parse(changed).shop.room) == holes, path


def test_a_later_keep_clear_binds_now_and_an_earlier_one_no_longer() -> None:
    here = "{at: [0, 12'], size: [1', 1'], "
    for words, verdicts in (
        ("from: collector}", ["fails", "fails", "fails"]),
        ("until: now}", ["fails", "passes", "passes"]),
        ("from: second bench, until: second bench}", ["fails", "fails", "passes"]),
    ):
        room = ROOM.replace("height: 8'}", f"height: 8', keep clear: {{hatch: {here}{words}}}}}")
        judged = judge_stages(*_shop(room + TWO))
        assert [made.verdict for made in judged.stages] == verdicts


def test_what_a_later_panel_keeps_clear_binds_now() -> None:
    # NEC 110.26(A)(2): 30 in wide or the width of the equipment; it stands over the bench's end
    panel = (
        "fixed:\n  panel: {kind: electrical panel, from: collector, at: {wall: west, along: 12'}}\n"
    )
    judged = judge_stages(*_shop(ROOM + panel + TWO))
    now = judged.stages[0]
    assert not now.shop.has("panel")
    assert now.verdict == "fails"
    assert any("panel to come" in f.message for f in now.failing)
    clear = panel.replace("12'", "5'")
    assert judge_stages(*_shop(ROOM + clear + TWO)).stages[0].verdict == "passes"


def test_a_later_thing_itself_does_not_bind() -> None:
    text = ROOM + TWO + (
        "  cart: {width: 2', depth: 2', height: 3', until: now, at: {x: 1', y: 5', turn: 0}}\n"
        "  drill: {width: 2', depth: 2', height: 5', from: second bench, at: {x: 1', y: 5'}}\n"
    )  # fmt: skip
    judged = judge_stages(*_shop(text))
    assert [made.verdict for made in judged.stages] == ["passes"] * 3
    both = judge(*_shop(text.replace(", until: now", "")))
    assert both.verdict == "fails"


def test_an_opening_may_take_the_place_of_another() -> None:
    text = ROOM.replace("stages:", "windows:\n  pane: {wall: west, at: 2', width: 3', sill: 3',\n"
        "         height: 3', until: now}\nstages:", 1).replace(
        "doors:\n", "doors:\n  side: {wall: west, at: 2', width: 3', height: 80 in,\n"
        "         leads to: outside, from: collector}\n", 1) + TWO  # fmt: skip
    judged = judge_stages(*_shop(text))
    assert judged.changes[2].holes == ("side in the west wall",)
    assert "overlap in the same wall" in faults(text.replace(", until: now", ""))


# --- what a task or job needs --------------------------------------------------------------


def test_a_thing_gets_a_task_of_its_own_while_no_task_of_the_file_uses_it() -> None:
    saw = "  saw: {kind: cabinet table saw, at: {x: 4', y: 5', turn: 0}}\n"
    text = ROOM + TWO + saw + "tasks:\n  rip: {uses: [saw], open: [door], from: collector}\n"
    shop = parse(text).shop
    names = [[t.name for t in shop_at(shop, i).tasks] for i in range(3)]
    assert names == [["use saw"], ["use saw"], ["rip"]]


def test_a_job_that_needs_what_is_not_there_says_how_to_limit_it() -> None:
    text = ROOM + TWO.replace("height: 6',", "height: 6', from: second bench,")
    told = faults(text + "jobs:\n  work: {walk: [bench, cupboard]}\n")
    assert "<text>:15:" in told
    assert "job `work` needs `cupboard`, which is there only in second bench to collector" in told
    assert "add `from: second bench`" in told
    parse(text + "jobs:\n  work: {walk: [bench, cupboard], from: second bench}\n")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("height: 34 in,", "height: 34 in, from: second bensh,", "did you mean `second bench`?"),
        ("height: 34 in,", "height: 34 in, from: collector, until: now,", "is before `collector`"),
        ("height: 34 in,", "height: 34 in, untill: now,", "did you mean `until`?"),
        ("height: 34 in,", "height: 34 in, replaces: cupbord, from: collector,",
         "did you mean `cupboard`?"),
        ("height: 34 in,", "height: 34 in, replaces: bench, from: collector,",
         "cannot replace itself"),
        ("height: 34 in,", "height: 34 in, replaces: cupboard,", "from which stage on?"),
        ("height: 34 in,", "height: 34 in, stages: {now: {at: {x: 0, y: 0}}},",
         "the first stage of `bench`"),
        ("height: 34 in,", "height: 34 in, until: now, stages: {collector: {at: {x: 0, y: 0}}},",
         "`bench` is not there in stage `collector`"),
        ("stages:\n  now: {}", "stages:\n  now: {}\n  Now: {}", "have the same name"),
        ("  now: {}\n  second bench: {when: in two years}\n  collector: {when: some day}\n",
         "  {}\n", "no stage is named"),
        ("when: some day", "date: some day", "`date` is not known here"),
    ],
)  # fmt: skip
def test_faults_say_what_would_be_right(old: str, new: str, message: str) -> None:
    text = ROOM + TWO
    assert old in text
    parse(text)
    assert message in faults(text.replace(old, new, 1))


def test_a_file_without_stages_refuses_words_about_them() -> None:
    text = ROOM[: ROOM.index("stages:")] + TWO.replace("34 in,", "34 in, from: collector,")
    assert "the file has none" in faults(text)


def test_two_may_not_replace_the_same() -> None:
    text = ROOM + TWO + (
        "  a: {width: 2', depth: 2', height: 5', replaces: cupboard, from: second bench}\n"
        "  b: {width: 2', depth: 2', height: 5', replaces: cupboard, from: collector}\n"
    )  # fmt: skip
    assert "`cupboard` is replaced by `a` already" in faults(text)
    parse(text.replace("replaces: cupboard, from: collector", "replaces: a, from: collector"))


def test_stages_as_a_list_with_names() -> None:
    start, end = ROOM.index("  now: {}"), len(ROOM)
    listed = "  - name: now\n  - {name: second bench, when: in two years}\n  - {name: collector}\n"
    text = ROOM[:start] + listed + ROOM[end:] + TWO
    assert there(text) == there(ROOM + TWO)


# --- one stage is no plan ------------------------------------------------------------------

DEMO = Path(__file__).parents[1] / "layouts" / "long-narrow-metric.yaml"


def _answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    main([*arguments, "--json", "--no-figures"])
    return capsys.readouterr().out


@pytest.mark.parametrize("command", ["check", "sheet", "ducts"])
def test_one_stage_answers_byte_for_byte_as_none(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "shop.yaml"
    plain = DEMO.read_text(encoding="utf-8")
    path.write_text(plain, encoding="utf-8")
    without = _answer(capsys, command, str(path))
    path.write_text(plain + "\nstages: {now: {when: today}}\n", encoding="utf-8")
    assert _answer(capsys, command, str(path)) == without


def test_check_answers_for_every_stage(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(ROOM + TWO.replace("height: 6'", "height: 82 in") + PLANER + DUCT)
    assert main(["check", str(path), "--json", "--no-figures"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["verdict"] == "fails"
    assert [row["stage"] for row in data["stages"]] == ["now", "second bench", "collector"]
    assert {f["stage"] for f in data["findings"]} == {"now", "second bench", "collector"}
    assert data["stages"][2]["changes"]["holes"] == ["duct main"]
    for stage in ("now", "collector"):
        main(["check", str(path), "--stage", stage, "--json", "--no-figures"])
        alone = json.loads(capsys.readouterr().out)
        row = next(r for r in data["stages"] if r["stage"] == stage)
        assert alone["stage"] == stage
        for key in ("verdict", "findings", "measures"):
            assert alone[key] == row[key]
    assert main(["check", str(path), "--stage", "colector"]) == 2
    assert "did you mean `collector`?" in capsys.readouterr().err
