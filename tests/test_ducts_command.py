"""The `ducts` command: its words, its data and its sheet, for ducts and for a vacuum alone.

What the numbers are worth is tried in `checks/test_airflow.py`; here they only have to agree with
each other and with the drawing.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import combinations
from math import inf
from pathlib import Path

import pytest
from matplotlib.text import Text

from floorplan.cli.main import main
from floorplan.drawing.ducts import DuctSheet, ducts_page, pressure_line
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box
from floorplan.drawing.style import SMALL_SIZE, drawing_defaults
from floorplan.report.ducts import DuctsAnswer, ducts_answer, ducts_sheets, ducts_text
from floorplan.shop.reader import load, parse

BASEMENT = Path(__file__).parents[1] / "layouts" / "l-shaped-basement.yaml"
SHOP = """\
shop: air
units: feet and inches
room: {size: [24', 22'], height: 9'}
doors:
  out: {wall: south, at: 3', width: 36", height: 80", swing: out, leads to: outside}
equipment:
  saw: {kind: cabinet table saw, at: {x: 60", y: 80", turn: 0}}
  planer: {kind: planer, at: {x: 18', y: 13', turn: 0}}
  bench: {kind: workbench, at: {x: 150", y: against north wall, turn: 0}}
air:
  collector:
    fan: {flow: [0 cfm, 400 cfm, 800 cfm, 1200 cfm], pressure: [12 in wg, 11.5 in wg, 9.5 in wg, 5 in wg]}
    filter: {clean: 0.4 in wg, dirty: 2 in wg, flow: 800 cfm}
    separator: {loss: 2 in wg, flow: 800 cfm}
  runs:
    main: {path: [[20', 12', 96"], [2', 12', 96"], [2', 12', 40"]], diameter: 6", clear round: 2"}
    saw branch: {from: saw, into: main, path: [[7', 11', 60"], [7', 11', 96"], [7', 12', 96"]],
                 diameter: 5", hose: {length: 6'}, needs: 700 cfm}
    planer branch: {from: planer, into: main, path: [[18', 12', 84"], [18', 12', 96"]], diameter: 5",
                    needs: 400 cfm, later: yes, angle: 60}
  open together: [[saw, planer]]
"""  # noqa: E501
NEVER = SHOP.replace("flow: [0 cfm, 400 cfm, 800", "flow: [900 cfm, 1000 cfm, 1100")


def answer(text: str) -> DuctsAnswer:
    file = parse(text)
    return ducts_answer(file.shop, file.layout)


@pytest.fixture(scope="module")
def found() -> DuctsAnswer:
    return answer(SHOP)


def test_data_has_the_settled_keys_and_agrees_with_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "air.yaml"
    path.write_text(SHOP, encoding="utf-8")
    status = main(["ducts", str(path), "--json", "--no-figures"])
    data = json.loads(capsys.readouterr().out)
    assert status == (0 if data["verdict"] == "passes" else 1)
    assert list(data)[:8] == [
        "version", "command", "shop", "verdict", "findings", "measures", "cautions", "files",
    ]  # fmt: skip
    assert data["command"] == "ducts"
    rows = data["ducts"]
    assert set(rows[0]) >= {"machine", "gates", "flow", "pressure", "velocity", "floor"}
    # saw, planer, both: two runs in the last; each with the clean and the dirty filter
    assert [(r["machine"], len(r["gates"]), r["dirty"]) for r in rows] == [
        ("saw", 1, False), ("saw", 1, True), ("planer", 1, False), ("planer", 1, True),
        ("saw", 2, False), ("saw", 2, True), ("planer", 2, False), ("planer", 2, True),
    ]  # fmt: skip
    shares = [r["flow"] / r["needed"] for r in rows if r["dirty"]]
    assert data["measures"]["worst airflow"]["value"] == pytest.approx(min(shares), abs=1e-4)
    assert data["measures"]["worst airflow"]["unit"] == "1"
    for row in rows:
        moving = [
            s["velocity"] / s["floor"]
            for s in data["segments"]
            if s["gates"] == row["gates"] and s["dirty"] == row["dirty"] and s["floor"]
        ]
        assert row["velocity"] / row["floor"] == pytest.approx(min(moving), abs=1e-4)


def test_parts_are_those_of_the_paths(found: DuctsAnswer) -> None:
    parts = {(p.what, round(p.diameter / 0.0254), p.later): p for p in found.parts}
    assert parts["galvanized duct", 6, False].length == pytest.approx((18 * 12 + 56) * 0.0254)
    assert parts["galvanized duct", 5, False].length == pytest.approx((36 + 12) * 0.0254)
    assert parts["galvanized duct", 5, True].length == pytest.approx(12 * 0.0254)
    assert parts["90 degree elbow", 6, False].count == 1
    assert parts["blast gate", 5, False].count == parts["blast gate", 5, True].count == 1
    assert parts["hose", 5, False].length == pytest.approx(6 * 12 * 0.0254)
    assert parts["45 degree branch", 6, False].count == 1
    assert parts["60 degree branch", 6, True].count == 1


def test_the_pressure_falls_all_the_way_to_the_collector(found: DuctsAnswer) -> None:
    state, ducts = found.worst, found.ducts
    assert state is not None
    assert ducts is not None
    run, line = pressure_line(ducts, state)
    # 700 cfm are asked of the saw, the most of what both get
    assert run == "saw branch"
    assert len(state.machines) == 2
    steps = [p for _, p in line]
    assert steps == sorted(steps, reverse=True)
    assert state.worst.duct_suction is not None
    assert steps[-1] == pytest.approx(-state.worst.duct_suction)


def test_changes_are_told_for_what_falls_short(found: DuctsAnswer) -> None:
    assert any(run == "saw branch" and tried for _, run, tried in found.changes)
    text = ducts_text(found, (), ())
    assert "What would help saw branch" in text
    assert "Once the later runs hang" in text


def test_a_fan_that_never_meets_is_told_and_drawn(tmp_path: Path) -> None:
    made = answer(NEVER.replace("needs: 700", "needs: 950"))
    text = ducts_text(made, (), ())
    assert "no operating point" in text
    assert made.judgement.verdict != "passes"
    assert ducts_sheets(made, tmp_path)


def test_without_a_collector_only_lengths_are_told() -> None:
    bare = SHOP[: SHOP.index("  collector:")] + SHOP[SHOP.index("  runs:") :]
    made = answer(bare)
    assert made.ducts is not None
    assert made.ducts.states == ()
    assert made.parts
    assert "No flow is worked out" in ducts_text(made, (), ())


# --- the sheet -------------------------------------------------------------------------------


def page_of(made: DuctsAnswer, monkeypatch: pytest.MonkeyPatch, folder: Path) -> Page:
    pages: list[Page] = []

    def keep(scene, sheet: DuctSheet, out_dir, name):  # type: ignore[no-untyped-def]
        pages.append(ducts_page(scene, sheet))
        return ()

    monkeypatch.setattr("floorplan.drawing.ducts.ducts_sheet", keep)
    ducts_sheets(made, folder)
    return pages[0]


def lettering(page: Page) -> Iterator[tuple[Text, Box]]:
    unit = 25.4 / page.figure.dpi
    with drawing_defaults():
        renderer = page.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        for text in page.axes.get_children():
            if isinstance(text, Text) and text.get_text():
                at = text.get_window_extent(renderer)
                yield text, Box(at.x0 * unit, at.y0 * unit, at.x1 * unit, at.y1 * unit)


@pytest.mark.parametrize("which", ["ducts", "never", "vacuum"])
def test_the_sheet_is_drawn_and_no_lettering_covers_other(
    which: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    if which == "vacuum":
        file = load(BASEMENT)
        made = ducts_answer(file.shop, file.layout)
        assert made.vacuum is not None
        assert made.ducts is None
    else:
        made = answer(SHOP if which == "ducts" else NEVER)
    page = page_of(made, monkeypatch, tmp_path)
    found = list(lettering(page))
    assert len(found) > 20
    for text, at in found:
        assert page.box.grown(-4.0).contains(at), text.get_text()
        assert text.get_fontsize() >= SMALL_SIZE
    for (a, one), (b, two) in combinations(found, 2):
        apart = max(
            max(one.left, two.left) - min(one.right, two.right),
            max(one.bottom, two.bottom) - min(one.top, two.top),
        )
        assert apart > -0.1, (a.get_text(), b.get_text())


def test_every_run_is_on_plan_and_elevation(
    found: DuctsAnswer, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    page = page_of(found, monkeypatch, tmp_path)
    gids = {a.get_gid() for a in page.axes.get_children()}
    for run in ("main", "saw branch", "planer branch"):
        assert {f"run: {run}", f"elevation: {run}"} <= gids
    # kept free: round the main, and where the later branch will be
    assert {"strip: main", "strip: planer branch", "pressure"} <= gids
    assert "strip: saw branch" not in gids


def test_the_same_shop_draws_the_same_bytes(found: DuctsAnswer, tmp_path: Path) -> None:
    first, second = (ducts_sheets(found, tmp_path / name) for name in "ab")
    assert [p.name for p in first] == ["ducts.svg", "ducts.pdf", "ducts.png"]
    assert [p.read_bytes() for p in first] == [p.read_bytes() for p in second]


# --- faults ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("kind: planer,", "kind: planer, ports: none,", "no dust port"),
        ("into: main, path: [[7'", "into: mian, path: [[7'", "did you mean `main`"),
        ("[7', 12', 96\"]]", "[7', 13', 96\"]]", "from the middle of `main`"),
        ("into: main, path: [[7'", "path: [[7'", "both end at the collector"),
        ("path: [[20', 12', 96\"]", "into: saw branch, path: [[20', 12', 96\"]", "saw branch"),
        ("[[20', 12', 96\"], [2', 12', 96\"],", "[[20', 12', 96\"], [20', 12', 96\"],", "the same"),
        ("[12 in wg, 11.5", "[11.5", "4 flows but 3 pressures"),
        ("5 in wg]", "9.6 in wg]", "rises again"),
        ("[0 cfm, 400", "[500 cfm, 400", "rising flows"),
        ("clean: 0.4 in wg, dirty: 2", "clean: 3 in wg, dirty: 2", "swapped"),
        ("needs: 700 cfm", "neads: 700 cfm", "did you mean `needs`"),
        ("[[saw, planer]]", "[[saw, bench]]", "no run begins at `bench`"),
        ("diameter: 6\", clear", "diameter: 6\", needs: 400 cfm, clear", "begins at a machine"),
        ("angle: 60", "angle: 100", "too large"),
        ("{loss: 2 in wg, flow: 800 cfm", "{loss: 2 in wg, flow: 0 cfm", "more than 0"),
        ("kind: workbench,", "kind: workbench, ports: {top: {at: [1', 0], diameter: 4\"}},",
         "needs `height:`"),
    ],
)  # fmt: skip
def test_a_fault_is_told_once_and_clearly(old: str, new: str, words: str) -> None:
    from floorplan.shop.faults import ShopFileError

    assert old in SHOP
    with pytest.raises(ShopFileError) as wrong:
        parse(SHOP.replace(old, new, 1))
    assert words in str(wrong.value)
    assert len(wrong.value.faults) == 1, str(wrong.value)


def test_the_longest_hose_of_a_large_one_is_none() -> None:
    """A vacuum moves too little air for a 4 in hose at any length."""
    text = BASEMENT.read_text(encoding="utf-8").replace('diameter: 2"}', 'diameter: 4"}')
    made = answer(text)
    assert made.vacuum is not None
    assert made.vacuum.longest is None
    assert "however short" in ducts_text(made, (), ())
    assert made.vacuum.length < inf
