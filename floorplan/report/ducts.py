"""Ducts, hoses and the strip to keep free: as data, in words and drawn."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from floorplan.air.operating import OperatingPoint
from floorplan.checks import airflow, hose
from floorplan.checks.duct_changes import Improvement, falls_short, improvements
from floorplan.checks.duct_outside import Hole, Leaving, holes, leaving
from floorplan.checks.duct_parts import Part, parts_of
from floorplan.checks.duct_system import Ducts, GateState, ducts_of, shares, slowest_segment
from floorplan.checks.finding import Finding, overall
from floorplan.checks.hose import VacuumAnswer, opening_needed, vacuum_answer, warming
from floorplan.checks.judge import Judgement, judge
from floorplan.report.data import Data, envelope, finding, number
from floorplan.report.text import finding_lines, headline, tail
from floorplan.report.words import WIDTH
from floorplan.rules.cautions import cautions
from floorplan.shop.air import DUCTS
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene
from floorplan.units import (
    System,
    format_flow,
    format_length,
    format_pressure,
    format_speed,
)

if TYPE_CHECKING:
    from floorplan.drawing.ducts import DuctSheet

TOLD = 5
"""How many changes are told in words."""


@dataclass(frozen=True, eq=False)
class DuctsAnswer:
    """Everything that was found about air in one layout."""

    judgement: Judgement
    """What concerns ducts and hoses."""
    before: Judgement
    """All checks."""

    @property
    def scene(self) -> Scene:
        """The layout as volumes."""
        return self.judgement.scene

    @cached_property
    def ducts(self) -> Ducts | None:
        """Runs and gate states."""
        return ducts_of(self.scene)

    @cached_property
    def vacuum(self) -> VacuumAnswer | None:
        """The vacuum with its hose."""
        return vacuum_answer(self.scene)

    @cached_property
    def changes(self) -> tuple[tuple[GateState, str, tuple[Improvement, ...]], ...]:
        """For each run that falls short in a gate state, what helps."""
        if self.ducts is None:
            return ()
        shop, ducts = self.scene.shop, self.ducts
        return tuple(
            (state, run, improvements(shop, ducts, state, run))
            for state in ducts.states
            for run in state.runs
            if falls_short(ducts, state, run)
        )

    @cached_property
    def unmet(self) -> frozenset[tuple[str, tuple[str, ...], str]]:
        """Required rules about air that do not pass: the rule, what it is about, the verdict."""
        return frozenset(
            (f.rule, f.about, f.verdict)
            for f in self.judgement.findings
            if f.kind == "required" and f.verdict != "passes"
        )

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The parts list."""
        return () if self.ducts is None else parts_of(self.ducts, self.scene.shop.rules)

    @cached_property
    def holes(self) -> tuple[Hole, ...]:
        """Each hole for a run."""
        return () if self.ducts is None else holes(self.scene.shop, self.ducts)

    @cached_property
    def leaving(self) -> Leaving | None:
        """Air that goes out through a hole."""
        return None if self.ducts is None else leaving(self.scene.shop, self.ducts)

    @cached_property
    def once_built(self) -> tuple[Finding, ...]:
        """Required rules that fail when the later runs hang and do not today."""
        shop = self.scene.shop
        if shop.air is None or not any(run.later for run in shop.air.runs):
            return ()
        runs = tuple(replace(run, later=False) for run in shop.air.runs)
        built = judge(replace(shop, air=replace(shop.air, runs=runs)), self.scene.layout)
        today = {(f.check, f.rule, f.message) for f in self.before.failing}
        return tuple(f for f in built.failing if (f.check, f.rule, f.message) not in today)

    @cached_property
    def worst(self) -> GateState | None:
        """The gate state with the least airflow against its need, else the slowest air."""
        ducts = self.ducts
        if ducts is None or not ducts.states:
            return None

        def rank(state: GateState) -> tuple[float, float]:
            slowest = slowest_segment(state.worst)
            speed = 0.0 if slowest is None else slowest.velocity / (slowest.floor or 1.0)
            return min(shares(ducts, state).values(), default=speed), speed

        return min(ducts.states, key=rank)


