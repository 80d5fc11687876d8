"""Largest sizes: rooms worked by hand, and every answer judged with the file read again."""

import pytest

from floorplan.checks import carrying
from floorplan.checks.judge import judge
from floorplan.search import size_search
from floorplan.search.carried_past import CarriedPast
from floorplan.search.largest import largest
from floorplan.search.sizes import Sizes
from floorplan.shop.model import Pose
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

STEP = 0.001
ROOM = """
shop: sizes
units: m
tape: {tape}
room: {{size: [4, 3], height: 2.5}}
equipment:
  bench: {{width: 1.2, depth: 0.6, height: 0.9, at: {{x: 1, y: 2, turn: 0}},
          zones: {{work: {{side: front, depth: 0.7}}}}{more}}}
"""


def largest_of(text, thing="bench", **options):
    file = parse(text)
    return largest(file.shop, file.layout, thing, text=text, **options)


def test_alone_in_a_room():
    """Width up to 4 m; depth up to 3 m less 0.7 m to stand before it, whatever the width."""
    found = largest_of(ROOM.format(tape=0, more=""), anywhere=True)
    assert found.reserve
    best = max(found.sizes, key=lambda s: s.width * s.depth)
    # turned by a quarter the room to stand costs width instead: 3 m wide, 4 - 0.7 deep
    assert best.width * best.depth == pytest.approx(max(4 * 2.3, 3 * 3.3), abs=4 * STEP)
    for size in found.sizes:
        limit = 3.3 if size.width <= 3 else 2.3
        assert size.depth == pytest.approx(limit, abs=1.5 * STEP)
        assert size.verdict == "passes"
        assert size.stopped_by


def test_each_edge_where_it_stands():
    """West wall 1 m off, east 4 - 2.2, north 3 - 2.6, south 2 m less 0.7 m to stand."""
    found = largest_of(ROOM.format(tape=0, more=""))
    grows = {edge.side: edge.grows for edge in found.edges}
    expected = {"left": 1.0, "right": 1.8, "back": 0.4, "front": 1.3}
    assert grows == pytest.approx(expected, abs=1.5 * STEP)
    stops = {edge.side: edge.stopped_by for edge in found.edges}
    assert stops["left"] == ("bench: work against west wall", "west wall") or stops["left"] == (
        "west wall",
        "bench: work against west wall",
    )
    assert stops["front"] == ("bench: work against south wall",)
    assert stops["back"] == ("north wall",)


def test_a_reserve_for_the_tape():
    """4 mm on each measured number: the room's side, and the size of the bench itself."""
    found = largest_of(ROOM.format(tape=0.004, more=""), anywhere=True)
    assert found.reserve
    assert max(size.width for size in found.sizes) == pytest.approx(4 - 0.008, abs=1.5 * STEP)
    assert all(size.verdict == "passes" for size in found.sizes)


def test_what_is_pushed_against_a_wall_stays_so():
    """Contact is declared: the back has no play to lose, and a deeper bench still passes."""
    text = ROOM.format(tape=0.004, more="").replace("y: 2,", "y: against north wall,")
    found = largest_of(text)
    assert found.reserve
    assert {e.side: e.grows for e in found.edges}["back"] == 0.0
    deepest = max(found.sizes, key=lambda s: s.depth)
    # 3 - 0.7 less the errors of the room's depth, the bench's depth and the 0.7 m to stand
    assert deepest.depth == pytest.approx(2.3 - 0.012, abs=1.5 * STEP)
    assert all(size.verdict == "passes" for size in found.sizes)


def test_drawers_grow_with_the_depth():
    """Travel is depth less 0.1 m: drawer and bench need 2 d - 0.1 <= 3, d <= 1.55 m."""
    drawers = (
        ", drawers: {top: {side: front, width: 0.5, travel: depth - 0.1, bottom: 0.5, top: 0.7, "
        "stand: none}}"
    )
    text = ROOM.format(tape=0, more=drawers)
    file = parse(text.replace("depth: 0.7", "depth: 0.1"))
    found = largest(file.shop, file.layout, "bench", text=file.text, anywhere=True)
    across = [s for s in found.sizes if s.turn % 180 == 0 and s.width > 3]
    assert across
    for size in across:
        assert size.depth == pytest.approx(1.55, abs=1.5 * STEP)
        assert any(note.startswith("top opens") for note in size.notes)


