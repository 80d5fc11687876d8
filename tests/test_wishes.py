"""The prices a search goes by: sums by hand, the exact checks, and many states at once."""

from __future__ import annotations

from math import hypot

import numpy as np
import pytest
from shops import text_of

from floorplan.checks import links
from floorplan.search.pricing import OneByOne
from floorplan.search.problem import State, States
from floorplan.search.setting import Demands, Setting, movable_names
from floorplan.search.wishes import Wishes
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

# one stops 0.3 m before the front, in its middle: at (1.5, 2.7) and (4.5, 6.7), 5 m apart
METRIC = """\
shop: two things
units: m
tape: 0
room: {size: [6, 8], height: 2.5}
equipment:
  bench: {width: 1.0, depth: 0.5, height: 0.9, at: {x: 1.0, y: 3.0}, within 2 of: rack,
          turns: [0, 90], zones: {front: {side: front, depth: 0.6}}}
  rack: {width: 0.8, depth: 0.4, height: 2.0, at: {x: 4.1, y: 7.0},
         zones: {front: {side: front, depth: 0.6}}}
jobs:
  work: {walk: [bench, rack, bench]}
"""
WALK = 2 * 5.0
NEAREST_WALLS = (3 * 1.0, 3 * 0.6)
TOO_FAR = 200 * (hypot(4.1 - 2.0, 7.0 - 3.5) - 2.0)

SAW = (
    'saw: {width: 30", depth: 20", height: 34", surface: 34",'
    ' blade: {at: [15", 10"], reach: 0}, at: {x: 105", y: 144"}}'
)
BENCH = (
    'bench: {width: 40", depth: 60", height: 34", surface: 34",'
    ' takes the outfeed of: saw, at: {x: 20", y: 20"}}'
)
RIP = (
    "stock: {board: {length: 40in, width: 20in, thickness: 1in}}\n"
    "jobs: {rip: {feed: [{stock: board, through: saw, cut: rip, offset: 10in}]}}\n"
)


def wishes_of(text: str) -> Wishes:
    file = parse(text)
    shop, layout = file.shop, file.layout
    demands = Demands(reserve=False, advised=False)
    return Wishes(Setting(shop, layout, movable_names(shop, layout), demands))


def test_a_layout_costs_its_walks_walls_and_reach() -> None:
    """Weights as documented in `wishes`; walk and reach count at both of their ends, by halves."""
    wishes = wishes_of(METRIC)
    expected = WALK + sum(NEAREST_WALLS) / 2 + TOO_FAR
    assert wishes.total(wishes.today) == pytest.approx(expected)


def test_a_thing_moved_and_turned_costs_a_little_besides() -> None:
    """The rack half a metre south: 0.05 a metre, and the walk and the reach become shorter."""
    wishes = wishes_of(METRIC)
    there = wishes.score(1, 0, np.array([[4.1, 6.5]]), wishes.today)
    walk, wall = 2 * hypot(3.0, 3.5), 3 * 1.0
    far = 200 * (hypot(2.1, 3.0) - 2.0)
    assert there == pytest.approx([walk + wall + 0.05 * 0.5 + far])
    here = wishes.today.xy[0][None]
    straight, turned = (wishes.score(0, turn, here, wishes.today)[0] for turn in (0, 1))
    # turned it stops at (0.8 m east, half a metre north) of its corner, and reaches 1 m north
    walk = 2 * hypot(4.5 - 1.8, 6.7 - 3.5)
    far = 200 * (hypot(4.1 - 1.5, 7.0 - 4.0) - 2.0)
    assert straight == pytest.approx(WALK + NEAREST_WALLS[0] + TOO_FAR)
    assert turned == pytest.approx(walk + NEAREST_WALLS[0] + 0.05 * 0.5 + far)


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_places_offered_behind_a_machine_pass_the_exact_check(turn: int) -> None:
    wishes = wishes_of(text_of(SAW, BENCH, room="size: [20', 24']", more=RIP))
    setting, state = wishes.setting, wishes.today
    saw, bench = wishes.index["saw"], wishes.index["bench"]
    state.turn[saw] = turn
    bench_turn = int(np.argmin(np.abs(np.array(setting.problem.items[bench].turns))))
    x, y = wishes.guides(bench, bench_turn, state)
    _, _, link = wishes.links[0]
    behind = np.column_stack([x, y])[-6:-1]
    turns = np.full(5, turn), np.full(5, bench_turn)
    assert link.missed(*turns, behind - state.xy[saw]) == pytest.approx(0.0, abs=1e-9)
    feed = link.along[turn]
    for at in behind:
        state.put(bench, bench_turn, at)
        for off, verdict in ((0.0, "passes"), (0.3, "fails")):
            moved = at + off * feed
            state.xy[bench] = moved
            made = links.check(scene(wishes.shop, setting.layout_of(state, rounded=False)))
            found = {f.verdict for f in made.findings if f.kind == "required"}
            assert verdict in found
            assert off or found == {"passes"}
            missed = link.missed(turns[0][:1], turns[1][:1], (moved - state.xy[saw])[None])
            assert (missed[0] > 1e-9) == bool(off)


def test_many_states_cost_what_each_of_them_costs() -> None:
    """Each state by itself goes through the same sums, whatever stands beside it."""
    more = RIP + "places: {street: {x: 10', y: 1'}}\n"
    shelf = (
        'shelf: {width: 30", depth: 12", height: 60", within 6ft of: street, at: {x: 60", y: 2"}}'
    )
    for text in (METRIC, text_of(SAW, BENCH, shelf, room="size: [20', 24']", more=more)):
        wishes = wishes_of(text)
        items = wishes.setting.problem.items
        dice = np.random.default_rng(5)
        states = States.of(
            [
                State.of([(dice.integers(len(i.turns)), *dice.uniform(0, 6, 2)) for i in items])
                for _ in range(4)
            ]
        )
        apart = OneByOne(wishes, wishes.setting.problem)
        assert wishes.standing_each(states) == pytest.approx(
            [wishes.standing(states.one(s)) for s in range(4)]
        )
        for item in range(len(items)):
            states.placed[:] = True
            states.placed[item] = False
            for both in zip(
                wishes.guides_each(item, states), apart.guides_each(item, states), strict=True
            ):
                np.testing.assert_array_equal(*both)
            which = np.repeat(np.arange(4), len(items[item].turns))
            turn = np.tile(np.arange(len(items[item].turns)), 4)
            xy = dice.uniform(0, 6, (len(which), 2))
            np.testing.assert_array_equal(
                wishes.score_each(item, which, turn, xy, states),
                apart.score_each(item, which, turn, xy, states),
            )
