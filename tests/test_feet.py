"""Levelling feet against hand arithmetic, and the surveyed floor against numpy's least squares."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from floorplan.checks.feet import FeetAnswer, FeetError, feet_of, levels_of
from floorplan.checks.judge import judge_scene
from floorplan.cli.main import main
from floorplan.drawing.feet import feet_page
from floorplan.geometry.affine import Affine
from floorplan.report.feet import feet_notes
from floorplan.search.change import Draft, Step
from floorplan.search.fix import fix
from floorplan.search.rework import feet as feet_steps
from floorplan.shop.faults import ShopFileError
from floorplan.shop.floor import FloorSurvey, RodReading
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene
from floorplan.units import format_length

INCH = 0.0254
# 34 in table, 1/16 in below it, 32 in without feet; the floor falls 1 in from y 0 to y 16 ft.
SHOP = """\
shop: trial
tape: 0
room: {size: [20', 16'], height: 9'}
equipment:
  saw: {kind: cabinet table saw, width: 60", depth: 30", height: 34", surface: 34",
        at: {x: 60", y: 60", turn: 0}}
  bench:
    width: 60"
    depth: 30"
    height: 33-15/16"
    surface: 33-15/16"
    at: {x: 60", y: 92", turn: 0}
    takes the outfeed of: saw
    feet:
      at: [[2", 2"], [58", 2"], [58", 28"], [2", 28"]]
      shortest: 1"
      longest: 4"
      height without feet: 32"
      level with: saw
      step: 1/16"
floor:
  datum: 1"
  readings:
    - {at: [0, 0], reading: 1"}
    - {at: [20', 0], reading: 1"}
    - {at: [20', 16'], reading: 2"}
    - {at: [0, 16'], reading: 2"}
"""


def answer(*changes: tuple[str, str], thing: str = "bench") -> FeetAnswer:
    text = SHOP
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = parse(text)
    return feet_of(scene(file.shop, file.layout), thing)


def survey(points: np.ndarray, below: np.ndarray, outside: str = "refuse") -> FloorSurvey:
    rods = tuple(
        RodReading(Affine(float(x)), Affine(float(y)), Affine(float(b)))
        for (x, y), b in zip(points, below, strict=True)
    )
    return FloorSurvey(rods, outside)  # type: ignore[arg-type]


# --- the floor --------------------------------------------------------------------------------


def test_a_plane_is_found_again_inside_and_beyond_as_least_squares_fits_it() -> None:
    random = np.random.default_rng(7)
    points = random.uniform(0.0, 6.0, (9, 2))
    below = 0.03 + 0.004 * points[:, 0] - 0.002 * points[:, 1]
    floor = survey(points, below, "extend")
    plane, *_ = np.linalg.lstsq(np.column_stack([np.ones(9), points]), below, rcond=None)
    for x, y in random.uniform(-2.0, 8.0, (40, 2)):
        found = floor.below(Affine(x), Affine(y))
        assert found is not None
        assert found.value == pytest.approx(plane @ [1.0, x, y], abs=1e-9)


def test_between_three_points_it_is_the_plane_through_them() -> None:
    floor = survey(np.array([[0, 0], [4, 0], [0, 2]], float), np.array([0.01, 0.05, 0.03]))
    found = floor.below(Affine(1.0), Affine(0.5))  # weights 1/2, 1/4, 1/4
    assert found is not None
    assert found.value == pytest.approx(0.005 + 0.0125 + 0.0075)


def test_beyond_the_points_it_goes_on_from_the_edge_with_the_best_plane_s_slope() -> None:
    points = np.array([[0, 0], [2, 0], [2, 2], [0, 2]], float)
    below = np.array([0.0, 0.01, 0.03, 0.0])
    plane, *_ = np.linalg.lstsq(np.column_stack([np.ones(4), points]), below, rcond=None)
    found = survey(points, below, "extend").below(Affine(3.0), Affine(1.0))
    assert found is not None
    assert found.value == pytest.approx(0.02 + plane[1] * 1.0)  # the edge's middle reads 0.02
    assert survey(points, below).below(Affine(3.0), Affine(1.0)) is None


def test_points_in_a_line_carry_no_surface_but_count_themselves() -> None:
    floor = survey(np.array([[0, 0], [1, 1], [2, 2]], float), np.array([0.01, 0.02, 0.03]))
    at, off = floor.below(Affine(1.0), Affine(1.0)), floor.below(Affine(0.5), Affine(0.5))
    assert at is not None
    assert at.value == 0.02
    assert off is None


# --- lengths by hand --------------------------------------------------------------------------


def test_lengths_by_hand() -> None:
    # rear feet at y 120 in: the floor lies 120/192 in below; 33-15/16 - 32 + 5/8 = 2-9/16 in
    # front feet at y 94 in: 33-15/16 - 32 + 94/192 = 2.4271 in, set to 2-7/16 in
    found = answer()
    assert [f.needed.value / INCH for f in found.feet] == pytest.approx(
        [2.5625, 2.5625, 1.9375 + 94 / 192, 1.9375 + 94 / 192]
    )
    assert [round(f.length / INCH * 16) for f in found.feet] == [41, 41, 39, 39]
    assert all(f.shim == 0.0 for f in found.feet)
    assert found.verdict == "passes"
    # lowest: the highest floor under a foot, -94/192, and 1 + 32; highest: -120/192 and 4 + 32
    assert found.lowest.value / INCH == pytest.approx(33 - 94 / 192)
    assert found.highest.value / INCH == pytest.approx(36 - 120 / 192)


def test_only_differences_of_readings_count() -> None:
    moved = answer(
        ('datum: 1"', 'datum: 48-1/4"'), ('reading: 1"', 'reading: 48-1/4"'),
        ('reading: 2"', 'reading: 49-1/4"'),
    )  # fmt: skip
    assert [f.length for f in moved.feet] == [f.length for f in answer().feet]


def test_without_a_datum_heights_count_from_the_floor_under_the_saw() -> None:
    # the saw's middle lies at y 75 in, so its table is 34 in above a floor 75/192 in down
    found = answer(('  datum: 1"\n', ""))
    assert not found.datum_given
    assert found.feet[0].needed.value / INCH == pytest.approx(1.9375 + (120 - 75) / 192)


def test_a_shim_takes_what_the_foot_cannot_reach() -> None:
    found = answer(('longest: 4"', 'longest: 2-1/4"'))
    assert [round(f.length / INCH * 16) for f in found.feet] == [36, 36, 36, 36]
    assert [round(f.shim / INCH * 16) for f in found.feet] == [5, 5, 3, 3]
    assert {f.reach for f in found.feet} == {"fails"}
    assert found.verdict == "passes"


def test_a_foot_that_is_too_long_at_its_shortest_fails() -> None:
    # front feet want 2.4271 in, which 2-1/2 in is not; the surface comes no lower than that
    found = answer(('shortest: 1"', 'shortest: 2-1/2"'))
    assert [f.verdict for f in found.feet] == ["passes", "passes", "fails", "fails"]
    assert found.verdict == "fails"
    assert found.lowest.value / INCH == pytest.approx(34.5 - 94 / 192)
    assert found.lowest.value > found.target.value


def test_the_step_follows_the_feet_as_set() -> None:
    # rear feet right on, front feet set 2-7/16 for 2.4271 in: 0.0104 in up at y 94 in, so
    # 1/16 - 0.0104 * 28/26 in at the front edge, y 92 in, and 1/16 + 0.0104 * 2/26 at y 122 in
    found = answer()
    over = 39 / 16 - (1.9375 + 94 / 192)
    assert found.steps is not None
    assert [s.value / INCH for s in found.steps] == pytest.approx(
        [1 / 16 - over * 28 / 26, 1 / 16 + over * 2 / 26]
    )
    assert found.step_verdict == "passes"
    assert answer(('step: 1/16"', "step: 0")).step_verdict == "fails"


def test_errors_are_carried_through() -> None:
    # table, height without feet, datum and reading: at a reading's own point the sum of all four
    found = answer(
        ("tape: 0", "tape: {plan: 0, height: 1/16 in}"),
        ("  readings:\n", '  readings:\n    - {under: bench, foot: 1, reading: 1-5/8"}\n'),
    )
    known = found.shop.measurements
    assert found.feet[0].needed.error(known) == pytest.approx(4 * INCH / 16)
    assert found.feet[0].needed.value / INCH == pytest.approx(1.9375 + 5 / 8)
    # where the point is a foot, it does not matter how well its place was measured
    moved = answer(
        ("tape: 0", "tape: {plan: 1/8 in, height: 1/16 in}"),
        ("  readings:\n", '  readings:\n    - {under: bench, foot: 1, reading: 1-5/8"}\n'),
    )
    assert moved.feet[0].needed.error(moved.shop.measurements) == pytest.approx(4 * INCH / 16)


def test_a_foot_at_the_end_of_its_range_is_unsure_within_the_tape() -> None:
    # needs 2-9/16 in of at most 2-1/2 in, the four errors being 1/16 in each
    found = answer(
        ("tape: 0", "tape: {plan: 0, height: 1/16 in}"), ('longest: 4"', 'longest: 2-1/2"')
    )
    assert found.feet[0].reach == "unsure"


def test_a_survey_that_does_not_reach_is_refused_unless_asked() -> None:
    text = SHOP.replace("at: [20', 16'], reading", "at: [20', 8'], reading").replace(
        "at: [0, 16'], reading", "at: [0, 8'], reading"
    )
    file = parse(text)
    with pytest.raises(FeetError, match="does not reach feet 1, 2"):
        feet_of(scene(file.shop, file.layout), "bench")
    file = parse(text.replace("floor:\n", "floor:\n  outside: extend\n"))
    found = feet_of(scene(file.shop, file.layout), "bench")
    # 1 in fall over 96 in: 120/96 in down at y 120 in
    assert found.feet[0].needed.value / INCH == pytest.approx(1.9375 + 120 / 96)


def lowered(shortest: str, *, tape: str = "tape: 0", survey: bool = True) -> list[Step]:
    """Steps that let the bench down, which lies 1/4 in above the table."""
    text = SHOP.replace('33-15/16"', '34-1/4"').replace('shortest: 1"', shortest)
    text = text.replace("tape: 0", tape)
    file = parse(text if survey else text.partition("floor:")[0])
    made = scene(file.shop, file.layout)
    failing = judge_scene(made).failing
    found = feet_steps(Draft(file.shop, file.layout), "bench", made, failing)
    return [step for step in found if step.by is not None and step.by < 0]


def test_the_feet_s_range_bounds_how_far_a_thing_may_be_let_down() -> None:
    # its feet let it down to 33 - 94/192 in, or not at all
    step = lowered('shortest: 1"')[0]
    assert step.by is not None
    assert step.by / INCH == pytest.approx(-0.25)
    # 34 - 32 + 120/192 = 2-5/8 in at the rear, 34 - 32 + 94/192 = 2.49 in at the front
    assert step.text == (
        'lower bench by 1/4" on its feet: 1 to 2-5/8", 2 to 2-5/8", 3 to 2-1/2", 4 to 2-1/2"'
    )
    assert lowered('shortest: 2-3/4"') == []  # 34-3/4 - 94/192 = 34.26 in is as low as it comes


def test_feet_let_a_thing_down_only_where_the_tape_is_sure_that_they_reach() -> None:
    # no survey: the floor is level, so 32 in and the shortest foot are as low as it comes; surface,
    # foot and height without feet may be off by 1/16 in each.  The step itself is off by 1/8 in,
    # so the bench comes down by 3/8 in, to 33-7/8 in: a foot of 1-7/8 in less 3/16 in is sure
    tape = "tape: {plan: 0, height: 1/16 in}"
    sure = lowered('shortest: 1-11/16"', tape=tape, survey=False)
    assert [step.by / INCH for step in sure if step.by is not None] == pytest.approx([-0.375])
    assert sure[0].text == 'lower bench by 3/8"'
    assert lowered('shortest: 1-3/4"', tape=tape, survey=False) == []


def roomy(*changes: tuple[str, str]) -> str:
    """The shop with room to push a sheet through the saw, its bench against the saw."""
    text = SHOP
    for old, new in (
        ("size: [20', 16']", "size: [20', 36']"), ('y: 60"', 'y: 170"'), ('y: 92"', 'y: 200"'),
        ("16'], reading", "20'], reading"), *changes,
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    return text


def test_letting_the_bench_down_is_the_first_change_offered() -> None:
    high = ('33-15/16"', '34-1/4"')
    assert fix(parse(roomy())).today.verdict == "passes"
    found = fix(parse(roomy(high)))
    assert [step.kind for step in found.changes[0].steps] == ["feet"]
    assert found.changes[0].verified.verdict == "passes"
    # rear feet at y 228 in, the floor 228/240 in down: 34 - 32 + 0.95 = 2.95 in; front at 202
    assert found.changes[0].text == (
        'lower bench by 1/4" on its feet: 1 to 2-15/16", 2 to 2-15/16", 3 to 2-13/16", '
        '4 to 2-13/16"'
    )
    beyond = fix(parse(roomy(high, ('shortest: 1"', 'shortest: 3"'))))
    kinds = {(step.kind, step.thing) for change in beyond.changes for step in change.steps}
    assert ("feet", "bench") not in kinds


def test_a_machine_s_feet_bound_its_table() -> None:
    # the bench lies 1/4 in above the table; feet of 2-1/2 in at most under 31-3/4 in raise the
    # table to 34-1/4 in and no higher
    text = SHOP.partition("floor:")[0].replace('33-15/16"', '34-1/4"')

    def raises(longest: str) -> list[float]:
        feet = f"""feet: {{at: [[2", 2"], [58", 2"], [58", 28"]], shortest: 1", longest: {longest},
               height without feet: 31-3/4", level with: bench}},"""
        old = 'surface: 34",'
        assert old in text
        file = parse(text.replace(old, f"{old} {feet}"))
        made = scene(file.shop, file.layout)
        failing = judge_scene(made).failing
        steps = feet_steps(Draft(file.shop, file.layout), "saw", made, failing)
        return [step.by / INCH for step in steps if step.by is not None and step.by > 0]

    assert raises('2-1/2"') == pytest.approx([0.25])
    assert raises('2-7/16"') == []


def test_levels_without_a_survey_take_the_floor_as_level() -> None:
    file = parse(SHOP.partition("floor:")[0])
    levels = levels_of(scene(file.shop, file.layout), "bench")
    assert levels is not None
    assert [level.value / INCH for level in levels] == pytest.approx([33.0, 36.0])
    with pytest.raises(FeetError, match="not surveyed"):
        feet_of(scene(file.shop, file.layout), "bench")


# --- faults of the file -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('longest: 4"', 'longest: 1/2"', "no longer than the shortest"),
        ("level with: saw", "level with: sow", "did you mean `saw`?"),
        ("level with: saw", "level with: bench", "no other thing"),
        ('[58", 2"], [58"', '[58", 2"], [62"', "foot 3 does not stand under `bench`"),
        (', [58", 28"], [2", 28"]]', "]", "at least three feet"),
        ("[20', 0], reading", "[0, 0], reading", "taken at the same point"),
        ("{at: [0, 0], reading", "{reading", "at one point"),
        ("at: [0, 0], reading", "under: saw, foot: 1, reading", "no thing with `feet:`"),
        ("at: [0, 0], reading", "under: bench, foot: 5, reading", "at most 4"),
        ("floor:\n", "floor:\n  outside: guess\n", "not one of"),
        ("  datum", "  dattum", "did you mean `datum`?"),
        ("shortest:", "shortst:", "did you mean `shortest`?"),
    ],
)
def test_each_fault_is_said_once(old: str, new: str, says: str) -> None:
    assert old in SHOP
    with pytest.raises(ShopFileError) as wrong:
        parse(SHOP.replace(old, new, 1))
    assert says in str(wrong.value)
    assert len(wrong.value.faults) == 1


# --- the command --------------------------------------------------------------------------------


def test_the_command_tells_and_draws(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(SHOP, encoding="utf-8")
    assert main(["feet", str(path), "bench", "-o", str(tmp_path), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [row["foot"] for row in data["feet"]] == [1, 2, 3, 4]
    assert {"foot", "length", "shim"} <= set(data["feet"][0])
    assert data["feet"][0]["length"] == pytest.approx(41 / 16 * INCH, abs=1e-6)
    drawing = (tmp_path / "feet-bench.svg").read_text(encoding="utf-8")
    assert all(f'id="foot {n}"' in drawing for n in range(1, 5))
    assert main(["feet", str(path), "bench", "--no-figures"]) == 0
    assert 'foot 1: 2-9/16"' in capsys.readouterr().out
    assert main(["feet", str(path), "saw", "--no-figures"]) == 2
    assert "has no feet" in capsys.readouterr().err


def test_the_map_says_each_foot_once() -> None:
    """Four lengths in the table, four at the feet; rows of text beside it name no foot again."""
    found = answer()
    file = parse(SHOP)
    page = feet_page(scene(file.shop, file.layout), found, "head", tuple(feet_notes(found)))
    said = [text.get_text() for text in page.axes.texts]
    for foot in found.feet:
        length = format_length(foot.length, found.shop.system)
        assert said.count(f"{foot.number}: {length}") == 1
    assert not [text for text in said if text.startswith("foot ") and text != "foot"]
