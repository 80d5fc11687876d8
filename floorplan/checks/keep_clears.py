"""Is everything that must stay clear at any time free of what stands?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from shapely.geometry import MultiPoint

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import Obstacle, obstacles, walls_about
from floorplan.geometry.affine import Affine, Outline
from floorplan.geometry.volume import Volume, height_gap
from floorplan.shop.scene import Element, Scene, may_not_overlap
from floorplan.units import TOLERANCE

CHECK = "keep-clears"


def check(scene: Scene) -> Answer:
    """Every keep-clear against every solid; one that may slide needs one free place."""
    findings: list[Finding] = []
    for element in scene.of("keep-clear"):
        findings.extend(_clear(scene, element))
    return Answer(tuple(findings))


def _clear(scene: Scene, keep: Element) -> Iterator[Finding]:
    rivals = [e for e in scene.elements if e is not keep and may_not_overlap(keep, e)]
    if keep.owner in scene.things:
        # what the building keeps clear lies on its walls; what a thing keeps clear is in the room
        rivals += walls_about(scene, keep.volume)
    best: tuple[Obstacle, ...] = ()
    for volume in _places(keep, rivals):
        found = obstacles(scene, volume, rivals)
        if not best or (found and found[0].rank > best[0].rank):
            best = found
    for rival in best:
        yield _finding(scene, keep, rival)


def _places(keep: Element, rivals: list[Element]) -> list[Volume]:
    """Places worth a try of a keep-clear that may slide.

    The best of all lies at an end of its way, or against something, or midway between two such
    places: between them the room on one side shrinks as that on the other grows.
    """
    options = list(keep.alternatives or (keep.volume,))
    reach = float(np.hypot(*keep.slide))
    if len(options) < 2 or reach <= TOLERANCE:
        return options
    way = np.array(keep.slide) / reach
    start = min(options, key=lambda v: float(v.outline.points[0] @ way))
    swept = MultiPoint(
        np.vstack([start.outline.points, start.outline.points + np.array(keep.slide)])
    ).convex_hull
    stops: list[Affine] = []
    for rival in rivals:
        common = swept.intersection(rival.volume.polygon)
        if common.area > 0.0 and height_gap(start, rival.volume).value < 0.0:
            stops.extend(_against(start.outline, rival.volume.outline, common, way))
    inside = [stop for stop in stops if -TOLERANCE <= stop.value <= reach + TOLERANCE]
    options += [_moved(start, stop, way) for stop in inside]
    marks = sorted({0.0, reach, *(min(max(stop.value, 0.0), reach) for stop in inside)})
    options += [_moved(start, Affine((a + b) / 2), way) for a, b in pairwise(marks)]
    return options


def _against(own: Outline, rival: Outline, common: object, way: np.ndarray) -> Iterator[Affine]:
    """How far it must slide to touch the near and the far side of what lies in its way."""
    points = np.vstack(
        [
            np.asarray(part.exterior.coords)
            for part in getattr(common, "geoms", [common])
            if part.geom_type == "Polygon"
        ]
    )
    reach = points @ way
    ahead, behind = own.points @ way, own.points @ way
    for touch, edge in (
        (int(np.argmin(reach)), ahead.argmax()),
        (int(np.argmax(reach)), behind.argmin()),
    ):
        x, y = rival.nearest(points[touch])
        px, py = own.vertex(int(edge))
        yield (x - px) * float(way[0]) + (y - py) * float(way[1])


def _moved(volume: Volume, step: Affine, way: np.ndarray) -> Volume:
    moved = volume.outline.moved(step * float(way[0]), step * float(way[1]))
    return Volume(moved, volume.bottom, volume.top)


def _finding(scene: Scene, keep: Element, rival: Obstacle) -> Finding:
    distance = rival.gap.distance
    if distance.value >= 0:
        message = f"{keep.label} is clear; {rival.label} comes nearest, {{spare}} away {rival.how}"
    else:
        message = f"{rival.label} stands in {keep.label} by {{spare}} {rival.how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=keep.rule,
        about=(keep.owner, rival.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=rival.gap.place,
        line=keep.line,
        kind="required",
        by_height=rival.gap.by_height,
    )
