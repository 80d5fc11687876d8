"""How far does each drawer, door and pull-out open, and can one stand before it?"""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, degrees, hypot

import numpy as np
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import in_the_way, obstacles
from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import height_gap
from floorplan.shop.model import Opening, Thing
from floorplan.shop.scene import Element, Frame, Scene, frame_of, opening_task
from floorplan.units import TOLERANCE

CHECK = "openings"


def check(scene: Scene) -> Answer:
    """Every opening of every thing that stands somewhere."""
    findings: list[Finding] = []
    for thing in scene.shop.things:
        pose = scene.layout.pose(thing.name)
        if pose is None or thing.name not in scene.things:
            continue
        frame = frame_of(thing, pose)
        for opening in thing.openings:
            task = opening_task(thing, opening)
            own = [e for e in scene.things[thing.name] if e.presence.during(task)]
            moving = next((e for e in own if e.nature == "moving"), None)
            if moving is None:
                continue
            findings.append(_opens(scene, thing, opening, moving, frame, task))
            findings.extend(_room_before(scene, own, task))
    return Answer(tuple(findings))


def _opens(
    scene: Scene, thing: Thing, opening: Opening, moving: Element, frame: Frame, task: str
) -> Finding:
    blockers = [
        e
        for e in in_the_way(scene, moving, task)
        if height_gap(moving.volume, e.volume).value < -TOLERANCE
    ]
    ahead = _pivoting if opening.kind == "door" else _sliding
    nearest: tuple[Affine, str, BaseGeometry | None] | None = None
    for element in blockers:
        found = ahead(opening, moving, element, frame)
        if found is not None and (nearest is None or found[0].value < nearest[0].value):
            nearest = (found[0], element.label, found[1])
    needed = opening.travel * scene.shop.rules.value("drawer-open-share")
    unit = "deg" if opening.kind == "door" else "m"
    name = f"{opening.kind} `{opening.name}` of {thing.name}"
    if opening.name.endswith(opening.kind):
        name = f"`{opening.name}` of {thing.name}"
    where: BaseGeometry | None
    if nearest is None:
        # nothing lies in what it sweeps: the margin is the room left beyond
        margin, label = _room_beyond(scene, moving, task)
        needed, unit, where = Affine(0.0), "m", moving.volume.polygon
        message = f"{name} opens fully; {label} comes nearest, {{spare}} away"
    else:
        opened = nearest[0] if nearest[0].value > 0 else Affine(0.0, nearest[0].terms)
        margin, where = opened - needed, nearest[2]
        message = f"{name} opens {{have}} of the {{need}} needed; {nearest[1]} is in its way"
    return finding(
        scene.shop,
        check=CHECK,
        rule="drawer-open-share",
        about=(thing.name, *(() if nearest is None else (nearest[1].split(":")[0],))),
        margin=margin,
        needed=needed.value,
        message=message,
        where=where,
        task=task,
        unit=unit,
        line=opening.line or thing.line,
    )


def _room_beyond(scene: Scene, moving: Element, task: str) -> tuple[Affine, str]:
    """Distance from the fully open part to what comes nearest [m]."""
    found = obstacles(moving.volume, in_the_way(scene, moving, task))[0]
    distance = found.gap.distance
    return (distance if distance.value > 0 else Affine(0.0, distance.terms)), found.label


def _sliding(
    opening: Opening, moving: Element, element: Element, frame: Frame
) -> tuple[Affine, BaseGeometry] | None:
    """Way from shut until the front meets an element, None when it never does [m]."""
    common = moving.volume.polygon.intersection(element.volume.polygon)
    if common.area < TOLERANCE * TOLERANCE:
        return None
    local = {"front": (0.0, -1.0), "back": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}
    way = np.array(frame.heading(*local[opening.side]))
    reach = _vertices(common) @ way
    point = _vertices(common)[int(np.argmin(reach))]
    far = moving.volume.outline.points @ way
    tip = moving.volume.outline.vertex(int(np.argmax(far)))
    x, y = element.volume.outline.nearest(point)
    obstacle = x * float(way[0]) + y * float(way[1])
    end = tip[0] * float(way[0]) + tip[1] * float(way[1])
    return opening.travel - (end - obstacle), common


def _pivoting(
    opening: Opening, moving: Element, element: Element, frame: Frame
) -> tuple[Affine, BaseGeometry] | None:
    """Angle from shut until the leaf meets an element, None when it never does [deg]."""
    common = moving.volume.polygon.intersection(element.volume.polygon)
    if common.area < TOLERANCE * TOLERANCE or opening.hinge is None:
        return None
    px, py = (number.value for number in frame.point(*opening.hinge))
    points = moving.volume.outline.points
    away = np.hypot(points[:, 0] - px, points[:, 1] - py)
    ring = [i for i in range(len(points)) if away[i] > 1e-9]
    first, last = points[ring[0]], points[ring[-1]]
    shut = _shut_end(opening, frame, (px, py), first, last)
    start = atan2(shut[1] - py, shut[0] - px)
    best: tuple[float, float] | None = None
    for qx, qy in _vertices(common):
        radius = hypot(qx - px, qy - py)
        if radius < 10 * TOLERANCE:
            return Affine(0.0), common
        turned = abs((degrees(atan2(qy - py, qx - px) - start) + 180.0) % 360.0 - 180.0)
        if best is None or turned < best[0]:
            best = (turned, radius)
    assert best is not None
    found = obstacles(moving.volume, [element])
    scale = degrees(1.0 / best[1])
    terms = {n: w * scale for n, w in found[0].gap.distance.terms.items()} if found else {}
    return Affine(best[0], terms), common


def _shut_end(
    opening: Opening,
    frame: Frame,
    pivot: tuple[float, float],
    first: np.ndarray,
    last: np.ndarray,
) -> np.ndarray:
    """Which end of the sector is the shut leaf: the one that lies along the side."""
    along = (1.0, 0.0) if opening.side in ("front", "back") else (0.0, 1.0)
    side = np.array(frame.heading(*along))
    here = np.array(pivot)
    straight = [abs(float((end - here) @ side)) for end in (first, last)]
    return first if straight[0] >= straight[1] else last


def _vertices(area: BaseGeometry) -> np.ndarray:
    parts = [g for g in getattr(area, "geoms", [area]) if g.geom_type == "Polygon"]
    return np.vstack([np.asarray(p.exterior.coords)[:-1] for p in parts])


def _room_before(scene: Scene, own: list[Element], task: str) -> Iterator[Finding]:
    for zone in own:
        if zone.nature != "zone" or zone.purpose != "stand":
            continue
        found = obstacles(zone.volume, in_the_way(scene, zone, task))[0]
        distance = found.gap.distance
        message = (
            f"there is {zone.name} of {zone.owner}"
            if distance.value >= 0
            else f"{found.label} takes {{spare}} of the {zone.name} of {zone.owner}"
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
            task=task,
            kind="advised",
            line=zone.line,
            by_height=found.gap.by_height,
        )
