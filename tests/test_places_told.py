"""What `spots` and `largest` say and hand on as data, in a room of 4 m x 3 m worked by hand.

A bench 1 m x 0.5 m stands with its west side at 1 m and its south side at 2 m; nothing else is
there.  Its places are 4 - 1 = 3 m by 3 - 0.5 = 2.5 m, turned by a quarter 3.5 m by 2 m.
"""

from __future__ import annotations

import pytest
import shapely
from shapely.geometry import box, shape

from floorplan.report.largest import edges_data, largest_data, largest_text
from floorplan.report.spots import spots_data, spots_text
from floorplan.search.largest import largest
from floorplan.search.spots import spots
from floorplan.shop.reader import parse

TEXT = """
shop: by hand
units: m
tape: 0
room: {size: [4, 3], height: 2.5}
equipment:
  bench: {width: 1, depth: 0.5, height: 0.9, at: {x: 1, y: 2, turn: 0}}
"""
FILE = parse(TEXT)
WALLS = {"south wall", "east wall", "north wall", "west wall"}


def test_places_as_data() -> None:
    """Shapes in metres as open-standard geometry, the best place, and what limits it."""
    rows = spots_data(spots(FILE.shop, FILE.layout, "bench"))
    assert [row["turn"] for row in rows] == [0, 90, 180, 270]
    for row, places in zip(rows, (box(0, 0, 3, 2.5), box(0, 0, 3.5, 2)) * 2, strict=True):
        assert shape(row["region"]).symmetric_difference(places).area < 2e-5
        assert row["segments"] == []
        assert row["points"] == []
        assert row["unsure"] is None or shape(row["unsure"]).is_empty
        # the widest circle in a rectangle has half of its shorter side
        short = 2.5 if row["turn"] % 180 == 0 else 2.0
        assert row["best"]["play"] == pytest.approx(short / 2, abs=2e-4)
        assert row["best"]["certain"] is True
        assert {name for edge in row["limits"] for name in edge["names"]} == WALLS
        edges = shapely.union_all([shape(edge["edge"]) for edge in row["limits"]])
        assert edges.length == pytest.approx(places.length, abs=1e-4)


def test_places_in_words() -> None:
    """7.5 and 7 square metres; a play of 1250 mm at most."""
    words = spots_text(spots(FILE.shop, FILE.layout, "bench"), None, (), ())
    assert words.startswith("bench can stand at 4 of 4 turns; the best spot: x ")
    assert words.count("7.50 m2 of places") == 2
    assert words.count("7.00 m2 of places") == 2
    assert "1250 mm of play" in words
    assert "unsure" not in words


def test_no_place_in_words_and_data() -> None:
    """Round the bench no 2.5 m are free: 2 m south of it, 1 m west, 2 m east, 0.5 m north."""
    file = parse(TEXT + "  cabinet: {width: 2.5, depth: 2.5, height: 2}\n")
    found = spots(file.shop, file.layout, "cabinet")
    assert spots_text(found, None, (), ()).startswith("cabinet can stand nowhere at these turns")
    for row in spots_data(found):
        assert row["best"] is None
        assert row["region"] is None


def test_the_largest_size_as_data_and_in_words() -> None:
    """In place it grows to 1 m west, 4 - 2 east, 2 m south, 3 - 2.5 north: to the whole room."""
    found = largest(FILE.shop, FILE.layout, "bench", text=TEXT)
    edges = {edge["side"]: edge for edge in edges_data(found)}
    for side, grows, wall in (
        ("left", 1.0, "west wall"), ("right", 2.0, "east wall"),
        ("front", 2.0, "south wall"), ("back", 0.5, "north wall"),
    ):  # fmt: skip
        assert edges[side]["grows"] == pytest.approx(grows, abs=0.002)
        assert edges[side]["stopped_by"] == [wall]
    (size,) = largest_data(found)
    assert (size["width"], size["depth"]) == pytest.approx((4.0, 3.0), abs=0.002)
    assert (size["x"], size["y"], size["turn"]) == pytest.approx((0.0, 0.0, 0.0), abs=0.002)
    assert size["verdict"] == "passes"
    assert set(size["stopped_by"]) == {"south wall", "north wall"}
    words = largest_text(found, (), ())
    assert "bench can be 4000 mm wide and 3000 mm deep where it stands" in words
    assert "left: grows 1000 mm, stopped by west wall" in words
    assert "back: grows 500 mm, stopped by north wall" in words
