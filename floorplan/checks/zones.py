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
    tasks = {task.name for task in scene.shop.tasks}
    for element in scene.of("zone"):
        if element.purpose in FED:
            continue
        for task in sorted(element.presence.only or ()):
            if element.presence.during(task) and task in tasks:
                findings.extend(
                    _finding(scene, element, task, obstacle)
                    for obstacle in obstacles(element.volume, in_the_way(scene, element, task))
                )
    return Answer(tuple(findings))


def _finding(scene: Scene, zone: Element, task: str, obstacle: Obstacle) -> Finding:
    distance = obstacle.gap.distance
    if distance.value >= 0:
        message = f"{zone.label} is free; {obstacle.label} comes nearest, {{spare}} away"
    else:
        how = "in height" if obstacle.gap.by_height else "in plan"
        message = f"{obstacle.label} is in {zone.label} by {{spare}} {how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule="zone-free",
        about=(zone.owner, obstacle.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=obstacle.gap.place,
        task=task,
        kind="advised" if zone.advised else None,
        line=zone.line,
        by_height=obstacle.gap.by_height,
    )
