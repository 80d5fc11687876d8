"""Small invented shops, each with its sum done by hand beside it.

The sums are plain arithmetic on the sizes in the shop file and on the yardsticks named beside
them; what no yardstick says is common practice, no source.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from shops import judged, pick, text_of

from floorplan.checks.finding import Finding
from floorplan.search.arrange import arrange
from floorplan.search.change import Draft
from floorplan.search.rework import feet
from floorplan.shop.carrying import load_of, stands
from floorplan.shop.faults import ShopFileError
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene
from floorplan.shop.writer import with_layout

SCHEMA = Path(__file__).resolve().parents[1] / "floorplan/shop/schema.json"
INCH = 0.0254


def schema() -> Any:
    return json.loads(SCHEMA.read_text(encoding="utf-8"))


# --- half-finished files -------------------------------------------------------------------


@pytest.mark.parametrize("section", ["fixed", "equipment"])
def test_a_thing_of_which_nothing_is_said_yet_is_told_in_words(section: str) -> None:
    """A name with `{}` behind it: no size, no kind; a fault at its line, no traceback."""
    text = f"shop: a shop\nroom: {{size: [20', 16'], height: 8'}}\n{section}:\n  panel: {{}}\n"
    with pytest.raises(ShopFileError) as told:
        parse(text)
    fault = told.value.faults[0]
    assert (fault.line, fault.message) == (4, "`panel` has no width")


# --- changes that cannot be made -----------------------------------------------------------


def test_a_mat_is_not_let_down_below_the_floor() -> None:
    """A drawer whose bottom is 1/4 in above the floor meets a mat of 3/8 in, 1/8 in too high.

    Parting them by height takes 1/8 in off the mat and leaves 1/4 in: that may be offered.  With
    the drawer on the floor it takes 3/8 in and nothing is left of the mat: that may not.
    """
    for bottom, offered in (("1/4 in", [-1 / 8]), ("0 in", [])):
        text = text_of(
            "mat: {width: 30 in, depth: 20 in, height: 3/8 in, at: {x: 5', y: 58 in}}",
            "chest: {width: 30 in, depth: 20 in, height: 30 in, at: {x: 5', y: 80 in}, drawers: "
            f"{{low: {{side: front, at: 0, width: 30 in, travel: 18 in, bottom: {bottom}, "
            "top: 8 in}}}",
        )
        file = parse(text)
        made = judged(text)
        assert pick(made, "openings", "chest", "mat").verdict == "fails"
        steps = list(feet(Draft(file.shop, file.layout), "mat", made.scene, made.failing))
        lowered = [round(s.by / INCH, 6) for s in steps if s.by is not None and s.by < 0]
        assert lowered == offered


# --- natural spellings ---------------------------------------------------------------------

SPELLED = """\
shop: a shop
room: {size: [20 ft, 16 ft], height: 8 ft}
doors:
  - {name: front, wall: South, at: 5 ft, width: 3', height: 80 in, leads to: outside}
equipment:
  cart:
    width: 2'
    depth: 3'
    height: 3'
    at: AT
places:
  stack: STACK
"""


@pytest.mark.parametrize(
    ("at", "stack"),
    [
        ("[15 ft, 120 in, 90 deg]", "[4', 5']"),
        ("{x: 180 in, y: 10 ft, turn: 90}", "{x: 48 in, y: 60 in}"),
        ("\n      - 15'\n      - 10'\n      - 90°", "\n      - 4 ft\n      - 5 ft"),
    ],
)
def test_a_place_may_be_a_list_of_coordinates(at: str, stack: str) -> None:
    """15 ft are 180 in and 4.572 m, 10 ft are 3.048 m."""
    text = SPELLED.replace("AT", at).replace("STACK", stack)
    jsonschema.validate(yaml.safe_load(text), schema())
    file = parse(text)
    pose = file.layout.pose("cart")
    assert pose is not None
    assert (pose.x.value, pose.y.value, pose.turn) == pytest.approx((4.572, 3.048, 90.0))
    assert file.shop.places[0].x.value == pytest.approx(48 * INCH)
    moved = file.layout.with_pose("cart", Pose.at(1.0, 2.0, 0.0))
    again = parse(with_layout(file, moved)).layout.pose("cart")
    assert again is not None
    assert (again.x.value, again.y.value, again.turn) == pytest.approx((1.0, 2.0, 0.0))


def test_what_belongs_to_one_thing_or_the_room_may_be_a_list_without_names() -> None:
    """Two drawers and a post: the same shop as with names, item for item, numbered."""
    drawers = (
        "{side: front, at: 0, width: 20 in, travel: 18 in, bottom: 4 in, top: 12 in}",
        "{side: front, at: 30 in, width: 20 in, travel: 10 in, bottom: 4 in, top: 12 in}",
    )
    text = (
        "shop: a shop\nroom: {size: [20', 16'], height: 8', posts: POSTS}\nequipment:\n"
        "  bench: {width: 60 in, depth: 30 in, height: 34 in, at: [5', 5'], drawers: DRAWERS}\n"
    )
    listed = text.replace("POSTS", "[{at: [1', 2'], size: [4 in, 4 in]}]")
    listed = listed.replace("DRAWERS", f"[{', '.join(drawers)}]")
    named = text.replace("POSTS", "{post 1: {at: [1', 2'], size: [4 in, 4 in]}}")
    named = named.replace("DRAWERS", f"{{drawer 1: {drawers[0]}, drawer 2: {drawers[1]}}}")
    jsonschema.validate(yaml.safe_load(listed), schema())
    one, other = judged(listed), judged(named)
    assert [(f.about, f.verdict, f.margin) for f in one.findings] == [
        (f.about, f.verdict, f.margin) for f in other.findings
    ]
    opened = {f.task for f in one.findings if f.check == "openings"}
    assert opened == {"drawer 1 of bench open", "drawer 2 of bench open"}
    told = listed.replace("travel: 10 in", "travel: ten").replace("drawers", "\n   drawers")
    with pytest.raises(ShopFileError) as wrong:
        parse(told)
    assert [fault.line for fault in wrong.value.faults] == [5]


def test_a_turn_beside_its_place_is_told_where_it_goes() -> None:
    text = SPELLED.replace("AT", "[1', 2']\n    turn: 90").replace("STACK", "[4', 5']")
    with pytest.raises(ShopFileError) as told:
        parse(text)
    assert [f.line for f in told.value.faults] == [11]
    assert "stands within `at:`" in told.value.faults[0].message


def test_a_room_with_a_fault_hides_no_other_fault() -> None:
    """The height of the room is missing; so are a door's width, a unit, a stock and a kind."""
    text = """\
shop: half done
room: {size: [20', 16'], posts: {post: {at: [2', 2']}}}
doors: {front: {wall: south, at: 5', height: 80 in, leads to: outside}}
equipment:
  saw: {kind: cabinet table swa}
  bench: {width: 60, depth: 2', height: 3', at: {wall: north, along: 1'}}
  rack: {width: 2', depth: 2', height: 3', may: slide, along: north, at: {x: 900', y: against east}}
jobs: {cabinet: {feed: {stock: sheet, through: saw}}}
"""
    with pytest.raises(ShopFileError) as told:
        parse(text)
    assert [f.line for f in told.value.faults] == [2, 2, 3, 5, 6, 8]


def test_an_outline_may_end_where_it_began_and_has_no_corner_twice() -> None:
    closed = text_of(room="corners: [[0, 0], [20', 0], [20', 16'], [0, 16'], [0, 0]]")
    assert len(parse(closed).shop.room.walls) == 4
    twice = text_of(room="corners: [[0, 0], [20', 0], [20', 16'], [20', 16' 0.001 in], [0, 16']]")
    with pytest.raises(ShopFileError) as told:
        parse(twice)
    assert told.value.faults[0].message == "corners 3 and 4 are the same point"


# --- carrying ------------------------------------------------------------------------------

CARRIED = """\
doors: {door: {wall: south, at: 5', width: 32 in, clear width: 30 in, height: 80 in, swing: out,
               leads to: outside}}
stock: {sheet: {length: LONG, width: 1220 mm, thickness: 18 mm}}
jobs: {job: {carry: {stock: sheet, from: door, to: rack}}}
"""


def test_a_sheet_longer_than_the_room_kept_for_it_is_drawn_out_farther() -> None:
    """2440 mm are 1.6 mm more than the 96 in kept free: before the rack, never within it.

    The rack's front stands at y = 12 ft or 3657.6 mm, so the sheet's middle at 2437.6 mm.
    """
    text = text_of(
        "rack: {kind: sheet rack, at: {x: 12', y: 12', turn: 0}}",
        room="size: [20', 22']",
        more=CARRIED.replace("LONG", "2440 mm"),
    )
    assert pick(judged(text), "carrying", "sheet").verdict == "passes"
    file = parse(text)
    made = scene(file.shop, file.layout)
    carry = file.shop.jobs[0].carries[0]
    (stand,) = stands(made, carry, load_of(made, carry), goal=True)
    assert stand.y == pytest.approx(3.6576 - 1.22)


def test_a_rack_is_loaded_from_the_side_at_which_one_stands() -> None:
    """A rack 20 x 100 in along the east wall, its front 5 ft from the south wall.

    A sheet of 96 in cannot lie in front of it, on the 60 in to the wall; along its left side,
    where the file says that one stands, it can.
    """
    rack = "rack: {width: 20 in, depth: 100 in, height: 50 in, at: {x: 148 in, y: 5'}ZONES}"
    zone = ", zones: {load: {side: left, depth: 30 in}}"
    for zones, verdict in (("", "fails"), (zone, "passes")):
        more = CARRIED.replace("LONG", "96 in")
        text = text_of(rack.replace("ZONES", zones), room="size: [14', 14']", more=more)
        assert pick(judged(text), "carrying", "sheet").verdict == verdict


# --- what shuts one in ---------------------------------------------------------------------


def shut(*fixtures: str) -> Finding:
    """The way out from a bench east of a wall with a doorway of 3 ft in it."""
    text = text_of(
        "bench: {width: 60 in, depth: 24 in, height: 36 in, at: {x: 13', y: 0, turn: 180}, "
        "zones: {stand: {side: front, depth: 24 in}}}",
        "crate: {width: 2', depth: 2', height: 3', at: {x: 18', y: 8'}}",
        *(f for f in fixtures if not f.startswith("beams")),
        room="size: [20', 10'], partitions: {south part: {from: [10', 0], to: [10', 3'], "
        "thickness: 4 in}, north part: {from: [10', 6'], to: [10', 10'], thickness: 4 in}}"
        + "".join(f", {f}" for f in fixtures if f.startswith("beams")),
        more="doors: {door: {wall: west, at: 3', width: 40 in, clear width: 38 in, height: 80 in, "
        "leads to: outside, swing: out}}\n",
    )
    return pick(judged(text), "way-out", "bench")


BEAM = "beams: {beam: {from: [10', 0], to: [10', 10'], width: 4 in, bottom: 76 in}}"
CART = "CART: {width: 2', depth: 3', height: 3', at: {x: 118 in, y: 3'}}"


def test_what_closes_the_way_out_is_named() -> None:
    """3 ft between the parts of the wall; a beam at 76 in is 4 in lower than 29 CFR 1910.36(g)(1).

    A cart 3 ft deep fills the doorway; two carts one behind the other fill it twice.
    """
    assert shut().measured == pytest.approx(36 * INCH)
    assert shut(BEAM).message.endswith("bench (stand): beam hangs too low to pass under")
    cart = CART.replace("CART", "cart")
    assert shut(cart).message.endswith("bench (stand): cart closes it")
    behind = CART.replace("CART", "trolley").replace("118 in", "142 in")
    found = shut(cart, behind)
    assert {"cart", "trolley"} & set(found.about)
    assert "crate" not in found.about
    assert "close" in found.message


# --- nothing to search for -----------------------------------------------------------------


@pytest.mark.parametrize("things", [(), ("stove: {width: 2', depth: 2', height: 3', may: stay, "
                                         "at: {x: 4', y: 4'}}",)])  # fmt: skip
def test_where_nothing_may_be_moved_today_is_the_answer(things: tuple[str, ...]) -> None:
    file = parse(text_of(*things))
    found = arrange(file.shop, file.layout, effort=20)
    assert [row.layout.poses for row in (r.judgement for r in found.layouts)] == [file.layout.poses]
    assert "may be moved" in found.note


def test_a_machine_with_a_fault_that_replaces_another_is_told_once() -> None:
    """`big saw` of the demo comes in the place of `small saw`; its kind is misspelled here."""
    text = (SCHEMA.parents[2] / "layouts/backyard-shop.yaml").read_text(encoding="utf-8")
    head, name, rest = text.partition("\n  big saw:\n")
    wrong = head + name + re.sub(r"kind: \S.*", "kind: cabinet table swa", rest, count=1)
    with pytest.raises(ShopFileError) as told:
        parse(wrong)
    assert [f.message for f in told.value.faults] == ["there is no kind `cabinet table swa`"]
