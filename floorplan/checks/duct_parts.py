"""The parts that runs of duct are made of: lengths, elbows, branches, reducers, gates, hose."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from floorplan.checks.duct_system import STRAIGHT, Ducts
from floorplan.shop.air import Run, turn_between
from floorplan.units import TOLERANCE


@dataclass(frozen=True, slots=True)
class Part:
    """So much or so many of one part."""

    what: str
    diameter: float
    """[m]"""
    count: int
    length: float
    """Along the middle line, elbows not taken off [m]; 0 for what is counted."""
    later: bool


def parts_of(ducts: Ducts) -> tuple[Part, ...]:
    """All parts, those of today first, longest and most first."""
    lengths: dict[tuple[str, float, bool], float] = {}
    counts: Counter[tuple[str, float, bool]] = Counter()
    for run in ducts.plan.runs:
        for what, size, length in _lengths(ducts, run):
            key = (what, _round(size), run.later)
            lengths[key] = lengths.get(key, 0.0) + length
            counts[key] += 1
        for what, size in _pieces(ducts, run):
            counts[what, _round(size), run.later] += 1
    made = [Part(*key[:2], counts[key], lengths.get(key, 0.0), key[2]) for key in counts]
    return tuple(sorted(made, key=lambda p: (p.later, -p.length, -p.count, p.what, p.diameter)))


def _round(size: float) -> float:
    return round(size, 5)


def _lengths(ducts: Ducts, run: Run) -> Iterator[tuple[str, float, float]]:
    material = {"galvanized": "galvanized duct", "pvc": "PVC pipe", "hose": "hose"}[run.material]
    yield material, run.diameter.value, run.length.value
    way = ducts.hoses.get(run.name)
    if run.drop is not None and way is not None:
        yield "hose", run.drop.hose.diameter.value, way.length.value


def _pieces(ducts: Ducts, run: Run) -> Iterator[tuple[str, float]]:
    for i in range(1, len(run.path) - 1):
        angle = turn_between(*run.path[i - 1 : i + 2])
        if angle > STRAIGHT and run.material != "hose":
            yield f"{angle:.0f} degree elbow", run.diameter.value
    for name, _ in run.fittings:
        yield name, run.diameter.value
    if run.drop is not None and run.drop.gate:
        yield "blast gate", run.diameter.value
    if run.drop is not None and run.drop.hose.diameter.value > run.diameter.value + TOLERANCE:
        yield "reducer from the hose", run.diameter.value
    if run.junction is not None:
        other = ducts.plan.run(run.junction.into)
        inside = TOLERANCE < run.junction.station < other.length.value - TOLERANCE
        if inside:
            yield f"{run.junction.angle:.0f} degree branch", other.diameter.value
        elif abs(other.diameter.value - run.diameter.value) > TOLERANCE:
            yield "reducer between runs", other.diameter.value
