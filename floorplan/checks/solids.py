"""Do all solids stand apart and inside the room, by plan and by height?"""

from __future__ import annotations

from collections.abc import Iterator

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import NEAR, Obstacle, bounds_gap, ceiling, walls_about
from floorplan.geometry.affine import ZERO, Affine
from floorplan.geometry.volume import gap
from floorplan.shop.scene import Element, Scene, may_not_overlap

CHECK = "solids"


def check(scene: Scene) -> Answer:
    """Every thing against every other, the building, the walls and the ceiling."""
    findings: list[Finding] = []
    owners = list(scene.things)
    for index, name in enumerate(owners):
        own = [e for e in scene.things[name] if e.nature == "solid"]
        later = [e for other in owners[index + 1 :] for e in scene.things[other]]
        rivals = [e for e in (*scene.building, *later) if e.nature == "solid"]
        findings.extend(_apart(scene, name, own, rivals))
        findings.extend(_in_room(scene, name, own))
    return Answer(tuple(findings))


def _apart(scene: Scene, name: str, own: list[Element], rivals: list[Element]) -> Iterator[Finding]:
    worst: dict[str, tuple[Obstacle, Element]] = {}
    nearest: tuple[Obstacle, Element] | None = None
    ranked = sorted(
        (
            (bounds_gap(a.volume, b.volume), i, j)
            for i, a in enumerate(own)
            for j, b in enumerate(rivals)
        ),
    )
    for bound, i, j in ranked:
        if bound > NEAR and nearest is not None and bound > nearest[0].gap.distance.value:
            break
        a, b = own[i], rivals[j]
        if not may_not_overlap(a, b):
            continue
        found = Obstacle(b.owner, b.label, gap(a.volume, b.volume))
        distance = found.gap.distance.value
        if nearest is None or distance < nearest[0].gap.distance.value:
            nearest = (found, a)
        if distance <= NEAR and (
            b.owner not in worst or distance < worst[b.owner][0].gap.distance.value
        ):
            worst[b.owner] = (found, a)
    if not worst and nearest is not None:
        worst[nearest[0].name] = nearest
    least = _keep_gap(scene, name)
    for obstacle, element in worst.values():
        yield _finding(scene, name, element, obstacle, "solids-apart", least)


def _keep_gap(scene: Scene, name: str) -> Affine:
    return scene.shop.thing(name).freedom.keep_gap if scene.shop.has(name) else ZERO


def _in_room(scene: Scene, name: str, own: list[Element]) -> Iterator[Finding]:
    """The tightest wall and the ceiling, and every wall a part sticks into."""
    best: dict[str, tuple[Obstacle, Element]] = {}
    for element in own:
        for wall in (*walls_about(scene, element.volume, None), ceiling(scene.shop)):
            found = Obstacle(wall.owner, wall.owner, gap(element.volume, wall.volume))
            if (
                wall.owner not in best
                or found.gap.distance.value < best[wall.owner][0].gap.distance.value
            ):
                best[wall.owner] = (found, element)
    ordered = sorted(best.values(), key=lambda row: row[0].gap.distance.value)
    for rank, (obstacle, element) in enumerate(ordered):
        if rank == 0 or obstacle.gap.distance.value < NEAR:
            yield _finding(scene, name, element, obstacle, "inside-room", ZERO)


def _finding(
    scene: Scene, name: str, element: Element, obstacle: Obstacle, rule: str, least: Affine
) -> Finding:
    distance = obstacle.gap.distance
    margin = distance - least
    what = obstacle.label
    if distance.value >= 0:
        message = f"{element.label} stands {{have}} from {what}"
        if obstacle.gap.by_height:
            message = f"{element.label} and {what} clear each other in height by {{have}}"
        if least.value:
            message += ", {need} wanted"
    else:
        how = "in height" if obstacle.gap.by_height else "in plan"
        message = f"{element.label} is in {what} by {{spare}} {how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=rule,
        about=(name, obstacle.name),
        margin=margin,
        needed=least.value,
        message=message,
        where=obstacle.gap.place,
        line=element.line,
        by_height=obstacle.gap.by_height,
    )
