"""Can each piece be fed straight through its machine, before and behind the cutter?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely.geometry import LineString, Polygon

from floorplan.checks.finding import Answer, Finding, Measure, finding
from floorplan.checks.obstruction import Obstacle, in_the_way, obstacles
from floorplan.geometry.affine import Affine, affine
from floorplan.shop import building
from floorplan.shop.feeding import feed_box, feeds_of
from floorplan.shop.model import Cutter, Thing
from floorplan.shop.scene import Element, Scene, frame_of

CHECK = "feeding"
RULE = {"infeed": "feed-clear", "outfeed": "feed-clear", "push": "feed-standing-room"}
KICKBACK_LOOK = 12.0
"""How far the kickback line is followed [m]."""


def check(scene: Scene) -> Answer:
    """Every zone of every feed in every task that uses its machine, and the kickback line."""
    findings: list[Finding] = []
    tasks = {task.name for task in scene.shop.tasks}
    spare = float("inf")
    for element in scene.of("zone"):
        if element.purpose not in RULE:
            continue
        for task in sorted(element.presence.only or ()):
            if task not in tasks or not element.presence.during(task):
                continue
            for found in obstacles(element.volume, in_the_way(scene, element, task)):
                findings.append(_finding(scene, element, task, found))
                spare = min(spare, found.gap.distance.value)
    for thing in scene.shop.things:
        if thing.cutter is not None and feeds_of(scene.shop, thing):
            findings.extend(_kickback(scene, thing, thing.cutter))
    measures = {} if spare == float("inf") else {"sheet room": Measure(spare, "m")}
    return Answer(tuple(findings), measures)


def _finding(scene: Scene, zone: Element, task: str, obstacle: Obstacle) -> Finding:
    distance = obstacle.gap.distance
    how = "in height" if obstacle.gap.by_height else "in plan"
    if distance.value >= 0:
        message = f"{zone.label}: free, {obstacle.label} comes nearest, {{spare}} away {how}"
    else:
        message = f"{zone.label}: {obstacle.label} is in the way by {{spare}} {how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=RULE[zone.purpose],
        about=(zone.owner, obstacle.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=obstacle.gap.place,
        task=task,
        line=zone.line,
        by_height=obstacle.gap.by_height,
    )


def kickback_strip(scene: Scene, thing: Thing, cutter: Cutter) -> Polygon | None:
    """The strip before the cutter, towards the operator, up to the first wall."""
    pose = scene.layout.pose(thing.name)
    if pose is None:
        return None
    half = affine(scene.shop.rules.value("kickback-width") / 2)
    start = -(cutter.front + Affine(KICKBACK_LOOK))
    outline = frame_of(thing, pose).place(feed_box(cutter, start, -cutter.front, -half, half))
    inside = Polygon(outline.points).intersection(scene.floor)
    blade = frame_of(thing, pose).point(cutter.x, cutter.y)
    parts = [p for p in getattr(inside, "geoms", [inside]) if p.geom_type == "Polygon"]
    near = LineString([(blade[0].value, blade[1].value)] * 2)
    return min(parts, key=lambda p: p.distance(near)) if parts else None


def _kickback(scene: Scene, thing: Thing, cutter: Cutter) -> Iterator[Finding]:
    """No glass, no door that people use, in the line in which work is thrown."""
    strip = kickback_strip(scene, thing, cutter)
    if strip is None:
        return
    shop = scene.shop
    spans = [
        (f"window {w.name}" if not w.name.startswith("window") else w.name, w.name,
         LineString(building.window_span(shop, w)), w.start)
        for w in shop.windows
    ]  # fmt: skip
    for door in shop.doors:
        if door.kind == "overhead":
            continue
        line = building.frame(shop.room.wall(door.wall))
        ends = [line.at(door.start), line.at(door.start + door.width)]
        spans.append(
            (door.name, door.name, LineString([[p[0].value, p[1].value] for p in ends]), door.start)
        )
    for label, name, span, _ in spans:
        distance = strip.distance(span)
        if distance > 0:
            continue
        overlap = _overlap(strip, span)
        yield finding(
            shop,
            check=CHECK,
            rule="kickback-width",
            about=(thing.name, name),
            margin=Affine(-overlap),
            needed=0.0,
            message=f"{label} lies in the kickback line of {thing.name}, by {{spare}}",
            where=strip,
            task=None,
            kind="advised",
            line=thing.line,
        )


def _overlap(strip: Polygon, span: LineString) -> float:
    """Sideways move that takes the strip off an opening [m]."""
    common = strip.buffer(1e-6).intersection(span)
    points = np.asarray(common.coords) if common.geom_type == "LineString" else np.zeros((1, 2))
    return max(float(np.hypot(*(points[-1] - points[0]))), 1e-4)
