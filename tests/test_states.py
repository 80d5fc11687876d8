"""The shop in its states: which there are, what stands where in each, and the drawn sheet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from shops import judged, text_of

from floorplan.checks.judge import Judgement
from floorplan.drawing.states import ranked_states, states_of, states_page, states_sheet

INCH = 0.0254
CART = (
    'cart: {width: 20", depth: 20", height: 30", at: {x: 100", y: 20"}, parked: {x: 100", y: 150"}}'
)
RACK = 'rack: {width: 60", depth: 20", height: 60", at: {x: 10", y: 80"}}'
CAR = 'car: {width: 70", depth: 100", height: 58", at: {x: 80", y: 10"}}'
TASKS = "tasks: {night: {present: [car], parked: [cart]}, glue: {uses: [rack]}}\n"


@dataclass(frozen=True)
class Offered:
    """A ranked layout as a search offers it."""

    rank: int
    judgement: Judgement
    best_for: tuple[str, ...] = ()
    reason: str = ""
    dominated: bool = False


def test_layouts_that_are_offered_have_their_states_drawn(tmp_path: Path) -> None:
    """One that is the same in all its tasks has no sheet of states."""
    plain = judged(text_of(RACK, more="tasks: {glue: {uses: [rack]}}\n"))
    offered = (Offered(1, judged(text_of(CART, RACK, CAR, more=TASKS))), Offered(2, plain))
    files = ranked_states(offered, tmp_path, formats=("svg",))
    assert [file.name for file in files] == ["rank-1-states.svg"]
    assert "roll: cart" in files[0].read_text(encoding="utf-8")


def test_tasks_that_find_everything_alike_share_a_state() -> None:
    rest, night = states_of(judged(text_of(CART, RACK, CAR, more=TASKS)))
    assert rest.moments == ("at rest", "glue")
    assert night.moments == ("night",)


def test_in_each_state_things_stand_where_its_tasks_want_them() -> None:
    rest, night = states_of(judged(text_of(CART, RACK, CAR, more=TASKS)))
    where = [
        {name: tuple(round(v / INCH) for v in e[0].volume.bounds[:2])
         for name, e in state.scene.things.items()}
        for state in (rest, night)
    ]  # fmt: skip
    assert where[0] == {"cart": (100, 20), "rack": (10, 80)}
    assert where[1] == {"cart": (100, 150), "rack": (10, 80), "car": (80, 10)}
    assert all(e.presence.only is None for e in night.scene.elements)


def test_a_state_has_the_findings_and_the_verdict_of_its_tasks() -> None:
    """A rack from wall to wall: the cart cannot be parked, at rest nothing is wrong."""
    wall = 'wall of shelves: {width: 240", depth: 20", height: 60", at: {x: 0, y: 80"}}'
    whole = judged(text_of(CART, wall, more="tasks: {night: {parked: [cart]}}\n"))
    rest, night = states_of(whole)
    assert (rest.verdict, night.verdict, whole.verdict) == ("passes", "fails", "fails")
    assert {f.task for f in night.findings} == {"night"}
    assert "no way" in " ".join(_texts(states_page((rest, night))))


def test_rolls_are_drawn_in_the_state_they_lead_to() -> None:
    states = states_of(judged(text_of(CART, RACK, CAR, more=TASKS)))
    page = states_page(states)
    names = {a.get_gid() for a in page.axes.get_children() if a.get_gid()}
    assert {"roll: cart", "tightest: cart"} <= names
    words = " ".join(_texts(page))
    assert "a: cart rolls 10'" in words  # 130 in as the crow flies
    assert "There: car." in words
    (made,) = states[1].rolls
    assert made.roll.passage.length >= 130 * INCH - 1e-6
    assert states[0].rolls == ()


@pytest.mark.parametrize("more", ["", "tasks: {glue: {uses: [rack]}}\n"])
def test_no_sheet_where_there_is_one_state(more: str, tmp_path: Path) -> None:
    made = judged(text_of(RACK, more=more))
    assert len(states_of(made)) == 1
    assert states_sheet(made, tmp_path, "states") == ()
    assert not list(tmp_path.iterdir())


def _texts(page) -> list[str]:  # type: ignore[no-untyped-def]
    return [text.get_text() for text in page.axes.texts]
