"""How far does one walk for each job, around what stands?"""

from __future__ import annotations

from math import inf

import numpy as np

from floorplan.checks.finding import Answer, Finding, Measure, amount
from floorplan.checks.ground import free_floor, walker_obstacles
from floorplan.motion.walk import Walker
from floorplan.rules.book import citation
from floorplan.shop import building
from floorplan.shop.model import AT_REST, Job, Leg
from floorplan.shop.scene import Scene, frame_of

CHECK = "walking"


def check(scene: Scene) -> Answer:
    """Walking distance of every job, one way for each leg as often as it is walked.

    Infinite where a leg cannot be walked; a finding says so.
    """
    measures: dict[str, Measure] = {}
    findings: list[Finding] = []
    legs = leg_lengths(scene)
    total = 0.0
    for job in scene.shop.jobs:
        lengths = [
            legs[leg.start, leg.end] * leg.times for leg in job.legs if (leg.start, leg.end) in legs
        ]
        if not lengths:
            continue
        walked = sum(lengths)
        findings.extend(
            _no_way(scene, job, leg)
            for leg in job.legs
            if legs.get((leg.start, leg.end), 0.0) == inf
        )
        measures[f"walking: {job.name}"] = Measure(walked, "m")
        total += walked
    if measures:
        measures["walking"] = Measure(total, "m")
    return Answer(tuple(findings), measures)


def _no_way(scene: Scene, job: Job, leg: Leg) -> Finding:
    """A walk that cannot be walked has no length; that is said, not measured."""
    needed = scene.shop.rules.value("body-width")
    body = amount(scene.shop, needed, rounding="up")
    return Finding(
        check=CHECK,
        rule="body-width",
        kind="advised",
        about=(leg.start, leg.end),
        task=None,
        verdict="fails",
        measured=None,
        needed=needed,
        margin=None,
        error=0.0,
        unit="m",
        certified=False,
        assumed=(),
        where=None,
        line=job.line or None,
        message=f"no way {body} wide leads from {leg.start} to {leg.end}, which {job.name} walks",
        source=citation(scene.shop.rules["body-width"]),
    )


def stop_point(scene: Scene, name: str) -> tuple[float, float] | None:
    """Where one stands at a thing, place or door [m]; None for a thing that is not there."""
    shop = scene.shop
    for place in shop.places:
        if place.name == name:
            return place.x.value, place.y.value
    for door in shop.doors:
        if door.name == name:
            middle = building.doorway(shop, door).centroid
            return float(middle.x), float(middle.y)
    pose = scene.layout.pose(name)
    if pose is None or not shop.has(name):
        return None
    for purpose in ("stand", "push"):
        for element in scene.things.get(name, ()):
            if element.nature == "zone" and element.purpose == purpose and not element.advised:
                middle = element.volume.polygon.centroid
                return float(middle.x), float(middle.y)
    thing = shop.thing(name)
    front = frame_of(thing, pose).point(
        thing.width / 2, -thing.depth - shop.rules.value("standing-depth") / 2
    )
    return front[0].value, front[1].value


def leg_lengths(scene: Scene) -> dict[tuple[str, str], float]:
    """Walked length of every leg of every job [m]; infinite where there is no way."""
    wanted = {(leg.start, leg.end) for job in scene.shop.jobs for leg in job.legs}
    names = sorted({name for leg in wanted for name in leg})
    points = {name: stop_point(scene, name) for name in names}
    known = [name for name in names if points[name] is not None]
    if len(known) < 2:
        return {}
    rules = scene.shop.rules
    solids = walker_obstacles(scene, AT_REST)
    floor = free_floor(scene, solids)
    if floor.is_empty:
        return {}
    walker = Walker(floor, body_radius=rules.value("body-width") / 2)
    table = walker.distances(np.array([points[name] for name in known]))
    index = {name: i for i, name in enumerate(known)}
    return {
        (a, b): float(table[index[a], index[b]]) for a, b in wanted if a in index and b in index
    }
