"""One search in several runs: here, on other cores or interrupted, the answer is the same."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from shops import text_of

from floorplan.geometry.pieces import Piece
from floorplan.report.data import arrangement, dump
from floorplan.search import runs
from floorplan.search.arrange import arrange
from floorplan.search.problem import Array, Item, Objective, Problem, State
from floorplan.search.runs import RUN, Terms, searched, shares
from floorplan.search.workers import Workers
from floorplan.shop.reader import parse

SHOP = text_of(
    "bench: {width: 60 in, depth: 24 in, height: 34 in,"
    " zones: {front: {side: front, depth: 24 in, purpose: stand}}}",
    "press: {kind: drill press}",
    "rack: {width: 48 in, depth: 18 in, height: 60 in,"
    " zones: {front: {side: front, depth: 30 in, purpose: stand}}}",
    room="size: [14', 12']",
    more="doors: {door: {wall: south, at: 6', width: 36 in, height: 80 in,\n"
    "  swing: out, leads to: outside}}\n"
    "jobs: {work: {walk: [door, rack, bench, press, bench]}}\n",
)


class Corner:
    """Two squares that want into the south-west corner of a room."""

    def posed(self) -> tuple[Problem, Objective]:
        def square(x: float, y: float, side: float, label: int) -> Piece:
            corners = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]])
            return Piece(corners + np.array([x, y]), 0.0, 1.0, label)

        items = tuple(Item(name, (0.0,), ((square(0, 0, 1.0, 1),),)) for name in "ab")
        walls = (square(-9, -2, 9.0, 0), square(5, -2, 9.0, 0), square(-2, -9, 9.0, 0))
        north = square(-2, 5, 9.0, 0)
        return Problem(items, (*walls, north), lambda a, b: True, (0, 0, 5, 5)), Away()


class Away:
    """The distance of all items from the corner."""

    def guides(self, item: int, turn: int, state: State) -> tuple[Array, Array]:
        return np.empty(0), np.empty(0)

    def score(self, item: int, turn: int, xy: Array, state: State) -> Array:
        return np.asarray(np.hypot(*xy.T))

    def settled(self, state: State, cost: float) -> float:
        return cost

    def total(self, state: State) -> float:
        return float(np.hypot(*state.xy.T).sum())


def test_shares_make_the_effort_and_differ_by_one_at_most() -> None:
    for effort in (1, 60, RUN, RUN + 1, 3 * RUN + 5, 10 * RUN):
        parts = shares(effort)
        assert sum(parts) == effort
        assert max(parts) - min(parts) <= 1
        assert max(parts) <= 1.5 * RUN


def test_the_best_of_all_runs_is_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """One square in the corner, one beside it: 0 + 1 = 1 away together."""
    monkeypatch.setattr(runs, "RUN", 20)
    found = searched(Corner(), Terms(keep=4), seed=1, effort=60)
    assert found.tried >= 60
    assert found.cost == pytest.approx(1.0)
    costs = [cost for cost, _ in found.archive]
    assert costs == sorted(costs)
    assert costs[0] == found.cost


def test_whoever_works_at_it_the_answer_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runs, "RUN", 20)
    alone = searched(Corner(), Terms(keep=4), seed=3, effort=60)
    with ThreadPoolExecutor(3) as pool:
        together = searched(Corner(), Terms(keep=4), seed=3, effort=60, executor=pool)
    assert [c for c, _ in alone.archive] == [c for c, _ in together.archive]
    assert np.array_equal(alone.best.xy, together.best.xy)


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")
@pytest.mark.parametrize("kind", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_any_executor_of_the_standard_library_finds_the_same_layouts(
    kind: Callable[[int], Executor], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three runs a search, as told by the number of what was asked for, and the same bytes."""
    monkeypatch.setattr(runs, "RUN", 20)
    file, asked = parse(SHOP), []
    alone = dump(arrangement(arrange(file.shop, file.layout, effort=60, show=1)))
    with kind(2) as pool:
        submit = pool.submit
        monkeypatch.setattr(pool, "submit", lambda *a: asked.append(a) or submit(*a))
        found = arrange(file.shop, file.layout, effort=60, show=1, executor=pool)
    assert [given[-1] for given in asked] == [20] * 3
    assert dump(arrangement(found)) == alone


@pytest.mark.slow
def test_two_processes_find_what_one_finds() -> None:
    file = parse(SHOP)
    alone = dump(arrangement(arrange(file.shop, file.layout, effort=3 * RUN)))
    with Workers(2) as pool:
        found = arrange(file.shop, file.layout, effort=3 * RUN, executor=pool)
    assert dump(arrangement(found)) == alone


class Interrupting(ThreadPoolExecutor):
    """An executor during whose last run somebody presses Ctrl-C."""

    halted = False

    def submit(self, work: Callable[..., object], /, *given: object, **named: object) -> Future:  # type: ignore[type-arg]
        if given[2] != 1:
            failing: Future[object] = Future()
            failing.set_exception(KeyboardInterrupt())
            failing.cancel = lambda: True  # type: ignore[method-assign]
            failing.cancelled = lambda: True  # type: ignore[method-assign]
            return failing
        done = super().submit(work, *given, **named)
        done.result()
        return done

    def halt(self) -> None:
        self.halted = True


def test_an_interrupt_keeps_what_is_ready_and_halts_the_rest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(runs, "RUN", 30)
    with Interrupting(1) as pool:
        found = searched(Corner(), Terms(keep=4), seed=1, effort=60, executor=pool)
        assert pool.halted
    assert found.interrupted
    assert found.feasible
    assert math.isfinite(found.cost)


class Forbidding(Away):
    """The corner's cost while searching; what is kept costs 10 more if an item is at it."""

    def settled(self, state: State, cost: float) -> float:
        return cost + 10.0 * bool((np.abs(state.xy).max(axis=1) < 1e-6).any())


class Forbidden(Corner):
    """The squares want into the corner, and none may stand in it."""

    def posed(self) -> tuple[Problem, Objective]:
        return super().posed()[0], Forbidding()


def test_what_is_kept_is_priced_in_full(monkeypatch: pytest.MonkeyPatch) -> None:
    """The cheapest total, 1, has a square in the corner and is not the answer."""
    monkeypatch.setattr(runs, "RUN", 40)
    found = searched(Forbidden(), Terms(keep=20), seed=1, effort=120)
    costs = [cost for cost, _ in found.archive]
    assert min(costs) == found.cost
    for cost, state in found.archive:
        total = float(np.hypot(*state.xy.T).sum())
        assert cost == pytest.approx(Forbidding().settled(state, total))
