"""Does each machine get its air, does the air carry the chips, and is the ducts' place free?

Flows are those of the dirty filter where one is known. What the tape leaves open of the lengths is
the error of a flow; the coefficients of hoses and fittings are taken as given.
"""

from __future__ import annotations

from collections.abc import Iterator

from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.air.network import Segment
from floorplan.air.operating import Meeting
from floorplan.checks.duct_system import Ducts, GateState, ducts_of, shares, slowest_segment
from floorplan.checks.finding import (
    Answer,
    Finding,
    FindingKind,
    Measure,
    Verdict,
    finding,
    rule_of,
    verdict_of,
)
from floorplan.checks.surroundings import over_panel
from floorplan.geometry.volume import Gap, Volume, gap
from floorplan.rules.book import citation
from floorplan.shop.air import DUCTS, Run
from floorplan.shop.duct_space import leg_volumes
from floorplan.shop.model import Shop
from floorplan.shop.scene import Element, Scene
from floorplan.units import format_flow, format_speed

CHECK = "airflow"
MEASURE = "worst airflow"
FLOW_TOLERANCE = 1e-9
"""Flows [m3/s] and velocities [m/s] closer than this are equal: what the solver leaves open."""
UNKNOWN = (Meeting.TOO_FREE, Meeting.UNSOLVED)
"""No operating point, but nobody can say either that the air falls short."""


def check(scene: Scene) -> Answer:
    """Airflow and velocity in every gate state, the hoses' reach, the room of every run."""
    findings: list[Finding] = list(_no_way(scene))
    ducts = ducts_of(scene)
    if ducts is None:
        return Answer(tuple(findings))
    for state in ducts.states:
        findings.extend(_enough(scene, ducts, state))
        findings.extend(_carried(scene, ducts, state))
    findings.extend(_hoses(scene, ducts))
    for run in ducts.plan.runs:
        findings.extend(_place(scene, run))
    ratios = [ratio for state in ducts.states for ratio in shares(ducts, state).values()]
    measures = {MEASURE: Measure(min(ratios), "1")} if ratios else {}
    return Answer(tuple(findings), measures)


# --- flow and velocity -----------------------------------------------------------------------


def _enough(scene: Scene, ducts: Ducts, state: GateState) -> Iterator[Finding]:
    system = scene.shop.system
    for name in state.runs:
        run = ducts.plan.run(name)
        if run.drop is None or (not run.drop.needs and state.worst.meets):
            continue
        needed = (run.drop.needs or 0.0) * scene.shop.rules.value("airflow-enough")
        kind: FindingKind = "advised" if run.later or not run.drop.needs else "required"
        about = (run.drop.machine, name)
        if not state.worst.meets:
            yield _no_point(scene, run, state, needed, kind)
            continue
        got = state.worst.port_flow(name)
        error = got * (1.0 - ducts.off(state, name))
        dirty = "" if state.dirty is None else ", filter dirty"
        message = (
            f"{state.words}: {format_flow(got, system, rounding='down')} at {name}, "
            f"{format_flow(needed, system, rounding='up')} needed{dirty}"
        )
        yield _plain(
            scene.shop, "airflow-enough", about, got, needed, error, "m3/s", message,
            kind=kind, where=plan_line(run), line=run.line,
            assumed=(f"{run.drop.machine}: airflow needed",) if run.drop.assumed_need else (),
        )  # fmt: skip


def _no_way(scene: Scene) -> Iterator[Finding]:
    """Runs that were to be found and were not."""
    plan = scene.shop.air
    rule = rule_of(scene.shop, "airflow-enough")
    for words in () if plan is None else plan.no_way:
        line = None if plan is None or plan.find is None else plan.find.line
        yield Finding(
            CHECK, rule.id, "required", (DUCTS,), None, "fails", None, None, None, 0.0, "m3/s",
            False, (), None, line, f"{words} (searched along walls and ceiling)", citation(rule),
        )  # fmt: skip


def _no_point(
    scene: Scene, run: Run, state: GateState, needed: float, kind: FindingKind
) -> Finding:
    """The fan does not meet the run: an answer as good as any other."""
    unknown = state.worst.meeting in UNKNOWN
    rule = rule_of(scene.shop, "airflow-enough")
    assert run.drop is not None
    return Finding(
        CHECK, rule.id, kind, (run.drop.machine, run.name), None,
        "unsure" if unknown else "fails", None, needed or None,
        None if unknown else -needed, 0.0, "m3/s", not unknown, (), plan_line(run),
        run.line or None, f"{state.words}: no operating point, {state.worst.meeting}",
        citation(rule),
    )  # fmt: skip


def _carried(scene: Scene, ducts: Ducts, state: GateState) -> Iterator[Finding]:
    """The segment in which the air is slowest against what it needs, in one gate state."""
    slowest = slowest_segment(state.worst)
    if slowest is None or ducts.system is None:
        return
    assert slowest.floor is not None
    run = ducts.plan.run(ducts.run_of[slowest.name])
    rule = (
        "branch-velocity"
        if _is_branch(ducts.system.segment(slowest.name), run)
        else "main-velocity"
    )
    error = slowest.velocity * (1.0 - min(ducts.off(state, name) for name in state.runs))
    have = format_speed(slowest.velocity, scene.shop.system, rounding="down")
    need = format_speed(slowest.floor, scene.shop.system, rounding="up")
    yield _plain(
        scene.shop, rule, (run.name, *state.machines), slowest.velocity, slowest.floor, error,
        "m/s", f"{state.words}: the air in {slowest.name} moves at {have}, {need} carries chips",
        kind="advised" if _later(ducts, state) else None, where=plan_line(run), line=run.line,
    )  # fmt: skip