def asks_for_air(shop: Shop) -> bool:
    """Whether the file has an `air:` section."""
    return shop.air is not None


def ducts_answer(shop: Shop, layout: Layout) -> DuctsAnswer:
    """Put all checks to a layout and keep what concerns air."""
    return air_of(judge(shop, layout))


def air_of(made: Judgement) -> DuctsAnswer:
    """What concerns air in a judgement by all checks."""
    kept = tuple(
        f for f in made.findings if f.check in (airflow.CHECK, hose.CHECK) or DUCTS in f.about
    )
    measures = {k: v for k, v in made.measures.items() if k == airflow.MEASURE}
    concerned = replace(made, findings=kept, measures=measures, verdict=overall(kept))
    return DuctsAnswer(concerned, made)


def air_cautions(answer: DuctsAnswer) -> tuple[str, ...]:
    """Dust, grounding, fire separation, and the panel where there is one."""
    topics = ["dust", "ducts"]
    if any(e.rule.startswith("panel") for e in answer.scene.of("keep-clear")):
        topics.append("panel")
    return cautions(*topics)


# --- data ------------------------------------------------------------------------------------


def ducts_data(answer: DuctsAnswer, told: Iterable[str], files: Iterable[Path]) -> Data:
    """The object that `ducts` prints, SI units."""
    ducts, vacuum = answer.ducts, answer.vacuum
    states = () if ducts is None else ducts.states
    blocks = {
        "ducts": [
            row for state in states for run in state.runs for row in _rows(ducts, state, run)
        ],
        "segments": [row for state in states for row in _segments(state)],
        "hoses": [] if ducts is None else [
            {"run": w.run, "machine": w.machine, "straight": number(w.straight.value),
             "length": number(w.length.value)}
            for w in ducts.hoses.values()
        ],
        "changes": [
            {"run": run, "gates": list(state.machines), "change": i.words, "flow": number(i.flow),
             "gain": number(i.gain), "velocity": number(i.velocity), "breaks": list(i.breaks),
             "enough": i.enough}
            for state, run, found in answer.changes for i in found
        ],
        "parts": [
            {"part": p.what, "diameter": number(p.diameter), "count": p.count,
             "length": number(p.length), "later": p.later, "stick": number(p.stick or None),
             "cut": [[number(x) for x in one] for one in p.sticks], "price": p.price}
            for p in answer.parts
        ],
        "runs": [] if ducts is None else [
            {"run": r.name, "diameter": number(r.diameter.value), "later": r.later,
             "into": None if r.junction is None else r.junction.into,
             "found": ducts.plan.find is not None,
             "path": [[number(v.value) for v in spot] for spot in r.path]}
            for r in ducts.plan.runs
        ],
        "holes": [
            {"wall": h.wall, "along": number(h.along), "back": number(h.back),
             "height": number(h.height)}
            for h in answer.holes
        ],
        "leaving": None if answer.leaving is None else {
            "flow": number(answer.leaving.flow), "opening": number(answer.leaving.opening),
            "pressure": number(answer.leaving.pressure),
        },
        "vacuum": None if vacuum is None else _vacuum(vacuum),
        "once built": [finding(f) for f in answer.once_built],
        "left out": [] if ducts is None else list(ducts.left_out),
    }  # fmt: skip
    return envelope("ducts", answer.judgement, told, files, **blocks)


def _rows(ducts: Ducts | None, state: GateState, run: str) -> Iterator[Data]:
    """One row for the clean and one for the dirty filter."""
    assert ducts is not None
    drop = ducts.plan.run(run).drop
    assert drop is not None
    for point in (state.clean, state.dirty):
        if point is None:
            continue
        slowest = slowest_segment(point)
        yield {
            "machine": drop.machine,
            "run": run,
            "gates": list(state.machines),
            "dirty": point.dirty,
            "meets": point.meets,
            "meeting": str(point.meeting),
            "flow": number(point.port_flow(run)) if point.meets else None,
            "needed": number(drop.needs),
            "pressure": number(point.pressure),
            "velocity": None if slowest is None else number(slowest.velocity),
            "floor": None if slowest is None else number(slowest.floor),
            "slowest": None if slowest is None else slowest.name,
        }


