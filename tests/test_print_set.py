"""A set to print, read back from the PDF itself: page sizes, true scale, numbers, nothing lost.

Sheet sizes: Letter 8-1/2 x 11 in, 11 x 17 in (ASME Y14.1), A4 210 x 297 mm (ISO 216).  A point is
1/72 in (ISO 32000-1, 8.3.2.3).  1/4 in = 1 ft is 1:48.
"""

from __future__ import annotations

import re
import zlib
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.text import Text
from shops import judged

from floorplan.checks.judge import Judgement
from floorplan.cli.main import main
from floorplan.cli.printing import PAPERS as OFFERED
from floorplan.cli.printing import scale_ratio
from floorplan.drawing.arrangement import RATIOS, Printing
from floorplan.drawing.notes import notes
from floorplan.drawing.page import PAPERS, Page, bound
from floorplan.drawing.tiles import OVERLAP, cut_for, plan_extent, tile_pages
from floorplan.report.print_set import PrintSet, set_pages
from floorplan.report.unchecked import unchecked
from floorplan.units import System

INCH = 0.0254
SHOP = """\
shop: a shop
tape: {plan: 1/8 in, height: 1/16 in}
room: {size: [20', 24'], height: 9'}
doors:
  door: {wall: south, at: 12', width: 6', height: 80", kind: opening, leads to: outside}
equipment:
  saw: {kind: cabinet table saw, at: {x: 60", y: 120", turn: 0}}
  bench:
    width: 60"
    depth: 30"
    height: 33-15/16"
    surface: 33-15/16"
    at: {x: 60", y: north of saw, turn: 0}
    takes the outfeed of: saw
    feet:
      at: [[2", 2"], [58", 2"], [58", 28"], [2", 28"]]
      shortest: 1"
      longest: 4"
      height without feet: 32"
      level with: saw
  rack: {width: 8', depth: 14", height: 50", at: {x: 18', y: 12', turn: 90}}
  cart: {width: 20", depth: 20", height: 30"}
floor:
  readings:
    - {at: [0, 0], reading: 1"}
    - {at: [20', 0], reading: 1"}
    - {at: [20', 24'], reading: 2"}
    - {at: [0, 24'], reading: 2"}
stock:
  sheet: {length: 96", width: 48", thickness: 3/4"}
jobs:
  case:
    walk: [rack, saw, bench]
    carry: [{stock: sheet, from: door, to: rack, how: on edge}]
    feed: [{stock: sheet, through: saw, cut: rip, offset: 24"}]
air:
  collector:
    fan: {flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm], pressure: [12 in wg, 11.5 in wg, 9.5 in wg, 5 in wg]}
  runs:
    main: {from: saw, path: [[6', 10', 40"], [6', 10', 96"], [6', 26', 96"]], diameter: 6"}
rules:
  kickback-width: off
"""  # noqa: E501
METRIC = """\
shop: Werkstatt
units: mm
room: {size: [6000, 5000], height: 2500}
equipment:
  bench: {width: 900, depth: 600, height: 800, at: {x: 1000, y: 500}}
"""


@cache
def shop(text: str = SHOP) -> Judgement:
    return judged(text)


def made(text: str, paper: str, ratio: int, *, exact: bool = False) -> tuple[Page, ...]:
    printing = Printing(PAPERS[paper], ratio, exact)
    return set_pages(PrintSet(shop(text), "The shop as it stands", printing, ("Mind the gap.",)))


@cache
def letter() -> tuple[Page, ...]:
    return made(SHOP, "letter", 48)


@cache
def letter_pdf() -> bytes:
    return bound(letter(), "a shop")


# --- reading a PDF: as much of ISO 32000-1 as these files use -----------------------------------


def sheets(pdf: bytes) -> list[str]:
    """The content of each page, in order."""
    starts = [found.end() for found in re.finditer(rb"stream\r?\n", pdf)]
    packed = [start for start in starts if pdf[start : start + 1] == b"\x78"]
    contents = [zlib.decompressobj().decompress(pdf[i:]).decode("latin-1") for i in packed]
    return [content for content in contents if " Tf" in content]


