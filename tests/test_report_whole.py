"""The report tells what other commands kept and found: layouts, moves, cords, states, the shed."""

from __future__ import annotations

from html import unescape
from pathlib import Path

import pytest

from floorplan.checks.judge import judge
from floorplan.cli.main import main
from floorplan.drawing.arrangement import Printing
from floorplan.drawing.page import PAPERS
from floorplan.report.kept import keep_layouts
from floorplan.report.order import Order, known_order, order_rows
from floorplan.report.print_set import PrintSet, set_pages
from floorplan.search.rank import Ranked
from floorplan.shop.model import Layout, Pose
from floorplan.shop.reader import load

INCH = 0.0254
ROOM = """\
shop: shed in the yard
units: in
tape: 0
room: {size: [200, 160], height: 96}
doors:
  door: {wall: south, at: 20, width: 60, height: 80, kind: opening, leads to: outside}
"""
THINGS = """\
equipment:
  bench: {width: 60, depth: 24, height: 34, may: stay, at: {x: 140, y: 136}}
  block: {width: 24, depth: 24, height: 34, on wheels: yes, weight: 100 lb, at: {x: 30, y: 100}}
"""
POWER = """\
equipment:
  saw: {width: 24, depth: 24, height: 34, at: {x: 96, y: 40}, plugs: {main: {at: [24, 12], height: 12, volts: 120, amps: 9}}}
tasks:
  rip: {uses: [saw]}
power:
  outlets: {wall outlet: {wall: east, along: 10, height: 12, circuit: A}}
  circuits: {A: {amps: 15, volts: 120}}
  cords: {saw: {length: 8 ft}}
"""  # noqa: E501
SITE = """\
site:
  lot: {corners: [[-400, -400], [800, -400], [800, 800], [-400, 800]]}
  lines: {street: [0, 1], east side: [1, 2], back: [2, 3], west side: [3, 0]}
  setbacks: {street: 100, east side: 60, back: 60, west side: 60}
  shed: {width: 60, depth: 48, height: 90, door: {side: front, width: 30, at: 10}}
"""


def told(folder: Path, text: str, *more: str) -> str:
    """The page of a shop, tags and all, its entities read."""
    path = folder / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    main(["report", str(path), "-o", str(folder), *more])
    return unescape((folder / "report.html").read_text(encoding="utf-8"))


def test_layouts_that_the_last_search_kept_are_told_with_their_moves(tmp_path: Path) -> None:
    text = ROOM + THINGS
    before = told(tmp_path, text)
    assert "`floorplan arrange mine.yaml` finds some" in before
    assert "Order of moves" not in before
    file = load(str(tmp_path / "mine.yaml"))
    moved = Layout({**file.layout.poses, ("block", "standing"): Pose.at(60 * INCH, 100 * INCH, 0)})
    kept = Ranked(1, judge(file.shop, moved), {}, ("walking",), False, "moves least of all")
    keep_layouts(file, (kept,), tmp_path)
    page = told(tmp_path, text)
    assert "Found by the last search of this shop, and judged again" in page
    assert 'Best for walking. Moves least of all. Moved from today: block 30".' in page
    assert "<h2>Order of moves to layout 1</h2>" in page
    # 30 in straight east; one thing needs no search of orders
    assert '1 thing, 1 move, 30" rolled in all.' in page
    assert "<li>block to x 5', y 8' 4\", turn 0: 30\" without a turn" in page
    # another file, even by a comment: nothing kept is of it
    assert "finds some" in told(tmp_path, text + "# changed\n")


