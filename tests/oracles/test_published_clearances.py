"""Published clearances as whole shop files, measured without error: exactly enough passes.

Each test names its source; all were read in reproductions or official texts, not here.
"""

from __future__ import annotations

from math import pi

import pytest
from shops import judged, pick, text_of

from floorplan.shop import building
from floorplan.shop.reader import parse

IN = 0.0254
DOOR = (
    "doors: {way: {wall: west, at: 20in, width: 40in, clear width: %sin, height: 80in,"
    " kind: opening, leads to: outside}}\n"
)
BENCH = (
    "bench: {width: 60in, depth: 24in, height: 34in, at: {x: 150in, y: 160in},"
    " zones: {front: {side: front, depth: 36in}}}"
)


@pytest.mark.parametrize(("gap", "verdict"), [("28.0", "passes"), ("27.9", "fails")])
def test_exit_access_28_in_at_all_points(gap: str, verdict: str) -> None:
    """29 CFR 1910.36(g)(2): an exit access is at least 28 in wide at all points."""
    rack = f"rack: {{width: 10in, depth: 150in, height: 90in, at: {{x: 100in, y: {gap}in}}}}"
    block = "block: {width: 10in, depth: 10in, height: 90in, at: {x: 100in, y: 182in}}"
    judgement = judged(text_of(BENCH, rack, block, more=DOOR % 40))
    assert pick(judgement, "way-out", "bench", kind="required").verdict == verdict
    assert judgement.verdict == verdict


@pytest.mark.parametrize(("clear", "verdict"), [("28.0", "passes"), ("27.9", "fails")])
def test_the_only_exit_is_as_wide_as_the_way_to_it(clear: str, verdict: str) -> None:
    """29 CFR 1910.36(g)(2): at the door the clear width counts, one number on the tape."""
    judgement = judged(text_of(BENCH, more=DOOR % clear))
    found = pick(judgement, "way-out", "bench", kind="required")
    assert found.verdict == verdict
    assert found.about == ("bench", "way")


@pytest.mark.parametrize(("bottom", "verdict"), [("80", "passes"), ("79 63/64", "fails")])
def test_projections_over_the_way_out_hang_at_80_in(bottom: str, verdict: str) -> None:
    """29 CFR 1910.36(g)(1): projections from the ceiling not below 6 ft 8 in."""
    beam = f"from: [100in, 0], to: [100in, 16'], width: 6in, bottom: {bottom}in"
    room = f"size: [20', 16'], beams: {{duct: {{{beam}}}}}"
    judgement = judged(text_of(BENCH, room=room, more=DOOR % 40))
    assert pick(judgement, "way-out", "bench", kind="required").verdict == verdict


# --- working space at a panel: 30 in or its own width, 36 in deep, 78 in high --------------


def panel(*rows: str, width: float = 16, more: str = "") -> str:
    size = f"width: {width}in, depth: 4in, bottom: 30in, height: 70in"
    fixed = (
        f"fixed: {{panel: {{kind: electrical panel, {size}, at: {{wall: south, along: 100in}}}}}}\n"
    )
    return text_of(*rows, room="size: [25', 16']", more=fixed + more)


def post(name: str, x: float, y: float = 10.0, bottom: float = 0.0, top: float = 100.0) -> str:
    size = f"width: 2in, depth: 2in, bottom: {bottom}in, height: {top}in"
    return f"{name}: {{{size}, at: {{x: {x}in, y: {y}in}}}}"


@pytest.mark.parametrize(("width", "needed"), [(16, 30), (30, 30), (52, 52)])
def test_panel_space_30_in_or_the_width_of_the_equipment(width: int, needed: int) -> None:
    """NEC 110.26(A)(2), IRC E3405.2: the wider of 30 in and the equipment, anywhere about it."""
    for slack, verdict in ((0.0, "passes"), (-0.01, "fails")):
        rows = post("left", 98), post("right", 100 + needed + slack)
        assert pick(judged(panel(*rows, width=width)), "keep-clears", "panel").verdict == verdict


def test_panel_space_need_not_be_centred() -> None:
    """NEC 110.26(A)(2): flush left, flush right or between, as long as the panel is before it."""
    for left in (100 - 14, 100 - 7, 100 - 3.3, 100):
        rows = post("left", left - 2), post("right", left + 30)
        assert pick(judged(panel(*rows)), "keep-clears", "panel").verdict == "passes"
    # 30 in free, but not where the panel is
    rows = post("left", 101 - 2), post("right", 101 + 30)
    assert pick(judged(panel(*rows)), "keep-clears", "panel").verdict == "fails"


@pytest.mark.parametrize(("y", "verdict"), [(40.0, "passes"), (39.99, "fails")])
def test_panel_space_36_in_deep(y: float, verdict: str) -> None:
    """NEC Table 110.26(A)(1), 0 to 150 V to ground: 3 ft from the enclosure's front, 4 in off."""
    rows = tuple(post(f"p{i}", x, y) for i, x in enumerate((88, 96, 104, 112, 120)))
    assert pick(judged(panel(*rows)), "keep-clears", "panel").verdict == verdict


