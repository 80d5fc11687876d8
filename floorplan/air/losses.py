"""Kinds of loss: fittings, hoods, gates, and parts rated at one flow (separators, filters).

A coefficient counts velocity pressures of the duct that the part belongs to: elbows their own,
branch entries the branch's, reducers the small end's, hoods the duct's behind them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from floorplan.air.registry import Entry

Kind = Literal["elbow", "mitre", "branch entry", "reducer", "expansion", "gate", "exit", "other"]
Law = Literal["quadratic", "linear"]


@dataclass(frozen=True, slots=True)
class Fitting:
    """A loss of `coefficient` [1] velocity pressures, and the entry that gives it.

    `entry` is None for a coefficient that the user measured.
    """

    kind: Kind
    name: str
    coefficient: float
    entry: Entry | None = None

    def __post_init__(self) -> None:
        _require_loss(self.name, self.coefficient)


@dataclass(frozen=True, slots=True)
class Hood:
    """Entry of the air: `entry_loss` Fh [1] in duct velocity pressures, acceleration not counted.

    The static pressure behind it is (1 + Fh) VP below the room's.
    """

    name: str
    entry_loss: float
    entry: Entry | None = None

    def __post_init__(self) -> None:
        _require_loss(self.name, self.entry_loss)

    @property
    def coefficient_of_entry(self) -> float:
        """Flow over the flow without any loss [1], Ce = 1/sqrt(1 + Fh)."""
        return 1.0 / math.sqrt(1.0 + self.entry_loss)


@dataclass(frozen=True, slots=True)
class RatedLoss:
    """A loss of `pressure` [Pa] at `flow` [m3/s] in standard air (cabinet, cyclone, filter).

    `law`: quadratic for turbulent parts, linear for filter media.
    """

    name: str
    pressure: float
    flow: float
    law: Law = "quadratic"
    entry: Entry | None = None

    def __post_init__(self) -> None:
        _require_loss(self.name, self.pressure)
        if not (math.isfinite(self.flow) and self.flow > 0):
            raise ValueError(f"{self.name}: the rated flow must be above zero, not {self.flow}")


@dataclass(frozen=True, slots=True)
class Gate:
    """A blast gate: `open_coefficient` [1] when open, `leak_area` [m2] when shut (0: tight).

    The leak is an orifice with the discharge coefficient `discharge` [1].
    """

    open_coefficient: float = 0.2
    leak_area: float = 0.0
    discharge: float = 0.6

    def __post_init__(self) -> None:
        _require_loss("gate", self.open_coefficient)
        _require_loss("gate leak", self.leak_area)
        if not 0 < self.discharge <= 1:
            raise ValueError(f"a discharge coefficient is above 0 and at most 1: {self.discharge}")


def _require_loss(name: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name}: a loss cannot be {value}")
