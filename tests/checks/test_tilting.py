"""A piece turned upright in its own plane, against the circle of its diagonal.

Turned by t a rectangle L by W is L sin t + W cos t tall, which peaks at its diagonal: 107.33 in for
96 by 48.  Over a place x from the corner that stays it reaches sqrt(L^2 + W^2 - x^2).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from floorplan.checks import tilting
from floorplan.checks.finding import Finding
from floorplan.drawing.page import rendered
from floorplan.drawing.tilt import tilt_page
from floorplan.geometry.affine import Affine
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

INCH = 0.0254
LIFT = 6.0  # a sheet on edge is held so far off the floor, by the book [in]
DIAGONAL = math.hypot(96, 48)

SHOP = """\
shop: trial
units: in
tape: {tape}
room:
  size: [400, 300]
  height: {height}
  beams: {{beam: {{from: [{beam}, 0], to: [{beam}, 300], width: 4, bottom: {bottom}}}}}
equipment:
  shelf: {{width: 40, depth: 12, bottom: 60, height: 70, at: {{x: {shelf}, y: {shelf_y}}}}}
places:
  spot: {{x: 200, y: 200, turn: 0}}
stock:
  sheet: {{length: 96, width: 48, thickness: 3/4}}
jobs:
  work: {{carry: {{{what}, from: spot, how: tilted up}}}}
"""


def found(
    *,
    height: float = 130,
    beam: float = 10,
    bottom: float = 129,
    shelf: float = 2,
    shelf_y: float = 205,
    tape: str = "0",
    what: str = "stock: sheet",
) -> Finding:
    text = SHOP.format(
        height=height, beam=beam, bottom=bottom, shelf=shelf, shelf_y=shelf_y, tape=tape, what=what
    )
    file = parse(text)
    (one,) = tilting.check(scene(file.shop, file.layout)).findings
    return one


def test_the_profile_holds_every_turn_and_is_reached() -> None:
    # corners of the turning rectangle, by plain rotation about its lower right corner
    corners = np.array([(-96.0, 0.0), (-96.0, 48.0), (0.0, 48.0)])
    xs, ys = [], []
    for turn in np.linspace(0.0, math.pi / 2, 2001):
        c, s = math.cos(turn), math.sin(turn)
        xs.append(corners @ (c, s))
        ys.append(corners @ (-s, c))
    x, y = np.concatenate(xs), np.concatenate(ys)
    limit = [tilting.profile_height(Affine(96.0), Affine(48.0), v).value for v in x]
    assert (y <= np.array(limit) + 1e-9).all()
    reached = np.abs(y - np.array(limit)).reshape(-1, 3)[:, 1]
    assert reached.max() < 1e-9


def test_the_ceiling_must_be_a_diagonal_high_and_the_lift() -> None:
    need = DIAGONAL + LIFT
    assert need == pytest.approx(107.33 + 6, abs=0.01)
    low = found(height=need - 0.1, bottom=need - 0.2, beam=10)
    assert low.verdict == "fails"
    assert low.margin == pytest.approx(-0.1 * INCH, abs=1e-6)
    assert found(height=need, bottom=need - 0.2, beam=10).verdict == "passes"


def test_the_error_is_that_of_the_diagonal() -> None:
    # tape 1/8: the ceiling, and dD = (L dL + W dW) / D
    one = found(height=113.4, bottom=113.3, tape="1/8")
    assert one.verdict == "unsure"
    assert one.error / INCH == pytest.approx((1 + (96 + 48) / DIAGONAL) / 8, rel=1e-6)


def test_a_beam_off_the_corner_that_stays_may_hang_lower() -> None:
    # the piece lies from 152 to 248; about its east end it sweeps from 152 to 296 and stays at 248,
    # about its west end from 104 to 248 and stays at 152.  A beam's face at 276 is 28 in off.
    reach = math.sqrt(DIAGONAL**2 - 28**2) + LIFT
    # of the two ends the one away from the beam is chosen: it does not come near
    assert found(beam=278, bottom=reach - 5).verdict == "passes"
    # between the two ends both sweep over it: 48 in from either
    middle = math.sqrt(DIAGONAL**2 - 46**2) + LIFT
    assert found(beam=200, bottom=middle + 0.01).verdict == "passes"
    short = found(beam=200, bottom=middle - 0.05)
    assert short.verdict == "fails"
    assert short.margin == pytest.approx(-0.05 * INCH, abs=1e-6)
    assert "beam" in short.about


def test_a_cabinet_turned_upright_under_a_beam() -> None:
    # 84 by 36 by 24: on edge 36 in tall, it peaks at hypot(84, 36) = 91.4 in
    cabinet = "piece: {name: cabinet, length: 84, width: 36, thickness: 24}"
    need = math.hypot(84, 36) + LIFT
    under = found(beam=200, bottom=need, what=cabinet)
    assert under.verdict == "passes"
    assert found(height=need - 0.2, bottom=need - 1, beam=10, what=cabinet).verdict == "fails"


def test_a_shelf_is_in_the_way_where_it_reaches_into_the_strip() -> None:
    # the strip is 3/4 in wide about y = 200; the shelf hangs from 60 to 70 in, within the profile
    beside = found(shelf=180)
    assert beside.verdict == "passes"
    assert beside.margin == pytest.approx((5 - 3 / 8) * INCH)
    within = found(shelf=180, shelf_y=200)
    assert within.verdict == "fails"
    assert within.margin == pytest.approx(-3 / 8 * INCH)
    assert "shelf" in within.about


def test_what_hangs_above_is_told_along_the_piece_from_the_corner_that_stays() -> None:
    """Turned about its east end, at 248 in, a sheet passes over 152 to 296: beam 190 to 194."""
    text = SHOP.format(
        height=130, beam=192, bottom=120, shelf=2, shelf_y=205, tape="0", what="stock: sheet"
    )
    file = parse(text)
    made = scene(file.shop, file.layout)
    spot = next(t for t in tilting.tilts(made, file.shop.jobs[0].carries[0]) if t.end > 0)
    beam, ceiling = tilting.overhead(made, spot)
    assert (beam.name, ceiling.name) == ("beam", "ceiling")
    assert (beam.near / INCH, beam.far / INCH) == (pytest.approx(-58), pytest.approx(-54))
    assert (ceiling.near / INCH, ceiling.far / INCH) == (pytest.approx(-96), pytest.approx(48))
    assert beam.bottom / INCH == pytest.approx(120)


def test_the_turn_is_drawn_from_the_side() -> None:
    text = SHOP.format(
        height=130, beam=192, bottom=108, shelf=2, shelf_y=205, tape="0", what="stock: sheet"
    )
    file = parse(text)
    made = scene(file.shop, file.layout)
    (best,) = tilting.best_tilts(made)
    drawn = rendered(tilt_page(made, best, ("One sentence.",)), "svg").decode()
    for mark in ("strip of the turn", "over the turn", "turn 1", "turn 5", "above: ceiling"):
        assert f'id="{mark}"' in drawn