@pytest.mark.parametrize(("bottom", "verdict"), [(78.0, "passes"), (77.99, "fails")])
def test_panel_space_78_in_high(bottom: float, verdict: str) -> None:
    """NEC 110.26(A)(3): 6 1/2 ft; what hangs above is no matter."""
    rows = tuple(post(f"p{i}", x, 20, bottom) for i, x in enumerate((88, 96, 104, 112, 120)))
    assert pick(judged(panel(*rows)), "keep-clears", "panel").verdict == verdict


def test_panel_space_is_clear_of_things_on_wheels() -> None:
    """IRC E3405.1 note c; OSHA interpretation of 28 May 1999: not even stored there for a while."""
    cart = "cart: {width: 40in, depth: 20in, height: 30in, at: {x: 200in, y: 100in}, %s}"
    parked = cart % "parked: {x: 88in, y: 10in}"
    more = "tasks: {sweep: {parked: [cart]}}\n"
    assert pick(judged(panel(parked, more=more)), "keep-clears", "cart").verdict == "fails"


@pytest.mark.parametrize(
    ("x", "y", "verdict"),
    [
        (79 + 30, 0.0, "passes"),
        (79 + 29.99, 0.0, "fails"),
        (84, 54.0, "passes"),
        (84, 53.99, "fails"),
    ],
)
def test_appliance_30_by_30_in_at_its_control_side(x: float, y: float, verdict: str) -> None:
    """IRC M1305.1, IMC 306.1: a level space of 30 x 30 in before a furnace or water heater."""
    size = "width: 24in, depth: 24in, height: 60in"
    fixed = f"fixed: {{heater: {{kind: water heater, {size}, at: {{wall: south, along: 82in}}}}}}\n"
    # the space is centred on the heater of 24 in: from 79 to 109 in, 24 to 54 in from the wall
    depth = 150 if y == 0.0 else 20
    rack = f"rack: {{width: 10in, depth: {depth}in, height: 60in, at: {{x: {x}in, y: {y}in}}}}"
    judgement = judged(text_of(rack, room="size: [25', 16']", more=fixed))
    assert pick(judgement, "keep-clears", "heater").verdict == verdict


# --- machines, benches, doors --------------------------------------------------------------


@pytest.mark.parametrize(("reach", "verdict"), [(1200, "passes"), (1199, "fails")])
def test_take_off_table_1200_mm_behind_the_spindle(reach: int, verdict: str) -> None:
    """HSE, circular saw bench: the rear edge of the table 1200 mm from the saw's spindle."""
    saw = (
        "saw: {width: 800 mm, depth: 600 mm, height: 860 mm, surface: 860 mm, at: {x: 2 m, y: 1 m},"
        " blade: {at: [400 mm, 250 mm], diameter: 250 mm, depth of cut: 80 mm}}"
    )
    # the blade is 250 mm before the rear of the saw
    size = f"width: 900 mm, depth: {reach - 250} mm, height: 860 mm, surface: 860 mm"
    table = f"table: {{{size}, takes the outfeed of: saw, at: {{x: 1950 mm, y: north of saw}}}}"
    text = text_of(saw, table, room="size: [6 m, 8 m]", height="2.5 m", units="mm")
    found = next(f for f in judged(text).findings if f.rule == "take-off-table")
    assert (found.verdict, found.kind) == (verdict, "advised")
    assert found.measured == pytest.approx(reach / 1000)


@pytest.mark.parametrize(
    ("turn", "least"), [(0, 0.85), (180, 1.50)], ids=["one behind the other", "back to back"]
)
@pytest.mark.parametrize("short", [0.0, 0.001])
def test_benches_behind_one_another(turn: int, least: float, short: float) -> None:
    """RISU-NRW III-5.2: 0.85 m one behind the other, 1.50 m back to back.

    As places to stand: one user's 0.85 m alone, and two of 0.75 m by two people at one time.
    """
    depth = least if turn == 0 else least / 2
    zone = f"zones: {{place: {{side: front, depth: {depth} m}}}}"
    size = f"width: 1 m, depth: 0.5 m, height: 0.9 m, {zone}"
    front = f"front: {{{size.split(', zones')[0]}, at: {{x: 1 m, y: 1 m, turn: 0}}}}"
    if turn == 180:
        front = f"front: {{{size}, at: {{x: 1 m, y: 1 m, turn: 180}}}}"
    rear = f"rear: {{{size}, at: {{x: 1 m, y: {1.5 + least - short} m, turn: 0}}}}"
    text = text_of(
        front, rear, room="size: [6 m, 8 m]", height="2.5 m", units="metric", more="people: 2\n"
    )
    found = pick(judged(text), "zones", "front", "rear")
    assert found.verdict == ("passes" if short == 0.0 else "fails")


def test_a_36_in_leaf_sweeps_7_07_square_feet() -> None:
    """A quarter circle of 3 ft: pi x 3^2 / 4 square feet."""
    leaf = "width: 36in, hand: left, swing: in, height: 80in"
    door = f"doors: {{side: {{wall: south, at: 60in, {leaf}, leads to: outside}}}}\n"
    shop = parse(text_of(BENCH, more=door)).shop
    swing = building.door_swing(shop, shop.door("side"))
    assert swing is not None
    area = swing.polygon.area / (12 * IN) ** 2
    assert area == pytest.approx(pi * 9 / 4, rel=2e-4)
    assert area >= pi * 9 / 4  # never less than the leaf passes over
