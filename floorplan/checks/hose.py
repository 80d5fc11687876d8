"""Does the hose of the shop vacuum reach, does it carry chips, and does its cabinet suit it?

A hose lies on the floor, goes round what stands there, and rises at both ends. What the tape
leaves open along its way is not counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np
from shapely.geometry import LineString, Point

from floorplan.air.fan import FanCurve
from floorplan.air.friction import CORRUGATED_HOSE, corrugated_hose
from floorplan.air.properties import STANDARD_DENSITY
from floorplan.air.vacuum import HoseEnd, at_hose_end, longest_hose
from floorplan.air.vacuum import Vacuum as Suction
from floorplan.checks.duct_system import air_of, rated
from floorplan.checks.finding import Answer, Finding, FindingKind, finding, rule_of, verdict_of
from floorplan.checks.ground import free_floor
from floorplan.geometry.affine import Affine
from floorplan.motion.walk import Walker
from floorplan.rules.book import citation
from floorplan.shop.air import Rated, Spot, Vacuum
from floorplan.shop.model import AT_REST, Thing
from floorplan.shop.scene import Scene, frame_of
from floorplan.units import System, format_flow, format_speed

CHECK = "hose"
DISCHARGE = 0.6
"""Of a sharp-edged opening [1]."""
HEAT = 1006.0
"""Of air at constant pressure [J/(kg K)]."""


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere the hose should reach, and the hose it takes."""

    thing: str
    what: str
    spot: Spot
    length: Affine
    """Hose that it takes [m]; infinite without a way."""
    path: tuple[tuple[float, float], ...]
    """On the floor [m]."""


@dataclass(frozen=True, slots=True)
class VacuumAnswer:
    """A vacuum where it stands."""

    vacuum: Vacuum
    places: tuple[Place, ...]
    """The farthest of each thing."""
    length: float
    """Of the hose, as bought or as the farthest place needs [m]."""
    clean: HoseEnd
    dirty: HoseEnd | None
    longest: float | None
    """Hose in which chips still move [m], None: in none."""

    @property
    def worst(self) -> HoseEnd:
        """With the dirty filter where one is known."""
        return self.clean if self.dirty is None else self.dirty


def check(scene: Scene) -> Answer:
    """Reach, velocity and flow at the end of the hose, height and opening of the cabinet."""
    found = vacuum_answer(scene)
    if found is None:
        return Answer()
    rows = (*_reach(scene, found), *_moves(scene, found), *_cabinet(scene, found))
    return Answer(rows)


def vacuum_answer(scene: Scene) -> VacuumAnswer | None:
    """What the vacuum does in this layout; None without one, or without a place for it."""
    plan = scene.shop.air
    vacuum = None if plan is None else plan.vacuum
    if plan is None or vacuum is None or scene.layout.pose(vacuum.thing) is None:
        return None
    places = farthest(scene, vacuum)
    slack = 1.0 + scene.shop.rules.value("hose-slack")
    needed = [place.length.value for place in places if isfinite(place.length.value)]
    length = slack * max(needed, default=0.0) if vacuum.length is None else vacuum.length.value
    clean, dirty = (_suction(vacuum, part) for part in (vacuum.clean, vacuum.dirty))
    factor = CORRUGATED_HOSE.constant if vacuum.factor is None else vacuum.factor
    wall, size = corrugated_hose(factor), vacuum.diameter.value
    worse, air = clean if vacuum.dirty is None else dirty, air_of(plan)
    return VacuumAnswer(
        vacuum,
        places,
        length,
        at_hose_end(clean, length=length, diameter=size, wall=wall, air=air),
        None if vacuum.dirty is None
        else at_hose_end(dirty, length=length, diameter=size, wall=wall, air=air),
        longest_hose(
            worse, velocity=scene.shop.rules.value("vacuum-velocity"), diameter=size, wall=wall,
            air=air,
        ),
    )  # fmt: skip


