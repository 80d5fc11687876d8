"""What has to have a way past a thing that is to be placed, and the ways found for it so far.

A way found with the tape's reserve stays one wherever the thing keeps clear of all that is swept
on it, at any turn.  So ways are gathered: a place that is clear of one of them is proved.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from shapely.geometry.base import BaseGeometry

from floorplan.checks.carried_body import bands_of
from floorplan.checks.mobile import Band
from floorplan.checks.obstruction import look
from floorplan.checks.passage import swept_parts
from floorplan.checks.rolling import Orders, Roll
from floorplan.checks.ways import sure_way
from floorplan.shop.carrying import load_of
from floorplan.shop.model import AT_REST, Carry, Task
from floorplan.shop.scene import Scene

MOST_CARRIED = 16
"""Ways worked out with a thing at one place before its rolls are given up there."""


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """All that one roll or carry sweeps, with the tape's reserve."""

    name: str
    parts: tuple[BaseGeometry, ...]
    """Convex plans [m]."""
    bands: tuple[Band, ...]
    task: str
    """During which it happens."""


class Wanted(Protocol):
    """One carry, or all rolls of a task in one order, with the ways found for it."""

    ways: list[tuple[Swept, ...]]
    """Each is enough by itself."""

    def find(self, made: Scene) -> str:
        """Look for one more way with the thing where it is in a scene; what has none, or ""."""


@dataclass(eq=False)
class WantedCarry:
    """A carry that neither begins nor ends at the thing."""

    carry: Carry
    ways: list[tuple[Swept, ...]] = field(default_factory=list)

    def find(self, made: Scene) -> str:
        """One with more width than any tape is off."""
        load, name = load_of(made, self.carry), carry_name(self.carry)
        found = sure_way(made, self.carry, load)
        if found is None:
            return name
        answer, around = found
        wide, task = around.body.widened(look(made.shop, 0.0)), self.carry.task or AT_REST
        swept = []
        for part, bands in zip(wide.parts, bands_of(load, apart=around.apart), strict=True):
            if bands:
                heights = tuple((band.bottom, band.top) for band in bands)
                swept.append(Swept(name, tuple(swept_parts(part, answer.path)), heights, task))
        self.ways.append(tuple(swept))
        return ""


@dataclass(eq=False)
class WantedRolls:
    """All rolls of a task in which the thing itself is not rolled."""

    away: Orders
    """With the thing gone."""
    names: frozenset[str]
    """The thing, and what moves along with it."""
    ways: list[tuple[Swept, ...]] = field(default_factory=list)
    stay: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    """Things, and their rolls, without a sure way even while the thing is gone: not asked for."""

    def __post_init__(self) -> None:
        rolls = self.away.best()
        self.stay = tuple(r.thing for r in rolls if r.passage.verdict != "passes")
        self.lost = tuple(roll_name(r) for r in rolls if r.passage.verdict != "passes")
        self.ways.append(tuple(swept_roll(r) for r in rolls if r.passage.verdict == "passes"))

    def find(self, made: Scene) -> str:
        """All in one order."""
        orders = self.away.beside(made, self.names)
        rolls = orders.passing(self.stay, MOST_CARRIED)
        missing = set(orders.places) - set(self.stay) - {roll.thing for roll in rolls}
        if missing:
            return told(min(missing), self.away.task)
        self.ways.append(tuple(swept_roll(roll) for roll in rolls))
        return ""


def swept_roll(roll: Roll) -> Swept:
    """What a roll that passes takes."""
    passage = roll.passage
    parts: list[BaseGeometry] = []
    bands: list[Band] = []
    for stretch in passage.stretches:
        wide = passage.mobile.body(stretch.mover, passage.reserve)
        parts += swept_parts(wide, stretch.path)
        bands += passage.mobile.bands(stretch.mover)
    return Swept(roll_name(roll), tuple(parts), tuple(bands), AT_REST)


def roll_name(roll: Roll) -> str:
    """How a roll is told."""
    return told(roll.thing, roll.task)


def told(thing: str, task: Task) -> str:
    """How a roll is told."""
    return f"{thing} rolled for {task.name}"


def carry_name(wanted: Carry) -> str:
    """How a carry is told."""
    return f"{wanted.piece} carried to {wanted.goal}"
