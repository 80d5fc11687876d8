"""Can each piece be fed straight through its machine, before and behind the cutter?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from floorplan.checks.finding import Answer, Finding, Measure, finding
from floorplan.checks.obstruction import NEAR, Obstacle, in_the_way, look, obstacles
from floorplan.geometry.affine import Affine, affine, greater, smaller
from floorplan.geometry.volume import certainty
from floorplan.shop import building
from floorplan.shop.feeding import feed_box, feeds_of
from floorplan.shop.model import Cutter, Shop, Thing
from floorplan.shop.scene import Element, Frame, Scene, frame_of

CHECK = "feeding"
RULE = {"infeed": "feed-clear", "outfeed": "feed-clear", "push": "feed-standing-room"}
KICKBACK_LOOK = 12.0
"""How far the kickback line is followed [m]."""


def check(scene: Scene) -> Answer:
    """Every zone of every feed in every task that uses its machine, and the kickback line."""
    findings: list[Finding] = []
    spare = float("inf")
    for element in scene.of("zone"):
        if element.purpose not in RULE:
            continue
        for task in sorted(scene.tasks & (element.presence.only or frozenset())):
            if not element.presence.during(task):
                continue
            for found in obstacles(scene, element.volume, in_the_way(scene, element, task)):
                findings.append(_finding(scene, element, task, found))
                spare = min(spare, found.gap.distance.value)
    for thing in scene.shop.things:
        if thing.cutter is not None and feeds_of(scene.shop, thing):
            findings.extend(_kickback(scene, thing, thing.cutter))
    measures = {} if spare == float("inf") else {"sheet room": Measure(spare, "m")}
    return Answer(tuple(findings), measures)


def _finding(scene: Scene, zone: Element, task: str, found: Obstacle) -> Finding:
    distance = found.gap.distance
    if distance.value >= 0:
        message = f"{zone.label}: free, {found.phrase} comes nearest, {{spare}} away {found.how}"
    else:
        message = f"{zone.label}: {found.phrase} is in the way by {{spare}} {found.how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=RULE[zone.purpose],
        about=(zone.owner, found.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=found.gap.place,
        task=task,
        line=zone.line,
        by_height=found.gap.by_height,
    )


# --- the kickback line ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Opening:
    """A window or a door that people use, as a line on the inside face of its wall."""

    name: str
    label: str
    ends: tuple[tuple[Affine, Affine], tuple[Affine, Affine]]

    @property
    def line(self) -> LineString:
        return LineString([(x.value, y.value) for x, y in self.ends])


def _openings(shop: Shop) -> Iterator[_Opening]:
    """Every window, and every door but the overhead ones."""
    walls: list[tuple[str, str, str, Affine, Affine]] = [
        (w.name, w.name if "window" in w.name else f"window {w.name}", w.wall, w.start, w.width)
        for w in shop.windows
    ]
    walls += [
        (d.name, d.name, d.wall, d.start, d.width) for d in shop.doors if d.kind != "overhead"
    ]
    for name, label, wall, start, width in walls:
        line = building.frame(shop.room.wall(wall))
        yield _Opening(name, label, (line.at(start), line.at(start + width)))


def kickback_strip(
    scene: Scene, thing: Thing, cutter: Cutter, *, more: float = 0.0
) -> Polygon | None:
    """The strip before the cutter, towards the operator, up to the first wall.

    `more` widens it on both sides [m].
    """
    pose = scene.layout.pose(thing.name)
    if pose is None:
        return None
    half = affine(scene.shop.rules.value("kickback-width") / 2 + more)
    start = -(cutter.front + Affine(KICKBACK_LOOK))
    frame = frame_of(thing, pose)
    outline = frame.place(feed_box(cutter, start, -cutter.front, -half, half))
    inside = Polygon(outline.points).intersection(scene.floor)
    x, y = frame.point(cutter.x, cutter.y)
    parts = [p for p in getattr(inside, "geoms", [inside]) if p.geom_type == "Polygon"]
    near = Point(x.value, y.value)
    return min(parts, key=lambda p: p.distance(near)) if parts else None


def _kickback(scene: Scene, thing: Thing, cutter: Cutter) -> Iterator[Finding]:
    """No glass, no door that people use, in the line in which work is thrown."""
    shop = scene.shop
    strip = kickback_strip(scene, thing, cutter)
    wide = kickback_strip(scene, thing, cutter, more=look(shop))
    pose = scene.layout.pose(thing.name)
    if strip is None or wide is None or pose is None:
        return
    frame = frame_of(thing, pose)
    for opening in _openings(shop):
        if wide.distance(opening.line) > 1e-6:
            continue
        margin = _beside(frame, cutter, opening, shop.rules.value("kickback-width") / 2)
        if margin.value > NEAR and certainty(margin, shop.measurements) == 2:
            continue
        yield finding(
            shop,
            check=CHECK,
            rule="kickback-width",
            about=(thing.name, opening.name),
            margin=margin,
            needed=0.0,
            message=f"{opening.label} lies {{spare}} beside the kickback line of {thing.name}"
            if margin.value >= 0
            else f"{opening.label} lies in the kickback line of {thing.name}, by {{spare}}",
            where=strip,
            kind="advised",
            line=thing.line,
        )


def _beside(frame: Frame, cutter: Cutter, opening: _Opening, half: float) -> Affine:
    """How far an opening lies beside the strip, negative when in it [m]."""
    local = {"away": (1.0, 0.0), "left": (0.0, 1.0), "right": (0.0, -1.0)}
    right = np.array(frame.heading(*local[cutter.feed]))
    blade = _along(frame.point(cutter.x, cutter.y), right)
    first, last = (_along(end, right) for end in opening.ends)
    low, high = smaller(first, last), greater(first, last)
    return greater(low - blade, blade - high) - half


def _along(point: tuple[Affine, Affine], way: np.ndarray) -> Affine:
    return point[0] * float(way[0]) + point[1] * float(way[1])
