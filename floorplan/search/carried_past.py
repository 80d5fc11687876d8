"""What is carried past one thing, while that thing is asked about in many sizes and places.

The way of a piece is found once with the thing away.  Where the thing keeps clear of the widest
body on that way it has no part in it: the way, its margin and what limits it stay the same.
"""

from __future__ import annotations

import shapely

from floorplan.checks import carrying
from floorplan.checks.finding import Answer, Finding
from floorplan.checks.surroundings import space_of, surroundings
from floorplan.checks.ways import Way, surely_passes, way_of
from floorplan.motion.margin import MARGIN_STEP
from floorplan.motion.replay import is_clear
from floorplan.shop.model import Carry, Layout, Shop
from floorplan.shop.scene import Scene, scene

BESIDE = 4 * MARGIN_STEP
"""What the thing keeps off the widest body, so that it is not what limits it [m]."""
REACH = 10.0
"""Ground looked at round a way [m]."""


class CarriedPast:
    """Asks for each carry whether a thing has a part in it."""

    def __init__(self, shop: Shop, layout: Layout, name: str) -> None:
        self.name = name
        self._shop, self._layout = shop, layout
        self._away: Scene | None = None
        self._ways: dict[int, Way | None] = {}

    def check(self, made: Scene) -> Answer:
        """Findings of `carrying.doubtful` without those in which the thing has no part."""
        findings: list[Finding] = []
        for number, (job, wanted) in enumerate(made.shop.carries()):
            if not (
                carrying.is_plain(made, wanted)
                and (self._is_past(made, number, wanted) or surely_passes(made, wanted))
            ):
                findings += carrying.judged(made, job, wanted)
        return Answer(tuple(findings))

    def _is_past(self, made: Scene, number: int, wanted: Carry) -> bool:
        if self.name in (wanted.start, wanted.goal, wanted.thing):
            return False
        way = self._without(number)
        if way is None or way.answer.verdict != "passes" or way.answer.margin is None:
            return False
        ends = (way.start, way.goal)
        near = surroundings(made, wanted, way.load, ends, way.around.doors, lean=1.0)
        stopping = zip(near.obstacles, near.stops, strict=True)
        own = [row for row in stopping if row[0].owner == self.name]
        mine, stops = [e for e, _ in own], [stopped for _, stopped in own]
        if not mine:
            return True
        path = way.answer.widest
        ground = shapely.multipoints([(p.x, p.y) for p in path]).buffer(REACH).envelope
        body = near.body.widened(way.answer.margin + BESIDE)
        return is_clear(space_of(ground, mine, stops, way.load, apart=near.apart), body, path)

    def _without(self, number: int) -> Way | None:
        """The way of a carry with the thing gone."""
        if number not in self._ways:
            if self._away is None:
                self._away = scene(self._shop, self._layout.without(self.name))
            job, wanted = tuple(self._shop.carries())[number]
            self._ways[number] = way_of(self._away, job, wanted)
        return self._ways[number]
