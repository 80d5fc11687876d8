"""The best spot of all, held against what regions of places are not asked about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Point

from floorplan.checks.finding import Finding
from floorplan.checks.judge import judge_scene
from floorplan.motion.free import FreeRegion
from floorplan.search.limits import areas
from floorplan.search.screening import WAYS
from floorplan.search.spots import NOTHING, Best, Spots, TurnSpots, best_of, parts_of
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import scene

TRIES = 4
"""Places asked, the roomiest first."""
ASIDE = 0.3
"""So far round a place that does not pass none is asked again [m]."""
Key = tuple[str, str, str | None, int | None]


def with_checked_best(found: Spots) -> Spots:
    """The same with a best spot from and past which all is surely rolled and carried.

    What has no way even without the thing is not held against a place.
    """
    stages = (found, *found.later)
    if not any(each.shop.tasks or tuple(each.shop.carries()) for each in stages):
        return found
    known: list[set[Key]] | None = None
    for _ in range(TRIES):
        best = found.best
        if best is None or not best[1].certain:
            return found
        lacks = [_lacking(each.shop, each.placed(best[1], best[0])) for each in stages]
        if any(lacks):
            known = known or [_lacking(each.shop, _away(each)) for each in stages]
            lacks = [lack - before for lack, before in zip(lacks, known, strict=True)]
        if not any(lacks):
            return found
        turns = [_next(at, best[1]) if at.best is best[1] else at for at in found.turns]
        found = replace(found, turns=tuple(turns))
    turns = [at if at.best is None else replace(at, best=replace(at.best, certain=False))
             for at in found.turns]  # fmt: skip
    return replace(found, turns=tuple(turns))


def _away(found: Spots) -> Layout:
    layout = found.layout
    for name in (found.thing, *found.together):
        layout = layout.without(name)
    return layout


def _lacking(shop: Shop, layout: Layout) -> set[Key]:
    """What is not surely rolled or carried in a layout."""
    findings: Sequence[Finding] = judge_scene(scene(shop, layout), WAYS).findings
    return {
        (f.check, f.about[0], f.task, f.line)
        for f in findings
        if f.kind == "required" and f.verdict != "passes"
    }


def _next(at: TurnSpots, best: Best) -> TurnSpots:
    """The roomiest place away from one that does not pass; that one if there is no other."""
    away = Point(best.x, best.y).buffer(ASIDE)
    every = shapely.union_all([at.region, *at.segments, *at.points]).difference(away)
    lines, points = parts_of(every, LineString), parts_of(every, Point)
    left = FreeRegion(areas(every), lines, points, NOTHING)
    found = best_of(left, shapely.union_all([]))
    return replace(at, best=found or replace(best, certain=False))