def test_one_step_more_does_not_fit():
    """Every size passes all checks where it is said to, and one step deeper there it does not."""
    text = ROOM.format(tape=0, more="") + (
        "  post: {width: 0.3, depth: 0.3, height: 2, at: {x: 3, y: 0.5, turn: 0}}\n"
    )
    found = largest_of(text)
    sizes = Sizes(text, "<text>", "bench")
    assert len(found.sizes) > 1
    for size in found.sizes:
        for more in (0.0, STEP):
            shop, layout = sizes.read(size.width, size.depth + more)
            worst = [
                judge(shop, layout.with_pose("bench", Pose.at(size.x, size.y - down, size.turn)))
                for down in (0.0, more)
            ]
            passing = [made.verdict == "passes" for made in worst]
            assert all(passing) if more == 0.0 else not any(passing)


def test_a_size_by_sensitivities_is_the_size_read_anew():
    """Everything on a thing follows as if the file said the new size."""
    text = ROOM.format(
        tape=0,
        more=", doors: {leaf: {side: right, at: 0.1, width: 0.4}}, "
        "parts: {wing: {at: [0.2, 0.1], size: [0.3, 0.2], bottom: 0.9, top: 1.1}}, "
        "keep clear: {behind: {side: back, depth: 0.2}}",
    )
    sizes = Sizes(text, "<text>", "bench")
    quick = sizes.thing(1.7, 0.8)
    slow = sizes.read(1.7, 0.8)[0].thing("bench")
    assert quick.body.points == pytest.approx(slow.body.points)
    for name in ("zones", "parts", "keep_clears"):
        for a, b in zip(getattr(quick, name), getattr(slow, name), strict=True):
            assert a.outline.points == pytest.approx(b.outline.points)
    assert quick.openings[0].sweep.points == pytest.approx(slow.openings[0].sweep.points)
    assert quick.openings[0].hinge == pytest.approx(slow.openings[0].hinge)


def test_nowhere_to_stand_is_said():
    text = ROOM.format(tape=0, more="").replace(", at: {x: 1, y: 2, turn: 0}", "")
    with pytest.raises(ValueError, match="no place yet"):
        largest_of(text)


CARRIED = """
shop: carried past
units: m
tape: 0.004
room: {size: [6, 4], height: 2.5}
doors: {way: {wall: south, at: 0.4, width: 1.2, height: 2.1, kind: opening, leads to: outside}}
stock: {panel: {length: 1.6, width: 0.9, thickness: 0.018}}
places: {stack: {x: 5, y: 3.2}}
equipment:
  post: {width: 0.4, depth: 1.9, height: 2, at: {x: 3, y: 0, turn: 0}}
  bench: {width: 1.2, depth: 0.5, height: 1.4, at: {x: 4, y: 0.1, turn: 0}}
jobs: {box: {carry: [{stock: panel, from: way, to: stack, how: flat}]}}
"""


@pytest.mark.parametrize(("x", "y", "doubtful"), [(4.7, 0.1, 0), (2.6, 2.5, 0), (2.6, 2.6, 1)])
def test_what_is_carried_past_is_found_once(x, y, doubtful):
    """With the way found once, what is in doubt about the bench is what the whole check says.

    In the corner it is in nobody's way; north of it are 1.0 m, then 0.9 m for a panel of 0.9 m.
    """
    file = parse(CARRIED)
    past = CarriedPast(file.shop, file.layout, "bench")
    made = scene(file.shop, file.layout.with_pose("bench", Pose.at(x, y, 0.0)))
    found, whole = (
        [(f.about, f.verdict, f.margin) for f in answer.findings if f.verdict != "passes"]
        for answer in (past.check(made), carrying.check(made))
    )
    assert found == whole
    assert len(found) == doubtful
    assert all("bench" in about for about, *_ in found)


