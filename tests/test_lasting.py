"""Tasks that go on by themselves, and what may be done meanwhile: matrices worked out by hand."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import pytest
from shops import pick, text_of

from floorplan.checks.judge import judge
from floorplan.checks.judge_beside import Beside, beside_lasting
from floorplan.cli.main import main
from floorplan.shop.presence import Presence
from floorplan.shop.reader import parse

# A bench 60 x 30 in at (40, 40): its front zone reaches 24 in south, to y = 16.  Glue stands on a
# stand 30 in square.  The saw's operator stands 30 in before the saw.
BENCH = (
    'bench: {width: 60", depth: 30", height: 34", at: {x: 40", y: 40"},'
    ' zones: {front: {side: front, depth: 24", purpose: stand}}}'
)
CLAMPS = (
    'clamps: {width: 30", depth: 30", height: 40", only in: [glue], at: {x: CX", y: CY"},'
    ' zones: {reach: {side: front, depth: 20", purpose: stand}}}'
)
SAW = (
    'saw: {width: 30", depth: 30", height: 34", at: {x: 180", y: 100"},'
    ' zones: {operator: {side: front, depth: 30", purpose: stand}}}'
)
TASKS = "tasks: {glue: {uses: [clamps], lasts: 12 h}, plane: {uses: [bench]}, cut: {uses: [saw]}}\n"


def matrix(x: int, y: int, tasks: str = TASKS, tape: str = "0") -> dict[str, Beside]:
    clamps = CLAMPS.replace("CX", str(x)).replace("CY", str(y))
    file = parse(text_of(BENCH, clamps, SAW, more=tasks, tape=tape))
    return {row.other: row for row in beside_lasting(file.shop, file.layout)}


@pytest.mark.parametrize(
    ("x", "y", "plane", "cut"),
    [
        (110, 150, "yes", "yes"),  # in nobody's place
        (60, 0, "no", "yes"),  # y 0 to 30 in: 14 in into the front of the bench, 16 to 40 in
        (185, 60, "yes", "no"),  # 20 in into the operator's place, y 70 to 100 in
        (40, 70, "yes", "yes"),  # right behind the bench
    ],
)
def test_glue_holds_its_floor_while_other_work_goes_on(
    x: int, y: int, plane: str, cut: str
) -> None:
    found = matrix(x, y)
    assert (found["plane"].verdict, found["cut"].verdict) == (plane, cut)
    for row in found.values():
        assert bool(row.because) == (row.verdict != "yes")


def test_nobody_stands_where_glue_dries() -> None:
    """The reach zone before the clamps, y 130 to 150 in, is free for a person at the saw's back
    side; told to go together without `lasts` it is held."""
    beside = TASKS.replace("lasts: 12 h", "LASTS together with: [cut]")
    # clamps at (180, 60): operator y 70 to 100; clamps' body reaches y 90 - so put them above
    saw = SAW.replace('y: 100"', 'y: 60"')  # operator's place y 30 to 60
    clamps = CLAMPS.replace("CX", "180").replace("CY", "0")  # reach zone is south of it: outside
    clamps = clamps.replace("side: front", "side: back").replace('depth: 30"', 'depth: 20"')
    # body y 0 to 20, reach zone y 20 to 40, ten inches within the operator's place
    for lasts, verdict in (("", "fails"), ("lasts: 12 h,", "passes")):
        text = text_of(BENCH, clamps, saw, more=beside.replace("LASTS", lasts), tape="0")
        file = parse(text)
        made = judge(file.shop, file.layout)
        zones = [f for f in made.findings if f.check == "zones" and "clamps" in f.about]
        worst = "fails" if any(f.verdict == "fails" for f in zones) else "passes"
        assert worst == verdict
    assert pick(made, "zones", "saw").verdict == "passes"


def test_what_both_use_or_want_elsewhere_is_told() -> None:
    tasks = TASKS.replace("uses: [saw]", "uses: [saw, clamps]").replace(
        "uses: [bench]", "uses: [bench], away: [clamps]"
    )
    found = matrix(110, 150, tasks)
    assert found["cut"].because == ("both use clamps",)
    assert found["plane"].because == ("clamps is away in plane and wanted elsewhere in glue",)


def test_within_the_tape_it_is_too_close_to_call() -> None:
    """1/16 in off the bench's front place, tape 1/8 in."""
    clamps = CLAMPS.replace('CX", y: CY"', '60", y: 1/16"').replace('depth: 30"', 'depth: 16"')
    clamps = clamps.replace("side: front", "side: left")
    text = text_of(BENCH, clamps, SAW, more=TASKS, tape="1/8 in")
    file = parse(text)
    found = {row.other: row.verdict for row in beside_lasting(file.shop, file.layout)}
    assert found == {"plane": "unsure", "cut": "yes"}


def test_without_lasting_tasks_there_is_no_matrix() -> None:
    assert matrix(110, 150, TASKS.replace(", lasts: 12 h", "")) == {}


