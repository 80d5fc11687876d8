"""How wide is the narrowest place on the way out, from everywhere one stands?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from shapely.geometry import LineString, MultiPolygon, Polygon
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
from floorplan.checks.obstruction import NEAR, boundary_distance, look
from floorplan.checks.shut_in import shut_in
from floorplan.checks.standing_room import standing_room
from floorplan.geometry.affine import Affine
from floorplan.geometry.volume import certainty
from floorplan.motion.widest import Way, passable, widest_ways
from floorplan.rules.book import citation
from floorplan.shop import building
from floorplan.shop.model import Door
from floorplan.shop.scene import Element, Scene
from floorplan.units import TOLERANCE

CHECK = "way-out"
RULE = "way-out-width"
AMPLE = 3.0
"""Ways at least this wide are not measured further [m]."""
Solids = tuple[Element, ...]
Ends = tuple[tuple[float, float], tuple[float, float]]


def check(scene: Scene) -> Answer:
    """Required with drawers and doors shut; advised with each of them open."""
    if not ways_out(scene.shop):
        return Answer((_not_checked(scene),))
    findings = [*_shut(scene), *_open(scene), *_fed(scene)]
    widths = [f.measured for f in findings if f.kind == "required" and f.measured is not None]
    measures = {"way out": Measure(min(widths), "m")} if widths else {}
    return Answer(tuple(findings), measures)


def demanded(scene: Scene) -> Answer:
    """Cheap form of `check`: only what can be required, with drawers and doors of things shut."""
    return Answer(tuple(_shut(scene)) if ways_out(scene.shop) else ())


def _not_checked(scene: Scene) -> Finding:
    return Finding(
        check=CHECK,
        rule=RULE,
        kind="advised",
        about=("room",),
        task=None,
        verdict="unsure",
        measured=None,
        needed=scene.shop.rules.value(RULE),
        margin=None,
        error=0.0,
        unit="m",
        certified=False,
        assumed=(),
        where=None,
        line=scene.shop.room.line or None,
        message="the way out is not checked: no door leads outside",
        source=citation(scene.shop.rules["way-out-width"]),
    )


# --- with all drawers and doors of things shut ---------------------------------------------


@dataclass(frozen=True, slots=True)
class _Group:
    """Standing places of all moments that leave the same solids standing."""

    solids: Solids
    doubtful: Solids
    """Solids of which the tape does not tell whether a walker passes under them."""
    places: list[tuple[Standing, str]]
    """With the other task that goes on meanwhile."""


def _shut(scene: Scene) -> Iterator[Finding]:
    """One query for each group of moments."""
    groups: dict[tuple[tuple[int, ...], tuple[int, ...]], _Group] = {}
    for moment in _moments(scene):
        solids, doubtful = walker_obstacles(scene, *moment), _doubtful(scene, *moment)
        key = tuple(id(e) for e in solids), tuple(id(e) for e in doubtful)
        group = groups.setdefault(key, _Group(solids, doubtful, []))
        known = {(p.owner, p.name, p.task) for p, _ in group.places}
        for place in standing_places(scene, scene.shop.task(moment[0])):
            if (place.owner, place.name, place.task) not in known:
                group.places.append((place, moment[1] if len(moment) > 1 else ""))
    for group in groups.values():
        if group.places:
            yield from _judged(scene, group)


def _moments(scene: Scene) -> Iterator[tuple[str, ...]]:
    """Each task by itself, then with each that goes on together with it."""
    for task in scene.shop.tasks:
        yield (task.name,)
    for task in scene.shop.tasks:
        others = {*task.together_with}
        others |= {t.name for t in scene.shop.tasks if task.name in t.together_with}
        for other in sorted(others):
            yield task.name, other


def _judged(scene: Scene, group: _Group) -> Iterator[Finding]:
    """The way from each place; not sure where a thing may hang into it or may not."""
    solids, doubtful = group.solids, group.doubtful
    areas = [place.within(scene.floor) for place, _ in group.places]
    ways = _ways(scene, solids, areas)
    found = [
        _finding(scene, solids, place, area, way, meanwhile)
        for (place, meanwhile), area, way in zip(group.places, areas, ways, strict=True)
    ]
    if doubtful:
        standing = {id(e) for e in solids}
        hanging = tuple(e for e in doubtful if id(e) not in standing)
        low = _ways(scene, (*solids, *hanging), areas)
        high = _ways(scene, tuple(e for e in solids if e not in doubtful), areas)
        names = " and ".join(sorted({e.label for e in doubtful}))
        found = [_doubted(*row, names) for row in zip(found, low, high, strict=True)]
    yield from found


def _ways(scene: Scene, solids: Solids, areas: Sequence[Polygon | MultiPolygon]) -> tuple[Way, ...]:
    starts: list[Polygon] = list(areas)
    return widest_ways(free_floor(scene, solids), starts, goal(scene.shop), enough=AMPLE)


def _doubtful(scene: Scene, *tasks: str) -> Solids:
    tall = scene.shop.rules.value("way-out-height")
    return tuple(
        e
        for e in scene.solids(*tasks)
        if e.volume.bottom.value > 0
        and certainty(e.volume.bottom - tall, scene.shop.measurements) == 1
    )


def _doubted(found: Finding, low: Way, high: Way, names: str) -> Finding:
    """The finding, unsure where it hangs on the height of things that cannot be told."""
    needed = found.needed or 0.0
    at_worst, at_best = low.width - needed - found.error, high.width - needed + found.error
    holds = at_worst >= -TOLERANCE if found.verdict == "passes" else at_best <= TOLERANCE
    if found.verdict == "unsure" or holds:
        return found
    message = f"{found.message}; the tape does not tell whether one passes under {names}"
    return replace(found, verdict="unsure", certified=False, message=message)


def _finding(
    scene: Scene,
    solids: Solids,
    place: Standing,
    area: Polygon | MultiPolygon,
    way: Way,
    meanwhile: str,
) -> Finding:
    needed = scene.shop.rules.value(RULE)
    width, names, where = _measured(scene, solids, way, place, area)
    spot = f"{place.owner} ({place.name})"
    if meanwhile:
        spot += f", meanwhile {meanwhile},"
    if way.limit == "none" or way.width <= TOLERANCE:
        names, closed = shut_in(scene, solids, area)
        message = f"there is no way out from where one stands at {spot}{closed}"
    elif way.limit == "pinch":
        message = (
            f"the way out from {spot} is {{have}} wide at its narrowest,{_between(names)}; "
            "{need} needed"
        )
    elif way.limit == "goal":
        message = f"the way out from {spot} is {{have}} wide or more; {{need}} needed"
    else:
        message = f"the room to stand at {spot} is {{have}} wide; {{need}} needed"
    return finding(
        scene.shop,
        check=CHECK,
        rule=RULE,
        about=(place.owner, *names),
        margin=width - needed,
        needed=needed,
        message=message,
        where=where,
        task=place.task,
        line=place.line,
        certified=way.certified or way.width >= needed,
    )


def _between(names: tuple[str, ...]) -> str:
    different = tuple(dict.fromkeys(names))
    if not different:
        return ""
    return f" at {different[0]}" if len(different) == 1 else f" between {' and '.join(different)}"


def _measured(
    scene: Scene, solids: Solids, way: Way, place: Standing, area: Polygon | MultiPolygon
) -> tuple[Affine, tuple[str, ...], BaseGeometry]:
    """The width with its sensitivities, whose it is, and where."""
    if way.pinch is None:
        if way.limit != "start" or way.width <= TOLERANCE:
            return Affine(way.width), (), place.volume.polygon
        pool = [*solids, *door_edges(scene.shop)]
        terms, names = standing_room(pool, place.volume, area, free_floor(scene, solids), way.width)
        return Affine(way.width, terms), names, area
    width, names = _pinch(scene, solids, way.pinch)
    return Affine(way.width, width.terms), names, LineString(way.pinch)


def _at_least(width: float, place: Standing) -> tuple[Affine, tuple[str, ...], BaseGeometry]:
    """A way that is wide enough whatever the tape was off, and not measured further."""
    return Affine(width), (), place.volume.polygon


def _pinch(scene: Scene, solids: Solids, pinch: Ends) -> tuple[Affine, tuple[str, ...]]:
    edges = door_edges(scene.shop)
    width, names = boundary_distance([*solids, *edges], pinch)
    if len(set(names)) == 1 and names[0] in {e.owner for e in edges}:
        door = _door_at(scene, pinch)
        if door is not None:
            names = (door.name,)
            if abs(door.clear.value - width.value) < 1e-6:
                width = door.clear  # between both jambs: the clear width, measured as one number
    return width, names


def _door_at(scene: Scene, pinch: Ends) -> Door | None:
    middle = LineString(pinch).interpolate(0.5, normalized=True)
    for door in scene.shop.doors:
        if building.doorway(scene.shop, door).buffer(1e-6).intersects(middle):
            return door
    return None


# --- with a drawer or door open, or a piece on a machine -----------------------------------


@dataclass(frozen=True, slots=True)
class _Hindered:
    """Something that stands in the way for a while, and the place to get out from."""

    what: str
    part: Element
    place: Element
    moment: tuple[str, ...]


def _open(scene: Scene) -> Iterator[Finding]:
    """With one drawer or door open, from where one stands before it."""
    for own in scene.things.values():
        for moving, stand in pairwise(own):
            if moving.nature != "moving" or stand.presence != moving.presence:
                continue
            (name,) = moving.presence.only or ("",)
            moment = (name, *moving.presence.partners(name))
            what = f"`{moving.name}` of {moving.owner} open"
            yield from _hindered(scene, _Hindered(what, moving, stand, moment))


def _fed(scene: Scene) -> Iterator[Finding]:
    """With a piece on a machine before the cut, from behind its tail."""
    for own in scene.things.values():
        for piece, push in pairwise(own):
            if piece.purpose != "infeed" or push.purpose != "push":
                continue
            for task in sorted(scene.tasks & (piece.presence.only or frozenset())):
                if piece.presence.during(task):
                    name = piece.name.removesuffix(" before the cutter")
                    what = f"a {name} on {piece.owner}"
                    yield from _hindered(scene, _Hindered(what, piece, push, (task,)))


def _hindered(scene: Scene, case: _Hindered) -> Iterator[Finding]:
    """Whether the way stays wide enough; how wide it is told where it may not."""
    shop = scene.shop
    needed = shop.rules.value(RULE)
    solids = walker_obstacles(scene, *case.moment)
    if not case.part.volume.in_band(0.0, shop.rules.value("way-out-height")):
        return
    floor = free_floor(scene, solids).difference(case.part.volume.polygon)
    solids = (*solids, case.part)
    place = Standing(case.place.owner, case.place.name, "", case.place.volume, 0)
    area = place.within(scene.floor)
    reserve = look(shop) - NEAR
    starts: list[Polygon] = [area]
    if not area.is_empty and passable(floor, starts, goal(shop), needed + reserve)[0]:
        width, names, where = _at_least(needed + reserve, place)
        message = f"with {case.what} the way out is still {{have}} wide or more"
    else:
        nowhere = Way(0.0, None, "none", True)
        ways = () if area.is_empty else widest_ways(floor, starts, goal(shop), enough=AMPLE)
        way = ways[0] if ways else nowhere
        width, names, where = _measured(scene, solids, way, place, area)
        message = f"with {case.what} the way out is {{have}} wide{_between(names)}; {{need}} wanted"
        if way.width <= TOLERANCE:
            message = f"with {case.what} there is no way out from {case.place.name}"
    yield finding(
        shop,
        check=CHECK,
        rule=RULE,
        about=(case.part.owner, *names),
        margin=width - needed,
        needed=needed,
        message=message,
        where=where,
        task=case.moment[0],
        kind="advised",
        line=case.part.line,
    )
