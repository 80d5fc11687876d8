"""A layout written into a file comes back the same, and nothing else of the file changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from floorplan.shop.model import Layout, Pose
from floorplan.shop.reader import ShopFile, load, parse
from floorplan.shop.writer import LayoutError, with_layout

DEMOS = sorted((Path(__file__).parents[1] / "layouts").glob("*.yaml"))
INCH = 0.0254

TEXT = """\
# a comment at the top
shop: trial   # and one behind
room: {size: [24', 22'], height: 8' 6"}
equipment:
  saw: {kind: cabinet table saw, at: {x: 8', y: 9', turn: 0}}  # the saw
  bench:
    kind: assembly bench
    at:
      x: 8'   # from the west wall
      y: north of saw + 1/4 in
  rack: {kind: sheet rack, at: {wall: west, along: 4'}}
  cart:
    width: 20"
    depth: 20"
    height: 30"
"""


def changed_lines(before: str, after: str) -> list[str]:
    old, new = before.splitlines(), after.splitlines()
    assert len(old) <= len(new)
    return [line for line in new if line not in old]


def assert_same(file: ShopFile, wanted: Layout) -> None:
    assert set(file.layout.poses) == set(wanted.poses)
    for spot, pose in wanted.poses.items():
        found = file.layout.poses[spot]
        assert found.x.value == pytest.approx(pose.x.value, abs=1e-6)
        assert found.y.value == pytest.approx(pose.y.value, abs=1e-6)
        assert found.turn == pytest.approx(pose.turn, abs=1e-6)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_todays_layout_leaves_every_byte(path: Path) -> None:
    file = load(path)
    assert with_layout(file, file.layout) == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_another_layout_comes_back_and_only_poses_change(path: Path) -> None:
    file = load(path)
    wanted = file.layout
    for i, thing in enumerate(t for t in file.shop.things if t.freedom.moves):
        if wanted.pose(thing.name) is not None:
            pose = Pose.at(0.5 + i / 7, 0.4 + i / 11, 90.0 * (i % 4))
            wanted = wanted.with_pose(thing.name, pose)
    text = with_layout(file, wanted)
    again = parse(text, str(path))
    assert_same(again, wanted)
    assert all("at:" in line for line in changed_lines(file.text, text))
    assert len(text.splitlines()) == len(file.text.splitlines())


def test_one_move_changes_one_line_and_carries_no_error() -> None:
    file = parse(TEXT)
    wanted = file.layout.with_pose("rack", Pose.at(34.25 * INCH, 86 * INCH, 90.0))
    text = with_layout(file, wanted)
    assert changed_lines(TEXT, text) == [
        '  rack: {kind: sheet rack, at: {x: 34-1/4" +- 0, y: 7\' 2" +- 0, turn: 90}}'
    ]
    pose = parse(text).layout.poses["rack", "standing"]
    assert pose.x.error(file.shop.measurements) == 0.0
    assert pose.y.error(file.shop.measurements) == 0.0


def test_what_leans_on_a_moved_thing_stays_where_the_layout_has_it() -> None:
    file = parse(TEXT)
    wanted = file.layout.with_pose("saw", Pose.at(2.0, 5.5, 90.0))
    text = with_layout(file, wanted)
    assert_same(parse(text), wanted)
    assert "# from the west wall" in text
    assert "# the saw" in text


def test_a_thing_without_a_pose_gets_one() -> None:
    file = parse(TEXT)
    wanted = file.layout.with_pose("cart", Pose.at(1.0, 1.0, 0.0))
    text = with_layout(file, wanted)
    assert_same(parse(text), wanted)
    assert text.startswith(TEXT.rstrip("\n"))


def test_metric_files_are_written_in_millimetres() -> None:
    text = "shop: m\nunits: mm\nroom: {size: [5000, 4000], height: 2400}\nequipment:\n"
    text += "  box: {width: 500, depth: 400, height: 800, at: {x: 10, y: 20}}\n"
    file = parse(text)
    new = with_layout(file, file.layout.with_pose("box", Pose.at(1.2345, 2.0, 22.5)))
    assert "at: {x: 1234.5 mm +- 0, y: 2000 mm +- 0, turn: 22.5}" in new


def test_a_layout_of_other_things_is_refused() -> None:
    file = parse(TEXT)
    with pytest.raises(LayoutError, match="no thing `lathe`"):
        with_layout(file, file.layout.with_pose("lathe", Pose.at(1.0, 1.0, 0.0)))
    with pytest.raises(LayoutError, match="`rack` has a pose"):
        with_layout(file, file.layout.without("rack"))