def _suction(vacuum: Vacuum, part: Rated | None) -> Suction:
    curve = FanCurve(vacuum.thing, vacuum.fan.flows, vacuum.fan.pressures)
    losses = tuple(rated(p) for p in vacuum.separators)
    return Suction(curve, None if part is None else rated(part), losses)


# --- the way of the hose ---------------------------------------------------------------------


def farthest(scene: Scene, vacuum: Vacuum) -> tuple[Place, ...]:
    """For each thing the port or corner that takes most hose."""
    start = _outlet(scene, vacuum)
    wanted = [
        (thing, what, spot)
        for thing in scene.shop.things
        if thing.name != vacuum.thing and (vacuum.serves is None or thing.name in vacuum.serves)
        for what, spot in _spots(scene, thing)
    ]
    if not wanted:
        return ()
    solids = [e for e in scene.solids(AT_REST) if e.volume.in_band(0.0, vacuum.diameter.value)]
    floor = free_floor(scene, solids)
    if floor.is_empty:
        return ()
    walker = Walker(floor, body_radius=vacuum.diameter.value / 2)
    points = np.array([[s[0].value, s[1].value] for s in (start, *(w[2] for w in wanted))])
    ways = walker.distances(points)[0, 1:]
    best: dict[str, tuple[float, int]] = {}
    for i, (thing, _, spot) in enumerate(wanted):
        total = float(ways[i]) + spot[2].value
        if thing.name not in best or total > best[thing.name][0]:
            best[thing.name] = (total, i)
    out = []
    for _, i in best.values():
        thing, what, spot = wanted[i]
        path = walker.path(points[0], points[i + 1]) if isfinite(ways[i]) else np.zeros((0, 2))
        rise = start[2] + spot[2]
        length = Affine(float(ways[i]) + rise.value, rise.terms)
        steps = tuple((float(x), float(y)) for x, y in (points[0], *path, points[i + 1]))
        out.append(Place(thing.name, what, spot, length, steps if len(path) else ()))
    return tuple(out)


def _outlet(scene: Scene, vacuum: Vacuum) -> Spot:
    """Where the hose leaves the vacuum: its port, else the middle of its top."""
    thing = scene.shop.thing(vacuum.thing)
    pose = scene.layout.pose(vacuum.thing)
    assert pose is not None
    if thing.ports:
        port = thing.ports[0]
        x, y = frame_of(thing, pose).point(port.x, port.y)
        return x, y, port.height
    x, y = frame_of(thing, pose).point(thing.width / 2, -(thing.depth / 2))
    return x, y, thing.height


def _spots(scene: Scene, thing: Thing) -> Iterator[tuple[str, Spot]]:
    """Its ports, or the corners of a bench."""
    pose = scene.layout.pose(thing.name)
    if pose is None:
        return
    frame = frame_of(thing, pose)
    for port in thing.ports:
        x, y = frame.point(port.x, port.y)
        yield f"port {port.name}", (x, y, port.height)
    if thing.ports or thing.surface is None or thing.cutter is not None:
        return
    placed = frame.place(thing.body)
    for i in range(len(placed.points)):
        x, y = placed.vertex(i)
        yield "farthest corner", (x, y, thing.surface)


def _reach(scene: Scene, found: VacuumAnswer) -> Iterator[Finding]:
    bought = found.vacuum.length
    for place in found.places:
        asked = found.vacuum.serves is not None
        kind: FindingKind = "required" if asked else "advised"
        if not isfinite(place.length.value):
            rule = rule_of(scene.shop, "hose-reach")
            yield Finding(
                CHECK, rule.id, kind, (found.vacuum.thing, place.thing), None, "fails", None,
                None, -inf, 0.0, "m", True, (), Point(place.spot[0].value, place.spot[1].value),
                found.vacuum.line, f"no way on the floor for the hose to {place.thing}",
                citation(rule),
            )  # fmt: skip
        elif bought is not None:
            yield finding(
                scene.shop, check=CHECK, rule="hose-reach",
                about=(found.vacuum.thing, place.thing), margin=bought - place.length,
                needed=place.length.value, kind=kind, where=LineString(place.path),
                message=f"{{have}} of hose; to {place.thing}, {place.what}, it takes {{need}}",
                line=found.vacuum.line,
            )  # fmt: skip


