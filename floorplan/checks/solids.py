"""Do all solids stand apart and inside the room, by plan and by height?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from floorplan.checks.finding import Answer, Finding, finding
from floorplan.checks.obstruction import (
    NEAR,
    Obstacle,
    bounds_gap,
    ceiling,
    look,
    obstacle,
    walls_about,
)
from floorplan.geometry.affine import ZERO, Affine, greater
from floorplan.shop.scene import Element, Scene, may_not_overlap
from floorplan.shop.yard import is_of_yard

CHECK = "solids"
_Found = tuple[Obstacle, Element, Affine]
"""What is near, to which part, and how far off it should be."""


def check(scene: Scene) -> Answer:
    """Every thing against every other, the building, the walls and the ceiling."""
    findings: list[Finding] = []
    solids = {
        name: [e for e in elements if e.nature == "solid"]
        for name, elements in scene.things.items()
    }
    # nothing of the room reaches what stands outside: the walls are between
    later = [e for e in scene.building if e.nature == "solid" and not is_of_yard(e)]
    later += [e for elements in solids.values() for e in elements]
    for name, own in solids.items():
        later = [e for e in later if e.owner != name]
        findings.extend(_apart(scene, name, own, later))
        findings.extend(_in_room(scene, name, own))
    return Answer(tuple(findings))


def _apart(scene: Scene, name: str, own: list[Element], rivals: list[Element]) -> Iterator[Finding]:
    """Every rival that is near or nearer than it should be, and the nearest in any case."""
    worst: dict[str, _Found] = {}
    nearest, reach = float("inf"), look(scene.shop)
    keeps = {rival: _keep_gap(scene, name, rival) for rival in {e.owner for e in rivals}}
    most = max((keep.value for keep in keeps.values()), default=0.0)
    pairs = sorted(
        (bounds_gap(a.volume, b.volume), i, j)
        for i, a in enumerate(own)
        for j, b in enumerate(rivals)
    )
    for bound, i, j in pairs:
        if bound > max(reach + most, nearest):
            break
        a, b = own[i], rivals[j]
        if not may_not_overlap(a, b):
            continue
        least = keeps[b.owner]
        found = obstacle(scene, a.volume, b, least=least.value)
        nearest = min(nearest, found.gap.distance.value)
        if b.owner not in worst or found.rank < worst[b.owner][0].rank:
            worst[b.owner] = (found, a, least)
    yield from _told(scene, name, worst.values(), "solids-apart")


def _keep_gap(scene: Scene, *names: str) -> Affine:
    """The larger of the gaps that two owners keep to other solids."""
    keep = ZERO
    for name in names:
        if scene.shop.has(name):
            keep = greater(keep, scene.shop.thing(name).freedom.keep_gap)
    return keep


def _in_room(scene: Scene, name: str, own: list[Element]) -> Iterator[Finding]:
    """The tightest wall and the ceiling, and every wall a part sticks into."""
    worst: dict[str, _Found] = {}
    reach, nearest = look(scene.shop), float("inf")
    for element in own:
        walls = (
            wall
            for task in sorted(element.presence.only or ("",))
            for wall in walls_about(scene, element.volume, task)
        )
        for wall in (*walls, ceiling(scene.shop)):
            if bounds_gap(element.volume, wall.volume) > max(reach, nearest):
                continue
            found = obstacle(scene, element.volume, wall)
            nearest = min(nearest, found.gap.distance.value)
            if wall.owner not in worst or found.rank < worst[wall.owner][0].rank:
                worst[wall.owner] = (found, element, ZERO)
    yield from _told(scene, name, worst.values(), "inside-room")


def _told(scene: Scene, name: str, found: Iterable[_Found], rule: str) -> Iterator[Finding]:
    ordered = sorted(found, key=lambda row: (*row[0].rank, row[0].name))
    for rank, (rival, element, least) in enumerate(ordered):
        if rank == 0 or rival.certainty < 2 or rival.gap.distance.value < NEAR + least.value:
            yield _finding(scene, name, element, rival, rule, least)


def _finding(
    scene: Scene, name: str, element: Element, rival: Obstacle, rule: str, least: Affine
) -> Finding:
    distance = rival.gap.distance
    if distance.value >= 0:
        message = f"{element.label} stands {{have}} from {rival.label}"
        if rival.gap.by_height:
            message = f"{element.label} and {rival.label} clear each other in height by {{have}}"
        if least.value:
            message += ", {need} wanted"
    else:
        message = f"{element.label} is in {rival.label} by {{spare}} {rival.how}"
    return finding(
        scene.shop,
        check=CHECK,
        rule=rule,
        about=(name, rival.name),
        margin=distance - least,
        needed=least.value,
        message=message,
        where=rival.gap.place,
        line=element.line,
        by_height=rival.gap.by_height,
    )
