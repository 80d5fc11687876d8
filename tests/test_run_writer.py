"""Runs that were found are written as given ones and are the same runs when read again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.shop.edit import EditError
from floorplan.shop.exchange import exchange
from floorplan.shop.reader import parse
from floorplan.shop.run_writer import written_flow
from floorplan.units import System, parse_flow

GARAGE = """\
# a garage that was measured with a tape
shop: runs to write
room:
  size: [24', 30']
  height: 9'
doors:
  out: {wall: south, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  saw: {kind: cabinet table saw, at: {x: 120 in, y: 130 in},
        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}
  planer: {width: 24 in, depth: 24 in, height: 40 in, at: {x: 20 in, y: 250 in},
           ports: {main: {at: [12 in, 0], height: 40 in, diameter: 4 in}}}
air:
  collector:                # in the corner
    inlet: {at: [260 in, 340 in], height: 60 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
    filter: {clean: 0.4 in wg, dirty: 1.5 in wg, flow: 800 cfm}
  find:                     # what the shop can buy
    needs: {planer: 330 cfm}
    sizes: [4 in, 5 in]     # no larger in the shop round the corner
    stick: 10'
    open together: [[saw, planer]]
    prices: {4 in: {stick: 18, elbow: 7.5}}

  altitude: 900 ft          # on a hill
"""
METRIC = """\
shop: L-shaped, measured from another corner
units: mm
room:
  corners: [[0, 0], [6000, 0], [6000, 4000], [3500, 4000], [3500, 7000], [0, 7000]]
  height: 2600
doors:
  out: {wall: south wall, at: 1000, width: 900, height: 2000, swing: out,
        leads to: outside}
equipment:
  - {name: jointer, width: 600, depth: 1500, height: 800, at: {x: 4200, y: 1200, turn: 90},
     ports: {chute: {at: [300, 0], height: 300, diameter: 100}}}
  - {name: "sander: belt & disc", width: 500, depth: 600, height: 1100, at: {x: 400, y: 5200},
     ports: {belt: {at: [100, 0], height: 700, diameter: 100},
             disc: {at: [400, 0], height: 900, diameter: 100}}}
air: {collector: {inlet: {at: [700, 500], height: 1700},
                  fan: {flow: [0 m3/h, 700 m3/h, 1400 m3/h, 2700 m3/h],
                        pressure: [3200 Pa, 3000 Pa, 2400 Pa, 0 Pa]}},
      find: {sizes: [100, 125, 150], clear round: 10, hose factor: 2.5}}
"""
STAGED = """\
shop: over years
tape: 1/4 in
room: {size: [20', 20'], height: 9'}
stages: {now: {}, collector: {}, jointer too: {}}
doors:
  out: {wall: west, at: 3', width: 36 in, clear width: 34 in, height: 80 in, swing: out,
        leads to: outside}
equipment:
  saw: {width: 44 in, depth: 30 in, height: 34 in, at: {x: 100 in, y: 80 in},
        ports: {main: {at: [22 in, 0], height: 8 in, diameter: 4 in}}}
  jointer: {from: jointer too, width: 20 in, depth: 60 in, height: 32 in,
            at: {x: 200 in, y: 120 in},
            ports: {main: {at: [10 in, 0], height: 12 in, diameter: 4 in}}}
air:
  collector:
    from: collector
    inlet: {at: [30 in, 220 in], height: 70 in}
    fan:
      flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm, 1600 cfm]
      pressure: [13 in wg, 12.2 in wg, 9.7 in wg, 5.7 in wg, 0 in wg]
  find: {sizes: [4 in, 5 in]}
"""
SHOPS = {"garage": (GARAGE, None), "metric": (METRIC, None), "staged": (STAGED, "jointer too")}


def ducts(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, dict]:
    status = main(["ducts", str(path), "--no-figures", "--json", *more])
    return status, json.loads(capsys.readouterr().out)


def flows(data: dict) -> dict[tuple[str, str, bool], float]:
    return {(r["run"], *r["gates"], r["dirty"]): r["flow"] for r in data["ducts"]}


@pytest.mark.parametrize("name", SHOPS)
def test_written_runs_are_the_found_ones(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, stage = SHOPS[name]
    before, after = tmp_path / "before.yaml", tmp_path / "after.yaml"
    before.write_text(text, encoding="utf-8")
    more = () if stage is None else ("--stage", stage)
    status, found = ducts(before, capsys, "--write", str(after), *more)
    again, given = ducts(after, capsys, *more)
    assert again == status
    assert given["verdict"] == found["verdict"]
    assert str(after) in found["files"]
    assert found["runs"]
    assert [r["run"] for r in given["runs"]] == [r["run"] for r in found["runs"]]
    assert not any(r["found"] for r in given["runs"])
    for mine, its in zip(found["runs"], given["runs"], strict=True):
        assert mine["into"] == its["into"]
        for a, b in zip(mine["path"], its["path"], strict=True):
            assert a == pytest.approx(b, abs=1e-3)  # half a sixteenth, half a millimetre
    assert flows(given) == pytest.approx(flows(found), rel=2e-3)
    wanted = [(p["part"], p["count"], p["price"], p["stick"]) for p in found["parts"]]
    assert [(p["part"], p["count"], p["price"], p["stick"]) for p in given["parts"]] == wanted
    rules = [(f["rule"], f["about"], f["verdict"], f["error"] or None, f["assumed"])
             for f in found["findings"]]  # fmt: skip
    for f in given["findings"]:
        if f["error"] and (f["rule"], f["about"]) in [r[:2] for r in rules]:
            theirs = [r[3] for r in rules if r[:2] == (f["rule"], f["about"])]
            assert f["error"] <= max(t or 0.0 for t in theirs) * 1.02 + 1e-6
    assert sorted((f["rule"], f["verdict"]) for f in given["findings"]) == sorted(
        (rule, verdict) for rule, _, verdict, _, _ in rules
    )


def test_without_a_stage_the_last_one_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each run is there from the stage on at which its machine and the collector both are."""
    before, after = tmp_path / "before.yaml", tmp_path / "after.yaml"
    before.write_text(STAGED, encoding="utf-8")
    ducts(before, capsys, "--write", str(after))
    shop = parse(after.read_text(encoding="utf-8")).shop
    spans = {name: shop.plan.span("run", name).first for _, name in shop.plan.spans}
    assert spans["jointer"] == 2
    assert spans["saw"] == 1
    assert main(["ducts", str(after), "--stage", "now", "--no-figures"]) == 2
    assert "name a later one with --stage" in capsys.readouterr().err


def test_everything_else_of_the_file_stays(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, after = tmp_path / "before.yaml", tmp_path / "after.yaml"
    before.write_text(GARAGE, encoding="utf-8")
    ducts(before, capsys, "--write", str(after))
    text = after.read_text(encoding="utf-8")
    head, _, tail = GARAGE.partition("  find:")
    assert text.startswith(head)
    assert text.endswith(tail[tail.index("\n\n  altitude") :])
    for line in ("find:", "sizes: [4 in, 5 in]     # no larger", "open together: [[saw"):
        [kept] = [row for row in text.splitlines() if line in row and row.lstrip()[0] == "#"]
        assert kept.startswith("  # ")
    assert before.read_text(encoding="utf-8") == GARAGE


def test_a_run_with_no_tape_carries_no_error() -> None:
    line = "path: [[60 in, 60 in, 20 in], [60 in, 60 in, 90 in], [200 in, 60 in, 90 in]]"
    text = GARAGE.partition("  find:")[0]
    # a drop's two heights and a level stretch's two x, an error each
    inch = 0.0254
    for tape, off in (
        ("", (2 / 16 + 2 / 8) * inch), (", tape: 0", 0.0), (", tape: 1/2 in", 4 / 2 * inch)
    ):  # fmt: skip
        shop = parse(
            text + f"  runs:\n    saw: {{from: saw, diameter: 5 in +- 0, {line}{tape}}}\n"
        ).shop
        length = shop.air.runs[0].length
        assert length.error(shop.measurements) == pytest.approx(off), tape


def test_a_usual_need_is_that_of_the_kind() -> None:
    """A table saw asks for 350 cfm: ACGIH VS-95, from memory."""
    text = GARAGE.partition("  find:")[0] + (
        "  runs:\n    saw: {from: saw, needs: usual, diameter: 5 in,\n"
        "          path: [[130 in, 125 in, 20 in], [130 in, 125 in, 90 in],"
        " [260 in, 125 in, 90 in]]}\n"
    )
    file = parse(text)
    found = [f for f in judge(file.shop, file.layout).findings if f.rule == "airflow-enough"]
    assert [f.needed for f in found] == pytest.approx([350 * 0.3048**3 / 60], rel=1e-5)
    assert found[0].assumed == ("saw: airflow needed",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GARAGE.partition("  find:")[0] + "  runs:\n    a: {from: saw, diameter: 4 in, path: "
         "[[1', 1', 1'], [1', 1', 7']]}\n", "runs that are found"),
        (GARAGE.replace("height: 9'", "height: 9'\n  partitions:\n    across: {from: [0, 26'], "
                        "to: [24', 26'], thickness: 4 in, top: 9'}"), "across"),
    ],
)  # fmt: skip
def test_what_cannot_be_written_is_refused(
    text: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, after = tmp_path / "before.yaml", tmp_path / "after.yaml"
    before.write_text(text, encoding="utf-8")
    assert main(["ducts", str(before), "--no-figures", "--write", str(after)]) == 2
    assert words in capsys.readouterr().err
    assert not after.exists()


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_lines_become_a_comment(newline: str) -> None:
    text = (
        "a: 1\nair:\n    one: 2\n    find:  # why\n      x: |\n        p\n\n        q\n    z: 3\n"
    )
    made = exchange(
        text.replace("\n", newline), "air", "find", {"runs": {"r": {"d": "4"}}}, why="was:"
    )
    assert made == (
        "a: 1\nair:\n    one: 2\n    # was:\n    # find:  # why\n    #   x: |\n    #     p\n    #\n"
        "    #     q\n    runs:\n      r: {d: 4}\n    z: 3\n"
    ).replace("\n", newline)


def test_within_brackets_an_entry_gives_way() -> None:
    text = "air: {a: 1, find: {x: 1}, b: 2}  # kept\n"
    assert exchange(text, "air", "find", {"runs": ["1", "2"]}, why="") == (
        "air: {a: 1, runs: [1, 2], b: 2}  # kept\n"
    )
    with pytest.raises(EditError, match="comment"):
        exchange("air: {find: {x: 1,  # why\n y: 2}}\n", "air", "find", {"r": "1"}, why="")


@pytest.mark.parametrize("system", list(System))
def test_a_flow_is_read_back(system: System) -> None:
    for flow in (0.165, 350 * 0.3048**3 / 60, 1 / 7):
        assert parse_flow(written_flow(flow, system)) == pytest.approx(flow, rel=1e-9)