def _segments(state: GateState) -> Iterator[Data]:
    for point in (state.clean, state.dirty):
        for s in () if point is None else point.segments:
            yield {
                "segment": s.name, "gates": list(state.machines), "dirty": state.dirty is point,
                "flow": number(s.flow), "velocity": number(s.velocity), "floor": number(s.floor),
                "static": [number(s.static_start), number(s.static_end)],
            }  # fmt: skip


def _vacuum(found: VacuumAnswer) -> Data:
    return {
        "thing": found.vacuum.thing,
        "hose": number(found.length),
        "longest": number(found.longest),
        "clean": {"flow": number(found.clean.flow), "velocity": number(found.clean.velocity)},
        "dirty": None if found.dirty is None else {
            "flow": number(found.dirty.flow), "velocity": number(found.dirty.velocity),
        },
        "reach": [
            {"thing": p.thing, "what": p.what, "length": number(p.length.value)}
            for p in found.places
        ],
    }  # fmt: skip


# --- words -----------------------------------------------------------------------------------


def ducts_text(answer: DuctsAnswer, told: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `ducts`."""
    made, judgement = answer.scene, answer.judgement
    lines = [fill(headline(judgement, f"Air in {made.shop.name}"), WIDTH), ""]
    for part in (_run_lines, _state_lines, _change_lines, _part_lines, _vacuum_lines, _built_lines):
        found = list(part(answer))
        lines += [*found, ""] if found else []
    worst = [f for f in judgement.findings if f.verdict != "passes"]
    for count, one in enumerate(worst, 1):
        lines.extend(finding_lines(one, count))
    lines.append(f"{len(judgement.findings) - len(worst)} further checked facts pass.")
    lines.extend(tail(made.shop, judgement.assumed, told, files))
    return "\n".join(lines) + "\n"


def _run_lines(answer: DuctsAnswer) -> Iterator[str]:
    """Runs that were found, corner by corner, and the holes that they need."""
    ducts, system = answer.ducts, answer.scene.shop.system
    if ducts is None:
        return
    if ducts.plan.find is not None:
        yield "Runs found, each corner as x, y and height of the duct's middle:"
        for run in ducts.plan.runs:
            into = "the collector" if run.junction is None else run.junction.into
            corners = "; ".join(
                ", ".join(format_length(v.value, system) for v in spot) for spot in run.path
            )
            size = format_length(run.diameter.value, system)
            yield from _indented([f"{run.name}, {size}, into {into}: {corners}"])
    for sentence in hole_words(answer):
        yield fill(sentence, WIDTH, subsequent_indent="  ")
    if ducts.plan.find is not None and any(falls_short(ducts, s, r) for s in ducts.states
                                           for r in s.runs):  # fmt: skip
        sizes = ", ".join(format_length(size, system) for size in ducts.plan.find.sizes)
        yield fill(
            f"No choice of the sizes {sizes} gives every machine its air and carries its chips "
            "on these ways: the collector is too weak for them, or too little is open at a time.",
            WIDTH, subsequent_indent="  ",
        )  # fmt: skip


def hole_words(answer: DuctsAnswer) -> Iterator[str]:
    """Each hole from both ends of its wall and the floor, and the air that goes out there."""
    system = answer.scene.shop.system
    for hole in answer.holes:
        along, back, height = (
            format_length(n, system) for n in (hole.along, hole.back, hole.height)
        )
        yield (
            f"Hole in {hole.wall}: middle {along} from its west or south end, {back} from the "
            f"other, {height} above the floor; mark it inside and measure again before cutting."
        )
    gone = answer.leaving
    if gone is not None:
        flow = format_flow(gone.flow, system, rounding="up")
        yield (
            f"Up to {flow} of air leave through it unless filtered air is led back. As much must "
            f"come in again: an opening of {free_area(gone.opening, system)} free area "
            f"keeps the shop within {gone.pressure:g} Pa of outdoors. Where anything burns fuel in "
            "the shop or the house behind it, have that looked at before the collector runs."
        )


def free_area(area: float, system: System) -> str:
    """A small area [m2], rounded up."""
    if system is System.IMPERIAL:
        return f"{ceil(area / 0.0254**2 - 1e-6)} sq in"
    return f"{ceil(area * 1e4 - 1e-6)} cm2"


def _state_lines(answer: DuctsAnswer) -> Iterator[str]:
    ducts, system = answer.ducts, answer.scene.shop.system
    if ducts is None:
        return
    for name in ducts.left_out:
        yield f"Left out, its machine has no place yet: {name}"
    if ducts.system is None:
        yield "No flow is worked out: there is no collector, or no machine has its place."
        return
    for state in ducts.states:
        yield f"{state.words[0].upper()}{state.words[1:]}"
        for point in (state.clean, state.dirty):
            if point is not None:
                word = "dirty" if point.dirty else "clean"
                yield from _indented(point_words(ducts, state, point, word, system))


def point_words(
    ducts: Ducts, state: GateState, point: OperatingPoint, filter_word: str, system: System
) -> Iterator[str]:
    """One operating point in sentences."""
    if not point.meets or point.pressure is None:
        yield f"filter {filter_word}: no operating point, {point.meeting}."
        return
    flows = []
    for run in state.runs:
        drop = ducts.plan.run(run).drop
        flow = format_flow(point.port_flow(run), system, rounding="down")
        need = drop.needs if drop is not None else None
        needed = f" of {format_flow(need, system, rounding='up')} needed" if need else ""
        flows.append(f"{run} {flow}{needed}")
    pressure = format_pressure(point.pressure, system)
    yield f"filter {filter_word}: {'; '.join(flows)}; the fan gives {pressure}."
    speeds = [
        f"{s.name} {format_speed(s.velocity, system, rounding='down')}"
        + ("" if (s.velocity_margin or 0) >= 0 else f" (short of {format_speed(s.floor, system)})")
        for s in point.segments
        if s.floor
    ]
    yield f"air moves at: {', '.join(speeds)}."


def _change_lines(answer: DuctsAnswer) -> Iterator[str]:
    system = answer.scene.shop.system
    for state, run, found in answer.changes:
        yield f"What would help {run}, {state.words}:"
        if not found:
            yield "  nothing that was tried: other sizes, shorter hose, branches, a larger fan"
        for one in found[:TOLD]:
            yield from _indented([change_words(one, system)])


def change_words(one: Improvement, system: System) -> str:
    """A change with what it brings."""
    flow = format_flow(one.flow, system, rounding="down")
    text = f"{one.words}: {flow}"
    if one.gain is not None:
        sign = "+" if one.gain >= 0 else "-"
        text += f" ({sign}{format_flow(abs(one.gain), system)})"
    if one.enough:
        return f"{text}, enough"
    if one.breaks:
        return f"{text}, but chips would settle in {', '.join(one.breaks)}"
    return f"{text}, slowest air at {one.velocity:.0%} of what it needs"


def _part_lines(answer: DuctsAnswer) -> Iterator[str]:
    if not answer.parts:
        return
    yield "Parts, lengths along the middle line; sticks are cut with the elbows taken off:"
    for part in answer.parts:
        yield f"  {part_words(part, answer.scene.shop.system)}"


def part_words(part: Part, system: System) -> str:
    """A line of the parts list."""
    size = format_length(part.diameter, system)
    later = ", later" if part.later else ""
    if part.length:
        text = f"{format_length(part.length, system, rounding='up')} of {size} {part.what}{later}"
        if part.sticks:
            text += f", {counted(len(part.sticks), 'stick')} of {format_length(part.stick, system)}"
            text += "" if part.fewest else " or fewer"
    else:
        text = f"{part.count} x {size} {part.what}{later}"
    return text if part.price is None else f"{text}, {part.price:.2f}"


def counted(count: int, what: str) -> str:
    """So many of a thing."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _vacuum_lines(answer: DuctsAnswer) -> Iterator[str]:
    found, system = answer.vacuum, answer.scene.shop.system
    if found is None:
        return
    hose = format_length(found.length, system)
    bought = "as bought" if found.vacuum.length is not None else "as the farthest place needs"
    yield f"{found.vacuum.thing} with {hose} of hose ({bought}):"
    yield from _indented(vacuum_words(answer, found))


def vacuum_words(answer: DuctsAnswer, found: VacuumAnswer) -> Iterator[str]:
    """What the vacuum does, in sentences."""
    system = answer.scene.shop.system
    for word, end in (("clean", found.clean), ("dirty", found.dirty)):
        if end is None:
            continue
        if end.flow is None or end.velocity is None:
            yield f"filter {word}: no operating point, {end.meeting}."
            continue
        yield (
            f"filter {word}: {format_flow(end.flow, system, rounding='down')}, "
            f"{format_speed(end.velocity, system, rounding='down')} in the hose."
        )
    if found.longest is None:
        yield "Chips do not keep moving in a hose of this size, however short."
    elif found.longest < float("inf"):
        yield f"Chips keep moving in up to {format_length(found.longest, system)} of this hose."
    flow = found.clean.flow
    if found.vacuum.cabinet is not None and flow is not None:
        area = opening_needed(answer.scene, flow)
        inches = f"{area / 0.0254**2:.0f} sq in"
        size = inches if system is System.IMPERIAL else f"{area * 1e4:.0f} cm2"
        warm = ""
        if found.vacuum.power is not None:
            warm = f"; the motor warms it by {warming(found.vacuum.power, flow):.0f} K"
        yield f"Its cabinet needs an opening of {size} for the air that it blows out{warm}."


def _built_lines(answer: DuctsAnswer) -> Iterator[str]:
    shop = answer.scene.shop
    if shop.air is None or not any(run.later for run in shop.air.runs):
        return
    if not answer.once_built:
        yield "Once the later runs hang, nothing fails that does not fail today."
        return
    yield "Once the later runs hang, these fail that do not today:"
    for one in answer.once_built:
        yield from _indented([one.message])


def _indented(sentences: Iterable[str]) -> Iterator[str]:
    for sentence in sentences:
        yield fill(sentence, WIDTH, initial_indent="  ", subsequent_indent="    ")


# --- figures ---------------------------------------------------------------------------------


def ducts_sheets(answer: DuctsAnswer, out_dir: str | Path) -> tuple[Path, ...]:
    """Plan, elevation and pressure along the worst run; the vacuum's ways.  Raises OSError."""
    from floorplan.drawing.ducts import ducts_sheet

    return ducts_sheet(answer.scene, duct_sheet_of(answer), out_dir, "ducts")


def duct_sheet_of(answer: DuctsAnswer) -> DuctSheet:
    """What goes on the sheet."""
    from floorplan.drawing.ducts import DuctSheet

    ducts, state = answer.ducts, answer.worst
    system = answer.scene.shop.system
    sentences: list[str] = []
    for gates in () if ducts is None else ducts.states:
        sentences.append(f"{gates.words}:")
        word = "clean" if gates.dirty is None else "dirty"
        sentences.extend(point_words(ducts, gates, gates.worst, word, system))  # type: ignore[arg-type]
    sentences.extend(hole_words(answer))
    if answer.vacuum is not None:
        sentences.extend(vacuum_words(answer, answer.vacuum))
    parts = tuple(part_words(part, system) for part in answer.parts)
    return DuctSheet(ducts, state, answer.vacuum, tuple(sentences), parts)