# --- flow ------------------------------------------------------------------------------------


def _moves(scene: Scene, found: VacuumAnswer) -> Iterator[Finding]:
    end, system = found.worst, scene.shop.system
    floor = scene.shop.rules.value("vacuum-velocity")
    velocity, flow = end.velocity, end.flow
    about = (found.vacuum.thing,)
    if velocity is None or flow is None:
        yield _number(
            scene, found, "vacuum-velocity", about, None, floor, "m/s",
            f"the vacuum has no operating point with this hose, {end.meeting}",
        )  # fmt: skip
        return
    have = format_speed(velocity, system, rounding="down")
    need = format_speed(floor, system, rounding="up")
    yield _number(
        scene, found, "vacuum-velocity", about, velocity, floor, "m/s",
        f"the air in the vacuum's hose moves at {have}, {need} carries chips",
    )  # fmt: skip
    if found.vacuum.needs:
        got = format_flow(flow, system, rounding="down")
        wanted = format_flow(found.vacuum.needs, system, rounding="up")
        yield _number(
            scene, found, "airflow-enough", about, flow, found.vacuum.needs, "m3/s",
            f"{got} at the end of the vacuum's hose, {wanted} needed",
        )  # fmt: skip


def _number(
    scene: Scene,
    found: VacuumAnswer,
    rule_id: str,
    about: tuple[str, ...],
    have: float | None,
    need: float,
    unit: str,
    message: str,
) -> Finding:
    rule = rule_of(scene.shop, rule_id)
    margin = None if have is None else have - need
    verdict = "fails" if margin is None else verdict_of(margin, 0.0, 1e-9)
    kind: FindingKind = "advised" if rule.kind == "advised" else "required"
    return Finding(
        CHECK, rule.id, kind, about, None, verdict, have, need, margin, 0.0, unit, True, (),
        None, found.vacuum.line or None, message, citation(rule),
    )  # fmt: skip


# --- the cabinet -----------------------------------------------------------------------------


def opening_needed(scene: Scene, flow: float) -> float:
    """Free area [m2] through which `flow` [m3/s] leaves at the rule's pressure, as an orifice."""
    pressure = scene.shop.rules.value("cabinet-opening")
    return float(flow / (DISCHARGE * (2.0 * pressure / STANDARD_DENSITY.constant) ** 0.5))


def warming(power: float, flow: float) -> float:
    """How much `power` [W] warms `flow` [m3/s] of air [K]."""
    return power / (STANDARD_DENSITY.constant * HEAT * flow)


def _cabinet(scene: Scene, found: VacuumAnswer) -> Iterator[Finding]:
    vacuum, cabinet = found.vacuum, found.vacuum.cabinet
    if cabinet is None:
        return
    if cabinet.height is not None and vacuum.separator_height is not None:
        yield finding(
            scene.shop, check=CHECK, rule="separator-fits", about=(vacuum.thing,),
            margin=cabinet.height - vacuum.separator_height, needed=vacuum.separator_height.value,
            message="the vacuum's cabinet is {have} high inside, the separator needs {need}",
            where=None, line=vacuum.line, by_height=True,
        )  # fmt: skip
    flow = found.clean.flow
    if cabinet.opening is not None and flow is not None:
        width, height = cabinet.opening
        area, needed = width.value * height.value, opening_needed(scene, flow)
        warm = "" if vacuum.power is None else f", {warming(vacuum.power, flow):.0f} K warmer"
        yield _number(
            scene, found, "cabinet-opening", (vacuum.thing,), area, needed, "m2",
            f"the opening of the vacuum's cabinet is {_small_area(area, scene)}, "
            f"{_small_area(needed, scene)} lets its air out{warm}",
        )  # fmt: skip


def _small_area(area: float, scene: Scene) -> str:
    if scene.shop.system is System.IMPERIAL:
        return f"{area / 0.0254**2:.0f} sq in"
    return f"{area * 1e4:.0f} cm2"
