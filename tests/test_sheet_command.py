"""The `sheet` command: what it answers, as data, in words and drawn.

The path it gives is replayed here apart from the program: every pose against every solid, with
plain polygons of a general geometry library.
"""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.drawing.carry import strobe, way_page
from floorplan.drawing.page import rendered
from floorplan.motion.carry import Body
from floorplan.motion.carry import Pose as BodyPose
from floorplan.report.sheet import sheet_answer
from floorplan.shop.model import Layout, Pose
from floorplan.shop.reader import load

INCH = 0.0254
LAYOUTS = Path(__file__).parents[1] / "layouts"

SHOP = """\
shop: trial
units: in
tape: 0
room: {size: [240, 240], height: 100}
doors:
  gate:
    {wall: south, at: 100, width: 60, clear width: 58, height: 84, kind: overhead,
     leads to: outside}
equipment:
  block: {width: 60, depth: 60, height: 60, at: {x: 40, y: 100}}
  saw: {kind: cabinet table saw, at: {x: 130, y: 150, turn: 0}}
places:
  far corner: {x: 60, y: 200, turn: 0}
stock:
  sheet: {length: 96, width: 48, thickness: 3/4}
jobs:
  work:
    carry: {stock: sheet, from: gate, to: far corner}
    feed: {stock: sheet, through: saw, offset: 24}
"""


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main([*arguments])
    out = capsys.readouterr()
    return status, out.out, out.err


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "trial.yaml"
    path.write_text(SHOP, encoding="utf-8")
    return path


