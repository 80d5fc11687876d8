"""Drawings are read back and held against the model: true scale, same bytes, nothing covered.

Sheet sizes: Letter 8-1/2 x 11 in, 11 x 17 in (ASME Y14.1), A4 210 x 297 mm (ISO 216).  A point is
1/72 in, in PDF (ISO 32000-1, 8.3.2.3) as in these SVG files.  1/4 in = 1 ft is 1:48.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from math import cos, hypot, radians, sin
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.colors import to_hex
from matplotlib.patches import Circle
from matplotlib.text import Text
from shapely.geometry import Polygon, box

from floorplan.checks.judge import Judgement, judge
from floorplan.drawing import arrangement
from floorplan.drawing.comparison import Candidate, compare_sheet, comparison
from floorplan.drawing.lettering import printable, text_width, wrapped
from floorplan.drawing.notes import notes
from floorplan.drawing.page import Page, rendered, save
from floorplan.drawing.placing import GAP, Box, Placer, around
from floorplan.drawing.room import wall_ring
from floorplan.drawing.sheets import check_sheet, layout_sheet, plan_sheet
from floorplan.drawing.style import ALERT, SMALL_SIZE, drawing_defaults
from floorplan.drawing.tape import tape_table, usual_walls
from floorplan.shop.model import Pose
from floorplan.shop.reader import load
from floorplan.units import System

FOOT = 0.3048
INCH = 0.0254

SQUARE = """\
shop: two-car garage
room: {size: [24', 22'], height: 8' 6"}
doors:
  big door: {wall: south, at: 4', width: 16', height: 7', kind: overhead, leads to: outside}
  side door: {wall: east, at: 15', width: 36", height: 80", leads to: outside, swing: in}
fixed:
  panel: {kind: electrical panel, at: {wall: west, along: 12'}}
equipment:
  saw: {kind: cabinet table saw, at: {x: 8', y: 9', turn: 0}}
  bench: {kind: assembly bench, at: {x: 8', y: north of saw + 1/4 in, turn: 0}}
  rack: {kind: sheet rack, at: {wall: west, along: 0}}
  cabinet: {width: 60 in, depth: 12 in, height: 84 in, bottom: 54 in, at: {x: 16', y: 20', turn: 0}}
stock:
  sheet: {length: 96 in, width: 48 in, thickness: 3/4 in}
jobs:
  case:
    walk: [big door, rack, saw, bench]
    feed: [{stock: sheet, through: saw, cut: rip, offset: 24 in}]
"""

ELL = """\
shop: shop round a corner
room:
  corners: [[0, 0], [28', 0], [28', 24'], [12', 24'], [12', 14'], [0, 14']]
  height: 9'
  posts:
    post: {at: [15', 11'], size: [6", 6"]}
  beams:
    ridge: {from: [0, 13'], to: [28', 13'], width: 6", bottom: 8', top: 9'}
doors:
  roll door: {wall: south, at: 2', width: 9', height: 7', kind: overhead, leads to: outside}
  house door: {wall: east, at: 8', width: 32", height: 80", leads to: house, hand: right, swing: in}
  garden door: {wall: west wall 1, at: 9', width: 36", height: 80", leads to: outside, swing: out}
windows:
  light: {wall: north wall 2, at: 5', width: 6', sill: 42", height: 36"}
equipment:
  cabinet saw: {kind: cabinet table saw, at: {x: 8', y: 5', turn: 0}}
  outfeed and assembly bench: {kind: assembly bench, at: {x: 8', y: 8', turn: 0}}
  sheet rack: {kind: sheet rack, at: {x: 0, y: 0, turn: 90}}
  jointer: {kind: jointer, at: {x: 18', y: 6', turn: 0}}
  planer: {kind: planer, at: {x: 20', y: 10', turn: 90}}
  band saw: {kind: band saw, at: {x: 15', y: 20', turn: 180}}
  drill press: {kind: drill press, at: {x: 25', y: 20', turn: 0}}
  router table: {kind: router table, at: {x: 14', y: 2', turn: 0}}
  skewed cart: {width: 30 in, depth: 20 in, height: 30 in, at: {x: 2', y: 6', turn: 30}}
  spare bench: {width: 60 in, depth: 24 in, height: 34 in}
"""

NARROW = """\
shop: Kellerwerkstatt
units: mm
room: {size: [2600, 7800], height: 2400}
doors:
  Tor: {wall: south, at: 300, width: 900, height: 2100, leads to: outside, swing: out}
  Schiebetür: {wall: north, at: 300, width: 800, height: 2000, kind: sliding, leads to: house}
windows:
  Fenster: {wall: east, at: 3000, width: 1200, sill: 1000, height: 900}
equipment:
  saw: {kind: portable table saw, at: {x: 900, y: 3000, turn: 0}}
  bench: {width: 2000, depth: 600, height: 900, at: {x: 0, y: 5000, turn: 90}}
  shelf: {width: 1800, depth: 300, height: 2000, at: {x: 0, y: 1000, turn: 90}}
  "<drill> & $press$ 木": {kind: drill press, at: {x: 2000, y: 6900, turn: 0}}
  vacuum: {width: 400, depth: 400, height: 600, at: {x: 2150, y: 4000, turn: 0}}
"""

SHOPS = {"square": SQUARE, "ell": ELL, "narrow": NARROW}


@cache
def judged(name: str) -> Judgement:
    return _judge(SHOPS[name])


def _judge(text: str) -> Judgement:
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        path = Path(folder) / "shop.yaml"
        path.write_text(text, encoding="utf-8")
        file = load(str(path))
    return judge(file.shop, file.layout)


@cache
def sheet(name: str) -> tuple:
    return plan_sheet(judged(name))


@cache
def svg(name: str) -> ElementTree.Element:
    return ElementTree.fromstring(rendered(sheet(name)[0], "svg"))


def points(root: ElementTree.Element, gid: str) -> list[np.ndarray]:
    """Vertices of the paths below the group of this id, in points from the upper left corner."""
    found = []
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        if group.get("id") == gid:
            for path in group.iter("{http://www.w3.org/2000/svg}path"):
                numbers = re.findall(r"-?\d+(?:\.\d+)?", path.get("d") or "")
                found.append(np.array(numbers, dtype=float).reshape(-1, 2))
    return found


# --- true scale ----------------------------------------------------------------------------------


def test_a_wall_of_24_ft_is_6_inches_at_quarter_inch_to_the_foot():
    floor = points(svg("square"), "floor")[0]
    assert sheet("square")[1].ratio == 48
    assert np.ptp(floor[:, 0]) == pytest.approx(6 * 72, abs=1e-4)
    assert np.ptp(floor[:, 1]) == pytest.approx(22 / 4 * 72, abs=1e-4)


def test_a_metric_room_is_drawn_in_millimetres():
    floor = points(svg("narrow"), "floor")[0]
    ratio = sheet("narrow")[1].ratio
    assert ratio in (20, 25, 50)
    assert np.ptp(floor[:, 1]) / 72 * 25.4 * ratio == pytest.approx(7800, abs=1e-2)


@pytest.mark.parametrize("name", SHOPS)
def test_every_thing_lies_where_the_model_has_it(name):
    plan = sheet(name)[1]
    floor = points(svg(name), "floor")[0]
    room = plan.scene.floor.bounds
    left, bottom = floor[:, 0].min(), floor[:, 1].max()
    scale = 1 / plan.ratio / INCH * 72  # points to a metre
    for thing in plan.scene.shop.things:
        if thing.name not in plan.scene.things:
            continue
        body = next(e for e in plan.scene.things[thing.name] if e.name == "body")
        drawn = points(svg(name), f"thing: {thing.name}")[0]
        x = (drawn[:, 0] - left) / scale + room[0]
        y = (bottom - drawn[:, 1]) / scale + room[1]
        outline = Polygon(np.column_stack([x, y]))
        assert outline.symmetric_difference(body.volume.polygon).area < 1e-7


@pytest.mark.parametrize(
    ("name", "size"), [("square", (11 * 72, 8.5 * 72)), ("narrow", (210, 297))]
)
def test_the_pdf_page_is_the_sheet_itself(name, size):
    page = sheet(name)[0]
    found = re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", rendered(page, "pdf"))
    assert found
    unit = 1.0 if name == "square" else 25.4 / 72
    assert tuple(float(n) * unit for n in found.groups()) == pytest.approx(size, abs=1e-3)


def test_a_hinged_leaf_reaches_its_width_from_the_hinge_and_stands_square_to_the_wall():
    plan = sheet("square")[1]
    scale = 1 / plan.ratio / INCH * 72
    floor = points(svg("square"), "floor")[0]
    leaf = points(svg("square"), "leaf: side door")[0]
    assert np.ptp(leaf[:, 0]) / scale == pytest.approx(36 * INCH, abs=1e-6)
    assert np.ptp(leaf[:, 1]) == pytest.approx(0, abs=1e-4)
    # seen from inside, facing east, the left jamb is the northern one: 15 ft + 36 in
    assert (floor[:, 1].max() - leaf[0, 1]) / scale == pytest.approx(18 * FOOT, abs=1e-6)
    swing = points(svg("square"), "swing: side door")[0]
    hinge = leaf[np.argmax(leaf[:, 0])]
    radii = np.hypot(*(swing - hinge).T) / scale
    assert radii == pytest.approx(np.full(len(swing), 36 * INCH), abs=1e-6)


def test_walls_have_their_thickness_and_the_door_is_cut_through():
    plan = sheet("square")[1]
    scale = 1 / plan.ratio / INCH * 72
    floor, walls = points(svg("square"), "floor")[0], points(svg("square"), "walls")[0]
    thick = plan.scene.shop.room.wall_thickness.value
    assert (floor[:, 0].min() - walls[:, 0].min()) / scale == pytest.approx(thick, abs=1e-6)
    south = walls[np.abs(walls[:, 1] - floor[:, 1].max()) < 1e-3]
    cut = (south[:, 0] - floor[:, 0].min()) / scale / FOOT
    for edge in (4.0, 20.0):
        assert np.abs(cut - edge).min() < 1e-4


def test_the_ruler_counts_feet_from_the_wall():
    page, plan = sheet("square")
    below = plan.to_paper(0, 0)[1]
    seen = []
    for text in texts(page):
        at = extent(page, text)
        if re.fullmatch(r"\d+'", text.get_text()) and at.top < below and not text.get_rotation():
            feet = int(text.get_text()[:-1])
            assert at.centre[0] == pytest.approx(plan.to_paper(feet * FOOT, 0)[0], abs=0.15)
            seen.append(feet)
    assert sorted(seen) == list(range(0, 25, 2))


# --- lettering -----------------------------------------------------------------------------------


def texts(page: Page) -> list[Text]:
    return [t for t in page.axes.get_children() if isinstance(t, Text) and t.get_text()]


def extent(page: Page, text: Text) -> Box:
    with drawing_defaults():
        found = text.get_window_extent(page.figure.canvas.get_renderer())
    unit = 25.4 / page.figure.dpi
    return Box(found.x0 * unit, found.y0 * unit, found.x1 * unit, found.y1 * unit)


@pytest.mark.parametrize("name", SHOPS)
def test_no_lettering_leaves_the_sheet_or_is_smaller_than_6_pt(name):
    page = sheet(name)[0]
    assert len(texts(page)) > 30
    for text in texts(page):
        assert page.box.grown(-4.0).contains(extent(page, text)), text.get_text()
        assert text.get_fontsize() >= SMALL_SIZE == 6.0


def covered(page: Page) -> list[tuple[str, str]]:
    boxes = [(t.get_text(), extent(page, t)) for t in texts(page)]
    return [
        (a, b)
        for (a, one), (b, two) in combinations(boxes, 2)
        if min(one.right, two.right) - max(one.left, two.left) > 0.1
        and min(one.top, two.top) - max(one.bottom, two.bottom) > 0.1
    ]


@pytest.mark.parametrize("name", SHOPS)
def test_no_lettering_covers_other_lettering(name):
    assert covered(sheet(name)[0]) == []


def test_the_search_for_covered_lettering_finds_it():
    page = Page(100, 100)
    page.text(10, 10, "one above")
    page.text(12, 10.5, "the other")
    assert covered(page) == [("one above", "the other")]


@pytest.mark.parametrize("name", SHOPS)
def test_every_thing_is_named_on_the_plan_or_listed_as_absent(name):
    page, plan = sheet(name)
    for thing in plan.scene.shop.things:
        own = [t for t in texts(page) if t.get_gid() == f"label: {thing.name}"]
        shown = " ".join(t.get_text() for t in own)
        if thing.name in plan.scene.things:
            assert shown.startswith(printable(thing.name)), thing.name
        else:
            assert not own
            assert any(printable(thing.name) in t.get_text() for t in texts(page))


@pytest.mark.parametrize("name", SHOPS)
def test_names_of_walls_and_openings_leave_the_walls_whole(name):
    page, plan = sheet(name)
    walls = plan.shape(wall_ring(plan.scene.shop.room), cut=False)
    names = [w.name for w in plan.scene.shop.room.walls]
    cleared = [
        Polygon(p.get_path().vertices)
        for p in page.axes.patches
        if p.get_zorder() == 19.0 and p.get_alpha() is not None
    ]
    lettered = 0
    for text in texts(page):
        if any(re.fullmatch(rf"{re.escape(name)} [\d' ]+", text.get_text()) for name in names):
            middle = shapely.Point(extent(page, text).centre)
            (own,) = [c for c in cleared if c.contains(middle)]
            assert own.intersection(walls).area < 1e-6
            lettered += 1
    assert lettered >= 3


def test_measured_widths_are_those_of_the_drawn_text():
    page = Page(250, 50)
    for size, bold in ((6.0, False), (11.0, True)):
        text = page.text(10, 10, "Outfeed 7' 4-1/2\" WAVES, filling", size=size, bold=bold)
        assert extent(page, text).width == pytest.approx(
            text_width(text.get_text(), size, bold), rel=0.01
        )


@given(st.text(st.characters(codec="ascii"), max_size=80), st.floats(8.0, 60.0))
@settings(max_examples=60, deadline=None)
def test_wrapped_lines_keep_within_the_width_and_lose_nothing(text, width):
    lines = wrapped(text, width, 6.5)
    assert all(text_width(line, 6.5) <= width + 1e-9 for line in lines)
    assert "".join(lines).replace(" ", "") == "".join(text.split())


def test_characters_that_the_face_lacks_are_shown_as_missing():
    assert printable("Säge ½ 木") == "Säge ½ \ufffd"


@given(st.lists(st.tuples(*[st.floats(5, 95)] * 2, *[st.floats(1, 20)] * 2), max_size=15))
@settings(max_examples=60, deadline=None)
def test_placed_labels_never_overlap_and_stay_within(wanted):
    placer = Placer(Box(0, 0, 100, 100))
    for x, y, width, height in wanted:
        placer.find(
            [Box.about(x, y, width, height), *around(x, y, width, height, first=1, reach=40)]
        )
    boxes = [box(b.left, b.bottom, b.right, b.top) for b in placer.taken]
    for one, two in combinations(boxes, 2):
        assert one.distance(two) >= GAP - 1e-9
    assert all(box(0, 0, 100, 100).covers(b) for b in boxes)


def test_a_label_avoids_what_is_busy_when_it_can_and_covers_least_otherwise():
    placer = Placer(Box(0, 0, 100, 100))
    here, half, free = (Box(x, 10, x + 10, 14) for x in (10, 15, 30))
    busy = [Box(0, 0, 20, 20)]
    assert placer.find([here, half, free], busy=busy) == free
    placer = Placer(Box(0, 0, 100, 100))
    assert placer.find([here, half], busy=busy) == half
    assert Placer(Box(0, 0, 100, 100)).find([here], busy=busy, most=1.0) is None


# --- findings ------------------------------------------------------------------------------------


def circles(page: Page, prefix: str) -> dict[int, Circle]:
    found = {}
    for patch in page.axes.patches:
        gid = patch.get_gid() or ""
        if isinstance(patch, Circle) and gid.startswith(prefix):
            assert int(gid.removeprefix(prefix)) not in found
            found[int(gid.removeprefix(prefix))] = patch
    return found


@pytest.mark.parametrize("name", SHOPS)
def test_full_red_markers_are_the_failing_required_findings(name):
    page = sheet(name)[0]
    every = notes(judged(name).findings, judged(name).shop.system)
    failing = {
        f.message for f in judged(name).findings if f.verdict == "fails" and f.kind == "required"
    }
    assert failing
    full = {
        n
        for n, c in circles(page, "finding ").items()
        if to_hex(c.get_facecolor()) == ALERT.lower()
    }
    assert full == {n.number for n in every if (n.kind, n.verdict) == ("required", "fails")}
    told = [n.text for n in every if n.number in full]
    assert len(told) == len(failing)
    assert all(any(text.startswith(message) for text in told) for message in failing)


@pytest.mark.parametrize("name", SHOPS)
def test_every_number_on_the_plan_is_in_the_list_and_stands_by_its_place(name):
    page, plan = sheet(name)
    shown, listed = circles(page, "finding "), circles(page, "listed ")
    assert set(shown) <= set(listed)
    every = {n.number: n for n in notes(judged(name).findings, plan.system)}
    for number, circle in shown.items():
        places = [plan.shape(p, cut=False) for p in every[number].places]
        view = box(plan.view.left, plan.view.bottom, plan.view.right, plan.view.top)
        outside = min(p.distance(view) for p in places)
        marker = shapely.Point(circle.center)
        assert min(p.distance(marker) for p in places) < outside + 20.0
    # advice may go without a mark where the plan is full; what is required may not
    required = {n for n, note in every.items() if note.places and note.kind == "required"}
    assert not required - set(shown)


def test_the_marked_region_is_the_one_that_was_found():
    page, plan = sheet("square")
    every = notes(judged("square").findings, plan.system)
    note = next(n for n in every if n.kind == "required" and n.places[0].geom_type == "Polygon")
    patch = next(p for p in page.axes.patches if p.get_gid() == f"place of finding {note.number}")
    drawn = Polygon(patch.get_path().vertices)
    unit = 1000 / plan.ratio
    expected = note.places[0].area * unit**2
    assert drawn.area == pytest.approx(expected, rel=1e-6)


def test_findings_that_say_the_same_are_one_note():
    findings = judged("square").findings
    first = next(f for f in findings if f.verdict == "fails")
    assert len(notes([first, replace(first, task="another")], System.IMPERIAL)) == 1
    assert len(notes([first, replace(first, message="else")], System.IMPERIAL)) == 2


def test_more_findings_than_find_room_are_counted():
    base = judged("square")
    first = base.findings[0]
    many = tuple(replace(first, message=f"finding number {i} of many " * 4) for i in range(400))
    page, _ = plan_sheet(replace(base, findings=many))
    listed = circles(page, "listed ")
    assert set(listed) == set(range(1, len(listed) + 1))
    assert 8 <= len(listed) < 400
    said = [t.get_text() for t in texts(page) if "more, listed" in t.get_text()]
    assert said == [f"and {400 - len(listed)} more, listed in the text output"]
    assert set(circles(page, "finding ")) <= set(listed)


# --- the tape ------------------------------------------------------------------------------------


def test_distances_are_taken_from_the_walls_in_line():
    # band saw at (15 ft, 20 ft): the wall west of it is the one at 12 ft, not the one at 0
    scene = judged("ell").scene
    rows = {row.thing: row for row in tape_table(scene)}
    names = {w.name: w for w in scene.shop.room.walls}
    band = rows["band saw"]
    assert band.across.distance == pytest.approx(3 * FOOT)
    assert names[band.across.wall].start[0].value == pytest.approx(12 * FOOT)
    assert band.up.distance == pytest.approx(20 * FOOT)
    jointer = rows["jointer"]
    assert names[jointer.across.wall].start[0].value == 0
    assert (jointer.across.distance, jointer.up.distance) == pytest.approx((18 * FOOT, 6 * FOOT))


@pytest.mark.parametrize("name", SHOPS)
def test_the_tape_leads_to_the_edges_of_the_body(name):
    scene = judged(name).scene
    for row in tape_table(scene):
        body = next(e for e in scene.things[row.thing] if e.name == "body").volume.polygon
        west, south, east, north = body.bounds
        assert row.corner[0] == pytest.approx(west if row.across.sense > 0 else east, abs=1e-9)
        assert row.corner[1] == pytest.approx(south if row.up.sense > 0 else north, abs=1e-9)
        wall = {w.name: w for w in scene.shop.room.walls}[row.across.wall]
        assert wall.start[0].value + row.across.sense * row.across.distance == pytest.approx(
            row.corner[0]
        )


def test_a_slanting_wall_is_not_taped_from():
    text = """\
shop: slant
room: {corners: [[0, 0], [6 m, 0], [6 m, 5 m], [2 m, 5 m]], height: 2.5 m}
equipment:
  box: {width: 1 m, depth: 1 m, height: 1 m, at: {x: 3 m, y: 2 m, turn: 0}}
"""
    (row,) = tape_table(_judge(text).scene)
    assert row.across.wall == "east wall"
    assert row.across.distance == pytest.approx(2.0)
    assert row.across.sense == -1
    assert row.words(System.METRIC, usual_walls((row,))) == ("2000 mm", "2000 mm", "0°")


def test_the_skewed_cart_is_taped_to_its_westernmost_and_southernmost_points():
    (row,) = [r for r in tape_table(judged("ell").scene) if r.thing == "skewed cart"]
    body = next(e for e in judged("ell").scene.things["skewed cart"] if e.name == "body")
    wide = 30 * INCH * cos(radians(30)) + 20 * INCH * sin(radians(30))
    assert np.ptp(body.volume.outline.points[:, 0]) == pytest.approx(wide)
    assert (row.across.distance, row.up.distance) == pytest.approx((2 * FOOT, 6 * FOOT))


# --- the sheet -----------------------------------------------------------------------------------


def room_of(width: float, depth: float, system: System) -> arrangement.Arrangement:
    return arrangement.choose(width, depth, system, lambda _: 30.0, lambda a: a.room > 120.0)


@pytest.mark.parametrize(
    ("size", "system", "paper", "ratio"),
    [
        ((11 * FOOT, 11 * FOOT), System.IMPERIAL, "Letter", 24),
        ((24 * FOOT, 22 * FOOT), System.IMPERIAL, "Letter", 48),
        ((40 * FOOT, 30 * FOOT), System.IMPERIAL, "11 x 17 in", 48),
        ((2.8, 3.0), System.METRIC, "A4", 20),
        ((7.0, 6.5), System.METRIC, "A4", 50),
        ((14.0, 9.0), System.METRIC, "A3", 50),
    ],
)
def test_the_largest_scale_on_the_smallest_sheet(size, system, paper, ratio):
    chosen = room_of(*size, system)
    assert (chosen.paper, chosen.ratio) == (paper, ratio)


@given(st.floats(2, 50), st.floats(2, 50), st.sampled_from(System))
@settings(max_examples=50, deadline=None)
def test_areas_of_a_sheet_lie_on_it_and_apart(width, depth, system):
    chosen = room_of(width, depth, system)
    areas = [chosen.plan, *chosen.columns, chosen.foot, chosen.title]
    sheet_box = Box(0, 0, chosen.width, chosen.height).grown(-9.9)
    assert all(sheet_box.contains(area) for area in areas)
    shapes = [box(a.left, a.bottom, a.right, a.top) for a in areas]
    assert all(a.intersection(b).area == 0 for a, b in combinations(shapes, 2))
    assert chosen.plan.width >= width * 1000 / chosen.ratio


def test_a_building_beyond_every_sheet_is_refused():
    with pytest.raises(ValueError, match="too large"):
        room_of(200.0, 200.0, System.METRIC)


def test_the_title_block_tells_scale_and_sheet_and_the_foot_how_to_print():
    said = " | ".join(t.get_text() for t in texts(sheet("square")[0]))
    for words in ("two-car garage", "Scale 1:48 (1/4 in = 1 ft) on Letter", "sheet 1 of 1",
                  "Print at 100 %", "4 ft = 1\" on paper", "not an approval"):  # fmt: skip
        assert words in said
    assert "all in mm" in " ".join(t.get_text() for t in texts(sheet("narrow")[0]))


# --- files ---------------------------------------------------------------------------------------

DRAW_AGAIN = """\
import sys
from pathlib import Path
from floorplan.checks.judge import judge
from floorplan.drawing.room import wall_ring
from floorplan.drawing.sheets import check_sheet
from floorplan.shop.reader import load
file = load(sys.argv[1])
check_sheet(judge(file.shop, file.layout), sys.argv[2], "plan")
assert "matplotlib.pyplot" not in sys.modules
"""


def test_the_same_shop_draws_the_same_bytes(tmp_path):
    source = tmp_path / "shop.yaml"
    source.write_text(SQUARE, encoding="utf-8")
    for seed in ("1", "2"):
        subprocess.run(
            [sys.executable, "-W", "error", "-c", DRAW_AGAIN, str(source), str(tmp_path / seed)],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
    for kind in ("svg", "pdf", "png"):
        one, two = ((tmp_path / s / f"plan.{kind}").read_bytes() for s in "12")
        assert one == two
        assert len(one) > 10_000
    again = check_sheet(judged("square"), tmp_path / "3", "plan")
    assert [p.name for p in again] == ["plan.svg", "plan.pdf", "plan.png"]
    assert all(p.read_bytes() == (tmp_path / "1" / p.name).read_bytes() for p in again)


def test_another_layout_draws_other_bytes():
    base = judged("narrow")
    moved = base.layout.with_pose("vacuum", Pose.at(2.15, 4.01, 0.0))
    other = judge(base.shop, moved)
    assert rendered(plan_sheet(other)[0], "svg") != rendered(sheet("narrow")[0], "svg")


def test_settings_of_the_user_change_nothing():
    import matplotlib

    page = sheet("narrow")[0]
    before = rendered(page, "svg")
    with matplotlib.rc_context({"font.size": 30, "svg.fonttype": "none", "lines.linewidth": 9}):
        assert rendered(plan_sheet(judged("narrow"))[0], "svg") == before


def test_an_unknown_format_is_refused_before_anything_is_written(tmp_path):
    with pytest.raises(ValueError, match="not gif"):
        save(Page(100, 100), tmp_path / "x", ("gif",))
    assert list(tmp_path.iterdir()) == []


def test_a_room_without_things_or_doors_is_drawn():
    bare = _judge("shop: bare\nunits: mm\nroom: {size: [3 m, 4 m], height: 2.5 m}\n")
    page, plan = plan_sheet(bare)
    assert plan.ratio == 25
    assert covered(page) == []


# --- ranked layouts ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Offered:
    rank: int
    judgement: Judgement
    best_for: tuple[str, ...] = ()
    reason: str = "Shortest walks of all; the rack stays where it is."
    dominated: bool = False


def offered(rank: int, dx: float) -> Offered:
    base = judged("square")
    pose = base.layout.pose("rack")
    assert pose is not None
    there = Pose.at(pose.x.value + dx, pose.y.value, pose.turn)
    return Offered(rank, judge(base.shop, base.layout.with_pose("rack", there)), ("walking",))


def test_a_layout_sheet_says_why_and_what_moves(tmp_path):
    from floorplan.drawing.sheets import heading_rows, move_rows

    today, one = judged("square"), offered(1, 2 * FOOT)
    files = layout_sheet(one, tmp_path, "layout-1", today=today, formats=("svg",))
    assert [f.name for f in files] == ["layout-1.svg"]
    why = " ".join(c.text for r in heading_rows(one) for c in r.cells)
    assert why == "Best for walking. Shortest walks of all; the rack stays where it is."
    moved = " ".join(c.text for r in move_rows(today, one.judgement) for c in r.cells)
    assert moved == 'Moved from today: rack 24".'
    still = " ".join(c.text for r in move_rows(today, today) for c in r.cells)
    assert still == "Nothing moves."


def test_layouts_are_compared_under_one_scale(tmp_path):
    shown = [offered(1, FOOT), offered(2, 2 * FOOT)]
    (path,) = compare_sheet(shown, tmp_path, "all", today=judged("square"), formats=("svg",))
    floors = points(ElementTree.fromstring(path.read_bytes()), "floor")
    assert len(floors) == 3
    widths = [np.ptp(f[:, 0]) for f in floors]
    ratio = 24 * 12 * 72 / widths[0]
    assert round(ratio) in (24, 48, 96)
    assert widths == pytest.approx([24 * 12 * 72 / round(ratio)] * 3, abs=1e-3)


def test_the_comparison_covers_nothing_and_tabulates_every_measure():
    candidates = [
        Candidate("Today", judged("square"), "As it stands now."),
        *(
            Candidate(f"Layout {i}", offered(i, i * FOOT).judgement, "One reason.")
            for i in (1, 2, 3)
        ),
    ]
    page = comparison(candidates)
    assert covered(page) == []
    for text in texts(page):
        assert page.box.grown(-4.0).contains(extent(page, text)), text.get_text()
    said = [t.get_text() for t in texts(page)]
    for measure in judged("square").measures:
        assert measure in said
    assert {"Today", "Layout 1", "Layout 2", "Layout 3"} <= set(said)


def test_nothing_to_compare_is_an_error(tmp_path):
    with pytest.raises(ValueError, match="no layout"):
        compare_sheet([], tmp_path, "none")


def test_the_circle_of_a_marker_holds_its_number():
    page = sheet("ell")[0]
    numbers = [t for t in texts(page) if t.get_text().isdigit() and t.get_zorder() > 30]
    assert numbers
    centres = [c.center for c in (circles(page, "finding ") | circles(page, "listed ")).values()]
    centres += [c.center for c in circles(page, "finding ").values()]
    for text in numbers:
        x, y = extent(page, text).centre
        assert min(hypot(x - a, y - b) for a, b in centres) < 0.5


def test_a_walk_without_a_way_is_told_in_words():
    """A measure that is not finite must not end the drawing."""
    from floorplan.checks.finding import Measure, measure_text

    assert measure_text(Measure(float("inf"), "m"), System.METRIC) == "no way"
    assert measure_text(Measure(float("inf"), "1"), System.IMPERIAL) == "no way"