def test_who_is_there_at_one_time_by_brute_force() -> None:
    """All presences over three tasks, one of them unattended, against sets of moments."""
    tasks = ("a", "b", "c")
    sets = [frozenset(s) for n in (1, 2, 3) for s in combinations(tasks, n)]
    pairs = frozenset({frozenset(("a", "b")), frozenset(("b", "c"))})
    for mine in sets:
        for yours in sets:
            for alone in (frozenset[str](), frozenset({"a"})):
                zone = Presence(mine, together=pairs, unattended=alone)
                other = Presence(yours, together=pairs)
                moments = [frozenset((t,)) for t in tasks] + sorted(pairs, key=sorted)
                met = any(
                    (mine & m - (alone if len(m) > 1 else frozenset())) and yours & m
                    for m in moments
                )
                assert zone.meets(other) == met == other.meets(zone)


def test_the_matrix_is_told_in_words_and_as_data(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clamps = CLAMPS.replace("CX", "185").replace("CY", "60")
    shop = tmp_path / "shop.yaml"
    shop.write_text(text_of(BENCH, clamps, SAW, more=TASKS), encoding="utf-8")
    main(["check", str(shop), "--no-figures", "--json"])
    told = json.loads(capsys.readouterr().out)["beside"]
    assert [(row["tasks"], row["verdict"]) for row in told] == [
        (["glue", "plane"], "yes"),
        (["glue", "cut"], "no"),
    ]
    main(["check", str(shop), "--no-figures"])
    words = capsys.readouterr().out
    assert "While glue goes on by itself (12 h):\n  plane: yes\n  cut: no; " in words
    main(["report", str(shop), "-o", str(tmp_path / "page")])
    page = next((tmp_path / "page").glob("*.html")).read_text(encoding="utf-8")
    assert "While glue goes on by itself (12 h):" in page


# A drawer 15 in wide opens 20 in south from the bench's front at y = 40 in to y = 20 in.
DRAWERS = BENCH.replace(
    "zones:", "drawers: {rails: {side: front, width: 15\", travel: 20\", bottom: 20\", top: 28\","
    " stand: none}}, zones:"
)  # fmt: skip


@pytest.mark.parametrize(("north", "verdict"), [("20", "yes"), ("20 1/64", "no")])
def test_a_drawer_opens_while_something_stands_there_or_not(north: str, verdict: str) -> None:
    """Clamps from the south wall up to where the open drawer ends, and a hair beyond."""
    clamps = (
        f'clamps: {{width: 60", depth: {north}", height: 40", only in: [glue],'
        ' at: {x: 40", y: 0"}}'
    )
    file = parse(text_of(DRAWERS, clamps, SAW, more=TASKS))
    rows = {row.other: row for row in beside_lasting(file.shop, file.layout)}
    row = rows["rails of bench open"]
    assert (row.opening, row.verdict) == (True, verdict)
    assert bool(row.because) == (verdict == "no")


def test_what_cannot_be_done_by_itself_cannot_be_done_meanwhile() -> None:
    """A rack 14 in into the front place of the bench, whatever the glue does."""
    rack = 'rack: {width: 10", depth: 30", height: 60", at: {x: 60", y: 0"}}'
    clamps = CLAMPS.replace("CX", "110").replace("CY", "150")
    file = parse(text_of(BENCH, clamps, SAW, rack, more=TASKS))
    rows = {row.other: row for row in beside_lasting(file.shop, file.layout)}
    assert rows["plane"].verdict == "no"
    assert rows["plane"].because[0].startswith("by itself: rack is in bench: front")
    assert rows["cut"].verdict == "yes"


def test_with_two_people_what_they_hinder_each_other_in_is_no_less_told() -> None:
    """Clamping room 20 in before the bench and the operator's place share floor: with two people
    the ordinary findings have it too, and it is still no."""
    bench = BENCH.replace("purpose: stand", "purpose: clamp")
    saw = SAW.replace('x: 180", y: 100"', 'x: 60", y: 0"').replace("side: front", "side: back")
    tasks = "tasks: {glue: {uses: [bench], lasts: 12 h}, cut: {uses: [saw]}}\n"
    for people in (1, 2):
        text = text_of(bench, saw, more=f"people: {people}\n{tasks}")
        file = parse(text.replace('y: 40"', 'y: 70"'))
        (row,) = beside_lasting(file.shop, file.layout)
        # operator's place y 30 to 60 in, clamping room y 46 to 70 in
        assert (row.other, row.verdict) == ("cut", "no")


def test_every_stage_of_a_plan_has_its_own_matrix(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The glue is only there in the second stage."""
    clamps = CLAMPS.replace("CX", "185").replace("CY", "60")
    tasks = TASKS.replace("lasts: 12 h", "lasts: 12 h, from: later")
    clamps = clamps.replace("only in: [glue]", "only in: [glue], from: later")
    shop = tmp_path / "shop.yaml"
    more = f"stages: {{now: {{}}, later: {{}}}}\n{tasks}"
    shop.write_text(text_of(BENCH, clamps, SAW, more=more), encoding="utf-8")
    main(["check", str(shop), "--no-figures", "--json"])
    now, later = json.loads(capsys.readouterr().out)["stages"]
    assert "beside" not in now
    assert {row["tasks"][1]: row["verdict"] for row in later["beside"]} == {
        "plane": "yes",
        "cut": "no",
    }
    main(["check", str(shop), "--no-figures"])
    words = capsys.readouterr().out
    assert words.count("While glue goes on by itself (12 h):\n  plane: yes\n  cut: no; ") == 1
