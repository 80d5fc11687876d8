"""Is the room that each task needs free while the task is done?"""

from __future__ import annotations

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import Obstacle, in_the_way, obstacles
from floorplan.shop.scene import Element, Scene

CHECK = "zones"
FED = ("infeed", "push", "outfeed")


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
    distance = found.gap.distance
    if distance.value >= 0:
        message = f"{zone.label} is free; {found.phrase} comes nearest, {{spare}} away {found.how}"
    else:
        message = f"{found.phrase} is in {zone.label} by {{spare}} {found.how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule="zone-free",
        about=(zone.owner, found.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=found.gap.place,
        task=task,
        kind="advised" if zone.advised else None,
        line=zone.line,
        by_height=found.gap.by_height,
    )
