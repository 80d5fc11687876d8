"""Every generic kind stands alone in a big room without anything against it."""

from __future__ import annotations

import pytest

from floorplan.checks.judge import judge
from floorplan.geometry.affine import affine
from floorplan.shop.catalogue import FIXED_KINDS, kinds
from floorplan.shop.mobile_base import raised
from floorplan.shop.reader import parse
from floorplan.units import parse_length

EQUIPMENT = sorted(set(kinds()) - set(FIXED_KINDS) - {"car"})
INCH = 0.0254
ROOM = """\
shop: one thing
room: {size: [40', 40'], height: 10'}
doors:
  door: {wall: south, at: 2', width: 10', height: 8', kind: overhead, leads to: outside}
"""


def alone(kind: str, *more: str) -> str:
    if kind in FIXED_KINDS:
        return f"{ROOM}fixed:\n  it: {{kind: {kind}, at: {{wall: north, along: 20'}}}}\n"
    entry = ", ".join((f"kind: {kind}", "at: {x: 18', y: 19', turn: 0}", *more))
    return f"{ROOM}equipment:\n  it: {{{entry}}}\n"


def test_there_are_twenty_eight_kinds_of_equipment_at_least() -> None:
    assert len(EQUIPMENT) >= 28


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_alone_in_a_big_room_it_passes_every_check(kind: str) -> None:
    file = parse(alone(kind))
    found = judge(file.shop, file.layout)
    assert [f.message for f in found.findings if f.verdict != "passes"] == []
    assert found.verdict == "passes"


@pytest.mark.parametrize("kind", EQUIPMENT)
def test_it_can_be_weighed_and_used(kind: str) -> None:
    thing = parse(alone(kind)).shop.thing("it")
    assert thing.mass is not None
    assert 5.0 < thing.mass < 400.0
    assert thing.zones, "nobody would know from where it is used"
    top = max([thing.height.value, *(part.top.value for part in thing.parts)])
    for port in thing.ports:
        assert 0.0 < port.height.value <= top
    for plug in thing.plugs:
        assert 0.0 < plug.height.value <= top
        assert plug.volts in (120.0, 240.0)


def test_a_mobile_base_lifts_all_that_the_thing_has_and_juts_out_at_the_floor() -> None:
    base = "mobile base: {height: 1-1/2 in, overhang: 2 in}"
    plain = parse(alone("cabinet table saw")).shop.thing("it")
    rolling = parse(alone("cabinet table saw", base)).shop.thing("it")
    up = 1.5 * INCH
    assert rolling.height.value == pytest.approx(plain.height.value + up)
    assert rolling.surface is not None
    assert plain.surface is not None
    assert rolling.surface.value == pytest.approx(plain.surface.value + up)
    assert rolling.cutter is not None
    assert plain.cutter is not None
    assert rolling.cutter.table.value == pytest.approx(plain.cutter.table.value + up)
    assert rolling.ports[0].height.value == pytest.approx(plain.ports[0].height.value + up)
    fence, below = rolling.parts
    assert fence.top.value == pytest.approx(plain.parts[0].top.value + up)
    assert below.name == "mobile base"
    assert below.top.value == pytest.approx(up)
    assert below.outline.lowest(0).value == pytest.approx(-2 * INCH)
    assert below.outline.highest(0).value == pytest.approx(66 * INCH)
    assert below.outline.lowest(1).value == pytest.approx(-36 * INCH)
    assert rolling.on_wheels
    # whoever works at it still stands on the floor
    assert [z.bottom.value for z in rolling.zones] == [z.bottom.value for z in plain.zones]


def test_drawers_go_up_and_the_base_counts_in_the_errors() -> None:
    thing = parse(alone("assembly bench", "mobile base: {height: 4 in}")).shop.thing("it")
    assert thing.openings[0].bottom.value == pytest.approx(26 * INCH)
    assert "it: mobile base height" in thing.height.terms
    assert "it: mobile base height" in thing.openings[0].top.terms


def test_what_stands_on_a_base_is_pushed_against_walls_and_things_by_its_base() -> None:
    text = f"""{ROOM}equipment:
  saw:
    kind: drill press
    mobile base: {{height: 2 in, overhang: 3 in}}
    at: {{x: against east wall, y: against north wall, turn: 0}}
  bin: {{kind: scrap bin, at: {{x: west of saw, y: against north wall, turn: 0}}}}
  lathe:
    kind: lathe
    mobile base: {{height: 2 in, overhang: 3 in}}
    at: {{wall: west, along: 10'}}
"""
    file = parse(text)
    pose = file.layout.pose("saw")
    assert pose is not None
    assert pose.x.value == pytest.approx((480 - 20 - 3) * INCH)
    assert pose.y.value == pytest.approx((480 - 26 - 3) * INCH)
    beside = file.layout.pose("bin")
    assert beside is not None
    assert beside.x.value == pytest.approx((480 - 20 - 3 - 3 - 18) * INCH)
    lathe = file.layout.pose("lathe")
    assert lathe is not None
    assert lathe.x.value == pytest.approx(3 * INCH)
    assert not [f for f in judge(file.shop, file.layout).failing if f.check == "solids"]


def test_raising_is_plain_addition() -> None:
    thing = parse(alone("wall cabinet", "bottom: 0 in, height: 30 in")).shop.thing("it")
    assert raised(thing, affine(0.1)).height.value == pytest.approx(
        float(parse_length("30 in")) + 0.1
    )
