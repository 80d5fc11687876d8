"""Where two people work at one time, the published overlap matrix decides: a shop for each cell.

ASR A1.2 (5.1.5, read in a reproduction): the floor one moves on may not overlap that of others,
footprints, function zones of others or safety distances; it may overlap function zones of what
its own user uses.  The cells without a standing place are meanings of this program.
"""

from __future__ import annotations

from itertools import product

import pytest
from shops import judged, text_of

from floorplan.rules.overlap import Area, may_overlap

PURPOSE = {Area.STANDING_PLACE: "stand", Area.USE_ZONE: "service"}


def room(name: str, kind: Area, y: int, side: str) -> str:
    zone = f"zones: {{room: {{side: {side}, depth: 30in, purpose: {PURPOSE[kind]}}}}}"
    return f"{name}: {{width: 20in, depth: 20in, height: 34in, at: {{x: 20in, y: {y}in}}, {zone}}}"


def wrong(*rows: str, more: str) -> bool:
    return any(f.check == "zones" for f in judged(text_of(*rows, more=more)).failing)


@pytest.mark.parametrize(("one", "other"), tuple(product(PURPOSE, PURPOSE)))
@pytest.mark.parametrize("same", [True, False])
def test_two_zones(one: Area, other: Area, same: bool) -> None:
    """One person's are those of one task; two tasks may be two people's."""
    tasks = "{both: {uses: [a, b]}}" if same else "{one: {uses: [a]}, two: {uses: [b]}}"
    rows = room("a", one, 20, "back"), room("b", other, 90, "front")
    allowed = may_overlap(one, other, same_person=same)
    assert wrong(*rows, more=f"people: 2\ntasks: {tasks}\n") is not allowed
    published = {Area.STANDING_PLACE} & {one, other}
    if published:  # the two cells that stand in the source
        assert allowed is same


@pytest.mark.parametrize("kind", PURPOSE)
def test_a_solid_is_in_nobodys_zone(kind: Area) -> None:
    """Also not a tool on wheels, though the source allows one's own: a body stays a body."""
    for place in ("", ", parked: {x: 150in, y: 150in}"):
        body = f"b: {{width: 20in, depth: 20in, height: 34in, at: {{x: 20in, y: 60in}}{place}}}"
        assert wrong(room("a", kind, 20, "back"), body, more="people: 2\n")
    assert not may_overlap(kind, Area.SOLID, same_person=True)


@pytest.mark.parametrize("kind", PURPOSE)
def test_a_distance_for_safety_is_kept_by_all(kind: Area) -> None:
    clear = "size: [20', 16'], keep clear: {danger: {at: [20in, 60in], size: [20in, 20in]%s}}"
    row = room("a", kind, 20, "back")
    for people, even in product((1, 2), ("", ", even while working: yes")):
        found = [
            f
            for f in judged(text_of(row, room=clear % even, more=f"people: {people}\n")).failing
            if f.check == "zones"
        ]
        assert bool(found) is bool(even)
    assert not may_overlap(kind, Area.SAFETY_DISTANCE, same_person=True)


def test_two_cannot_use_one_thing_at_one_time() -> None:
    """Zones of two tasks that both need the saw are never both in use."""
    rows = room("a", Area.STANDING_PLACE, 20, "back"), room("b", Area.STANDING_PLACE, 90, "front")
    saw = "saw: {width: 20in, depth: 20in, height: 34in, at: {x: 150in, y: 20in}}"
    tasks = "people: 2\ntasks: {one: {uses: [a, saw]}, two: {uses: [b, saw]}}\n"
    assert not wrong(*rows, saw, more=tasks)


def test_alone_nobody_else_is_in_the_way() -> None:
    rows = room("a", Area.STANDING_PLACE, 20, "back"), room("b", Area.STANDING_PLACE, 90, "front")
    tasks = "tasks: {one: {uses: [a]}, two: {uses: [b]}}\n"
    assert not wrong(*rows, more=f"people: 1\n{tasks}")
    assert wrong(*rows, more=f"people: 2\n{tasks}")
