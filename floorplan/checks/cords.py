"""Does every cord reach an outlet that suits it, and does each breaker carry what runs at once?

A cord hangs down from the plug, lies on the floor by the shortest way around what stands there, and
goes up to the outlet.  It may lie straight behind or under its own machine; to an outlet behind
another thing it goes straight from the nearest free floor.  Things are where they stand at rest,
so parked and working places are not looked at.  All of it is advice: wiring is for a licensed
electrician.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise
from math import inf

import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

from floorplan.checks.finding import Answer, Finding, Measure, finding
from floorplan.geometry.affine import Affine, Outline
from floorplan.motion.walk import Walker
from floorplan.rules.book import citation
from floorplan.shop import building
from floorplan.shop.air import Spot, distance
from floorplan.shop.model import AT_REST, Plug
from floorplan.shop.power import Circuit, Outlet, Power
from floorplan.shop.scene import Element, Scene, frame_of, together
from floorplan.units import TOLERANCE

CHECK = "cords"
THICK = 0.01
"""A cord passes under what is this high above the floor [m]."""


@dataclass(frozen=True, slots=True)
class Reach:
    """The way of one machine's cord to one outlet."""

    thing: str
    plug: Plug
    outlet: Outlet
    length: Affine
    """Down, along the floor and up [m]; infinite: there is no way."""
    line: LineString


def check(scene: Scene) -> Answer:
    """Cords that reach, doorways they lie in, volts, and amperes on each circuit."""
    power = scene.shop.power
    if power is None:
        return Answer()
    found = reaches(scene, power)
    findings: list[Finding] = []
    for thing, plug in _plugs(scene):
        reach = found.get((thing, plug.name))
        if reach is None:
            findings.append(_no_outlet(scene, power, thing, plug))
            continue
        findings.append(_volts(scene, reach))
        findings.append(_long_enough(scene, power, reach))
        findings.extend(_in_doorways(scene, reach))
    findings.extend(_loads(scene, power, found))
    needed = [r.length.value for r in found.values()]
    measures = {"longest cord": Measure(max(needed), "m")} if needed else {}
    return Answer(tuple(findings), measures)


def reaches(scene: Scene, power: Power) -> dict[tuple[str, str], Reach]:
    """The outlet of every plug of a thing that stands; without those that nothing suits."""
    solids = [e for e in scene.solids(AT_REST) if e.volume.in_band(0.0, THICK)]
    floor = scene.floor.difference(unary_union([e.volume.polygon for e in solids]))
    if floor.is_empty:
        return {}
    walker = Walker(floor, body_radius=0.0)
    found: dict[tuple[str, str], Reach] = {}
    for thing, plug in _plugs(scene):
        wanted = power.cord(thing).outlet
        outlets = [
            outlet
            for outlet in power.outlets
            if (_apart(plug, outlet.circuit) <= _volts_apart(scene) if wanted is None
                else outlet.name == wanted)
        ]  # fmt: skip
        ways = [_reach(scene, walker, solids, thing, plug, outlet) for outlet in outlets]
        if ways:
            found[thing, plug.name] = min(ways, key=lambda way: way.length.value)
    return found


def _plugs(scene: Scene) -> Iterator[tuple[str, Plug]]:
    for name in scene.things:
        if scene.layout.pose(name) is not None:
            yield from ((name, plug) for plug in scene.shop.thing(name).plugs)


def _reach(
    scene: Scene,
    walker: Walker,
    solids: list[Element],
    thing: str,
    plug: Plug,
    outlet: Outlet,
) -> Reach:
    pose = scene.layout.pose(thing)
    assert pose is not None
    start = frame_of(scene.shop.thing(thing), pose).point(plug.x, plug.y)
    ends = [np.array([x.value, y.value]) for x, y in (start, (outlet.x, outlet.y))]
    own = unary_union([e.volume.polygon for e in solids if e.owner == thing])
    # straight behind or under the machine itself, as where it stands against the outlet's wall
    behind = own.buffer(TOLERANCE).covers(LineString(ends))
    path = np.array(ends) if behind else walker.path(*ends)
    if len(path) == 1:
        path = np.array(ends)
    if len(path) == 0:
        return Reach(thing, plug, outlet, Affine(inf), LineString(ends))
    outlines = [e.volume.outline for e in solids]
    outlines.append(scene.shop.room.floor)
    flat = Affine(0.0)
    between: list[Spot] = [
        (*_corner(outlines, point), flat)
        for point in path[1:-1]
        if min(np.hypot(*(point - end)) for end in ends) > TOLERANCE
    ]
    spots: list[Spot] = [(*start, flat), *between, (outlet.x, outlet.y, flat)]
    upright = plug.height + outlet.height
    length = reduce(lambda a, b: a + b, (distance(p, q) for p, q in pairwise(spots)), upright)
    return Reach(thing, plug, outlet, length, LineString(path))


def _corner(outlines: list[Outline], point: np.ndarray) -> tuple[Affine, Affine]:
    """The corner that a cord bends round, with what it may be off."""
    for outline in outlines:
        near = np.hypot(*(outline.points - point).T)
        at = int(np.argmin(near))
        if near[at] < TOLERANCE:
            x, y = (
                Affine(
                    float(point[axis]), {n: float(w[at, axis]) for n, w in outline.terms.items()}
                )
                for axis in (0, 1)
            )
            return x, y
    return Affine(float(point[0])), Affine(float(point[1]))


# --- one cord ------------------------------------------------------------------------------


