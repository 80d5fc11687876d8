"""Fences and trunks of trees: in the way of a shed, of who goes out, and of duct outdoors."""

from __future__ import annotations

import pytest
from test_shed import one, shed_findings
from test_shed_duct import SHOP as WITH_DUCT

from floorplan.checks.judge import judge
from floorplan.search.shed import sheds
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse
from floorplan.shop.yard import is_of_yard

FOOT, INCH = 0.3048, 0.0254
YARD = WITH_DUCT[: WITH_DUCT.index("air:")] + WITH_DUCT[WITH_DUCT.index("site:") :]
STANDING = YARD + "    at: {wall: north, along: 2'}\n"


def with_more(text: str, more: str) -> str:
    return text.replace("  setbacks: {", f"  {more}\n  setbacks: {{", 1)


def test_a_shed_keeps_off_a_fence_as_far_as_it_says() -> None:
    """Its back is at 12 ft 5 in, 4 ft deep; a fence of 5 cm has its middle at 18 ft 5 in."""
    fence = "fences: {hedge: {from: [-10', 18' 5 in], to: [28', 18' 5 in], height: 5', keep: 1'}}"
    file = parse(with_more(STANDING, fence))
    row = one(judge(file.shop, file.layout), "shed-separation", "hedge")
    assert row.margin == pytest.approx(2 * FOOT - 0.025 - 1 * FOOT)
    near = parse(with_more(STANDING, fence.replace("18' 5 in", "17' 2 in")))
    assert one(judge(near.shop, near.layout), "shed-separation", "hedge").verdict == "fails"


def test_a_fence_behind_the_wall_rules_the_places_there_out() -> None:
    """It stands 3 ft behind the wall, and the shed is 4 ft deep."""
    fence = "fences: {hedge: {from: [-12', 15' 5 in], to: [30', 15' 5 in]}}"
    file = parse(with_more(YARD, fence))
    answer = sheds(file.shop, file.layout, most=1)
    assert answer.sites == ()
    assert answer.clash == ("hedge",)


def test_a_trunk_before_the_door_narrows_the_way_out_and_a_tree_without_one_does_not() -> None:
    """Between the wall's face, 5 in south of the room, and a trunk 24 in thick are 20 in."""
    tree = "trees: {elm: {at: [30 in, -37 in], keep: 1', trunk: 24 in}}"
    saw = "saw: {zones: {operator: {side: front, depth: 24 in, purpose: stand}}, width"
    there, bare = (
        parse(with_more(YARD.replace("saw: {width", saw), text))
        for text in (tree, tree.replace(", trunk: 24 in", ""))
    )
    seen = [judge(file.shop, file.layout) for file in (there, bare)]
    names = [{e.owner for e in made.scene.elements if is_of_yard(e)} for made in seen]
    assert names == [{"elm"}, set()]
    ways = [made.measures["way out"].value for made in seen]
    assert ways[0] < 34 * INCH - 1e-3
    assert ways[1] == pytest.approx(34 * INCH, abs=1e-3)


def test_duct_goes_over_a_low_fence_and_not_through_a_high_one() -> None:
    """The duct hangs some 84 in above the ground between the shop and a shed of its own."""
    text = WITH_DUCT.replace("attached: yes", "attached: no").replace("7' 6 in", "8'")
    text = text.replace("{default", "{room: 3', default")
    for height, found in (("5'", True), ("9'", False)):
        fence = (
            f"fences: {{hedge: {{from: [-12', 13' 5 in], to: [30', 13' 5 in], height: {height}}}}}"
        )
        file = parse(with_more(text, fence))
        answer = sheds(file.shop, file.layout, most=1)
        assert answer.sites
        assert (answer.sites[0].way is not None) is found, height


@pytest.mark.parametrize(
    ("fence", "told"),
    [
        ("{from: [0, 20']}", "to"),
        ("{from: [0, 20'], to: [0, 20']}", "from one point to another"),
        ("{from: [0, 20'], to: [5', 20'], hight: 5'}", "height"),
    ],
)
def test_mistakes_are_told(fence: str, told: str) -> None:
    with pytest.raises(ShopFileError, match=told):
        parse(with_more(YARD, f"fences: {{hedge: {fence}}}"))


def test_a_file_without_fences_has_none_in_the_way() -> None:
    file = parse(STANDING)
    assert not [f for f in shed_findings(judge(file.shop, file.layout)) if "hedge" in f.about]
