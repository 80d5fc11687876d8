"""Is everything that must stay clear at any time free of what stands?"""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import Obstacle, obstacles, walls_about
from floorplan.geometry.volume import Volume
from floorplan.shop.scene import Element, Scene, may_not_overlap

CHECK = "keep-clears"


def check(scene: Scene) -> Answer:
    """Every keep-clear against every solid; one that may slide needs one free place."""
    findings: list[Finding] = []
    for element in scene.of("keep-clear"):
        findings.extend(_clear(scene, element))
    return Answer(tuple(findings))


def _clear(scene: Scene, keep: Element) -> Iterator[Finding]:
    rivals = [e for e in scene.elements if e is not keep and may_not_overlap(keep, e)]
    owned = keep.owner in scene.things
    best: tuple[Obstacle, ...] = ()
    for volume in keep.alternatives or (keep.volume,):
        found = _ranked(scene, volume, rivals, owned)
        if not best or (found and _least(found) > _least(best)):
            best = found
    for obstacle in best:
        yield _finding(scene, keep, obstacle)


def _ranked(
    scene: Scene, volume: Volume, rivals: list[Element], owned: bool
) -> tuple[Obstacle, ...]:
    # what the building keeps clear lies on its walls; what a thing keeps clear must be in the room
    walls = walls_about(scene, volume, None) if owned else ()
    return obstacles(volume, [*rivals, *walls])


def _least(found: tuple[Obstacle, ...]) -> float:
    return found[0].gap.distance.value


def _finding(scene: Scene, keep: Element, obstacle: Obstacle) -> Finding:
    distance = obstacle.gap.distance
    if distance.value >= 0:
        message = f"{keep.label} is clear; {obstacle.label} comes nearest, {{spare}} away"
    else:
        how = "in height" if obstacle.gap.by_height else "in plan"
        message = f"{obstacle.label} stands in {keep.label} by {{spare}} {how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=keep.rule,
        about=(keep.owner, obstacle.name),
        margin=distance,
        needed=0.0,
        message=message,
        where=obstacle.gap.place,
        line=keep.line,
        kind="required",
        by_height=obstacle.gap.by_height,
    )
