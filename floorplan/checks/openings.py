"""How far does each drawer, door and pull-out open, and can one stand before it?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import Obstacle, in_the_way, obstacle, obstacles
from floorplan.checks.pivoting import leaf_turn
from floorplan.geometry.affine import Affine, Outline
from floorplan.geometry.volume import certainty
from floorplan.shop.model import Opening, Thing
from floorplan.shop.scene import Element, Scene
from floorplan.units import TOLERANCE

CHECK = "openings"


def check(scene: Scene) -> Answer:
    """Every opening of every thing, at rest or in each task for which the thing is there."""
    findings: list[Finding] = []
    for thing in scene.shop.things:
        openings = {opening.name: opening for opening in thing.openings}
        own = scene.things.get(thing.name, ())
        for element in own:
            if element.nature != "moving":
                continue
            (moment,) = element.presence.only or ("",)
            findings.append(_opens(scene, thing, openings[element.name], element, moment))
            findings.extend(_room_before(scene, own, moment))
    return Answer(tuple(findings))


@dataclass(frozen=True, slots=True)
class _Stop:
    """What may keep a part from opening as far as it should."""

    margin: Affine
    certainty: int
    opened: bool
    """Whether the margin is one of the way opened; else it is one of passing by."""
    obstacle: Obstacle
    where: BaseGeometry

    @property
    def rank(self) -> tuple[int, float]:
        return self.certainty, self.margin.value


def _opens(scene: Scene, thing: Thing, opening: Opening, moving: Element, moment: str) -> Finding:
    rivals = in_the_way(scene, moving, moment)
    needed = opening.travel * scene.shop.rules.value("drawer-open-share")
    stops = [
        stop
        for element, meanwhile in rivals
        if (stop := _stop(scene, opening, moving, element, meanwhile, needed)) is not None
    ]
    name = f"{opening.kind} `{opening.name}` of {thing.name}"
    if opening.name.endswith(opening.kind):
        name = f"`{opening.name}` of {thing.name}"
    worst = min(stops, key=lambda stop: stop.rank, default=None)
    unit, where, least = "m", moving.volume.polygon, Affine(0.0)
    if worst is None:
        # nothing lies in what it sweeps: the margin is the room left beyond
        nearest = obstacles(scene, moving.volume, rivals)[0]
        margin = nearest.gap.distance
        message = f"{name} opens fully; {nearest.phrase} comes nearest, {{spare}} away"
    elif worst.opened:
        nearest, margin, where, least = worst.obstacle, worst.margin, worst.where, needed
        unit = "deg" if opening.kind == "door" else "m"
        message = f"{name} opens {{have}} of the {{need}} needed; {nearest.phrase} is in its way"
    else:
        nearest, margin, where = worst.obstacle, worst.margin, worst.where
        message = f"{name} may meet {nearest.phrase}"
    return finding(
        scene.shop,
        check=CHECK,
        rule="drawer-open-share",
        about=(thing.name, nearest.name),
        margin=margin,
        needed=least.value,
        message=message,
        where=where,
        task=moment,
        unit=unit,
        line=opening.line or thing.line,
        by_height=worst is not None and not worst.opened and worst.obstacle.gap.by_height,
    )


def _stop(
    scene: Scene,
    opening: Opening,
    moving: Element,
    element: Element,
    meanwhile: str,
    needed: Affine,
) -> _Stop | None:
    """How an element stops a part on its way; None when it surely passes by."""
    found = obstacle(scene, moving.volume, element, meanwhile)
    if found.certainty == 2:
        return None
    passing = _Stop(found.gap.distance, found.certainty, False, found, found.gap.place)
    common = moving.volume.polygon.intersection(element.volume.polygon)
    if common.area < TOLERANCE * TOLERANCE:
        return passing
    ahead = leaf_turn if opening.kind == "door" else _way_opened
    opened = ahead(opening, moving.volume.outline, element.volume.outline, _vertices(common))
    if opened.value < 0.0:
        opened = Affine(0.0, opened.terms)
    margin = opened - needed
    known = certainty(margin, scene.shop.measurements)
    opens = _Stop(margin, known, True, found, common)
    # it opens far enough if it surely passes by or surely meets the element beyond
    return opens if known >= found.certainty else passing


def _way_opened(opening: Opening, moving: Outline, rival: Outline, common: np.ndarray) -> Affine:
    """Way from shut until the front of a drawer meets an element [m]."""
    way = _heading(opening, moving)
    point = common[int(np.argmin(common @ way))]
    tip = moving.vertex(int(np.argmax(moving.points @ way)))
    x, y = rival.nearest(point)
    ahead = (tip[0] - x) * float(way[0]) + (tip[1] - y) * float(way[1])
    return opening.travel - ahead


def _heading(opening: Opening, sweep: Outline) -> np.ndarray:
    """The way a drawer goes, read off its sweep: local corners south-west first, ccw."""
    start, end = {"front": (3, 0), "back": (0, 3), "left": (1, 0), "right": (0, 1)}[opening.side]
    step = sweep.points[end] - sweep.points[start]
    return np.asarray(step / np.hypot(*step))


def _vertices(area: BaseGeometry) -> np.ndarray:
    parts = [g for g in getattr(area, "geoms", [area]) if g.geom_type == "Polygon"]
    return np.vstack([np.asarray(p.exterior.coords)[:-1] for p in parts])


def _room_before(scene: Scene, own: tuple[Element, ...], moment: str) -> Iterator[Finding]:
    for zone in own:
        only = zone.presence.only
        if zone.nature != "zone" or zone.purpose != "stand" or only != frozenset((moment,)):
            continue
        found = obstacles(scene, zone.volume, in_the_way(scene, zone, moment))[0]
        distance = found.gap.distance
        message = (
            f"there is {zone.name} of {zone.owner}"
            if distance.value >= 0
            else f"{found.phrase} takes {{spare}} of the {zone.name} of {zone.owner}"
        )
        yield finding(
            scene.shop,
            check=CHECK,
            rule="drawer-stand",
            about=(zone.owner, found.name),
            margin=distance,
            needed=0.0,
            message=message,
            where=found.gap.place,
            task=moment,
            kind="advised",
            line=zone.line,
            by_height=found.gap.by_height,
        )