def test_the_path_of_the_data_hits_nothing(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, text, _ = run(capsys, "sheet", str(shop), "--json", "--no-figures")
    (way,) = json.loads(text)["sheet"]
    assert way["verdict"] == "passes"
    path = np.array(way["path"])
    assert path[-1][:2] == pytest.approx([60 * INCH, 200 * INCH], abs=1e-6)
    steps = np.hypot(*np.diff(path[:, :2], axis=0).T)
    assert way["length"] == pytest.approx(steps.sum(), abs=1e-4)
    solid = box(40 * INCH, 100 * INCH, 100 * INCH, 160 * INCH)
    room = box(0, 0, 240 * INCH, 240 * INCH)
    walls = box(-3, -3, 9, 9).difference(room).difference(box(2.54, -9, 2.54 + 60 * INCH, 0))
    walls = walls.intersection(box(-3, -0.1, 9, 9))
    half = np.array([48.0, 0.375]) * INCH - 2e-5
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    for a, b in pairwise(path):
        for share in np.linspace(0.0, 1.0, 200):
            x, y, degrees = a + (b - a) * share
            c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
            shape = Polygon(corners @ np.array([[c, s], [-s, c]]) + (x, y))
            assert not shape.intersects(solid)
            assert not shape.intersects(walls)


def test_the_data_hold_what_the_text_says(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, text, _ = run(capsys, "sheet", str(shop), "--json", "--no-figures")
    data = json.loads(text)
    way = data["sheet"][0]
    assert {"job", "length", "turns", "pinch", "path", "verdict", "margin"} <= set(way)
    assert way["plan"] == {"length": pytest.approx(96 * INCH), "width": pytest.approx(0.75 * INCH)}
    assert data["support"][0]["machine"] == "saw"
    assert data["longest boards"][0]["machine"] == "saw"
    assert {f["check"] for f in data["findings"]} <= {
        "carrying", "tilting", "feeding", "links", "support",
    }  # fmt: skip
    assert status == (0 if data["verdict"] == "passes" else 1)
    same, words, _ = run(capsys, "sheet", str(shop), "--no-figures")
    assert same == status
    assert "work: sheet on edge from gate to far corner passes" in words
    assert "Longest board" in words


def test_a_larger_sheet_than_the_door_ends_with_status_1_and_the_opening(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SHOP.replace("to: far corner}", "to: far corner, how: flat}")
    shop.write_text(text.replace("clear width: 58", "clear width: 44"), encoding="utf-8")
    status, words, _ = run(capsys, "sheet", str(shop), "--no-figures")
    assert status == 1
    assert "DOES NOT PASS" in words
    assert "4' clear width" in words
    assert "What would pass: " in words


def test_what_gives_way_is_what_frees_the_way(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fenced = SHOP.replace(
        "  saw:", "  wall of boxes: {width: 240, depth: 6, height: 60, at: {x: 0, y: 70}}\n  saw:"
    )
    shop.write_text(fenced, encoding="utf-8")
    _, text, _ = run(capsys, "sheet", str(shop), "--json", "--no-figures")
    (way,) = json.loads(text)["sheet"]
    assert way["verdict"] == "fails"
    assert way["would pass"]["without"] == ["wall of boxes"]
    assert "wall of boxes" in way["blocked by"]


def test_without_carry_and_feed_the_command_says_what_is_missing(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop.write_text(SHOP[: SHOP.index("jobs:")], encoding="utf-8")
    status, out, wrong = run(capsys, "sheet", str(shop))
    assert (status, out) == (2, "")
    assert "carry:" in wrong


def test_figures_are_written_and_the_same_bytes_each_time(
    shop: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    contents = []
    for name in ("one", "two"):
        _, text, _ = run(capsys, "sheet", str(shop), "--json", "-o", str(tmp_path / name))
        files = [Path(f) for f in json.loads(text)["files"]]
        assert {f.suffix for f in files} == {".svg", ".pdf", ".png"}
        assert {f.stem for f in files} == {
            "sheet-1-gate-to-far-corner", "sheet-2-sheet-through-saw",
        }  # fmt: skip
        contents.append({f.name: f.read_bytes() for f in files})
    assert contents[0] == contents[1]
    way = contents[0]["sheet-1-gate-to-far-corner.svg"].decode()
    for mark in ("pose 1", "path", "pinch"):
        assert f'id="{mark}"' in way
    fed = contents[0]["sheet-2-sheet-through-saw.svg"].decode()
    for mark in ("hand force", "hand limit", "envelope: infeed", "envelope: outfeed"):
        assert f'id="{mark}"' in fed


def test_poses_are_drawn_evenly_along_the_path() -> None:
    path = [BodyPose(0, 0, 0), BodyPose(3, 0, 0), BodyPose(3, 0, math.pi / 2)]
    body = Body.rectangle(2.4, 0.02)
    shown = strobe(body, path, every=0.5)
    assert (shown[0], shown[-1]) == (path[0], path[-1])
    for a, b in pairwise(shown):
        moved = math.hypot(b.x - a.x, b.y - a.y) + body.radius * abs(b.angle - a.angle)
        assert moved <= 0.5 + 1e-9


def basement(x: float, y: float) -> tuple[object, Layout]:
    """The basement put right, its workbench by the stack [in]."""
    file = load(LAYOUTS / "l-shaped-basement.yaml")
    placed = {
        "cutting table": (29, 83, 0), "sheet stack": (10, 0.5, 180), "small saw": (230, 83, 270),
        "workbench": (x, y, 0), "planer": (128, 140, 0), "drill press": (0.5, 240, 90),
        "router table": (135, 245, 270), "band saw": (256, 10, 270),
        "lumber rack": (42, 277.5, 0), "vacuum": (284, 42, 0),
    }  # fmt: skip
    layout = file.layout
    for name, (px, py, turn) in placed.items():
        layout = layout.with_pose(name, Pose.at(px * INCH, py * INCH, turn))
    return file.shop, layout


@pytest.mark.slow
def test_the_way_of_the_sheet_rules_out_a_bench_that_stands_free() -> None:
    shop, layout = basement(164, 44)
    failing = judge(shop, layout).failing  # type: ignore[arg-type]
    assert {f.check for f in failing} == {"carrying"}
    answer = sheet_answer(shop, layout)  # type: ignore[arg-type]
    (way, helped), *_ = answer.ways
    assert way.verdict == "fails"
    assert "workbench" in way.limits
    assert helped is not None
    assert "workbench" in helped.without
    drawn = rendered(way_page(answer.scene, way, helped), "svg").decode()
    # where it sticks is drawn between start and goal, with its width
    for mark in ("pose 1", "pose 2", "pose 3", "pinch"):
        assert f'id="{mark}"' in drawn
    assert 'id="path"' not in drawn
