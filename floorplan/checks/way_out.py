"""How wide is the narrowest place on the way out, from everywhere one stands?"""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, Measure, finding
from floorplan.checks.ground import (
    Standing,
    door_edges,
    free_floor,
    goal,
    standing_places,
    walker_obstacles,
    ways_out,
)
from floorplan.checks.obstruction import boundary_distance
from floorplan.geometry.affine import Affine
from floorplan.motion.widest import Way, passable, widest_ways
from floorplan.shop.model import AT_REST
from floorplan.shop.scene import Element, Scene, opening_task
from floorplan.units import TOLERANCE

CHECK = "way-out"


def check(scene: Scene) -> Answer:
    """Required with drawers and doors shut; advised with each of them open."""
    if not ways_out(scene.shop):
        return Answer((_not_checked(scene),))
    findings = [*_shut(scene), *_open(scene)]
    widths = [f.measured for f in findings if f.kind == "required" and f.measured is not None]
    measures = {"way out": Measure(min(widths), "m")} if widths else {}
    return Answer(tuple(findings), measures)


def _not_checked(scene: Scene) -> Finding:
    return Finding(
        check=CHECK,
        rule="way-out-width",
        kind="advised",
        about=("room",),
        task=None,
        verdict="unsure",
        measured=None,
        needed=scene.shop.rules.value("way-out-width"),
        margin=None,
        error=0.0,
        unit="m",
        certified=False,
        assumed=(),
        where=None,
        line=scene.shop.room.line or None,
        message="the way out is not checked: no door leads outside",
        source="",
    )


def _shut(scene: Scene) -> Iterator[Finding]:
    """One query for all tasks that leave the same solids standing."""
    tall = scene.shop.rules.value("way-out-height")
    groups: dict[tuple[int, ...], tuple[tuple[Element, ...], list[Standing]]] = {}
    for task in scene.shop.tasks:
        solids = walker_obstacles(scene, task.name, tall)
        key = tuple(id(e) for e in solids)
        groups.setdefault(key, (solids, []))[1].extend(standing_places(scene, task))
    for solids, places in groups.values():
        if not places:
            continue
        # nobody stands in a doorway: the place is where the person is, on the floor of the room
        areas = [place.area.intersection(scene.floor) for place in places]
        sound = [
            a if isinstance(a, Polygon) and a.area > 0 else p.area
            for a, p in zip(areas, places, strict=True)
        ]
        ways = widest_ways(free_floor(scene, solids), sound, goal(scene.shop), enough=3.0)
        for place, way in zip(places, ways, strict=True):
            yield _finding(scene, solids, place, way)


def _finding(scene: Scene, solids: tuple[Element, ...], place: Standing, way: Way) -> Finding:
    needed = scene.shop.rules.value("way-out-width")
    width, names, where = _measured(scene, solids, way, place)
    if way.limit == "none" or way.width <= TOLERANCE:
        message = f"there is no way out from where one stands at {place.owner}"
    elif way.limit == "pinch":
        between = " and ".join(dict.fromkeys(names)) if names else "obstacles"
        message = (
            f"the way out from {place.owner} is {{have}} wide at its narrowest, "
            f"between {between}; {{need}} needed"
        )
    else:
        message = f"the room to stand at {place.owner} is {{have}} wide; {{need}} needed"
    return finding(
        scene.shop,
        check=CHECK,
        rule="way-out-width",
        about=(place.owner, *names),
        margin=width - needed,
        needed=needed,
        message=message,
        where=where,
        task=place.task,
        line=place.line,
        certified=way.certified or way.width >= needed,
    )


def _measured(
    scene: Scene, solids: tuple[Element, ...], way: Way, place: Standing
) -> tuple[Affine, tuple[str, ...], BaseGeometry]:
    if way.pinch is None:
        return Affine(way.width), (), place.area
    pool = [*solids, *door_edges(scene.shop)]
    width, names = boundary_distance(pool, way.pinch)
    doors = {e.owner for e in door_edges(scene.shop)}
    if len(set(names)) == 1 and set(names) <= doors:
        names = (_door_at(scene, way.pinch) or names[0],)
        width = _door_width(scene, names[0], way.width, width)
    return Affine(way.width, width.terms), names, LineString(way.pinch)


def _door_at(scene: Scene, pinch: tuple[tuple[float, float], tuple[float, float]]) -> str | None:
    from floorplan.shop import building

    middle = LineString(pinch).interpolate(0.5, normalized=True)
    for door in scene.shop.doors:
        if building.doorway(scene.shop, door).buffer(1e-6).intersects(middle):
            return door.name
    return None


def _door_width(scene: Scene, name: str, width: float, found: Affine) -> Affine:
    """A pinch between both jambs is the door's clear width, measured as one number."""
    for door in scene.shop.doors:
        if door.name == name and abs(door.clear.value - width) < 1e-6:
            return door.clear
    return found


def _open(scene: Scene) -> Iterator[Finding]:
    """With one drawer or door open, from where one stands before it."""
    needed = scene.shop.rules.value("way-out-width")
    tall = scene.shop.rules.value("way-out-height")
    solids = walker_obstacles(scene, AT_REST, tall)
    ground = free_floor(scene, solids)
    for thing in scene.shop.things:
        own = scene.things.get(thing.name, ())
        for opening in thing.openings:
            task = opening_task(thing, opening)
            moving = [e for e in own if e.nature == "moving" and e.presence.during(task)]
            stand = [e for e in own if e.nature == "zone" and e.presence.during(task) and e.advised]
            if not moving or not stand:
                continue
            floor = ground.difference(moving[0].volume.polygon)
            free = passable(floor, [stand[0].volume.polygon], goal(scene.shop), needed)[0]
            width = (
                needed
                if free
                else widest_ways(floor, [stand[0].volume.polygon], goal(scene.shop))[0].width
            )
            yield finding(
                scene.shop,
                check=CHECK,
                rule="way-out-width",
                about=(thing.name,),
                margin=Affine(width - needed),
                needed=needed,
                message=(
                    f"with `{opening.name}` of {thing.name} open the way out is still {{need}} wide"
                    if free
                    else f"with `{opening.name}` of {thing.name} open the way out is only "
                    "{have} wide; {need} wanted"
                ),
                where=stand[0].volume.polygon,
                task=task,
                kind="advised",
                line=opening.line or thing.line,
            )
