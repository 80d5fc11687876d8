"""A change that holds at every stage of a plan: rooms with the sum done first."""

import json

import pytest

from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.report.fix import staged_fix_data, staged_fix_text
from floorplan.search.fix import fix
from floorplan.search.fix_stages import fix_at_all
from floorplan.shop.reader import parse

BETWEEN = """\
shop: over years
units: m
tape: 0
room: {size: [4, 3], height: 2.5}
stages: {now: {}, later: {when: in a year}}
equipment:
  bench: {width: 1.0, depth: 0.5, height: 0.9, may: move, at: {x: 1.5, y: 1}}
  rack: {width: 0.6, depth: 3, height: 1, may: stay, at: {x: 1.2, y: 0}, until: now}
  cabinet: {width: 0.5, depth: 3, height: 2, may: stay, at: {x: 2.6, y: 0}, from: later}
"""


def fixed(text, most=5):
    """What is found, each stage of each change judged once more."""
    found = fix_at_all(parse(text), most=most)
    for change in found.changes:
        for made in change.verified.stages:
            assert judge(made.shop, made.layout).verdict == "passes", change.text
    return found


def test_the_near_way_out_of_today_is_in_the_way_later():
    """East by 1.8 - 1.5 = 0.3 m it ends at 2.8, in the cabinet from 2.6; west it is 1.3 m."""
    now = fix(parse(BETWEEN).at(0), most=1).changes
    assert now[0].text == "shift bench 300 mm east"
    found = fixed(BETWEEN)
    assert [m.verdict for m in found.today.stages] == ["fails", "passes"]
    texts = [change.text for change in found.changes]
    assert texts[0] == "shift bench 1300 mm west"
    # cut off at its west end it keeps its east end at 2.5, before the cabinet
    assert "make bench 300 mm narrower, at its west end" in texts
    for change in found.changes:
        assert len({m.layout.pose("bench").x.value for m in change.verified.stages}) == 1


def test_nothing_is_said_of_a_plan_that_passes():
    found = fixed(BETWEEN.replace("x: 1.5, y: 1", "x: 0.1, y: 1"))
    assert found.changes == ()
    assert "Nothing has to be changed." in staged_fix_text(found, (), ())


STEP = """\
shop: over years
units: in
tape: {plan: 1/8, height: 1/16}
room: {size: [240, 200], height: 100}
stages: {now: {}, later: {}}
equipment:
  saw: {kind: cabinet table saw, width: 60, depth: 34, height: 34, surface: 34, may: stay,
    blade: {at: [22, 18], diameter: 10, depth of cut: 3}, at: {x: 90, y: 80}, from: later}
  bench: {width: 60, depth: 26, height: 35, surface: 35, at: {x: 90, y: 160}}
stock: {board: {length: 60, width: 12, thickness: 0.75}}
jobs: {table: {feed: {stock: board, through: saw, cut: rip, offset: 6}, from: later}}
"""


def test_what_only_fails_later_is_mended_at_both_stages():
    """The saw comes later, 34 in high; the bench is 1 in higher, each known to 1/16 in."""
    found = fixed(STEP, most=1)
    assert [m.verdict for m in found.today.stages] == ["passes", "fails"]
    first = found.changes[0]
    assert (first.steps[0].kind, first.steps[0].by / 0.0254) == ("feet", pytest.approx(-1.125))
    tops = [m.shop.thing("bench").surface.value / 0.0254 for m in first.verified.stages]
    assert tops == pytest.approx([33.875, 33.875])


TWO = BETWEEN.replace(
    "  cabinet: {width: 0.5, depth: 3, height: 2, may: stay, at: {x: 2.6, y: 0}, from: later}",
    "  shelf: {width: 0.4, depth: 0.4, height: 1, may: move, at: {x: 3.2, y: 0.5}}\n"
    "  cabinet: {width: 0.5, depth: 0.9, height: 2, may: stay, at: {x: 3.5, y: 0}, from: later}",
)


@pytest.mark.slow
def test_each_stage_may_need_a_change_of_its_own():
    """Now 0.3 m of bench stands in the rack, later 0.1 m of shelf in the cabinet."""
    found = fixed(TWO, most=1)
    assert [m.verdict for m in found.today.stages] == ["fails", "fails"]
    first = found.changes[0]
    assert {step.text for step in first.steps} == {
        "shift bench 300 mm east", "shift shelf 100 mm west",
    }  # fmt: skip


SHUT = """\
shop: over years
units: m
tape: 0
room: {size: [4, 3], height: 2.5}
stages: {now: {}, later: {}}
equipment:
  bench: {width: 1.2, depth: 2.6, height: 0.9, may: slide, along: south, at: {x: 1.1, y: 0}}
  rack: {width: 2, depth: 3, height: 1, may: stay, at: {x: 0, y: 0}, until: now}
  cabinet: {width: 2, depth: 3, height: 2, may: stay, at: {x: 2, y: 0}, from: later}
"""


@pytest.mark.slow
def test_what_no_change_puts_right_at_all_stages_is_said():
    """Now the floor is free from 2 m on, later up to 2 m: no place is free at both."""
    now = fix(parse(SHUT).at(0), most=1).changes  # a turn that goes as far comes after it
    assert now[0].text == "shift bench 900 mm east"
    found = fixed(SHUT, most=1)
    assert found.changes == ()
    text = staged_fix_text(found, (), ())
    assert "No change tried makes it pass" in text
    assert "makes it pass; it was" not in text


@pytest.mark.slow
def test_the_command_asks_all_stages_or_one(tmp_path, capsys):
    path = tmp_path / "shut.yaml"
    path.write_text(SHUT)
    assert main(["fix", str(path), "-o", str(tmp_path), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert (told["verdict"], told["fix"]) == ("fails", [])
    assert told["clash"] is None or told["clash"]["stage"] in ("now", "later")
    assert {name.rsplit(".", 1)[1] for name in told["files"]} == {"svg", "pdf", "png"}
    arguments = ["fix", str(path), "--stage", "now", "--show", "1", "-o", str(tmp_path), "--json"]
    assert main(arguments) == 0
    assert json.loads(capsys.readouterr().out)["fix"][0]["thing"] == "bench"


@pytest.mark.slow
def test_words_and_data_of_a_plan():
    found = fixed(TWO, most=1)
    text = staged_fix_text(found, (), ())
    assert "FAILS in 2 of 2 stages" in text
    assert "shift shelf 100 mm west" in text
    row = staged_fix_data(found)["fix"][0]
    assert (row["verified"], row["by"], row["kind"]) == (True, None, "shift")
