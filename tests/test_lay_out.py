"""Where wet parts lie overnight: places by hand sums, rows against every way tried."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
from shapely.geometry import box
from shops import pick, text_of

from floorplan.checks.finding import Finding
from floorplan.checks.judge import Judgement, judge, laid_out
from floorplan.checks.judge_beside import beside_lasting
from floorplan.cli.main import main
from floorplan.drawing.laid_out import laid_page
from floorplan.geometry.rows import at_most, fill_round, lay
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

# --- rows ----------------------------------------------------------------------------------


def most_on_a_grid(width: int, depth: int, a: int, b: int) -> int:
    """Exactly how many a x b lie in whole-number places, both turns, by trying all.

    In a rectangle of whole sides no other places are needed: all parts can be pushed west and
    south until they touch.
    """

    @cache
    def rest(taken: frozenset[tuple[int, int]], start: int) -> int:
        best = 0
        for cell in range(start, width * depth):
            x, y = cell % width, cell // width
            for p, q in {(a, b), (b, a)}:
                if x + p > width or y + q > depth:
                    continue
                mine = {(x + i, y + j) for i in range(p) for j in range(q)}
                if not mine & taken:
                    best = max(best, 1 + rest(taken | mine, cell + 1))
        return best

    return rest(frozenset(), 0)


@pytest.mark.parametrize(("a", "b"), [(2, 3), (3, 4), (2, 5)])
def test_rows_against_every_way_tried(a: int, b: int) -> None:
    for width in range(2, 6):
        for depth in range(width, 7):
            laid = fill_round(float(width), float(depth), (float(a), float(b)), 0.0)
            exact = most_on_a_grid(width, depth, a, b)
            assert len(laid) == exact <= at_most(box(0, 0, width, depth), (a, b), 0.0)


@pytest.mark.parametrize(
    ("size", "part", "gap", "count"),
    [
        ((60, 30), (24, 14), 0.0, 4),  # 4 x 14 = 56 in, or twice two; 4 in and 12 in are left
        ((8, 8), (5, 3), 0.0, 4),  # a wheel round a hole of 2 x 2: 5 + 3 = 8
        ((61, 24), (30, 24), 1.0, 2),  # 30 + 1 + 30
        ((60.9, 24), (30, 24), 1.0, 1),
        ((23.9, 100), (30, 24), 0.0, 0),
    ],
)
def test_rows_by_hand(
    size: tuple[float, float], part: tuple[float, float], gap: float, count: int
) -> None:
    laid = fill_round(*size, part, gap)
    assert len(laid) == count
    for i, one in enumerate(laid):
        assert box(0, 0, *size).buffer(1e-9).covers(box(*one))
        assert all(box(*one).distance(box(*other)) >= gap - 1e-9 for other in laid[:i])
        assert all(box(*one).intersection(box(*other)).area < 1e-9 for other in laid[:i])


def test_a_corner_out_of_a_top_is_kept_free() -> None:
    """An L of 60 x 60 less 30 x 30: three squares of 30 hold one of 30 x 24 each."""
    region = box(0, 0, 60, 60).difference(box(30, 30, 60, 60))
    laid = lay(region, (30.0, 24.0), 0.0)
    assert len(laid) == 3
    assert all(region.buffer(1e-9).covers(box(*p)) for p in laid)
    assert at_most(region, (30.0, 24.0), 0.0) == 3


# --- tops ----------------------------------------------------------------------------------

BENCH = (
    'bench: {width: 60", depth: 30", height: 34", surface: 34", at: {x: 40", y: 60"},'
    ' zones: {front: {side: front, depth: 24", purpose: stand}}}'
)
SAW = (
    'saw: {width: 30", depth: 30", height: 34", at: {x: 180", y: 100"},'
    ' zones: {operator: {side: front, depth: 30", purpose: stand}}}'
)
DOOR = (
    'doors: {out: {wall: WALL, at: 20", width: 36", clear width: 36", height: 80", kind: opening,'
    " leads to: outside}}\n"
)
PARTS = "count: 2, length: 30 in, width: 24 in, thickness: 3/4 in, between: 0"


def made(
    *things: str, parts: str = PARTS, more: str = "", others: str = "cut: {uses: [saw]}",
    tape: str = "0", together: str = "cut", door: str = "",
) -> Judgement:  # fmt: skip
    tasks = (
        f"{door}tasks: {{finish: {{lasts: 12 h, together with: [{together}], uses: [],"
        f" lay out: {{{parts}{more}}}}}, {others}}}\n"
    )
    file = parse(text_of(BENCH, SAW, *things, more=tasks, tape=tape))
    return judge(file.shop, file.layout)


def found(judgement: Judgement) -> Finding:
    return pick(judgement, "lay-out")


def test_two_lie_on_a_bench_and_the_third_does_not() -> None:
    """60 x 30 in hold 30 x 24 in twice; 48 x 30 in of the area of three fit in no other way."""
    on = ", on: [bench]"
    assert found(made(more=on)).verdict == "passes"
    three = found(made(parts=PARTS.replace("2", "3", 1), more=on))
    assert (three.verdict, three.measured, three.needed, three.margin) == ("fails", 2, 3, -1)
    assert three.message.startswith('2 of 3 parts of 30" x 24"')
    assert three.certified


def test_a_gap_that_is_too_wide_leaves_one() -> None:
    """24 + 12 + 24 in lie on 60 in, a hair more between them does not."""
    for gap, fit in (("12 in", 2), ("12 1/16 in", 1)):
        parts = PARTS.replace("between: 0", f"between: {gap}")
        assert found(made(parts=parts, more=", on: [bench]")).measured == fit


def test_the_tape_makes_a_bench_that_just_holds_them_doubtful() -> None:
    """Twice 30 in on 60 in, each ± 1/8 in; 30 x 23 in and 29 x 23 in are sure either way."""
    assert found(made(more=", on: [bench]", tape="1/8 in")).verdict == "unsure"
    sure = PARTS.replace("30 in", "29 1/2 in")
    assert found(made(parts=sure, more=", on: [bench]", tape="1/8 in")).verdict == "passes"
    short = PARTS.replace("30 in", "30 1/2 in")
    assert found(made(parts=short, more=", on: [bench]", tape="1/8 in")).verdict == "fails"


@pytest.mark.parametrize(("bottom", "fit"), [("37 3/4", 2), ("37 11/16", 1)])
def test_what_hangs_over_a_bench_leaves_room_or_not(bottom: str, fit: int) -> None:
    """34 in of bench, 3/4 in of part and 3 in of air: 37 3/4 in."""
    cabinet = (
        f'cabinet: {{width: 40", depth: 12", height: 70", bottom: {bottom}",'
        ' at: {x: 75", y: 78"}}'
    )
    assert found(made(cabinet, more=", on: [bench]")).measured == fit


def test_a_top_in_use_meanwhile_holds_nothing() -> None:
    used = made(more=", on: [bench]", others="cut: {uses: [saw, bench]}")
    assert (found(used).verdict, found(used).measured) == ("fails", 0)
    assert "none on bench, used in cut meanwhile" in found(used).message
    # a machine's own table is not offered unless it is asked for
    assert all(a.on != "saw" for one in laid_out(made().scene) for a in one.areas)


def test_shelves_are_as_far_apart_as_parts_and_air_need() -> None:
    """72 in over 12 shelves are 6 in, over 24 shelves 3 in; 3 3/4 in needed."""
    rack = 'rack: {width: 30", depth: 24", height: 72", at: {x: 0, y: 14\'}}'
    parts = PARTS.replace("2", "12", 1)
    full = made(rack, parts=parts, more=", on: [rack], shelves: {rack: 12}")
    assert found(full).verdict == "passes"
    heights = [p.area.height.value / 0.0254 for p in laid_out(full.scene)[0].places]
    assert heights == pytest.approx([6.0 * i for i in range(12)])
    tight = found(made(rack, parts=parts, more=", on: [rack], shelves: {rack: 24}"))
    assert tight.verdict == "fails"
    assert '24 shelves are 3" apart, 3-3/4" needed' in tight.message


# --- the floor -----------------------------------------------------------------------------


def test_parts_on_the_floor_leave_the_way_out_free() -> None:
    """In a room 4 ft deep before the door's wall nothing more may lie in the saw's way out."""
    parts = PARTS.replace("2", "12", 1)
    laid = made(parts=parts, more=", on: [floor]", door=DOOR.replace("WALL", "south"))
    assert found(laid).verdict == "passes"
    assert laid.verdict == "passes"
    (one,) = laid_out(laid.scene)
    plans = [p.plan for p in one.places]
    solid = [e.volume.polygon for e in laid.scene.of("solid")]
    zones = [e.volume.polygon for e in laid.scene.of("zone") if e.owner == "saw"]
    for i, plan in enumerate(plans):
        assert laid.scene.floor.buffer(1e-9).covers(plan)
        assert all(plan.intersection(s).area < 1e-9 for s in (*solid, *zones, *plans[:i]))
    # judged again with the parts as things of the file, nothing fails
    rows = {r.other: r.verdict for r in beside_lasting(laid.shop, laid.layout, laid.scene)}
    assert rows["cut"] == "yes"


def test_a_floor_that_is_all_way_out_holds_none() -> None:
    """A strip 50 in wide: with 24 in of part on it 26 in are left, and 28 in are needed."""
    saw = (
        'saw: {width: 30", depth: 30", height: 34", at: {x: 9\', y: 10"},'
        ' zones: {operator: {side: left, depth: 30", purpose: stand}}}'
    )
    tasks = (
        "tasks: {finish: {lasts: 2 h, together with: [cut], lay out: {count: 1, length: 40 in,"
        " width: 24 in, thickness: 1 in, on: [floor]}}, cut: {uses: [saw]}}\n"
    )
    door = DOOR.replace("WALL", "west").replace('20"', '14"')
    for width, verdict, fit in (("50", "unsure", 0), ("54", "passes", 1)):
        file = parse(
            text_of(
                saw, room=f"size: [12', {width}\"]", more=door + tasks, tape="0"
            )
        )  # fmt: skip
        one = found(judge(file.shop, file.layout))
        assert (one.verdict, one.measured) == (verdict, fit), one.message


# --- told and refused ----------------------------------------------------------------------


def test_it_is_told_in_words_as_data_and_on_a_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = tmp_path / "shop.yaml"
    tasks = f"tasks: {{finish: {{lasts: 12 h, lay out: {{{PARTS}}}}}, cut: {{uses: [saw]}}}}\n"
    shop.write_text(text_of(BENCH, SAW, more=tasks, tape="0"), encoding="utf-8")
    assert main(["check", str(shop), "--no-figures", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (one,) = told["laid_out"]
    assert (one["task"], one["needed"], one["found"]) == ("finish", 2, 2)
    assert next((a["on"], a["room_for"], a["used"]) for a in one["areas"]) == ("bench", 2, 2)
    assert [p["height"] for p in one["places"]] == [pytest.approx(34 * 0.0254)] * 2
    main(["check", str(shop), "--no-figures"])
    words = capsys.readouterr().out
    assert 'Laid out while finish lasts (12 h): 2 of 2 parts\n  2 on bench, 34"' in words


def test_every_part_is_drawn_with_its_number() -> None:
    whole = made(parts=PARTS.replace("2", "5", 1))
    (one,) = laid_out(whole.scene)
    page = laid_page(whole.scene, one, ["five parts"])
    drawn = {artist.get_gid() for artist in page.axes.get_children()}
    assert {f"part {n}" for n in range(1, 6)} <= drawn


@pytest.mark.slow
def test_check_draws_a_sheet_for_what_is_laid_out(tmp_path: Path) -> None:
    shop = tmp_path / "shop.yaml"
    tasks = f"tasks: {{finish: {{lasts: 12 h, lay out: {{{PARTS}}}}}}}\n"
    shop.write_text(text_of(BENCH, more=tasks, tape="0"), encoding="utf-8")
    main(["check", str(shop), "-o", str(tmp_path)])
    assert (tmp_path / "check-laid-out-finish.svg").stat().st_size > 1000


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("lasts: 12 h, ", "", "only what goes on by itself lays parts out"),
        ("count: 2", "count: 0", "1"),
        ("count: 2, ", "", "count"),
        ("width: 24 in, ", "", "width"),
        ("between: 0", "between: 0, on: [bnech]", "there is no thing `bnech`"),
        ("between: 0", "between: 0, shelves: {bnech: 3}", "there is no thing `bnech`"),
        ("between: 0", "between: 0, stock: door", "there is no stock `door`"),
        ("between: 0", "betwen: 0", "betwen"),
    ],
)
def test_mistakes_are_told(old: str, new: str, message: str) -> None:
    tasks = f"tasks: {{finish: {{lasts: 12 h, uses: [], lay out: {{{PARTS}}}}}}}\n"
    assert old in tasks
    with pytest.raises(ShopFileError, match=message):
        parse(text_of(BENCH, more=tasks.replace(old, new)))
