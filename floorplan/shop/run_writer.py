"""Writes runs of duct that were found into the shop file, as if its owner had given them.

A search sets them in place, so their points carry no error of a tape (`tape: 0`); what they are
measured against keeps its own. The question, `find:`, stays in the file as a comment.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from floorplan.shop.air import AirPlan, Drop, Run
from floorplan.shop.edit import Keys, Value, replace_values
from floorplan.shop.exchange import exchange
from floorplan.shop.model import Shop
from floorplan.shop.naming import compose_shop
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.plan import Plan
from floorplan.shop.read_air import USUAL_HOSE_FACTOR, nearest_station
from floorplan.shop.read_suction import USUAL
from floorplan.shop.reader import ShopFile, parse
from floorplan.units import TOLERANCE, System, format_exact, format_length

CFM = 0.3048**3 / 60
"""[m3/s]"""
WHY = "Laid out by `floorplan ducts`; the runs below are set in place of:"
Write = Callable[[float], str]
"""A length [m] as text."""


class RunsError(ValueError):
    """Runs that the file cannot hold."""


def with_runs(file: ShopFile, runs: Iterable[Run], *, rounded: bool) -> str:
    """The file's text with runs that were found for it given; comments are kept.

    `file` holds all stages of its plan. Points are written to a sixteenth of an inch or a
    millimetre if `rounded`, else exactly. Raises RunsError when the runs do not come back as they
    were written, EditError when the file cannot be changed without touching something else.
    """
    made = tuple(runs)
    air = file.shop.air
    if air is None or air.find is None:
        raise RunsError("the file does not ask for runs to be found")
    system = file.shop.system
    entries: dict[str, Value] = {
        "runs": {
            run.name: _written(file.shop, run, made, _lengths(system, rounded=rounded))
            for run in made
        }
    }
    text = file.text
    body = compose_shop(text, file.path).get("air")
    assert isinstance(body, MappingNode)
    given: dict[str, Value] = {}
    if air.together:
        begins = {run.drop.machine for run in made if run.drop is not None}
        given["open together"] = [list(group) for group in air.together if begins.issuperset(group)]
    if air.find.stick is not None:
        given["stick"] = format_exact(air.find.stick, system)
    if air.find.prices:
        given["prices"] = {
            format_exact(size, system): {part: f"{price:.10g}" for part, price in row.items()}
            for size, row in air.prices.items()
        }
    there: dict[Keys, Value] = {("air", key): value for key, value in given.items() if key in body}
    entries.update((key, value) for key, value in given.items() if key not in body)
    # the section changes first, so that no place in the text is stale when it is used
    text = exchange(text, "air", "find", entries, why=WHY)
    if there:
        text = replace_values(text, there)
    _compare(made, parse(text, file.path), 1e-3 if rounded else 1e-6)
    return text


def _lengths(system: System, *, rounded: bool) -> Write:
    """How lengths are written; numbers that are one but for float noise are written alike."""
    form = format_length if rounded else format_exact
    return lambda metres: form(round(metres, 8), system)


def _written(shop: Shop, run: Run, runs: tuple[Run, ...], write: Write) -> Mapping[str, Value]:
    """One run as the file gives it."""
    out: dict[str, Value] = {}
    if run.drop is not None:
        out["from"] = run.drop.machine
        if len(shop.thing(run.drop.machine).ports) > 1:
            out["port"] = run.drop.port
    if run.junction is not None:
        out["into"] = run.junction.into
        out["angle"] = f"{run.junction.angle:g}"
    if shop.plan is not None:
        out.update(_spans(shop.plan, run, runs))
    out["path"] = [[write(number.value) for number in spot] for spot in run.path]
    out["diameter"] = format_exact(run.diameter.value, shop.system)
    if run.drop is not None:
        out.update(_drop(run.drop, write, shop.system))
    if run.clear.value > TOLERANCE:
        out["clear round"] = format_exact(run.clear.value, shop.system)
    out["tape"] = "0"
    return out


def _drop(drop: Drop, write: Write, system: System) -> Mapping[str, Value]:
    hose: dict[str, Value] = {}
    if drop.hose.length is not None:
        hose["length"] = write(drop.hose.length.value)
    hose["diameter"] = format_exact(drop.hose.diameter.value, system)
    if drop.hose.factor != USUAL_HOSE_FACTOR:
        hose["factor"] = f"{drop.hose.factor:.10g}"
    out: dict[str, Value] = {"hose": hose}
    if drop.assumed_need:
        out["needs"] = USUAL
    elif drop.needs is not None:
        out["needs"] = written_flow(drop.needs, system)
    return out


def written_flow(flow: float, system: System) -> str:
    """A flow [m3/s] as it is read back."""
    if system is System.IMPERIAL:
        return f"{flow / CFM:.12g} cfm"
    return f"{flow * 3600:.12g} m3/h"


def _spans(plan: Plan, run: Run, runs: tuple[Run, ...]) -> Mapping[str, Value]:
    """From which stage to which a run is there: with its machine, or with what flows into it."""
    air = plan.span("collector", "collector")
    spans = [plan.span("thing", name).common(air) for name in _machines(run, runs)]
    first, last = min(s.first for s in spans), max(s.last for s in spans)
    out: dict[str, Value] = {}
    if first > 0:
        out["from stage"] = plan.stages[first].name
    if last < len(plan.stages) - 1:
        out["until"] = plan.stages[last].name
    return out


def _machines(run: Run, runs: tuple[Run, ...]) -> list[str]:
    """Machines whose air flows through a run."""
    out = [] if run.drop is None else [run.drop.machine]
    for other in runs:
        if other.junction is not None and other.junction.into == run.name:
            out += _machines(other, runs)
    return out


def _compare(runs: tuple[Run, ...], file: ShopFile, near: float) -> None:
    """Refuse a file whose runs are others than those written. Raises RunsError."""
    air: AirPlan | None = file.shop.air
    found = {} if air is None else {run.name: run for run in air.runs}
    for run in runs:
        other = found.get(run.name)
        same = other is not None and len(other.path) == len(run.path) and all(
            abs(a.value - b.value) <= near
            for mine, its in zip(run.path, other.path, strict=True)
            for a, b in zip(mine, its, strict=True)
        )  # fmt: skip
        if other is None or not same or not _joined(run, other, found):
            raise RunsError(f"`{run.name}` does not come back from the file as it was written")


def _joined(run: Run, other: Run, found: Mapping[str, Run]) -> bool:
    """Whether a run read again begins at the same machine and ends in the same run."""
    mine, its = (None if r.drop is None else (r.drop.machine, r.drop.port) for r in (run, other))
    if mine != its or (run.junction is None) != (other.junction is None):
        return False
    if run.junction is None or other.junction is None:
        return True
    into = found.get(run.junction.into)
    return (
        into is not None
        and other.junction.into == run.junction.into
        and nearest_station(into, other.path[-1])[0] <= TOLERANCE
    )