def test_an_order_of_several_things_is_told_once_it_was_worked_out(tmp_path: Path) -> None:
    text = (
        ROOM
        + THINGS
        + "  box: {width: 20, depth: 20, height: 20, weight: 40 lb, at: {x: 140, y: 60}}\n"
    )
    other = text.replace("x: 30, y: 100", "x: 60, y: 100").replace("x: 140, y: 60", "x: 150, y: 60")
    (tmp_path / "mine.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "other.yaml").write_text(other, encoding="utf-8")
    file, wanted = (load(str(tmp_path / f"{name}.yaml")) for name in ("mine", "other"))
    assert known_order(file, wanted.layout, tmp_path) is None
    names = [str(tmp_path / f"{name}.yaml") for name in ("mine", "other")]
    main(["moves", *names, "-o", str(tmp_path)])
    order = known_order(file, wanted.layout, tmp_path)
    assert order is not None
    # 30 in and 10 in, straight east
    assert order.headline.startswith("2 things, 2 moves, 3' 4\" rolled")
    assert sorted(where.split(" to ")[0] for where, _ in order.steps) == ["block", "box"]
    assert known_order(file, file.layout, tmp_path) is not None  # nothing to move needs no search


def test_cords_and_circuits_are_told(tmp_path: Path) -> None:
    page = told(tmp_path, ROOM + POWER)
    assert "<h2>Cords and circuits</h2>" in page
    assert '<svg xmlns="http://www.w3.org/2000/svg"' in page
    assert 'id="cords-cord-saw"' in page
    # from (120, 52) to (200, 10) around nothing, and 12 in down and up: 114.35 in
    row = '<th scope="row">saw</th><td class="number">wall outlet, A</td>'
    assert f"""{row}<td class="number">9' 6-3/8"</td><td class="number">8'</td>""" in page
    # the usual load of a breaker for long is 80 % of 15 A
    assert '<td class="number">9 A</td>' in page
    assert "licensed electrician" in page


def test_places_for_the_shed_are_told(tmp_path: Path) -> None:
    page = told(tmp_path, ROOM + THINGS + SITE)
    assert "The collector's shed</h2>" in page
    assert "The shed can stand: 3 places ranked" in page
    assert 'id="site-title"' in page
    assert "setback" in page


def test_states_are_told_with_what_is_rolled(tmp_path: Path) -> None:
    text = ROOM + THINGS.replace(
        "at: {x: 30, y: 100}", "at: {x: 30, y: 100}, parked: {x: 10, y: 130}"
    )
    page = told(tmp_path, text + "tasks:\n  sand: {parked: [block]}\n")
    assert "The shop in its states</h2>" in page
    assert "a: block rolls" in page


@pytest.mark.slow
def test_the_printed_set_holds_states_cords_and_shed(tmp_path: Path) -> None:
    parked = THINGS.replace("x: 30, y: 100}", "x: 30, y: 100}, parked: {x: 10, y: 130}")
    power = POWER.replace("equipment:\n", "").replace(
        "tasks:\n", "tasks:\n  sand: {parked: [block]}\n"
    )
    path = tmp_path / "mine.yaml"
    path.write_text(ROOM + parked + power + SITE, encoding="utf-8")
    file = load(str(path))
    made = PrintSet(judge(file.shop, file.layout), "Today", Printing(PAPERS["letter"], 48), ())
    pages = set_pages(made)
    subjects = [page.title.removeprefix("shed in the yard: ") for page in pages]
    for part in ("state: sand", "Cords to the outlets", "Site: places for the collector's shed"):
        assert part in subjects
    gids = {a.get_gid() for page in pages for a in page.axes.get_children() if a.get_gid()}
    assert {"roll: block", "cord: saw", "place 1"} <= gids
    assert {tuple(sorted((page.width, page.height))) for page in pages} == {(215.9, 279.4)}
    words = " ".join(
        text.get_text() for page in pages for text in page.axes.texts if text.get_text()
    )
    assert f"sheet {len(pages)} of {len(pages)}" in words
    assert "a: block rolls" in words


def test_an_order_on_paper_says_its_steps_or_the_command() -> None:
    def texts(order: Order | None) -> str:
        rows = order_rows(order, "floorplan moves mine.yaml rank 2")
        return " ".join(cell.text for row in rows for cell in row.cells)

    assert texts(None) == "`floorplan moves mine.yaml rank 2` works out the order of moves."
    told = texts(Order("1 thing, 1 move", (("saw to x 1', y 2'", "100 lb"),), ("a waits.",)))
    assert told == "1 thing, 1 move. 1. saw to x 1', y 2'; 100 lb a waits."