OVER_YEARS = """
shop: over years
units: m
tape: 0
room: {size: [4, 3], height: 2.5}
stages: {now: {}, later: {when: in a year}}
equipment:
  bench: {width: 1.0, depth: 0.5, height: 0.9, at: {x: 1, y: 1, turn: 0}}
  crate: {width: 0.5, depth: 3, height: 1, at: {x: 0, y: 0, turn: 0}, until: now}
  cabinet: {width: 0.5, depth: 3, height: 2, at: {x: 3.5, y: 0, turn: 0}, from: later}
"""


def at_stages(text, numbers, **options):
    plan = parse(text)
    first, *later = [plan.at(number) for number in numbers]
    later = [(each.shop, each.layout) for each in later]
    return largest(first.shop, first.layout, "bench", text=text, later=later, **options)


def test_sizes_hold_at_every_stage(monkeypatch):
    """Now 0.5 m of crate west, later 0.5 m of cabinet east: 3.5 m at either, 3.0 m at both."""
    monkeypatch.setattr(size_search, "WIDTHS", 2)
    for numbers, widest in (((0,), 3.5), ((1,), 3.5), ((0, 1), 3.0)):
        found = at_stages(OVER_YEARS, numbers, anywhere=True)
        assert max(s.width for s in found.sizes) == pytest.approx(widest, abs=1.5 * STEP)
        assert all(s.verdict == "passes" and s.stopped_by for s in found.sizes)
    found = at_stages(OVER_YEARS, (0, 1))
    edges = {e.side: e for e in found.edges}
    assert edges["left"].grows == pytest.approx(0.5, abs=1.5 * STEP)
    assert edges["left"].stopped_by == ("crate (now)",)
    assert edges["right"].grows == pytest.approx(1.5, abs=1.5 * STEP)
    assert edges["right"].stopped_by == ("cabinet (later)",)
    assert edges["back"].stopped_by == ("north wall",)


def test_no_place_in_common_is_no_size(monkeypatch):
    """A slot 1.2 m wide west now and east later: some bench at either, none at both."""
    monkeypatch.setattr(size_search, "WIDTHS", 2)
    text = OVER_YEARS.replace("crate: {width: 0.5", "crate: {width: 2.8")
    text = text.replace("cabinet: {width: 0.5", "cabinet: {width: 2.8").replace("x: 3.5", "x: 1.2")
    assert at_stages(text, (0,), anywhere=True).sizes
    assert at_stages(text, (1,), anywhere=True).sizes
    assert not at_stages(text, (0, 1), anywhere=True).sizes


WAY_IN_DOUBT = """
shop: a way within the tape
units: m
tape: 0.004
room: {size: [4, 3], height: 2.5}
doors: {way: {wall: south, at: 0.5, width: 1.0, height: 2.1, kind: opening, leads to: outside}}
equipment:
  saw: {width: 0.6, depth: 0.6, height: 0.9, at: {x: 0.2, y: 2.3, turn: 0},
        zones: {work: {side: front, depth: 0.6}}}
  bench: {width: 0.8, depth: 0.4, height: 0.9, at: {x: 0, y: 0.9, turn: 0}}
  cabinet: {width: 1.9, depth: 2.1, height: 2, at: {x: 2.0, y: 0.8, turn: 0}}
tasks: {cut: {uses: [saw]}}
"""


def test_what_stops_a_size_is_named_even_where_it_is_only_in_doubt(monkeypatch):
    """Within what the tape may be off a way out neither passes nor fails: it is named still."""
    monkeypatch.setattr(size_search, "WIDTHS", 2)
    found = largest_of(WAY_IN_DOUBT)
    assert found.reserve
    edges = {e.side: e for e in found.edges}
    assert edges["right"].stopped_by == ("way out from saw",)
    assert 0.0 < edges["right"].grows < 1.2
    # a size that surely keeps the way out is never in doubt because of where the saw stands
    assert all(size.stopped_by for size in found.sizes)
    assert {size.verdict for size in found.sizes} == {"passes"}
