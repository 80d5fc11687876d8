"""Carrying in whole shop files, against closed forms.

A rectangle L by w turns a right-angled corner of two passages a and b wide when, at every angle t,
w <= a sin t + b cos t - L sin t cos t (the clearance of the inner corner from the long side whose
ends slide along the outer walls); for a = b the tightest is at 45 degrees.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from floorplan.checks import carrying
from floorplan.checks.finding import Finding
from floorplan.checks.judge import judge
from floorplan.checks.ways import Way, way_of
from floorplan.motion.replay import is_clear
from floorplan.shop.carrying import height_on_the_turn, lean_to_pass
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

LAYOUTS = Path(__file__).parents[2] / "layouts"
INCH = 0.0254
LENGTH, THICK = 96.0, 0.75


def ways(text: str) -> list[Way]:
    file = parse(text)
    made = scene(file.shop, file.layout)
    found = [way_of(made, job, wanted) for job, wanted in file.shop.carries()]
    return [way for way in found if way is not None]


def found_in(text: str) -> list[Finding]:
    file = parse(text)
    return [f for f in judge(file.shop, file.layout).findings if f.check == "carrying"]


# --- the corner ----------------------------------------------------------------------------


def corner(width: float, tape: str, how: str = "on edge", thick: float = THICK) -> str:
    return f"""\
shop: corner
units: in
tape: {tape}
room:
  corners: [[0, 0], [130, 0], [130, {width}], [{width}, {width}], [{width}, 130], [0, 130]]
  height: 100
places:
  north end: {{x: {width / 2}, y: 76, turn: 90}}
  east end: {{x: 76, y: {width / 2}, turn: 0}}
stock:
  sheet: {{length: {LENGTH}, width: 48, thickness: {thick}}}
jobs:
  bring: {{carry: {{stock: sheet, from: north end, to: east end, how: {how}}}}}
"""


NEEDED = (LENGTH + 2 * THICK) / (2 * math.sqrt(2))
"""Width of two equal passages round whose corner the sheet just goes [in]."""


@pytest.mark.parametrize(("extra", "verdict"), [(0.06, "passes"), (-0.06, "fails")])
def test_a_sheet_on_edge_goes_round_a_corner_as_the_closed_form_says(
    extra: float, verdict: str
) -> None:
    (way,) = ways(corner(NEEDED + extra, "0"))
    assert way.verdict == verdict
    if verdict == "passes":
        assert is_clear(way.around.space, way.body, way.answer.path)


def test_the_margin_and_its_error_are_those_of_the_closed_form() -> None:
    # at 45 degrees w = (a + b) / sqrt 2 - L / 2: each passage counts 1/sqrt 2, the length 1/2
    width = 36.0
    (way,) = ways(corner(width, "1/8"))
    assert way.margin is not None
    expected = math.sqrt(2) * width - LENGTH / 2 - THICK
    # a closed-form margin is found within a sixteenth of an inch below it
    assert expected - 1 / 16 - 1e-3 <= way.margin.value / INCH <= expected + 1e-3
    error = way.margin.error(parse(corner(width, "1/8")).shop.measurements)
    assert error / INCH == pytest.approx((2 / math.sqrt(2) + 1 / 2 + 1) / 8, rel=0.02)


def test_a_corner_that_is_just_possible_is_unsure_within_the_tape() -> None:
    text = corner(NEEDED + 0.15, "1/8")
    (made,) = found_in(text)
    assert made.verdict == "unsure"
    assert "as drawn it passes" in made.message
    (exact,) = found_in(corner(NEEDED + 0.15, "0"))
    assert exact.verdict == "passes"


def test_a_corner_that_is_just_too_narrow_is_unsure_within_the_tape() -> None:
    (made,) = found_in(corner(NEEDED - 0.1, "1/8"))
    assert made.verdict == "unsure"
    (exact,) = found_in(corner(NEEDED - 0.1, "0"))
    assert exact.verdict == "fails"


def test_far_too_narrow_fails_and_names_what_stands_there() -> None:
    (made,) = found_in(corner(26.0, "1/8"))
    assert made.verdict == "fails"
    assert "walls" in made.message
    assert "3/4" in made.message  # the clear width that a sheet on edge needs


# --- ways of carrying ----------------------------------------------------------------------

GARAGE = """\
shop: garage
units: in
tape: 0
room: {size: [288, 264], height: 105}
doors:
  big door:
    {wall: south, at: 48, width: 192, clear width: 190, height: 84, kind: overhead,
     leads to: outside}
  small door:
    {wall: east, at: 120, width: 36, clear width: 34, height: 80, swing: out, leads to: outside}
equipment:
  low bench: {width: 287, depth: 20, height: 33, surface: 33, at: {x: 0.5, y: 120, turn: 0}}
  saw: {kind: cabinet table saw, at: {x: 10, y: 170, turn: 0}}
places:
  street: {x: 144, y: -80, turn: 0}
  corner: {x: 60, y: 60, turn: 0}
  back: {x: 200, y: 205}
