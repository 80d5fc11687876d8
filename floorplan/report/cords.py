"""Cords and circuits in tables: what each cord needs and has, what each breaker gives at most."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from floorplan.checks.cords import CHECK, Reach, reaches
from floorplan.checks.judge import Judgement
from floorplan.units import format_length

Table = tuple[str, list[tuple[str, ...]]]
"""A title, and rows of which the first is the head."""


def cord_ways(judgement: Judgement) -> tuple[Reach, ...]:
    """Every cord that has an outlet; none where the file has no `power`."""
    power = judgement.shop.power
    return () if power is None else tuple(reaches(judgement.scene, power).values())


def cord_tables(judgement: Judgement, ways: tuple[Reach, ...]) -> Iterator[Table]:
    """Cords, then circuits at the moment when most is drawn from each."""
    power, system = judgement.shop.power, judgement.shop.system
    assert power is not None
    rows: list[tuple[str, ...]] = [("thing", "outlet", "needs", "has")]
    for way in ways:
        need = way.length.value
        needs = "no way" if need == inf else format_length(need, system, rounding="up")
        has = format_length(power.cord(way.thing).length.value, system, rounding="down")
        rows.append((way.thing, f"{way.outlet.name}, {way.outlet.circuit.name}", needs, has))
    if len(rows) > 1:
        yield "Cords: down, along the floor and up", rows
    loads = [f for f in judgement.findings if f.check == CHECK and f.rule == "circuit-amps"]
    circuits: list[tuple[str, ...]] = [("circuit", "during", "draws", "may give")]
    for name in dict.fromkeys(f.about[-1] for f in loads):
        worst = max((f for f in loads if f.about[-1] == name), key=lambda f: f.measured or 0.0)
        during = worst.task or "tasks together"
        circuits.append((name, during, f"{worst.measured:g} A", f"{worst.needed:g} A"))
    if len(circuits) > 1:
        yield "Circuits, when most is drawn from each", circuits
