"""Is the room that each task needs free while the task is done?"""

from __future__ import annotations

import numpy as np
import shapely

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import Obstacle, in_the_way, obstacles
from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import Volume
from floorplan.shop.model import Side
from floorplan.shop.scene import Element, Scene

CHECK = "zones"
FED = ("infeed", "push", "outfeed")
RULE = {"clamp": "clamp-room"}
"""Rules of purposes that have their own; others follow `zone-free`."""
_EDGE: dict[Side, tuple[int, int]] = {
    "front": (2, 3), "back": (0, 1), "left": (1, 2), "right": (3, 0),
}  # fmt: skip
"""Corners of a zone's box, counter-clockwise from its south-west one, next to its thing."""


def check(scene: Scene) -> Answer:
    """Every use zone that is not part of a feed, in every task that uses it."""
    findings: list[Finding] = []
    for element in scene.of("zone"):
        if element.purpose in FED:
            continue
        for task in sorted(scene.tasks & (element.presence.only or frozenset())):
            if element.presence.during(task):
                findings.extend(
                    _finding(scene, element, task, found)
                    for found in obstacles(scene, element.volume, in_the_way(scene, element, task))
                )
    return Answer(tuple(findings))


def _finding(scene: Scene, zone: Element, task: str, found: Obstacle) -> Finding:
    side = _clamped_side(scene, zone)
    if side is not None and found.certainty == 0 and not found.gap.by_height:
        free, needed = _straight_out(found.gap.volumes[0], side, found.gap.volumes[1])
        short = _told(
            scene, zone, task, found, free - needed, needed,
            f"{{have}} of {{need}} {zone.name} of {zone.owner}: {found.phrase} is in the way",
        )  # fmt: skip
        if short.verdict == "fails":
            return short
    distance = found.gap.distance
    if distance.value >= 0:
        message = f"{zone.label} is free; {found.phrase} comes nearest, {{spare}} away {found.how}"
    else:
        message = f"{found.phrase} is in {zone.label} by {{spare}} {found.how}"
    return _told(scene, zone, task, found, distance, 0.0, message)


def _told(
    scene: Scene,
    zone: Element,
    task: str,
    found: Obstacle,
    margin: Affine,
    needed: float,
    message: str,
) -> Finding:
    return finding(
        scene.shop,
        check=CHECK,
        rule=RULE.get(zone.purpose, "zone-free"),
        about=(zone.owner, found.name),
        margin=margin,
        needed=needed,
        message=message,
        where=found.gap.place,
        task=task,
        kind="advised" if zone.advised else None,
        line=zone.line,
        by_height=found.gap.by_height,
    )


def _clamped_side(scene: Scene, zone: Element) -> Side | None:
    """The side of the bench over which clamps reach, None for other room."""
    if zone.purpose != "clamp":
        return None
    zones = scene.shop.thing(zone.owner).zones
    return next((known.side for known in zones if known.name == zone.name), None)


def _straight_out(zone: Volume, side: Side, other: Volume) -> tuple[Affine, float]:
    """How far one gets straight out from the edge before the other volume, and should get [m]."""
    corners = zone.outline.points
    start, end = (corners[i] for i in _EDGE[side])
    along = (end - start) / np.hypot(*(end - start))
    out = np.array([-along[1], along[0]])
    points = shapely.get_coordinates(zone.polygon.intersection(other.polygon))
    reach = (points - start) @ out
    nearest = int(np.argmin(reach))
    point, free = points[nearest], max(float(reach[nearest]), 0.0)
    x, y = other.outline.nearest(point)
    edge_x, edge_y = zone.outline.nearest(point - free * out)
    terms = ((x - edge_x) * float(out[0]) + (y - edge_y) * float(out[1])).terms
    return Affine(free, terms), float(((corners - start) @ out).max())
