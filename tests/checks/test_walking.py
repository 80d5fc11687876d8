"""Walking distances round corners, by hand; and walks that cannot be walked."""

from __future__ import annotations

from math import hypot, inf, isfinite

import pytest
from shops import judged, pick, text_of

PLACES = "places: {a: {x: 30in, y: 60in}, b: {x: 210in, y: 60in}, c: {x: 30in, y: 130in}}\n"
POST = "post: {width: 4in, depth: 4in, height: 80in, at: {x: 236in, y: 188in}}"


def job(walk: str) -> str:
    return f"jobs: {{cabinet: {{walk: {walk}}}}}\n"


def test_straight_walks_as_often_as_they_are_walked() -> None:
    walk = "[{from: a, to: b, times: 3}, {from: b, to: c, times: 2}]"
    measures = judged(text_of(POST, more=PLACES + job(walk))).measures
    expected = 3 * 180 + 2 * hypot(180, 70)
    assert measures["walking: cabinet"].value == pytest.approx(expected * 0.0254)
    assert measures["walking"].value == measures["walking: cabinet"].value


def test_round_a_rack() -> None:
    """A rack from the south wall to y = 120 in, on the straight line from a to b.

    The walker's middle keeps half a body off its corners: 667 mm (a table of body sizes).
    """
    rack = "rack: {width: 20in, depth: 120in, height: 80in, at: {x: 110in, y: 0in}}"
    measure = judged(text_of(rack, more=PLACES + job("[a, b]"))).measures["walking"]
    least = (2 * hypot(80, 60) + 20) * 0.0254  # along the corners themselves
    half = 0.667 / 2
    most = 2 * hypot(80 * 0.0254 - half, 60 * 0.0254 + half) + 20 * 0.0254 + 2 * half
    assert least < measure.value < most


def test_what_cannot_be_walked_is_said() -> None:
    rack = "rack: {width: 20in, depth: 192in, height: 80in, at: {x: 110in, y: 0in}}"
    judgement = judged(text_of(rack, more=PLACES + job("[a, c, b]")))
    assert judgement.measures["walking"].value == inf
    found = pick(judgement, "walking", "c", "b")
    assert (found.verdict, found.kind, found.margin) == ("fails", "advised", None)
    assert "from c to b" in found.message
    assert isfinite(judged(text_of(POST, more=PLACES + job("[a, c, b]"))).measures["walking"].value)