stock:
  sheet: {length: 96, width: 48, thickness: 3/4}
jobs:
  work:
    carry:
      - JOB
"""


def one(job: str, text: str = GARAGE) -> Finding:
    *_, last = [f for f in found_in(text.replace("JOB", job)) if f.rule == "carry-way"]
    return last


@pytest.mark.parametrize("how", ["on edge", "on edge with carrier", "flat", "on cart", "by two"])
def test_every_way_of_carrying_reaches_an_open_floor(how: str) -> None:
    found = one(f"{{stock: sheet, from: street, to: corner, how: {how}}}")
    assert found.verdict == "passes"
    assert how in found.message


def test_a_flat_sheet_passes_over_a_lower_bench_that_stops_one_on_edge() -> None:
    # the bench reaches from wall to wall but for half an inch, and is 33 in high
    assert one("{stock: sheet, from: street, to: back, how: flat}").verdict == "passes"
    low = one("{stock: sheet, from: street, to: back, how: flat, height: 32}")
    assert low.verdict == "fails"
    assert "low bench" in low.about
    on_edge = one("{stock: sheet, from: street, to: back, how: on edge}")
    assert on_edge.verdict == "fails"
    assert "low bench" in on_edge.about


@pytest.mark.parametrize(
    ("height", "verdict"),
    [("33.05", "unsure"), ("33.2", "passes"), ("32.95", "unsure"), ("32.8", "fails")],
)
def test_a_height_within_the_tape_is_unsure(height: str, verdict: str) -> None:
    # the bench is 33 in high and the sheet carried at a measured height: 1/16 in each
    text = GARAGE.replace("tape: 0", "tape: 1/16")
    job = f"{{stock: sheet, from: street, to: back, how: flat, height: {height}}}"
    assert one(job, text).verdict == verdict


def test_a_sheet_on_end_does_not_pass_an_opening_of_84_inches() -> None:
    # a 96 in sheet on end is taller than 84 in; leaned by asin(84/96) it would pass, 46.5 in long
    found = one("{stock: sheet, from: street, to: corner, how: on end}")
    assert found.verdict == "fails"
    assert "big door" in found.message
    angle, run = lean_to_pass(96 * INCH, 84 * INCH) or (0.0, 0.0)
    assert angle == pytest.approx(math.degrees(math.asin(84 / 96)))
    assert angle == pytest.approx(61.0, abs=0.1)
    assert run / INCH == pytest.approx(46.5, abs=0.05)
    assert lean_to_pass(80 * INCH, 84 * INCH) is None


def test_a_sheet_turned_in_its_own_plane_peaks_at_its_diagonal() -> None:
    # 96 sin t + 48 cos t peaks at 107.33 in
    assert height_on_the_turn(96, 48) == pytest.approx(107.33, abs=0.005)


def test_a_low_ceiling_stops_a_sheet_on_end_but_not_on_edge() -> None:
    low = GARAGE.replace("height: 105", "height: 97")
    job = "{stock: sheet, from: corner, to: street, how: on end}"
    fails = [f for f in found_in(low.replace("JOB", job)) if f.rule == "carry-head"]
    assert [f.verdict for f in fails] == ["fails"]
    assert one("{stock: sheet, from: corner, to: street}", low).verdict == "passes"


def test_a_sheet_larger_than_every_door_names_the_least_opening() -> None:
    small = GARAGE.replace("width: 192, clear width: 190", "width: 46, clear width: 44")
    found = one("{stock: sheet, from: street, to: corner, how: flat}", small)
    assert found.verdict == "fails"
    assert '4\' clear width from 34" to 34-3/4" above the floor' in found.message
    assert one("{stock: sheet, from: street, to: corner}", small).verdict == "passes"


def test_a_start_inside_a_solid_says_so_and_names_the_room_needed() -> None:
    inside = GARAGE.replace("corner: {x: 60, y: 60, turn: 0}", "corner: {x: 144, y: 130, turn: 0}")
    found = one("{stock: sheet, from: corner, to: street}", inside)
    assert found.verdict == "fails"
    assert "has no room at corner" in found.message
    assert "low bench" in found.message
    assert "it needs" in found.message


def test_the_overhead_leaf_hangs_where_an_upright_sheet_wants_to_be() -> None:
    # the leaf hangs at 84 in: on end 98 in of sheet meets it anywhere below, on edge nothing does
    deep = "{stock: sheet, from: corner, to: street, how: on end}"
    assert "big door" in one(deep).about
    assert one("{stock: sheet, from: corner, to: street}").verdict == "passes"


def test_a_thing_comes_in_and_does_not_stand_in_its_own_way() -> None:
    assert one("{thing: saw, from: street, to: saw, how: flat, height: 40}").verdict == "passes"
    rolled = one("{thing: saw, from: street, to: saw, how: on cart}")
    assert rolled.verdict == "fails"
    assert "low bench" in rolled.about


def test_a_cabinet_leaves_by_the_door_that_is_wide_enough() -> None:
    cabinet = "piece: {name: cabinet, length: 84, width: 36, thickness: 24}"
    near = GARAGE.replace("y: 120, turn: 0}}", "y: 200, turn: 0}}", 1).replace(
        "corner: {x: 60", "corner: {x: 200"
    )
    out = one(f"{{{cabinet}, from: corner, to: small door, how: on edge}}", near)
    assert out.verdict == "passes"  # 24 in of cabinet through 34 in
    flat = one(f"{{{cabinet}, from: corner, to: small door, how: flat}}", near)
    assert flat.verdict == "fails"  # 36 in through 34 in
    assert "small door" in flat.message


def test_there_and_back_agree() -> None:
    there = ways(GARAGE.replace("JOB", "{stock: sheet, from: street, to: corner, how: by two}"))
    back = ways(GARAGE.replace("JOB", "{stock: sheet, from: corner, to: street, how: by two}"))
    assert there[0].verdict == back[0].verdict
    assert there[0].answer.length == pytest.approx(back[0].answer.length, rel=0.02)


def test_the_cheap_screen_never_refuses_what_passes() -> None:
    jobs = (
        "{stock: sheet, from: street, to: corner}\n      - {stock: sheet, from: street, to: back}"
    )
    file = parse(GARAGE.replace("JOB", jobs))
    made = scene(file.shop, file.layout)
    failing = [f for f in carrying.check(made).findings if f.verdict == "fails"]
    assert len(failing) == 1
    passing = parse(GARAGE.replace("JOB", "{stock: sheet, from: street, to: corner}"))
    assert not carrying.blocked(scene(passing.shop, passing.layout))


def test_the_cheap_screen_refuses_what_no_door_lets_in() -> None:
    file = parse(
        GARAGE.replace(
            "JOB",
            "{piece: {length: 200 in, width: 120 in, thickness: 1 in}, from: street, to: corner,"
            " how: flat}",
        )
    )
    assert carrying.blocked(scene(file.shop, file.layout))


def test_measures_count_only_when_something_is_carried() -> None:
    file = parse(GARAGE.replace("JOB", "{stock: sheet, from: street, to: corner}"))
    measures = judge(file.shop, file.layout).measures
    assert measures["sheet way"].value > 2.0
    assert measures["sheet way margin"].value > 1.0
    bare = parse(GARAGE[: GARAGE.index("jobs:")])
    assert "sheet way" not in judge(bare.shop, bare.layout).measures


# --- mistakes in the file ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("job", "words"),
    [
        ("{from: street, to: corner}", "what is carried?"),
        ("{stock: sheet, thing: saw, from: street, to: corner}", "`stock` and `thing`"),
        ("{stock: shet, from: street, to: corner}", "there is no stock `shet`"),
        ("{thing: sew, from: street, to: saw}", "there is no thing `sew`"),
        ("{stock: sheet, to: corner}", "from"),
        ("{stock: sheet, from: street}", "to"),
        ("{stock: sheet, from: strete, to: corner}", "there is no thing, door or place `strete`"),
        ("{stock: sheet, from: corner, to: corner}", "which is nowhere"),
        ("{stock: sheet, from: street, to: corner, how: on head}", "`on head` is not one of"),
        ("{stock: sheet, from: street, to: corner, by: hand}", "`by`"),
        ("{stock: sheet, from: street, to: corner, task: dance}", "there is no task `dance`"),
        ("{piece: {length: 80, width: 30}, from: street, to: corner}", "thickness"),
        ("{stock: sheet, from: street, to: corner, turn at goal: east}", "a number is needed here"),
    ],
)
def test_a_wrong_job_is_told_once_and_clearly(job: str, words: str) -> None:
    with pytest.raises(ShopFileError) as wrong:
        parse(GARAGE.replace("JOB", job))
    assert len(wrong.value.faults) == 1
    assert words in str(wrong.value)


def test_a_carry_to_a_thing_that_has_no_place_is_left_out_and_not_called_blocked() -> None:
    text = GARAGE.replace(", at: {x: 10, y: 170, turn: 0}}", "}")
    file = parse(text.replace("JOB", "{stock: sheet, from: street, to: saw}"))
    made = scene(file.shop, file.layout)
    assert carrying.check(made).findings == ()
    assert not carrying.blocked(made)


@pytest.mark.parametrize("name", ["two-car-garage", "l-shaped-basement", "long-narrow-metric"])
def test_the_cheap_form_leaves_out_only_what_passes(name: str) -> None:
    """What it does not tell, the check itself finds to pass."""
    file = parse((LAYOUTS / f"{name}.yaml").read_text())
    made = scene(file.shop, file.layout)
    quick = {(f.rule, f.about, f.task, f.message) for f in carrying.doubtful(made).findings}
    full = carrying.check(made).findings
    assert quick <= {(f.rule, f.about, f.task, f.message) for f in full}
    left = [f for f in full if (f.rule, f.about, f.task, f.message) not in quick]
    assert all(f.verdict == "passes" for f in left)
