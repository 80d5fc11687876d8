"""Outlets, the circuits that feed them and the cords of machines."""

from __future__ import annotations

from dataclasses import dataclass

from floorplan.geometry.affine import Affine


@dataclass(frozen=True, slots=True)
class Circuit:
    """What one breaker feeds."""

    name: str
    amps: float
    """Rating of its breaker [A]."""
    volts: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Outlet:
    """Where a cord is plugged in: on a wall, or anywhere else as at the end of a drop."""

    name: str
    x: Affine
    y: Affine
    height: Affine
    circuit: Circuit
    line: int = 0


@dataclass(frozen=True, slots=True)
class Cord:
    """The cord of a machine."""

    thing: str
    length: Affine
    outlet: str | None = None
    """None: the nearest outlet that suits its volts."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Power:
    """Everything under `power:`."""

    outlets: tuple[Outlet, ...]
    circuits: tuple[Circuit, ...]
    cords: tuple[Cord, ...]
    """One for each thing that has a plug."""
    runs_along: tuple[str, ...] = ()
    """Things that run during every task, such as a dust collector."""
    line: int = 0

    def outlet(self, name: str) -> Outlet:
        """The outlet of that name; KeyError when there is none."""
        return {outlet.name: outlet for outlet in self.outlets}[name]

    def cord(self, thing: str) -> Cord:
        """The cord of a thing; KeyError when it has no plug."""
        return {cord.thing: cord for cord in self.cords}[thing]