def _long_enough(scene: Scene, power: Power, reach: Reach) -> Finding:
    cord = power.cord(reach.thing)
    if reach.length.value == inf:
        return _unreached(
            scene, "cord-reach", reach.thing, reach.outlet.line,
            f"no cord gets along the floor from {reach.thing} to the outlet {reach.outlet.name}",
        )  # fmt: skip
    shop = scene.shop
    return finding(
        shop, check=CHECK, rule="cord-reach", about=(reach.thing, reach.outlet.name),
        # the length needed is a most: what the cord has
        margin=cord.length - reach.length - shop.rules.value("cord-reach"),
        needed=cord.length.value - shop.rules.value("cord-reach"), at_most=True,
        message=f"{reach.thing} needs {{have}} of cord to the outlet {reach.outlet.name}, down to "
        "the floor, around what stands and up; its cord has {need}", where=reach.line,
        line=cord.line or reach.outlet.line,
    )  # fmt: skip


def _in_doorways(scene: Scene, reach: Reach) -> Iterator[Finding]:
    """A cord lies in a doorway when it crosses the floor just before it."""
    deep = scene.shop.rules.value("cord-doorway")
    for door in scene.shop.doors:
        line = building.frame(scene.shop.room.wall(door.wall))
        start = door.start + TOLERANCE
        end = door.start + door.width - TOLERANCE
        strip = Polygon(line.box(start, end, -TOLERANCE, deep).points)
        inside = strip.intersection(reach.line)
        if inside.length <= TOLERANCE:
            continue
        yield finding(
            scene.shop, check=CHECK, rule="cord-doorway",
            about=(reach.thing, reach.outlet.name, door.name),
            margin=Affine(-inside.length), needed=0.0, at_most=True,
            message=f"the shortest cord from {reach.thing} to the outlet {reach.outlet.name} lies "
            f"{{have}} in the way through {door.name}", where=inside, line=door.line,
        )  # fmt: skip


def _apart(plug: Plug, circuit: Circuit) -> float:
    """By what share of the plug's volts a circuit differs."""
    return abs(circuit.volts - plug.volts) / plug.volts


def _volts_apart(scene: Scene) -> float:
    return scene.shop.rules.value("outlet-volts") + 1e-9


def _volts(scene: Scene, reach: Reach) -> Finding:
    most = scene.shop.rules.value("outlet-volts")
    return finding(
        scene.shop, check=CHECK, rule="outlet-volts", about=(reach.thing, reach.outlet.name),
        margin=Affine(most - _apart(reach.plug, reach.outlet.circuit)), needed=most,
        at_most=True, unit="1",
        message=f"{reach.thing} wants {reach.plug.volts:g} V, the outlet {reach.outlet.name} gives "
        f"{reach.outlet.circuit.volts:g} V", where=reach.line, line=reach.outlet.line,
    )  # fmt: skip


def _no_outlet(scene: Scene, power: Power, thing: str, plug: Plug) -> Finding:
    return _unreached(
        scene, "outlet-volts", thing, power.line,
        f"no outlet gives the {plug.volts:g} V that {thing} wants",
    )  # fmt: skip


def _unreached(scene: Scene, rule: str, thing: str, line: int, message: str) -> Finding:
    """What cannot be plugged in at all has no length that falls short."""
    pose = scene.layout.pose(thing)
    assert pose is not None
    return Finding(
        check=CHECK, rule=rule, kind="advised", about=(thing,), task=None, verdict="fails",
        measured=None, needed=None, margin=None, error=0.0, unit="m", certified=True, assumed=(),
        where=Point(pose.x.value, pose.y.value), line=line or None, message=message,
        source=citation(scene.shop.rules[rule]),
    )  # fmt: skip


# --- circuits ------------------------------------------------------------------------------


def _loads(scene: Scene, power: Power, found: dict[tuple[str, str], Reach]) -> Iterator[Finding]:
    """Amperes on each circuit during each task, and during tasks that go on together."""
    share = scene.shop.rules.value("circuit-amps")
    for tasks in moments(scene):
        running = {n for task in tasks for n in scene.shop.task(task).uses} | {*power.runs_along}
        for circuit in power.circuits:
            on = [r for r in found.values() if r.thing in running and r.outlet.circuit == circuit]
            if not on:
                continue
            most = circuit.amps * share
            load = sum(r.plug.amps for r in on)
            names = list(dict.fromkeys(r.thing for r in on))
            yield finding(
                scene.shop, check=CHECK, rule="circuit-amps", about=(*names, circuit.name),
                margin=Affine(most - load), needed=most, at_most=True, unit="A",
                message=f"{' and '.join(names)} draw{'' if names[1:] else 's'} {load:g} A from "
                f"circuit {circuit.name} during {' with '.join(tasks)}, which may give {most:g} A",
                where=None,
                task=tasks[0] if len(tasks) == 1 else None, line=circuit.line,
            )  # fmt: skip


def moments(scene: Scene) -> tuple[tuple[str, ...], ...]:
    """Every task alone, and every largest group of tasks of which each two go on together."""
    names = tuple(task.name for task in scene.shop.tasks)
    pairs = together(scene.shop)
    groups: list[tuple[str, ...]] = []

    def grow(group: tuple[str, ...], open_: tuple[str, ...], done: tuple[str, ...]) -> None:
        # Bron and Kerbosch (1973): all maximal cliques
        if not open_ and not done:
            groups.append(group)
        for i, name in enumerate(open_):
            earlier = (*done, *open_[:i])
            grow(
                (*group, name),
                tuple(n for n in open_[i + 1 :] if frozenset((n, name)) in pairs),
                tuple(n for n in earlier if frozenset((n, name)) in pairs),
            )

    grow((), names, ())
    return tuple(dict.fromkeys((*((name,) for name in names), *(g for g in groups if g))))
