"""DXF read back by ezdxf, CSV by the standard reader, the tape sheet against hand arithmetic."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import Vec3
from shops import judged, text_of

from floorplan.checks.judge import Judgement
from floorplan.cli.main import main
from floorplan.drawing.tape_points import drops, wall_holes
from floorplan.drawing.tape_sheet import Taped, taped
from floorplan.report.csv import csv_text, findings, from_to, guarded, places, tape, walks
from floorplan.report.dxf import dxf_text, plain
from floorplan.report.tape import tape_text

INCH = 0.0254
JOBS = """\
doors:
  door: {wall: south, at: 2', width: 4', height: 80", leads to: outside}
jobs:
  cabinet:
    walk:
      - {from: saw, to: =bench, times: 3}
      - {from: =bench, to: saw, times: 2}
  frame:
    walk:
      - {from: saw, to: =bench, times: 4}
"""
SAW = 'saw: {kind: cabinet table saw, width: 60", depth: 30", at: {x: 60", y: 50", turn: 0}}'
BENCH = '=bench: {width: 40", depth: 30", height: 34", at: {x: 190", y: 150", turn: 0}}'


@pytest.fixture(scope="module")
def made() -> Judgement:
    return judged(text_of(SAW, BENCH, more=JOBS))


@pytest.fixture(scope="module")
def drawing(made: Judgement) -> Drawing:
    return ezdxf.read(io.StringIO(dxf_text(made)))  # type: ignore[attr-defined]


# --- DXF ----------------------------------------------------------------------------------------


def corners(drawing: Drawing, layer: str) -> list[set[tuple[float, float]]]:
    found = drawing.modelspace().query(f'POLYLINE[layer=="{layer}"]')
    assert all(line.is_closed for line in found)  # type: ignore[attr-defined]
    return [
        {(round(p.x, 4), round(p.y, 4)) for p in line.points()}  # type: ignore[attr-defined]
        for line in found
    ]


def test_an_independent_reader_finds_no_fault(drawing: Drawing) -> None:
    assert drawing.dxfversion == "AC1009"
    auditor = drawing.audit()
    assert auditor.errors == []
    assert auditor.fixes == []
    layers = {layer.dxf.name for layer in drawing.layers}
    assert {entity.dxf.layer for entity in drawing.modelspace()} <= layers


def test_things_and_walls_lie_where_they_stand_in_inches(drawing: Drawing) -> None:
    # saw 60 x 30 in at 60, 50; bench 40 x 30 in at 190, 150; room 240 x 192 in
    assert {(60, 50), (120, 50), (120, 80), (60, 80)} in corners(drawing, "THINGS")
    assert {(190, 150), (230, 150), (230, 180), (190, 180)} in corners(drawing, "THINGS")
    walls = set().union(*corners(drawing, "WALLS"))
    assert {(0.0, 0.0), (240.0, 0.0), (240.0, 192.0), (0.0, 192.0)} <= walls
    door = corners(drawing, "DOORS")[0]
    assert {x for x, y in door if y == 0} == {24.0, 70.0}  # clear: 48 in less 2 in


def test_the_unit_is_stated_and_can_be_measured(drawing: Drawing) -> None:
    line = drawing.modelspace().query('LINE[layer=="UNIT"]')[0]
    length = Vec3(line.dxf.end) - Vec3(line.dxf.start)
    assert length.magnitude == pytest.approx(12.0)
    words = drawing.modelspace().query('TEXT[layer=="UNIT"]')[0].dxf.text
    assert "1 = 1 in" in words
    metric = ezdxf.read(  # type: ignore[attr-defined]
        io.StringIO(
            dxf_text(
                judged(
                    text_of(
                        "bench: {width: 900, depth: 600, height: 800, at: {x: 1000, y: 500}}",
                        room="size: [6000, 5000]", height="2500", units="mm",
                    )
                )
            )
        )
    )  # fmt: skip
    assert {(1000, 500), (1900, 500), (1900, 1100), (1000, 1100)} in corners(metric, "THINGS")


def test_names_are_there_whatever_their_letters(drawing: Drawing) -> None:
    names = {entity.dxf.text for entity in drawing.modelspace().query('TEXT[layer=="NAMES"]')}
    assert {"saw", "=bench", "door"} <= names
    assert plain("Säge 50 %%d") == "S\\U+00E4ge 50 % %d"
    text = dxf_text(judged(text_of(BENCH.replace("=bench", "Hobelbank für Säge"))))
    assert text.isascii()
    read = ezdxf.read(io.StringIO(text))  # type: ignore[attr-defined]
    spelt = {entity.dxf.text for entity in read.modelspace().query('TEXT[layer=="NAMES"]')}
    assert "Hobelbank für Säge" in {decode_dxf_unicode(name) for name in spelt}


# --- CSV ----------------------------------------------------------------------------------------


def read(rows: object) -> list[list[str]]:
    return list(csv.reader(io.StringIO(csv_text(rows), newline="")))  # type: ignore[arg-type]


def test_a_text_never_begins_as_a_formula_and_a_number_stays_one() -> None:
    for start in ("=", "+", "-", "@", "\t", "\r"):
        assert guarded(f"{start}1+1") == f"'{start}1+1"
    assert guarded("plain = text") == "plain = text"
    assert guarded(-1.5) == "-1.5"
    assert guarded(None) == guarded(math.inf) == ""
    assert csv_text(iter([("a,b", 'c"d')])) == '"a,b","c""d"\r\n'


def test_tables_hold_what_the_shop_says(made: Judgement) -> None:
    assert read(places(made))[1:] == [
        ["saw", "standing", "60", "50", "0"],
        ["'=bench", "standing", "190", "150", "0"],
    ]
    chart = read(from_to(made))
    assert chart[0][1:] == ["saw", "'=bench"]
    assert chart[1:] == [["saw", "", "7"], ["'=bench", "2", ""]]  # 3 + 4 there, 2 back
    rows = read(walks(made))[1:]
    assert [row[3] for row in rows] == ["3", "2", "4"]
    total = sum(float(row[5]) for row in rows) * 0.3048
    assert total == pytest.approx(made.measures["walking"].value, abs=1e-3)
    assert len(read(findings(made))) == 1 + len(made.findings)


# --- the tape sheet -----------------------------------------------------------------------------


def by_name(made: Judgement) -> dict[str, Taped]:
    return {row.thing: row for row in taped(made.scene)}


def test_corners_from_the_nearer_walls_by_hand(made: Judgement) -> None:
    rows = by_name(made)
    # the bench's north-east corner: 240 - 230 = 10 in from the east, 192 - 180 = 12 from the north
    bench = rows["=bench"]
    first, second = bench.corners
    assert (first.across.wall, first.up.wall) == ("east wall", "north wall")
    assert [first.across.distance / INCH, first.up.distance / INCH] == pytest.approx([10, 12])
    assert [second.across.distance / INCH, second.up.distance / INCH] == pytest.approx([50, 12])
    assert bench.side / INCH == pytest.approx(40)
    assert [d / INCH for d in bench.diagonals] == pytest.approx([50, 50])  # 30, 40, 50
    # 10 + 12 in is nearer to its walls than the saw's 60 + 50
    assert bench.number < rows["saw"].number
    assert 'A: 10" from east wall, 12" from north wall' in tape_text(made)


def test_a_thing_at_a_slant_can_be_laid_out_from_its_readings() -> None:
    # 3-4-5: a bench turned by atan(3/4), its corners rebuilt from the distances alone
    turn = math.degrees(math.atan2(3, 4))
    made = judged(text_of(BENCH.replace("turn: 0", f"turn: {turn:.10f}")))
    row = by_name(made)["=bench"]
    size = {"east wall": 240.0, "north wall": 192.0, "west wall": 0.0, "south wall": 0.0}
    spots = []
    for corner in row.corners:
        x, y = (
            abs(size[reading.wall] - reading.distance / INCH)
            for reading in (corner.across, corner.up)
        )
        spots.append((x, y))
    assert math.dist(*spots) == pytest.approx(40.0, abs=1e-4)
    slope = abs((spots[1][1] - spots[0][1]) / (spots[1][0] - spots[0][0]))
    assert slope == pytest.approx(0.75, abs=1e-6)
    assert [d / INCH for d in row.diagonals] == pytest.approx([50, 50])


DUCTS = """\
places:
  outlet: {x: 30", y: 15'}
air:
  collector: {fan: {flow: [0 cfm, 400 cfm, 900 cfm], pressure: [12 in wg, 11 in wg, 5 in wg]}}
  runs:
    main: {path: [[2', 12', 40"], [2', 12', 96"], [8', 20', 84"]], diameter: 6"}
    branch: {from: saw, into: main, later: yes, diameter: 4",
             path: [[16', 4', 50"], [16', 4', 96"], [2', 4', 96"], [2', 12', 96"]]}
"""


def test_holes_drops_and_outlets_by_hand() -> None:
    # the room is 20 x 16 ft.  From (2, 12) to (8, 20) ft the main meets the north wall half way,
    # 5 ft along it and at (96 + 84) / 2 in; its drop is 2 ft from the west, 4 from the north wall
    outlet = SAW.replace(", at:", ", within 9 ft of: outlet, at:")
    shop = judged(text_of(outlet, BENCH, more=JOBS + DUCTS)).shop
    assert [(h.run, h.wall) for h in wall_holes(shop)] == [("main", "north wall")]
    hole = wall_holes(shop)[0]
    assert [v / INCH for v in (hole.along, hole.height, hole.diameter)] == pytest.approx(
        [60, 90, 6]
    )
    main_drop, branch_drop = drops(shop)
    assert [main_drop.across.wall, main_drop.up.wall] == ["west wall", "north wall"]
    assert [main_drop.across.distance / INCH, main_drop.up.distance / INCH] == pytest.approx(
        [24, 48]
    )
    assert main_drop.low is not None
    assert main_drop.high is not None
    assert [main_drop.low / INCH, main_drop.high / INCH] == pytest.approx([40, 96])
    assert branch_drop.name == "branch (later)"
    words = tape_text(judged(text_of(outlet, BENCH, more=JOBS + DUCTS)))
    assert (
        "H1. main through north wall: 5' from its west end, middle 7' 6\" high, duct 6\" across"
        in words
    )
    assert "D2. branch (later): 4' from east wall, 4' from south wall; 4' 2\" to 8' high" in words
    assert 'E1. outlet: 30" from west wall, 12" from north wall' in words


def test_a_run_that_stays_in_the_room_or_ends_at_the_wall_needs_no_hole() -> None:
    for end in ("[8', 15', 84\"]", "[8', 16', 84\"]"):
        inside = DUCTS.replace("[8', 20', 84\"]", end)
        assert wall_holes(judged(text_of(SAW, more=inside)).shop) == ()


def test_the_table_tells_the_same(made: Judgement) -> None:
    rows = read(tape(made))
    bench = next(row for row in rows if row[1] == "'=bench")
    assert bench[3:8] == ["A", '10"', "east wall", '12"', "north wall"]
    assert bench[9] == "4' 2\""


# --- the commands ---------------------------------------------------------------------------------


def test_check_writes_what_is_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = tmp_path / "shop.yaml"
    shop.write_text(text_of(SAW, BENCH, more=JOBS), encoding="utf-8")
    main(["check", str(shop), "-o", str(tmp_path), "--dxf", "--csv", "--no-figures"])
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "check-findings.csv", "check-from-to.csv", "check-in.dxf", "check-places.csv",
        "check-tape.csv", "check-walks.csv", "shop.yaml",
    ]  # fmt: skip
    first = (tmp_path / "check-in.dxf").read_bytes()
    main(["check", str(shop), "-o", str(tmp_path), "--dxf", "--tape"])
    assert (tmp_path / "check-in.dxf").read_bytes() == first
    drawn = (tmp_path / "check-tape.svg").read_text(encoding="utf-8")
    assert re.search(r'id="corner 1A: =bench"', drawn)
    # the plan's groups carry the names of what they show
    plan = (tmp_path / "check.svg").read_text(encoding="utf-8")
    assert 'id="thing: saw"' in plan
    page = (tmp_path / "check-tape.pdf").read_bytes()
    sizes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+)", page)
    assert (round(float(sizes[0][0])), round(float(sizes[0][1]))) in {(612, 792), (792, 612)}
    assert "check-tape.txt" in capsys.readouterr().out


def test_arrange_writes_them_for_each_layout(tmp_path: Path) -> None:
    shop = tmp_path / "shop.yaml"
    shop.write_text(text_of(BENCH), encoding="utf-8")
    main(["arrange", str(shop), "-o", str(tmp_path), "--effort", "20", "--show", "1", "--csv",
          "--no-figures"])  # fmt: skip
    assert (tmp_path / "rank-1-places.csv").is_file()
