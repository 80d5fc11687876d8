"""How much of a top hands reach: by sums on paper, and by trying spot after spot."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shops import judged, pick, text_of

from floorplan.checks import reach
from floorplan.checks.finding import Finding
from floorplan.drawing.notes import in_words
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene
from floorplan.units import System

INCH = 0.0254
ARM = 0.674 / INCH
"""ANSUR II public tables (NATICK/TR-15/007): thumb-tip reach, women, 5th percentile [in]."""
USES = "tasks: {work: {uses: [bench]}}\n"


def bench(wide: float, deep: float, x: float, y: float) -> str:
    size = f'width: {wide}", depth: {deep}", height: 34", surface: 34"'
    return f'bench: {{{size}, at: {{x: {x}", y: {y}"}}}}'


def rack(name: str, x: float, y: float, wide: float, deep: float, bottom: float = 0) -> str:
    size = f'width: {wide}", depth: {deep}", bottom: {bottom}", height: 90"'
    return f'{name}: {{{size}, at: {{x: {x}", y: {y}"}}}}'


def found(*things: str, tape: str = "0") -> Finding:
    return pick(judged(text_of(*things, more=USES, tape=tape)), "reach", "bench")


@pytest.mark.parametrize(
    ("deep", "verdict"), [(2 * ARM - 0.01, "passes"), (2 * ARM + 0.01, "fails")]
)
def test_from_all_sides_hands_meet_in_the_middle(deep: float, verdict: str) -> None:
    made = found(bench(80, deep, 80, 80))
    assert (made.verdict, made.kind) == (verdict, "advised")
    assert made.measured == pytest.approx(deep / 2 * INCH, abs=6e-4)
    assert made.needed == pytest.approx(0.674)


def test_against_a_wall_the_middle_of_its_far_edge_is_out_of_reach() -> None:
    """The room ends at y = 192 in.  At the ends one stands up to 15 in from the wall.

    From the front it is 30 in to the far edge, from the ends hypot(30, 15) = 33.5 in.
    """
    made = found(bench(60, 30, 80, 162))
    assert made.measured == pytest.approx(30 * INCH, abs=6e-4)
    assert "from the front, left and right" in made.message
    assert made.where is not None
    half = math.sqrt(ARM**2 - 15**2)
    west, south, east, north = (value / INCH for value in made.where.bounds)
    assert (west, east) == pytest.approx((80 + half, 140 - half), abs=0.01)
    assert (south, north) == pytest.approx((162 + ARM, 192), abs=0.01)


@pytest.mark.parametrize(("gap", "sides"), [(24, "front and back"), (23.99, "front")])
def test_a_standing_place_is_24_in_deep(gap: float, sides: str) -> None:
    """Both ends are taken; a rack stands `gap` behind the bench (common practice, no source)."""
    made = found(
        bench(90, 30, 80, 80),
        rack("rear", 90, 110 + gap, 70, 10),
        rack("west", 60, 80, 20, 30),
        rack("east", 170, 80, 20, 30),
    )
    assert f"from the {sides}," in made.message


def test_where_nobody_gets_to_nobody_stands() -> None:
    """Behind the bench is room to stand, but racks close it off; ajar by 12 in it is reached."""
    closed = (
        bench(90, 30, 80, 80),
        rack("rear", 50, 140, 150, 10),
        rack("west", 60, 80, 20, 60),
        rack("east", 170, 80, 20, 60),
    )
    assert "from the front," in found(*closed).message
    ajar = (*closed[:3], rack("east", 182, 80, 20, 60))
    assert "from the front and back," in found(*ajar).message


def test_what_hangs_over_the_head_takes_no_standing_room() -> None:
    shelf = rack("shelf", 70, 40, 90, 40, bottom=81)
    assert "front, back" in found(bench(60, 30, 80, 80), shelf).message
    low = rack("shelf", 70, 40, 90, 40, bottom=70)
    assert "front" not in found(bench(60, 30, 80, 80), low).message


def test_without_room_to_stand_no_hand_reaches_it() -> None:
    made = found(
        bench(60, 30, 80, 80),
        rack("south", 50, 60, 120, 19),
        rack("north", 50, 111, 120, 19),
        rack("west", 60, 80, 19, 30),
        rack("east", 141, 80, 19, 30),
    )
    assert (made.verdict, made.measured, made.margin) == ("fails", None, None)
    assert "nobody finds room to stand at bench" in made.message


def test_within_the_tape_nobody_can_tell() -> None:
    made = found(bench(80, 2 * ARM - 0.01, 80, 80), tape="1/8 in")
    assert made.verdict == "unsure"


def test_machines_and_what_has_no_flat_top_are_left_out() -> None:
    drill = 'drill: {kind: drill press, at: {x: 30", y: 30"}}'
    saw = 'saw: {kind: cabinet table saw, at: {x: 120", y: 60"}}'
    assert not [f for f in judged(text_of(drill, saw)).findings if f.check == "reach"]


def stands(middle: tuple[float, float], out: tuple[float, float], taken: BaseGeometry) -> bool:
    """Whether a place 30 in wide and 24 in deep before a spot of an edge is free [in]."""
    (x, y), (u, v) = middle, out
    corners = [(x + s * 15 * v + d * u, y - s * 15 * u + d * v)
               for s, d in ((-1, 0), (1, 0), (1, 24), (-1, 24))]  # fmt: skip
    return Polygon(corners).buffer(-1e-3).intersection(taken).is_empty


@pytest.mark.parametrize("seed", range(4))
def test_spots_and_share_by_trying(seed: int) -> None:
    """Every half inch of the edge and every inch of the top, tried one by one."""
    random = Random(seed)
    wide, deep = random.randint(50, 90), random.randint(28, 50)
    top = box(100, 100, 100 + wide, 100 + deep)
    things, taken = [bench(wide, deep, 100, 100)], [top]
    for i in range(5):
        w, d = random.randint(8, 30), random.randint(8, 30)
        x, y = random.randint(60, 100 + wide + 20), random.randint(60, 100 + deep + 20)
        place = box(x, y, x + w, y + d)
        if all(place.intersection(other).area == 0 for other in taken):
            things.append(rack(f"rack {i}", x, y, w, d))
            taken.append(place)
    solid = shapely.union_all([t.buffer(-1e-3) for t in taken])
    west, south, east, north = top.bounds
    edges = {
        (0, -1): [(x, south) for x in np.arange(west, east + 0.1, 0.5)],
        (1, 0): [(east, y) for y in np.arange(south, north + 0.1, 0.5)],
        (0, 1): [(x, north) for x in np.arange(west, east + 0.1, 0.5)],
        (-1, 0): [(west, y) for y in np.arange(south, north + 0.1, 0.5)],
    }
    spots = np.array([p for out, row in edges.items() for p in row if stands(p, out, solid)])
    grid = np.array(
        [(x, y) for x in np.arange(west + 0.5, east) for y in np.arange(south + 0.5, north)]
    )
    away = np.hypot(*(grid[:, None, :] - spots[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    file = parse(text_of(*things, more=USES))
    made = pick(judged(text_of(*things, more=USES)), "reach", "bench")
    assert made.measured is not None
    assert made.measured / INCH == pytest.approx(away.max(), abs=1.5)
    missed = 0.0 if made.verdict == "passes" else made.where.area / INCH**2
    assert missed / top.area == pytest.approx(float((away > ARM).mean()), abs=0.02)
    assert isinstance(made.where, BaseGeometry)
    assert reach.check(scene(file.shop, file.layout)).findings[0].message == made.message
    assert not LineString(spots).is_empty


def test_a_note_on_the_plan_says_the_numbers_once() -> None:
    made = found(bench(60, 30, 80, 162))
    assert in_words(made, System.IMPERIAL) == made.message
