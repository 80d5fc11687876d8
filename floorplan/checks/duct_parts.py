"""The parts that runs of duct are made of: lengths, elbows, branches, reducers, gates, hose."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, radians, tan

from floorplan.air.cutting import cut
from floorplan.checks.duct_system import STRAIGHT, Ducts
from floorplan.rules.book import RuleBook
from floorplan.shop.air import Run, distance, turn_between
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
    sticks: tuple[tuple[float, ...], ...] = ()
    """What each stick as sold is cut into, elbows taken off [m]."""
    stick: float = 0.0
    """Length of a stick [m]."""
    fewest: bool = True
    """Surely no fewer sticks do."""
    price: float | None = None
    """Of all of them, where the file gives prices."""


def parts_of(ducts: Ducts, rules: RuleBook) -> tuple[Part, ...]:
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
        for size in _hangers(run, rules.value("hanger-spacing")):
            counts["hanger", _round(size), run.later] += 1
    made = [Part(*key[:2], counts[key], lengths.get(key, 0.0), key[2]) for key in counts]
    made = [_priced(ducts, _cut(ducts, rules, part)) for part in made]
    return tuple(sorted(made, key=lambda p: (p.later, -p.length, -p.count, p.what, p.diameter)))


def _round(size: float) -> float:
    return round(size, 5)


def _lengths(ducts: Ducts, run: Run) -> Iterator[tuple[str, float, float]]:
    yield _material(run), run.diameter.value, run.length.value
    way = ducts.hoses.get(run.name)
    if run.drop is not None and way is not None:
        yield "hose", run.drop.hose.diameter.value, way.length.value


def _material(run: Run) -> str:
    return {"galvanized": "galvanized duct", "pvc": "PVC pipe", "hose": "hose"}[run.material]


def _pieces(ducts: Ducts, run: Run) -> Iterator[tuple[str, float]]:
    for i in range(1, len(run.path) - 1):
        angle = turn_between(*run.path[i - 1 : i + 2])
        if angle > STRAIGHT and run.material != "hose":
            yield f"{angle:.0f} degree elbow", run.diameter.value
    for name, _ in run.fittings:
        yield name, run.diameter.value
    if run.drop is not None and run.drop.gate:
        yield "blast gate", run.diameter.value
    way = ducts.hoses.get(run.name)
    if run.drop is not None and way is not None:
        hose = run.drop.hose.diameter.value
        if abs(way.across - hose) > TOLERANCE:
            yield "adapter from the port to the hose", hose
    if run.drop is not None and run.drop.hose.diameter.value > run.diameter.value + TOLERANCE:
        yield "reducer from the hose", run.diameter.value
    if run.junction is not None:
        other = ducts.plan.run(run.junction.into)
        if run.name in ducts.from_side:
            yield f"{run.junction.angle:.0f} degree branch", other.diameter.value
        elif abs(other.diameter.value - run.diameter.value) > TOLERANCE:
            yield "reducer between runs", other.diameter.value
        turn = turn_between(run.path[-2], run.path[-1], other.path[1])
        at_start = run.junction.station <= TOLERANCE
        if at_start and run.name not in ducts.from_side and turn > STRAIGHT:
            yield f"{turn:.0f} degree elbow", run.diameter.value


def _hangers(run: Run, spacing: float) -> Iterator[float]:
    """One for each stretch begun of level duct, one strap for each drop."""
    for a, b in run.legs:
        upright = abs(b[2].value - a[2].value) > 0.5 * distance(a, b).value
        count = 1 if upright else max(ceil(distance(a, b).value / spacing - TOLERANCE), 1)
        yield from [run.diameter.value] * count


def _cut(ducts: Ducts, rules: RuleBook, part: Part) -> Part:
    """With the sticks that straight duct is cut from."""
    if part.what not in ("galvanized duct", "PVC pipe"):
        return part
    usual = rules.value("duct-stick" if part.what == "galvanized duct" else "pipe-stick")
    stick = usual if ducts.plan.stick is None else ducts.plan.stick
    pieces = [
        piece
        for run in ducts.plan.runs
        if _round(run.diameter.value) == part.diameter
        and run.later == part.later
        and _material(run) == part.what
        for piece in _straight(run)
    ]
    cutting = cut(pieces, stick)
    return replace(part, sticks=cutting.sticks, stick=stick, fewest=cutting.exact)


def _straight(run: Run) -> Iterator[float]:
    """Straight pieces of a run, what its own elbows take at each corner taken off [m]."""
    taken = [0.0] * len(run.path)
    for i in range(1, len(run.path) - 1):
        angle = turn_between(*run.path[i - 1 : i + 2])
        taken[i] = run.elbows.radius * run.diameter.value * tan(radians(min(angle, 150.0)) / 2)
    for i, (a, b) in enumerate(run.legs):
        length = distance(a, b).value - taken[i] - taken[i + 1]
        if length > TOLERANCE:
            yield length


def _priced(ducts: Ducts, part: Part) -> Part:
    """With its price, where the file gives one for its kind and diameter."""
    near = [k for k in ducts.plan.prices if abs(k - part.diameter) < 1e-3]
    if not near:
        return part
    prices = ducts.plan.prices[near[0]]
    kind = next((k for k in prices if k != "stick" and k in part.what), None)
    if part.sticks and "stick" in prices:
        return replace(part, price=len(part.sticks) * prices["stick"])
    return part if kind is None else replace(part, price=part.count * prices[kind])
