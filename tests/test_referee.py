"""Random shops and sheet scenes judged twice: nothing said to pass that brute force finds failing.

The second judges share no code with the program: exact polygons and a raster for the way out, a
lattice of poses for the sheet.  `tests/attack.py referee` runs many more of them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from math import pi
from random import Random

import pytest
from attacks.carried import HOW, random_shop
from attacks.referee import carried_faults, contradictions, ranked_plans, scene_faults
from attacks.scenes import SheetScene, growth, linked, random_scene, shrinkage, touches
from shops import judged, random_plan

from floorplan.checks.judge import Judgement, judge
from floorplan.shop.reader import parse


@pytest.mark.parametrize("seed", range(40))
def test_solids_places_and_the_way_out(seed: int) -> None:
    assert list(contradictions(random_plan(Random(seed), things=6).text())) == []


def test_a_wrong_judgement_is_contradicted() -> None:
    """The findings of a shop in which things overlap, without the one about two of them."""
    text = random_plan(Random(3), things=6).text()
    made = judged(text)
    overlap = next(f for f in made.failing if f.check == "solids")
    left = tuple(f for f in made.findings if f is not overlap)
    blind = Judgement(made.shop, made.layout, made.scene, left, made.measures, made.verdict)
    assert len(list(contradictions(text, blind))) == 1


def test_what_arrange_offers() -> None:
    plan = random_plan(Random(5), things=4)
    for laid, verdict in ranked_plans(plan, seed=1):
        file = parse(laid.text())
        made = judge(file.shop, file.layout)
        assert made.verdict == verdict
        assert list(contradictions(laid.text(), made)) == []


def test_sheets_among_obstacles() -> None:
    random, counts = Random(2), Counter[str]()
    for _ in range(30):
        scene = random_scene(random)
        if scene is not None:
            assert list(scene_faults(scene, counts)) == []
    assert counts["said passes"] >= 5
    assert counts["said fails"] >= 2
    assert counts["by brute force surely passes"] >= 2


def _carried(seeds: range) -> Counter[str]:
    """Files with one carried piece judged twice, those left out in which it has no room."""
    counts = Counter[str]()
    for seed in seeds:
        shop = random_shop(Random(f"file {seed}"))
        if shop is not None:
            assert list(carried_faults(shop, counts)) == [], seed
    return counts


def test_files_with_one_carried_piece() -> None:
    assert sum(_carried(range(4)).values()) >= 3


def test_parts_of_free_places_keep_their_numbers() -> None:
    """A file in which the goal's part was found under another number once all were worked out."""
    shop, counts = random_shop(Random("c1-354")), Counter[str]()
    assert shop is not None
    assert list(carried_faults(shop, counts)) == []
    assert counts["on edge: said passes"] == 1


@pytest.mark.slow
def test_many_files_with_one_carried_piece() -> None:
    counts = _carried(range(4, 90))
    said = {how: {v for v in ("passes", "fails") if counts[f"{how}: said {v}"]} for how in HOW}
    assert all("passes" in verdicts for verdicts in said.values())
    assert sum("fails" in verdicts for verdicts in said.values()) >= 3


DOOR = SheetScene(
    3.0, 3.0,
    (((0, 1.4), (1.0, 1.4), (1.0, 1.5), (0, 1.5)), ((1.6, 1.4), (3, 1.4), (3, 1.5), (1.6, 1.5))),
    1.2, 0.3, (1.32, 0.72, pi / 2), (1.32, 2.2, pi / 2), 0.04,
)  # fmt: skip
"""A sheet 0.3 m wide, end on before a doorway 0.6 m wide between x = 1.0 and 1.6 m."""


def test_the_lattice_knows_a_doorway() -> None:
    """0.6 m passes 0.3 m grown by twice 20 mm; a sheet 0.75 m wide and long as well cannot pass."""
    assert linked(DOOR, growth(DOOR), over_corners=False)
    wide = replace(DOOR, wide=0.75, long=1.2)
    assert not linked(wide, -shrinkage(wide), over_corners=True)
    straight = [DOOR.start, DOOR.goal]
    assert touches(DOOR, straight, 1e-5) is None
    at = touches(replace(DOOR, wide=0.57), straight, 1e-5)
    # from 1.32 m half of 0.57 m reaches to 1.605 m: 5 mm into the jamb, from y = 0.8 m on
    assert at is not None
    assert at[1] == pytest.approx(0.8, abs=0.005)
