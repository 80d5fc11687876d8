"""What to change when a machine gets too little air: each change is made and worked out again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from floorplan.air.improve import (
    BRANCH_ANGLES,
    FAN_STEPS,
    HOSE_LEFT,
    STOCK_DIAMETERS,
    BiggerFan,
    Change,
    OtherBranchAngle,
    OtherSize,
    ShorterHose,
)
from floorplan.air.network import NetworkError, System
from floorplan.air.operating import OperatingPoint
from floorplan.checks.duct_system import Ducts, GateState, slowest_segment, solved
from floorplan.shop.model import Shop
from floorplan.units import TOLERANCE, format_length


@dataclass(frozen=True, slots=True)
class Improvement:
    """One change that was tried for one run in one gate state, the dirty filter in place."""

    words: str
    flow: float
    """At the run's port afterwards [m3/s]."""
    gain: float | None
    """More than before [m3/s]; None where there was no operating point."""
    velocity: float
    """Of the slowest segment over its floor afterwards [1]."""
    breaks: tuple[str, ...]
    """Segments that kept their velocity before and no longer do."""
    enough: bool
    """Whether flow and velocities are all enough afterwards."""


def falls_short(ducts: Ducts, state: GateState, run: str) -> bool:
    """Whether a run's machine gets too little, or some air is too slow, or there is no point."""
    point = state.worst
    return not point.meets or not _enough(ducts, point, run)


def improvements(shop: Shop, ducts: Ducts, state: GateState, run: str) -> tuple[Improvement, ...]:
    """Changes that help, those that put all right first, then by gain.

    Changes that let chips settle where they moved before come last.
    """
    if ducts.system is None:
        return ()
    before = state.worst
    found = []
    for words, system, runs in _candidates(shop, ducts, ducts.system, state, run):
        after = solved(system, runs, before.dirty)
        made = None if not after.meets else _improvement(ducts, words, before, after, run)
        if made is not None:
            found.append(made)
    found.sort(key=lambda i: (not i.enough, bool(i.breaks), -(i.gain or 0.0), -i.flow, i.words))
    return tuple(found)


def _improvement(
    ducts: Ducts, words: str, before: OperatingPoint, after: OperatingPoint, run: str
) -> Improvement | None:
    """The gain of a change; None where it helps neither flow nor velocity."""
    flow = after.port_flow(run)
    gain = flow - before.port_flow(run) if before.meets else None
    was, now = (_short(point) for point in (before, after))
    slowest = slowest_segment(after)
    if gain is not None and gain <= 1e-9 and not len(now) < len(was):
        return None
    return Improvement(
        words,
        flow,
        gain,
        1.0 if slowest is None else slowest.velocity / (slowest.floor or 1.0),
        tuple(sorted(now - was)) if before.meets else (),
        _enough(ducts, after, run),
    )


def _short(point: OperatingPoint) -> set[str]:
    return {s.name for s in point.segments if (s.velocity_margin or 0.0) < 0.0}


def _enough(ducts: Ducts, point: OperatingPoint, run: str) -> bool:
    drop = ducts.plan.run(run).drop
    needed = 0.0 if drop is None else (drop.needs or 0.0)
    return not _short(point) and point.port_flow(run) >= needed


_Tried = tuple[str, System, tuple[str, ...]]


def _candidates(
    shop: Shop, ducts: Ducts, system: System, state: GateState, run: str
) -> Iterator[_Tried]:
    for words, change in _changes(shop, ducts, system, run):
        try:
            yield words, change.apply(system), state.runs
        except (NetworkError, ValueError):
            continue
    for machine, runs in ducts.machines.items():
        if machine not in state.machines:
            yield f"open the gate of {machine} too", system, (*state.runs, *runs)


def _changes(shop: Shop, ducts: Ducts, system: System, run: str) -> Iterator[tuple[str, Change]]:
    """Hoses, sizes of runs, branch entries, the fan."""
    path = [s for s in system.path(run) if s.length > 0 or s.fittings]
    for segment in path:
        if segment.wall.hose:
            way = ducts.hoses.get(ducts.run_of[segment.name])
            least = 0.0 if way is None else way.straight.value
            for share in HOSE_LEFT:
                length = max(share * segment.length, least)
                if length < segment.length - TOLERANCE:
                    text = format_length(length, shop.system, rounding="up")
                    yield f"cut {segment.name} to {text}", ShorterHose(segment.name, length)
        for angle in BRANCH_ANGLES:
            entries = [f for f in segment.fittings if f.kind == "branch entry"]
            if entries and ducts.plan.run(ducts.run_of[segment.name]).junction.angle > angle:  # type: ignore[union-attr]
                yield (
                    f"let {ducts.run_of[segment.name]} enter at {angle:g} degrees",
                    OtherBranchAngle(segment.name, angle),
                )
    names = list(dict.fromkeys(ducts.run_of[s.name] for s in path))
    for groups in dict.fromkeys((*((name,) for name in names), tuple(names))):
        yield from _sizes(shop, ducts, system, groups)
    for step in FAN_STEPS:
        yield f"take a similar fan with a wheel {step - 1:.0%} larger", BiggerFan(size=step)


def _sizes(
    shop: Shop, ducts: Ducts, system: System, runs: tuple[str, ...]
) -> Iterator[tuple[str, Change]]:
    """Whole runs, hoses with them, in the stock sizes that differ."""
    ports = {s.name for s in system.segments if s.port is not None}
    segments = tuple(
        s.name for s in system.segments if ducts.run_of[s.name] in runs and s.name not in ports
    )
    for size in STOCK_DIAMETERS:
        other = [s for s in segments if abs(system.segment(s).diameter - size) > 1e-3]
        if {ducts.run_of[name] for name in other} != set(runs):
            continue  # not all of them change, so this is tried with fewer
        words = f"lay {' and '.join(runs)} in {format_length(size, shop.system)}"
        yield words, OtherSize(segments, size)