def _is_branch(segment: Segment, run: Run) -> bool:
    return run.drop is not None or segment.riser


def _later(ducts: Ducts, state: GateState) -> bool:
    """Whether the air of a state passes through anything that is not there yet."""
    assert ducts.system is not None
    passed = {s.name for run in state.runs for s in ducts.system.path(run)}
    return any(ducts.plan.run(ducts.run_of[name]).later for name in passed)


def _plain(
    shop: Shop,
    rule_id: str,
    about: tuple[str, ...],
    have: float,
    need: float,
    error: float,
    unit: str,
    message: str,
    *,
    kind: FindingKind | None = None,
    where: BaseGeometry | None = None,
    line: int = 0,
    assumed: tuple[str, ...] = (),
) -> Finding:
    """A finding about a flow or a velocity that should be at least so much."""
    rule = rule_of(shop, rule_id)
    verdict: Verdict = verdict_of(have - need, error, FLOW_TOLERANCE)
    chosen: FindingKind = kind or ("advised" if rule.kind == "advised" else "required")
    if verdict == "unsure":
        message += "; too close to call, the tape leaves more open than that"
    return Finding(
        CHECK, rule.id, chosen, tuple(dict.fromkeys(about)), None, verdict, have, need,
        have - need, error, unit, True, assumed, where, line or None, message, citation(rule),
    )  # fmt: skip


def plan_line(run: Run) -> BaseGeometry:
    """The run's middle line in plan, a point for an upright one [m]."""
    points = [(spot[0].value, spot[1].value) for spot in run.path]
    return LineString(points) if len(set(points)) > 1 else MultiPoint(points[:1])


# --- hoses and room --------------------------------------------------------------------------


def _hoses(scene: Scene, ducts: Ducts) -> Iterator[Finding]:
    """Every hose of a stated length against the straight way it has to bridge."""
    for name, way in ducts.hoses.items():
        run = ducts.plan.run(name)
        if run.drop is None or run.drop.hose.length is None:
            continue
        start, end = ((s[0].value, s[1].value) for s in (way.port, run.path[0]))
        yield finding(
            scene.shop,
            check=CHECK,
            rule="hose-reach",
            about=(way.machine, name),
            margin=run.drop.hose.length - way.straight,
            needed=way.straight.value,
            message=f"the hose of {name} is {{have}} long, {{need}} from the port of {way.machine}",
            where=LineString([start, end]),
            line=run.line,
            kind="advised" if run.later else None,
        )


def _place(scene: Scene, run: Run) -> Iterator[Finding]:
    """A run against what its strip does not see: the building, and space kept clear."""
    found = [
        (_nearest(leg, element.volume, scene.shop), element)
        for leg in leg_volumes(run)
        for element in _not_for_ducts(scene, run)
    ]
    worst: dict[str, tuple[Gap, Element]] = {}
    for row in found:
        label = row[1].label
        if label not in worst or row[0].distance.value < worst[label][0].distance.value:
            worst[label] = row
    ordered = sorted(worst.values(), key=lambda row: row[0].distance.value)
    for rank, (apart, element) in enumerate(ordered):
        error = apart.error(scene.shop.measurements)
        if rank and apart.distance.value >= error:
            break
        inside = apart.distance.value < 0
        how = "in height" if apart.by_height else "in plan"
        words = f"is in {element.label} by {{spare}} {how}"
        if not inside:
            words = f"is clear of {element.label} by {{spare}} {how}"
        yield finding(
            scene.shop,
            check=CHECK,
            rule=element.rule if element.rule == "panel-dedicated-height" else "duct-clear",
            about=(DUCTS, run.name, element.owner),
            margin=apart.distance,
            needed=0.0,
            message=f"{run.name} {words}",
            where=apart.place,
            line=run.line,
            kind="required",
            by_height=apart.by_height,
        )


def _nearest(leg: Volume, other: Volume, shop: Shop) -> Gap:
    return gap(leg, other).decided(shop.measurements)


def _not_for_ducts(scene: Scene, run: Run) -> Iterator[Element]:
    """Posts, beams, the space over panels; for a later run also leaves, tracks, swings, panels."""
    for element in scene.building:
        fixture = element.nature == "solid" and element.name == "body"
        kept = element.nature == "keep-clear" and run.later
        if element.owner != DUCTS and (fixture or kept):
            yield element
    for thing in scene.shop.things:
        elements = scene.things.get(thing.name, ())
        if run.later:
            yield from (e for e in elements if e.nature == "keep-clear")
        if any(e.rule.startswith("panel") for e in elements):
            yield over_panel(scene, next(e for e in elements if e.name == "body"))


def strip_area(run: Run) -> tuple[Polygon, ...]:
    """Plan of the strip that a run keeps free, one polygon a stretch [m]."""
    return tuple(volume.polygon for volume in leg_volumes(run, round_it=True))
