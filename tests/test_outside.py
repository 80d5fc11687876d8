"""The outside of a room has no gap in which a thing could be said to stand."""

import numpy as np
import pytest
import shapely

from floorplan.checks.judge import judge
from floorplan.shop import building
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse

ROOMS = {
    "box": "size: [4, 3]",
    "ell": "corners: [[0, 0], [5, 0], [5, 2], [2, 2], [2, 4], [0, 4]]",
    "u": "corners: [[0, 0], [6, 0], [6, 4], [4, 4], [4, 2], [2, 2], [2, 4], [0, 4]]",
    "slanted": "corners: [[0, 0], [5, 0], [4, 3], [0, 4]]",
}


def shop(room: str):
    return parse(
        f"shop: trial\nunits: m\ntape: 0\nroom: {{{ROOMS[room]}, height: 2.5}}\n"
        "equipment:\n  box: {width: 0.4, depth: 0.4, height: 1, at: {x: 0.5, y: 0.5}}\n"
    )


@pytest.mark.parametrize("room", ROOMS)
def test_walls_and_corners_cover_all_that_is_near_outside(room: str) -> None:
    file = shop(room)
    floor = building.floor_polygon(file.shop.room)
    pieces = [p.volume.polygon for p in building.solid_walls(file.shop.room)]
    covered = shapely.union_all(pieces)
    near = floor.buffer(0.45, join_style="mitre").difference(floor)
    assert near.difference(covered).area < 1e-6
    assert covered.intersection(floor).area < 1e-6


@pytest.mark.parametrize("room", ROOMS)
def test_nothing_passes_outside(room: str) -> None:
    file = shop(room)
    floor = building.floor_polygon(file.shop.room)
    rng = np.random.default_rng(1)
    low, high = file.shop.room.floor.points.min(axis=0), file.shop.room.floor.points.max(axis=0)
    seen = set()
    for x, y in [tuple(high), tuple(low - 0.4), *rng.uniform(low - 0.4, high, (40, 2))]:
        body = shapely.box(x, y, x + 0.4, y + 0.4)
        outside = body.difference(floor).area
        if 0 < outside < 1e-6:
            continue
        made = judge(file.shop, file.layout.with_pose("box", Pose.at(float(x), float(y), 0.0)))
        in_room = [f for f in made.findings if f.rule == "inside-room"]
        passes = all(f.verdict == "passes" for f in in_room)
        assert passes == (outside == 0)
        seen.add(passes)
    assert seen == {True, False}
