"""Bad shop files: each mistake is told once, at its line, in words that say what would be right.

What is a mistake and what is not follows from the form of the file; no outside source needed.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import load, parse

BASE = """\
shop: trial
room: {size: [24', 22'], height: 8' 6"}
doors:
  big door: {wall: south, at: 4', width: 16', height: 7', kind: overhead, leads to: outside}
  side door: {wall: east, at: 15', width: 36", height: 80", leads to: outside}
windows:
  window: {wall: north, at: 4', width: 4', sill: 40", height: 36"}
fixed:
  panel: {kind: electrical panel, at: {wall: west, along: 12'}}
equipment:
  saw: {kind: cabinet table saw, at: {x: 8', y: 9', turn: 0}}
  bench:
    kind: assembly bench
    at: {x: 8', y: north of saw + 1/4 in, turn: 0}
    takes the outfeed of: saw
  shelf: {width: 36", depth: 12", height: 72", at: {x: 1', y: 1'}}
places:
  stack: {x: 4', y: 4'}
stock:
  sheet: {length: 96 in, width: 48 in, thickness: 3/4 in}
tasks:
  rip: {uses: [saw], open: [big door]}
jobs:
  cabinet:
    walk: [big door, saw, bench]
    feed: [{stock: sheet, through: saw, offset: 24 in}]
"""

# (id, text to change, new text, line of the fault by a text it holds, words of the message or fix)
MISTAKES: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    # --- syntax
    ("tab indent", "  bench:\n    kind", "  bench:\n\tkind", "\tkind", ("tab", "blanks")),
    ("quote left open", "shop: trial", 'shop: "trial', "room:", ("stray bracket or quote",)),
    ("bracket left open", "[24', 22'], height: 8' 6\"}", "[24', 22', height: 8' 6\"}", "room:",
     ("bracket",)),
    ("anchor", "shop: trial", "shop: &name trial", "shop:", ("anchors", "write the value out")),
    ("tag", "shop: trial", "shop: !!str trial", "shop:", ("tags",)),
    ("name twice", "places:", "  saw: {width: 1'}\nplaces:", "  saw: {width: 1'}",
     ("second time", "first in line 11")),
    ("second document", "places:", "---\nplaces:", "---", ("second document",)),
    # --- names
    ("unknown section", "places:", "placess:", "placess:", ("did you mean `places`",)),
    ("power without outlets", "places:", "power: {circuits: {}}\nplaces:", "power:",
     ("needs `outlets:`",)),
    ("unknown key of a thing", "depth: 12\"", "deep: 12\"", "shelf:", ("`deep`", "`depth`")),
    ("unknown key of a door", "width: 36\", height: 80\"", "width: 36\", hight: 80\"", "side door:",
     ("`hight`", "did you mean `height`?")),
    ("unknown key of the room", "height: 8' 6\"", "ceiling: 8' 6\", height: 8'", "room:",
     ("`ceiling` is not known here",)),
    ("unknown kind", "kind: assembly bench", "kind: asembly bench", "asembly",
     ("no kind `asembly bench`", "`assembly bench`")),
    ("unknown wall", "wall: east", "wall: esat", "esat", ("no wall `esat`", "east")),
    ("same name for two things", "  stack:", "  saw:", "  saw: {x: 4'",
     ("`saw` is the name of something in line 11",)),
    ("floor as a name", "  stack:", "  floor:", "  floor:", ("name of the floor",)),
    ("link to an unknown machine", "outfeed of: saw", "outfeed of: sow", "outfeed of:",
     ("no machine `sow`", "`saw`")),
    ("outfeed of a bench", "outfeed of: saw", "outfeed of: shelf", "outfeed of:",
     ("nothing is fed through `shelf`",)),
    ("within reach of nothing", "    takes the outfeed of: saw",
     "    within 8' of: outlet\n    takes the outfeed of: saw", "within 8'",
     ("no thing, place or outlet `outlet`",)),
    ("unknown stop", "walk: [big door,", "walk: [big dor,", "walk:",
     ("no thing, door or place `big dor`", "`big door`")),
    ("unknown stock", "stock: sheet,", "stock: shet,", "feed:", ("no stock `shet`", "`sheet`")),
    ("feed through a bench", "through: saw", "through: bench", "feed:",
     ("nothing can be fed through `bench`",)),
    ("unknown machine to feed", "through: saw", "through: sow", "feed:", ("`sow`", "`saw`")),
    ("unknown thing in a task", "uses: [saw]", "uses: [saww]", "rip:", ("no thing `saww`",)),
    ("unknown door in a task", "open: [big door]", "open: [bigdoor]",
     "rip:", ("no door `bigdoor`",)),
    ("unknown task to go together", "uses: [saw],", "uses: [saw], together with: [glue],", "rip:",
     ("no task `glue`",)),
    ("unknown task of a thing", "  shelf: {", "  shelf: {only in: [sleep], ", "shelf:",
     ("no task `sleep`",)),
    ("unknown rule", "places:", "rules: {way-out-with: 30 in}\nplaces:", "rules:",
     ("way-out-with", "way-out-width")),
    ("bad value of a rule", "places:", "rules: {way-out-width: wide}\nplaces:",
     "rules:", ("wide",)),
    ("unknown priority", "places:", "priorities: [walkin]\nplaces:", "priorities:",
     ("no priority `walkin`", "`walking`")),
    # --- numbers
    ("unit missing", "height: 72\"", "height: 72", "shelf:", ("has no unit", "72 in")),
    ("unknown unit", "height: 72\"", "height: 72 yards", "shelf:", ("yards",)),
    ("two systems in one size", "width: 36\", height: 80\"", "width: 3' 20 mm, height: 80\"",
     "side door:", ("use one system",)),
    ("not a number", "depth: 12\"", "depth: nan in", "shelf:", ("real number",)),
    ("infinite", "depth: 12\"", "depth: .inf", "shelf:", ()),
    ("decimal comma", "depth: 12\"", "depth: '12,5 in'", "shelf:", ("decimal point",)),
    ("zero depth", "depth: 12\"", "depth: 0", "shelf:", ("more than 0",)),
    ("negative size", "depth: 12\"", "depth: -12\"", "shelf:", ()),
    ("negative error", "depth: 12\"", "depth: 12\" +- -1\"", "shelf:", ("measuring error",)),
    ("empty value", "kind: assembly bench", "kind:", "kind:", ("nothing stands after `kind:`",)),
    ("turn out of range", "turn: 0}}", "turn: 4000}}", "saw:", ("-360 and 360",)),
    ("turn in words", "turn: 0}}", "turn: north}}", "saw:", ()),
    ("list instead of size", "depth: 12\"", "depth: [12\"]", "shelf:", ("not a list",)),
    ("three people", "places:", "people: 3\nplaces:", "people:", ("too large", "at most 2")),
    ("tape below nothing", "places:", "tape: -1/8 in\nplaces:", "tape:", ()),
    # --- what cannot be
    ("outline of two corners", "size: [24', 22']", "corners: [[0, 0], [24', 0]]", "room:",
     ("at least three corners",)),
    ("outline that crosses itself", "size: [24', 22']",
     "corners: [[0, 0], [24', 0], [0, 22'], [24', 22']]", "room:",
     ("crosses or touches itself", "in order")),
    ("outline without area", "size: [24', 22']", "corners: [[0, 0], [24', 0], [12', 0]]",
     "room:", ()),
    ("size and corners", "room: {", "room: {corners: [[0, 0], [9', 0], [9', 9']], ", "room:",
     ("one of `size`, `corners` and `walls`",)),
    ("room without a size", "size: [24', 22'], ", "", "room:", ("none is there",)),
    ("one number for the room", "[24', 22']", "[24']", "room:", ("two numbers, not 1",)),
    ("walls that do not close", "size: [24', 22']",
     "walls: [{go: east, length: 24'}, {go: north, length: 22'}, {go: west, length: 23'}, "
     "{go: south, length: 22'}]", "room:", ("do not close", "measure the walls again")),
    ("too few names of walls", "size: [24', 22']", "size: [24', 22'], wall names: [a, b]", "room:",
     ("4 different names",)),
    ("door off the wall", "at: 15'", "at: 20'", "side door:",
     ("does not lie on the east wall", "counts from its west or south end")),
    ("door higher than the room", "height: 80\"", "height: 9'",
     "side door:", ("higher than the room",)),
    ("clear width over width", "width: 36\", ", "width: 36\", clear width: 38\", ", "side door:",
     ("clear width is more than the width", "swapped")),
    ("nowhere a door leads to", ", leads to: outside}\nwindows", "}\nwindows", "side door:",
     ("needs `leads to:`",)),
    ("openings that overlap", "windows:\n", "windows:\n  low: {wall: east, at: 16', width: 4', "
     "sill: 2', height: 4'}\n", "low:", ("`side door` and `low` overlap",)),
    ("window above the ceiling", "sill: 40\", height: 36\"", "sill: 40\", height: 70\"", "window:",
     ("higher than the room",)),
    ("bottom above top", "height: 72\"", "height: 72\", bottom: 80\"", "shelf:",
     ("not above its bottom",)),
    ("swapped x and y", "at: {x: 1', y: 1'}", "at: {x: 6', y: 22' 6\", turn: 90}", "shelf:",
     ("outside the room", "are x and y swapped?")),
    ("outside the room", "at: {x: 1', y: 1'}", "at: {x: 60', y: 50'}", "shelf:",
     ("outside the room", "x counts to the east")),
    ("bigger than the room", "{width: 36\"", "{width: 40'", "shelf:", ("bigger than the room",)),
    ("bigger than any thing", "width: 36\", depth", "width: 300', depth", "shelf:", ()),
    ("thing without a size", "width: 36\", depth", "depth", "shelf:", ("`shelf` has no width",)),
    ("fixed without a place", ", at: {wall: west, along: 12'}}", "}",
     "panel:", ("needs an `at:`",)),
    ("fixed things overlap", "equipment:",
     "  heater: {kind: water heater, at: {wall: west, along: 11'}}\nequipment:", "heater:",
     ("`panel` and `heater` are both fixed but overlap",)),
    ("poses in a ring", "at: {x: 8', y: 9', turn: 0}", "at: {x: 8', y: south of bench, turn: 0}",
     "north of saw", ("in a ring", "saw -> bench -> saw")),
    ("leaning on itself", "y: north of saw + 1/4 in", "y: north of bench", "north of",
     ("in a ring", "bench -> bench")),
    ("leaning on nothing", "north of saw", "north of sow", "north of", ("no thing `sow`", "`saw`")),
    ("east of for y", "north of saw", "east of saw", "east of", ("does not fix y",)),
    ("wall that does not fix x", "at: {x: 8', y: 9'", "at: {x: against north wall, y: 9'", "saw:",
     ("does not fix x",)),
    ("x missing", "at: {x: 1', y: 1'}", "at: {y: 1'}", "shelf:", ("needs `x:`",)),
    ("drawer without travel", "  shelf: {",
     "  shelf: {drawers: {tray: {side: front, width: 20\"}}, ",
     "shelf:", ("`tray` needs `travel:`",)),
    ("drawer on no side", "  shelf: {",
     "  shelf: {drawers: {tray: {width: 20\", travel: 10\"}}, ",
     "shelf:", ("`tray` needs `side:`",)),
    ("drawer with heights reversed", "  shelf: {", "  shelf: {drawers: {tray: {side: front, "
     "width: 20\", travel: 10\", bottom: 30\", top: 20\"}}, ", "shelf:", ("not above its bottom",)),
    ("zone without a depth", "  shelf: {", "  shelf: {zones: {reach: {side: front}}, ", "shelf:",
     ("`reach` needs `depth:`",)),
    ("part without a top", "  shelf: {",
     "  shelf: {parts: {lamp: {at: [0, 0], size: [2\", 2\"]}}, ",
     "shelf:", ("`lamp` has no top",)),
    ("slides along nothing", "  shelf: {", "  shelf: {may: slide, ",
     "shelf:", ("along which wall",)),
    ("blade beside the piece", "offset: 24 in", "offset: 60 in", "feed:", ("beside the piece",)),
    ("piece without a size", "stock: sheet, through", "length: 20\", width: 10\", through", "feed:",
     ("the piece has no thickness",)),
    ("stock without thickness", ", thickness: 3/4 in", "", "  sheet:", ("needs `thickness:`",)),
    ("least over most", "    takes the outfeed of: saw",
     "    takes the outfeed of: saw\n    outfeed: {step: [1/4 in, 0]}", "step:",
     ("least is more than the most",)),
    ("outfeed of no machine", "    takes the outfeed of: saw", "    outfeed: {cover: 20\"}",
     "outfeed:", ("goes with `takes the outfeed of",)),
    ("post outside", "room: {", "room: {posts: {pole: {at: [40', 2'], size: [4\", 4\"]}}, ",
     "room:",
     ("`pole` lies outside the room",)),
    ("post upside down", "room: {", "room: {posts: {pole: {at: [4', 2'], size: [4\", 4\"], "
     "bottom: 60\", top: 20\"}}, ", "room:", ("not above its bottom", "swapped")),
)  # fmt: skip


def faults_of(text: str | bytes) -> ShopFileError:
    with pytest.raises(ShopFileError) as caught:
        parse(text, "shop.yaml")
    return caught.value


def test_the_base_of_the_table_has_no_fault() -> None:
    assert parse(BASE).shop.name == "trial"


@pytest.mark.parametrize(("old", "new", "place", "words"), [row[1:] for row in MISTAKES],
                         ids=[row[0] for row in MISTAKES])  # fmt: skip
def test_each_mistake_is_told_once_and_at_its_line(
    old: str, new: str, place: str, words: tuple[str, ...]
) -> None:
    assert BASE.count(old) >= 1
    text = BASE.replace(old, new, 1)
    error = faults_of(text)
    assert len(error.faults) == 1, str(error)
    fault = error.faults[0]
    told = f"{fault.message} {fault.fix}"
    for word in words:
        assert word in told, told
    lines = text.splitlines()
    assert place in lines[fault.line - 1], f"line {fault.line}: {told}"
    assert "Traceback" not in told
    assert "None" not in told


def test_all_mistakes_of_a_file_are_told_at_once_and_in_order() -> None:
    text = BASE
    for _, old, new, *_ in (row for row in MISTAKES if row[0] in (
        "unit missing", "unknown stock", "door off the wall", "unknown wall", "unknown kind",
    )):  # fmt: skip
        text = text.replace(old, new, 1)
    text = text.replace("wall: west", "wall: wset")
    error = faults_of(text)
    assert [fault.line for fault in error.faults] == [5, 9, 13, 16, 26]
    assert str(error).count("shop.yaml:") == 5


def test_a_thing_with_a_fault_is_not_reported_missing_where_it_is_named() -> None:
    text = BASE.replace("kind: cabinet table saw", "kind: cabinet table swa")
    assert [fault.line for fault in faults_of(text).faults] == [11]


def test_a_message_shows_the_line_and_marks_the_place() -> None:
    shown = str(faults_of(BASE.replace('height: 72"', "height: 72")))
    first, source, marks, *_ = shown.splitlines()
    assert first.startswith("shop.yaml:16:43: `72` has no unit")
    assert source[marks.index("^") :].startswith("72")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"# only a comment\n", "the file is empty"),
        (b"- a\n- b\n", "must begin with named values"),
        (b"just text\n", "must begin with named values"),
        (b"shop: caf\xe9\n", "not UTF-8"),
        (b"shop: a\x00b\n", "U+0000"),
        (b"\x89PNG\r\n\x1a\n\x00", "not UTF-8"),
    ],
)
def test_what_is_no_shop_file_is_told_in_one_message(data: bytes, words: str) -> None:
    error = faults_of(data)
    assert len(error.faults) == 1
    assert words in error.faults[0].message


def test_missing_file_and_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(ShopFileError, match="there is no such file"):
        load(tmp_path / "nothing.yaml")
    with pytest.raises(ShopFileError, match="this is a folder"):
        load(tmp_path)


def test_a_name_after_an_empty_section_is_not_needed() -> None:
    text = "shop: bare\nroom: {size: [4 m, 3 m], height: 2.5 m}\nequipment:\ndoors: {}\n"
    assert parse(text).shop.things == ()


def test_reading_a_bad_file_loads_neither_scipy_nor_matplotlib(tmp_path: Path) -> None:
    """The answer to a typing mistake must come at once; those two take most of a second."""
    path = tmp_path / "bad.yaml"
    path.write_text(BASE.replace('height: 72"', "height: 72"), encoding="utf-8")
    program = (
        "import sys\nfrom floorplan.shop.reader import load\n"
        "try:\n    load(sys.argv[1])\nexcept ValueError:\n    pass\n"
        "else:\n    raise SystemExit('read')\n"
        "raise SystemExit(','.join({'scipy', 'matplotlib'} & set(sys.modules)) or 0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
