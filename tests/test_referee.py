"""Random shops judged twice: nothing said to pass that a second judge finds failing, nor else.

The second judge is exact about solids and places, and knows the way out to its raster.
"""

from __future__ import annotations

from random import Random

import pytest
from referee import Referee
from shops import judged, random_plan

SLACK = 1e-4
"""Areas smaller than this length squared are no overlap [m]."""
SEEDS = range(40)


@pytest.mark.parametrize("seed", SEEDS)
def test_solids_and_places(seed: int) -> None:
    plan = random_plan(Random(seed), things=6)
    text = plan.text()
    judgement, referee = judged(text), Referee(text)
    wrong = {
        (f.check, frozenset(f.about)): f.margin
        for f in judgement.failing
        if f.check in ("solids", "zones")
    }
    names = list(referee.bodies)
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            overlaps = referee.overlap(a, b) > SLACK**2
            assert (("solids", frozenset((a, b))) in wrong) is overlaps, (a, b)
        walls = [key for key in wrong if key[0] == "solids" and _walled(key[1], a)]
        assert bool(walls) is (referee.outside(a) > SLACK**2), a
    for place in referee.places:
        for other in names:
            if other != place:
                takes = referee.in_place(place, other) > SLACK**2
                said = ("zones", frozenset((place, other))) in wrong
                # the pair is told once for both places
                back = other in referee.places and referee.in_place(other, place) > SLACK**2
                assert said is (takes or back), (place, other)
        walls = [key for key in wrong if key[0] == "zones" and _walled(key[1], place)]
        assert bool(walls) is (referee.place_outside(place) > SLACK**2), place


def _walled(names: frozenset[str], thing: str) -> bool:
    return thing in names and any(name.endswith("wall") for name in names)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_way_out(seed: int) -> None:
    """As wide as said but for the raster, and no wider."""
    plan = random_plan(Random(seed), things=4)
    text = plan.text()
    judgement, referee = judged(text), Referee(text)
    fuzz = 3 * referee.raster
    told = [f for f in judgement.findings if f.check == "way-out"]
    assert {f.about[0] for f in told} == set(referee.places)
    for f in told:
        assert f.measured is not None
        if f.measured > 2 * fuzz:
            assert referee.gets_out(f.about[0], f.measured - fuzz), f.message
        if f.certified:
            assert not referee.gets_out(f.about[0], f.measured + fuzz), f.message