def lines_of(content: str) -> list[str]:
    """Every text that is shown, kerning left aside; ligatures are `~`."""
    blocks = re.findall(r"^BT\n(.*?)^ET$", content, re.MULTILINE | re.DOTALL)
    pieces = (re.findall(r"\(((?:\\.|[^\\()])*)\)", block) for block in blocks)
    texts = (re.sub(r"\\(.)", r"\1", "".join(parts)) for parts in pieces)
    return [re.sub(r"[\x00-\x1f]", "~", text) for text in texts]


def as_shown(text: str) -> str:
    """A text with the ligatures that the face sets."""
    return re.sub("ffi|ffl|ff|fi|fl", "~", text)


def media_boxes(pdf: bytes) -> list[tuple[float, float]]:
    found = re.findall(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", pdf)
    return [(float(width), float(height)) for width, height in found]


def boxes(content: str) -> list[tuple[float, float]]:
    """Width and height of every closed path [pt]."""
    found = []
    for path in re.findall(r"((?:[-\d.]+ [-\d.]+ [ml]\n)+)h\n", content):
        points = np.array(re.findall(r"([-\d.]+) ([-\d.]+) [ml]", path), dtype=float)
        found.append(tuple(float(v) for v in np.ptp(points, axis=0)))
    return found  # type: ignore[return-value]


# --- true scale ---------------------------------------------------------------------------------


def test_every_page_is_a_letter_sheet_whichever_way_up() -> None:
    sizes = media_boxes(letter_pdf())
    assert len(sizes) == len(letter())
    assert {tuple(sorted(size)) for size in sizes} == {(612.0, 792.0)}


def test_the_walls_of_the_plan_measure_a_quarter_inch_to_the_foot() -> None:
    # 20 x 24 ft inside walls: 5 x 6 in on paper
    plan = sheets(letter_pdf())[0]
    assert "Scale 1:48 (1/4 in = 1 ft) on Letter" in lines_of(plan)
    assert any(box == pytest.approx((360.0, 432.0), abs=1e-3) for box in boxes(plan))


def test_a_metric_room_is_printed_at_1_to_50_on_a4() -> None:
    pdf = bound(made(METRIC, "a4", 50), "x")
    unit = 72 / 25.4
    assert media_boxes(pdf)[0] == pytest.approx((297 * unit, 210 * unit), abs=1e-2)
    wide, high = 120 * unit, 100 * unit  # 6000 x 5000 mm at 1:50
    assert any(box == pytest.approx((wide, high), abs=1e-3) for box in boxes(sheets(pdf)[0]))


def test_an_l_shaped_room_is_printed_with_each_wall_to_scale() -> None:
    corners = "[[0, 0], [6400, 0], [6400, 3000], [4200, 3000], [4200, 5200], [0, 5200]]"
    text = METRIC.replace("size: [6000, 5000]", f"corners: {corners}")
    plan = sheets(bound(made(text, "a4", 50), "x"))[0]
    unit = 72 / 25.4 / 50
    expected = [6400, 3000, 2200, 2200, 4200, 5200]
    lengths = [
        np.hypot(*np.diff(np.vstack([points, points[:1]]), axis=0).T) / unit
        for path in re.findall(r"((?:[-\d.]+ [-\d.]+ [ml]\n)+)h\n", plan)
        if len(points := np.array(re.findall(r"([-\d.]+) ([-\d.]+) [ml]", path), dtype=float)) > 5
    ]
    walls = [tuple(sorted(w[w > 1].round(1))) for w in lengths]
    assert tuple(map(float, sorted(expected))) in walls


def test_every_sheet_with_a_plan_has_a_bar_to_measure() -> None:
    for content in sheets(letter_pdf()):
        words = lines_of(content)
        if "Text on Letter" not in words:
            assert any(line.startswith("Print at 100 %, then measure this bar") for line in words)
            assert "N" in words


def test_the_same_shop_gives_the_same_bytes() -> None:
    assert bound(made(SHOP, "letter", 48), "a shop") == letter_pdf()
    assert b"CreationDate" not in letter_pdf()


# --- what is in it ------------------------------------------------------------------------------


def test_the_sheets_are_numbered_and_each_part_is_there() -> None:
    contents = [lines_of(content) for content in sheets(letter_pdf())]
    count = len(contents)
    for number, words in enumerate(contents, 1):
        assert [w for w in words if re.fullmatch(r"sheet \d+ of \d+", w)] == [
            f"sheet {number} of {count}"
        ]
        assert any(word.startswith("Cautions.") for word in words)
    everything = [word for words in contents for word in words]
    for subject in (
        "Tape sheet", "sheet: door to rack", "sheet through saw", "Ducts and hoses",
        "Feet of bench", "Notes", "Legend",
    ):  # fmt: skip
        assert subject in everything, subject


def test_nothing_that_was_found_is_lost() -> None:
    rows = notes(shop().findings, shop().shop.system)
    assert len(rows) > 1
    shown = " ".join(word for content in sheets(letter_pdf()) for word in lines_of(content))
    for note in rows:
        assert as_shown(note.text) in shown
    for name in shop().assumed:
        assert as_shown(name) in shown
    for what in unchecked(shop()):
        assert as_shown(what) in shown
    assert "Mind the gap." in shown


def test_what_was_not_checked_is_told() -> None:
    told = unchecked(shop())
    assert "cart: it has no place yet" in told
    assert "kickback-width: your file switches this rule off" in told
    bare = " ".join(unchecked(shop(METRIC)))
    for word in ("no doors", "carried", "walking", "`air`", "not surveyed"):
        assert word in bare
        assert word not in " ".join(told)


def test_no_lettering_leaves_the_paper() -> None:
    for page in (*letter(), *made(SHOP, "letter", 24, exact=True)):
        right, top = page.width - 4.0, page.height - 4.0
        tile = "part" in page.title or re.search(r" [A-Z]\d$", page.title)
        for text in page.axes.get_children():
            if isinstance(text, Text) and text.get_text() and not tile:
                x, y = text.get_position()
                assert 4.0 <= x <= right, text.get_text()
                assert 4.0 <= y <= top, text.get_text()
                assert text.get_fontsize() >= 6.0


# --- larger than the paper ----------------------------------------------------------------------


def test_a_plan_too_large_for_the_paper_names_the_paper_and_is_drawn_smaller() -> None:
    # 20 ft at 1/2 in to the foot are 10 in; with walls and ruler that is more than the 10.2 in
    # within the margins of 11 x 17 in paper, and less than the 11.2 in of 12 x 18 in
    pages = made(SHOP, "letter", 24)
    contents = [lines_of(content) for content in sheets(bound(pages, "x"))]
    said = "At 1:24 (1/2 in = 1 ft) this plan needs 12 x 18 in paper (arch-b)."
    assert said in " ".join(word for words in contents[:2] for word in words)
    assert "Scale 1:48 (1/4 in = 1 ft) on Letter" in contents[0]
    large = [lines_of(content) for content in sheets(bound(made(SHOP, "arch-b", 24), "x"))]
    assert "Scale 1:24 (1/2 in = 1 ft) on 12 x 18 in" in large[0]
    assert said not in " ".join(word for words in large for word in words)


def test_parts_that_overlap_cover_the_whole_plan_at_the_scale_asked_for() -> None:
    printing = Printing(PAPERS["letter"], 24, exact=True)
    cut, (wide, high) = cut_for(shop(), printing), plan_extent(shop(), 24)
    pages = tile_pages(shop(), "The shop", printing)
    assert len(pages) == cut.across * cut.down == 4
    assert cut.across * cut.window.width - (cut.across - 1) * OVERLAP >= wide
    assert cut.down * cut.window.height - (cut.down - 1) * OVERLAP >= high
    for content in sheets(bound(pages, "x")):
        # 20 x 24 ft at 1/2 in to the foot: 10 x 12 in, drawn whole behind each window
        assert any(box == pytest.approx((720.0, 864.0), abs=1e-3) for box in boxes(content))
    whole = made(SHOP, "letter", 24, exact=True)
    assert sum(bool(re.search(r" [AB][12]$", page.title)) for page in whole) == 4


def test_a_mark_is_the_same_point_of_the_room_on_both_sheets() -> None:
    printing = Printing(PAPERS["letter"], 24, exact=True)
    spots = []
    for page in tile_pages(shop(), "The shop", printing):
        floor = next(a for a in page.axes.patches if a.get_gid() == "floor").get_path().vertices
        origin = floor.min(axis=0)
        marks = [a for a in page.axes.lines if a.get_gid() == "overlap mark"]
        spots.append({tuple(np.round(m.get_xydata().mean(axis=0) - origin, 4)) for m in marks})
    a1, a2, b1, b2 = spots
    for one, other in ((a1, a2), (a1, b1), (a2, b2), (b1, b2)):
        assert len(one & other) == 2


def test_paper_too_small_for_a_building_is_refused() -> None:
    text = METRIC.replace("size: [6000, 5000]", "size: [59000, 5000]")
    with pytest.raises(ValueError, match="too large for A4 paper"):
        made(text, "a4", 50)


# --- the command --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "ratio"),
    [("1/4", 48), ('1/4"', 48), ("1/4 in", 48), ("1/2", 24), ("3/8", 32), ("1", 12), ("1:50", 50),
     ("1 : 20", 20), ("fit", 0), ("FIT", 0)],
)  # fmt: skip
def test_scales_as_one_writes_them(text: str, ratio: int) -> None:
    assert scale_ratio(text) == ratio


