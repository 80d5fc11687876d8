"""Drawers and doors stay within the side of their thing, or the file is refused in words."""

import pytest

from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

TEXT = """\
shop: one cupboard
units: in
room: {size: [200, 160], height: 100}
doors: {way: {wall: south, at: 20, width: 40, height: 80, kind: opening, leads to: outside}}
equipment:
  cupboard:
    width: 40
    depth: 20
    height: 36
    at: {x: 60, y: 60}
    drawers: {top: {side: front, at: 2, width: %s, travel: 16, bottom: 20, top: 28}}
    doors: {leaf: {side: left, at: %s, width: 12, hand: left, bottom: 2, top: 18}}
"""


@pytest.mark.parametrize(("width", "at"), [("38", "8"), ("20", "0")])
def test_an_opening_may_be_as_wide_as_its_side(width, at):
    """2 + 38 = 40 in front, 8 + 12 = 20 in on the left: just."""
    openings = parse(TEXT % (width, at)).shop.thing("cupboard").openings
    assert [o.name for o in openings] == ["top", "leaf"]


@pytest.mark.parametrize(
    ("width", "at", "line", "words"),
    [
        ("38-1/16", "8", 11, "from there it is no wider than 3' 2\""),
        ("50", "8", 11, "it is no wider than 3' 4\""),
        ("38", "9", 12, 'from there it is no wider than 11"'),
    ],
)
def test_one_that_sticks_out_is_refused(width, at, line, words):
    with pytest.raises(ShopFileError) as wrong:
        parse(TEXT % (width, at))
    (fault,) = wrong.value.faults
    assert fault.line == line
    assert fault.fix == words


def test_what_only_the_kind_says_becomes_narrower():
    """The kind's right drawer goes from 38 in for 32 in; 60 in long it ends before 58."""
    text = TEXT.split("  cupboard:")[0] + (
        "  bench: {kind: assembly bench, width: 60, at: {x: 60, y: 60}}\n"
        "  shelf: {kind: assembly bench, width: 40, at: {x: 60, y: 10}}\n"
    )
    shop = parse(text).shop
    drawers = {o.name: o.sweep for o in shop.thing("bench").openings if o.kind == "drawer"}
    right = drawers["upper right"].points[:, 0] / 0.0254
    assert right.min() == pytest.approx(38)
    assert 57 < right.max() < 60
    assert "upper right" not in {o.name for o in shop.thing("shelf").openings}
