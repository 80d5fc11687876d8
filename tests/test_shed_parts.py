"""What rules out each part of a lot, and by how much: sums by hand on lots with square corners."""

from __future__ import annotations

import pytest
from matplotlib.text import Text
from test_shed_duct import SHOP

from floorplan.drawing.page import Page
from floorplan.drawing.site import site_page
from floorplan.report.shed import ruled_out_sentences, shed_data
from floorplan.search.shed import ShedAnswer, sheds
from floorplan.search.shed_largest import ruled_out, ruled_out_words
from floorplan.shop.reader import parse

FOOT, INCH = 0.3048, 0.0254
YARD = SHOP[: SHOP.index("air:")] + SHOP[SHOP.index("site:") :]
COARSE = 0.02


def answered(*changes: str) -> ShedAnswer:
    text = YARD
    for old, new in zip(changes[::2], changes[1::2], strict=True):
        assert old in text, old
        text = text.replace(old, new, 1)
    file = parse(text)
    return sheds(file.shop, file.layout, most=1)


@pytest.fixture(scope="module")
def nowhere() -> ShedAnswer:
    """A lot that ends 6 ft 6 in behind the wall, of which 3 ft stay free."""
    return answered("[30', 24'], [-12', 24']", "[30', 18' 11 in], [-12', 18' 11 in]")


@pytest.fixture(scope="module")
def page(nowhere: ShedAnswer) -> Page:
    """Its site sheet."""
    return site_page(nowhere, "The shed fits nowhere on this lot")


def test_too_little_behind_the_wall_is_told_with_the_depth_that_is_left(
    nowhere: ShedAnswer,
) -> None:
    """12 ft of room, 5 in of wall, 6 ft 6 in to the line, less 3 ft of setback: 3 ft 6 in."""
    assert not nowhere.sites
    (row,) = nowhere.ruled_out
    assert row.part.name == "against the north wall"
    assert row.clash == nowhere.clash == ("lot line 2-3",)
    assert row.largest is not None
    assert row.largest.shrunk == "depth"
    assert 42 * INCH - COARSE <= row.largest.depth <= 42 * INCH + 1e-6
    assert nowhere.largest[0].depth == pytest.approx(42 * INCH, abs=0.003)
    (told,) = ruled_out_sentences(nowhere)
    assert "ruled out by lot line 2-3; too deep by 6" in told
    # what is drawn of it lies behind the wall and off the line by its setback
    west, south, east, north = nowhere.largest[0].walls.bounds
    assert south == pytest.approx(12 * FOOT + 5 * INCH)
    assert north <= 15 * FOOT + 11 * INCH + 1e-4
    assert east - west == pytest.approx(5 * FOOT)
    assert shed_data(nowhere)["ruled_out"][0]["clash"] == ["lot line 2-3"]


def test_where_no_rule_would_help_the_ground_itself_is_too_small() -> None:
    """5 ft behind the wall: 4 ft of shed and 30 in before its door do not fit on the lot."""
    shop = parse(YARD.replace("[30', 24'], [-12', 24']", "[30', 17' 5 in], [-12', 17' 5 in]")).shop
    (row,) = ruled_out(shop, ())
    assert row.clash == ()
    told = ruled_out_words(shop, row)
    assert "the ground itself is too small; too deep by 24" in told or "too deep by 2'" in told


def test_where_it_fits_the_other_parts_are_told() -> None:
    """West of the room 12 ft less 5 in of wall; a house of 8 ft takes all but 3 ft 7 in."""
    answer = answered(
        "walls: [north]", "walls: [north, west]",
        "  setbacks: {default",
        "  buildings: {house: {at: [-12', -4'], size: [8', 24']}}\n  setbacks: {default",
    )  # fmt: skip
    assert answer.sites
    (row,) = answer.ruled_out
    assert row.part.wall == "west wall"
    assert row.clash == ("house",)
    assert row.largest is not None
    # with its back to the wall its door would open against the house: its width lies across
    assert row.largest.shrunk == "width"
    left = 3 * FOOT + 7 * INCH
    assert left - COARSE <= row.largest.width <= left + 1e-6


def test_a_part_that_has_room_is_not_told() -> None:
    assert answered().ruled_out == ()


def test_where_it_fits_nowhere_the_largest_that_would_is_drawn(page: Page) -> None:
    names = {artist.get_gid() for artist in page.figure.findobj() if artist.get_gid()}
    assert "largest shed" in names
    assert "place 1" not in names


def test_the_site_sheet_tells_every_line_with_its_length_and_setback(page: Page) -> None:
    """A lot 42 ft wide from west to east and 48 ft 11 in deep, with setbacks of 3 ft."""
    told = [text.get_text() for text in page.figure.findobj(Text)]
    for name, length in (("lot line 0-1", "42'"), ("lot line 1-2", "48' 11\"")):
        assert any(f"{name}, {length} long, setback 3'" in text for text in told), name
        assert length in told
    assert any("VERIFY" in text for text in told)
    names = {artist.get_gid() for artist in page.figure.findobj() if artist.get_gid()}
    assert {"lot", "setback ground: lot line 0-1", "setback: lot line 0-1"} <= names


def test_lettering_of_the_site_covers_no_other(page: Page) -> None:
    page.figure.canvas.draw()
    boxes = [
        text.get_window_extent() for text in page.figure.findobj(Text) if text.get_text().strip()
    ]
    pairs = [
        (a, b)
        for i, a in enumerate(boxes)
        for b in boxes[:i]
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 1.0 and min(a.y1, b.y1) - max(a.y0, b.y0) > 1.5
    ]
    assert pairs == []
