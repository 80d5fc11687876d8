"""The benchmark command: each benchmark names a small budget; what was missed is told."""

import ast
import types
from pathlib import Path

import numpy as np
import pytest
from benchmarks import growth, run

from floorplan.shop.reader import parse


@pytest.mark.parametrize("name", run.names())
def test_each_names_a_budget_that_it_understands(name):
    tree = ast.parse((Path(run.__file__).parent / f"{name}.py").read_text())
    (arguments,) = (
        {one.arg for one in (*node.args.args, *node.args.kwonlyargs)}
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and node.name == "run"
    )
    (budget,) = (
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "SMALL"
    )
    assert budget
    assert set(budget) <= arguments


def test_all_runs_each_with_its_budget_and_tells_what_it_left_out(monkeypatch):
    def measured(seeds):
        return {"name": "walk", "rows": [run.row("room", "ours", seeds, 1.0, [3.0, None, 1.0])]}

    def module(name):
        if name == "benchmarks.sheet":
            raise ImportError("No module named 'peer'")
        return types.SimpleNamespace(SMALL={"seeds": (4, 5, 6)}, run=measured)

    monkeypatch.setattr(run, "names", lambda: ["sheet", "walk"])
    monkeypatch.setattr(run.importlib, "import_module", module)
    found = run.every()
    assert [(r["case"], r["seeds"], r["median"]) for r in found["rows"]] == [
        ("walk: room", [4, 5, 6], 3.0)
    ]
    assert found["left_out"] == [{"name": "sheet", "why": "No module named 'peer'"}]
    text = run.markdown(found)
    assert text.startswith("## all benchmarks")
    assert "Left out: sheet, No module named 'peer'." in text
    line = next(line for line in text.splitlines() if "walk: room" in line)
    assert [cell.strip() for cell in line.split("|")][3:8] == ["3", "1", "3", "1", "none"]


def test_a_power_law_has_its_exponent_as_slope():
    counts = (4, 8, 16, 32, 64)
    assert growth.slope(counts, [3e-3 * n**1.7 for n in counts]) == pytest.approx(1.7)
    # what weighs only in small cases does not count
    assert growth.slope(counts, [99.0, 99.0, 16.0, 64.0, 256.0]) == pytest.approx(2.0)


@pytest.mark.parametrize("what", [n for n in growth.COUNTS if n not in ("effort", "things moved")])
def test_what_is_counted_up_in_a_generated_shop_is_there_as_often(what):
    for count in growth.COUNTS[what][:3]:
        file = parse(growth.shop(**{what: count}))
        corners = file.shop.room.floor.points
        steps = np.roll(corners, -1, axis=0) - corners
        angles = np.round(np.degrees(np.arctan2(*steps.T[::-1])) % 180, 3)
        turns = [pose.turn for (name, _), pose in file.layout.poses.items() if "thing" in name]
        there = {
            "things": len(turns),
            "corners": len(corners),
            "slanted_walls": len(set(angles) - {0.0, 90.0, 180.0}),
            "slanted": len({turn % 90 for turn in turns} - {0.0}),
            "obstacles": sum(thing.name.startswith("post") for thing in file.shop.things),
        }
        assert there[what] == count