def test_the_papers_offered_are_those_that_can_be_drawn() -> None:
    assert tuple(PAPERS) == OFFERED
    sizes = [(p.width, p.height) for p in PAPERS.values()]
    assert all(width < height for width, height in sizes)
    # ISO 216: halves of one another, sides as 1 to the square root of 2
    for name in ("a4", "a3", "a2", "a1"):
        assert PAPERS[name].height / PAPERS[name].width == pytest.approx(2**0.5, abs=0.006)
    assert RATIOS[System.IMPERIAL][2] == scale_ratio("1/4")


def run(tmp_path: Path, *arguments: str) -> int:
    path = tmp_path / "shop.yaml"
    path.write_text(METRIC, encoding="utf-8")
    return main([arguments[0], str(path), "-o", str(tmp_path), *arguments[1:]])


def test_check_prints_a_set(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(tmp_path, "check", "--print", "--scale", "1:25", "--paper", "A3")
    assert "check-print.pdf" in capsys.readouterr().out
    pdf = (tmp_path / "check-print.pdf").read_bytes()
    assert "Scale 1:25 on A3" in lines_of(sheets(pdf)[0])


def test_arrange_prints_the_rank_wanted(tmp_path: Path) -> None:
    run(tmp_path, "arrange", "--effort", "20", "--print")
    assert (tmp_path / "rank-1-print.pdf").is_file()
    words = lines_of(sheets((tmp_path / "rank-1-print.pdf").read_bytes())[0])
    assert any(word.startswith("Layout 1: ") for word in words)
    assert not (tmp_path / "rank-2-print.pdf").exists()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--paper", "b5"), "`b5` is no paper known; one of letter, tabloid"),
        (("--scale", "1/0"), "`1/0` is no scale; write `1/4` for 1/4 in = 1 ft"),
        (("--scale", "quarter"), "is no scale"),
        (("--scale", "1:2"), "is no scale"),
    ],
)
def test_what_cannot_be_printed_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        run(tmp_path, "check", "--print", *arguments)
    assert ended.value.code == 2
    assert says in capsys.readouterr().err
