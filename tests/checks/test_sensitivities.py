"""Every margin follows the tape as its terms say, to first order: the whole shop is shifted.

All measured numbers are moved a little at once, at random, and the shop is judged again.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from random import Random

import pytest
from shifting import shifted

from floorplan.checks.finding import Finding
from floorplan.checks.judge import CHECKS as ALL
from floorplan.checks.judge import Judgement, judge_scene
from floorplan.shop.model import Layout, Shop
from floorplan.shop.reader import parse
from floorplan.shop.scene import scene

DEMOS = tuple(sorted((Path(__file__).parents[2] / "layouts").glob("*.yaml")))
CHECKS = frozenset(
    ("solids", "keep-clears", "zones", "openings", "feeding", "links", "way-out", "break-down")
)
STEP = 5e-6
"""How far each number is moved [m]."""


def asked(shop: Shop, layout: Layout) -> Judgement:
    return judge_scene(scene(shop, layout), [row for row in ALL if row[0] in CHECKS])


def keyed(judgement: Judgement) -> dict[tuple[object, ...], list[Finding]]:
    out: dict[tuple[object, ...], list[Finding]] = defaultdict(list)
    for f in judgement.findings:
        # beside a piece on a machine the width is told as drawn: advice, its errors not followed
        beside_piece = f.check == "way-out" and f.kind == "advised" and not f.terms
        if f.margin is not None and f.check in CHECKS and not beside_piece:
            key = (f.check, f.rule, f.about[0], f.about[-1], f.task, f.by_height, f.line, f.unit)
            out[key, f.kind, round(f.needed or 0.0, 3)].append(f)
    return out


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_margins_follow_the_tape_as_their_terms_say(path: Path) -> None:
    file = parse(path.read_text()).at(0)
    before = keyed(asked(file.shop, file.layout))
    compared, off = 0, []
    for seed in (1, 2, 3):
        random = Random(seed)
        offsets = {name: random.uniform(-STEP, STEP) for name in file.shop.measurements}
        after = keyed(asked(shifted(file.shop, offsets), shifted(file.layout, offsets)))
        for key, old in before.items():
            new = after.get(key, [])
            if len(old) != len(new):
                continue  # of two that tie, the other one is told now
            for a, b in zip(
                *(sorted(fs, key=lambda f: f.margin or 0.0) for fs in (old, new)), strict=True
            ):
                assert a.margin is not None
                assert b.margin is not None
                if set(a.terms) != set(b.terms):
                    continue  # of two that tie, the other one is told now
                predicted = sum(w * offsets[name] for name, w in a.terms.items())
                compared += 1
                if abs(b.margin - a.margin - predicted) > 2e-7 * (1 if a.unit == "m" else 100):
                    off.append((key, predicted, b.margin - a.margin, a.message))
    assert compared > 100
    assert not off, off[:3]
