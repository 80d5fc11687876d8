"""A margin becomes a verdict in one place, and words round to the safe side."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shops import text_of

from floorplan.checks.finding import (
    SEVERITY,
    Finding,
    Measure,
    finding,
    measure_text,
    verdict_of,
    worst_first,
)
from floorplan.geometry.affine import Affine
from floorplan.shop.reader import parse
from floorplan.units import System

TAPE = "1/8 in"
SHOP = parse(
    text_of('bench: {width: 60", depth: 24", height: 34", at: {x: 20", y: 20"}}', tape=TAPE)
).shop
WIDTH = "bench: width"
IN = 0.0254


@pytest.mark.parametrize(
    ("margin", "error", "verdict"),
    [
        (0.0, 0.0, "passes"), (-9e-6, 0.0, "passes"), (-2e-5, 0.0, "fails"),
        (0.003, 0.003, "passes"), (0.0029, 0.003, "unsure"), (0.0, 0.003, "unsure"),
        (-0.0029, 0.003, "unsure"), (-0.003, 0.003, "fails"), (-0.1, 0.003, "fails"),
    ],
)  # fmt: skip
def test_verdict(margin: float, error: float, verdict: str) -> None:
    """Margin >= error passes, margin <= -error fails, between nobody can tell."""
    assert verdict_of(margin, error) == verdict


def made(margin: float, **more: object) -> Finding:
    return finding(
        SHOP, check="c", rule="way-out-width", about=("bench",), needed=28 * IN, where=None,
        margin=Affine(margin * IN, {WIDTH: 1.0}), message="{have} of {need}, {spare}", **more,
    )  # type: ignore[arg-type]  # fmt: skip


def test_numbers_words_and_error() -> None:
    found = made(2.01)
    assert found.measured == pytest.approx(30.01 * IN)
    assert found.error == pytest.approx(IN / 8)
    assert found.message == '30" of 28", 2"'  # what there is, rounded down
    short = made(-2.01)
    assert short.message == '25-15/16" of 28", 2-1/16"'  # what is missing, rounded up
    most = made(-2.01, at_most=True)
    assert most.measured == pytest.approx(30.01 * IN)
    assert most.message.startswith('30-1/16" of 28"')


def test_too_close_to_call_says_how_it_is_drawn() -> None:
    assert made(0.05).message.endswith(
        'too close to call: as drawn it passes by 0", the tape allows ± 1/8"'
    )
    assert "as drawn it fails by" in made(-0.05).message
    assert "as drawn it passes by" in made(0.0).message  # exactly enough


def test_required_before_advised_and_what_passes_last() -> None:
    """A wish comes after what must be, however little it lacks; all of both before what passes."""
    order = [
        ("required", "fails"), ("required", "unsure"), ("advised", "fails"), ("advised", "unsure"),
        ("required", "passes"), ("advised", "passes"),
    ]  # fmt: skip
    assert set(SEVERITY) == set(order)
    found = [replace(made(0.0), kind=k, verdict=v) for k, v in reversed(order)]
    assert [(f.kind, f.verdict) for f in worst_first(found)] == order


def test_room_to_spare_is_rounded_down_and_a_walk_to_the_nearest() -> None:
    """2.99 in is no 3 in, while a walk of 9 ft 11.99 in is told as 10 ft."""
    assert measure_text(Measure(2.99 * IN, "m"), System.IMPERIAL) == '2-15/16"'
    assert measure_text(Measure(119.99 * IN, "m"), System.IMPERIAL) == "10'"


def test_what_is_not_certified_neither_passes_nor_fails() -> None:
    for margin in (5.0, -5.0):
        found = made(margin, certified=False)
        assert found.verdict == "unsure"
        assert "not certified" in found.message
        assert "too close" not in found.message


def test_angles_in_degrees() -> None:
    found = finding(
        SHOP, check="c", rule="drawer-open-share", about=(), needed=90.0, where=None, unit="deg",
        margin=Affine(-10.0), message="{have} of {need}",
    )  # fmt: skip
    assert found.message == "80.0° of 90.0°"
    assert found.verdict == "fails"
