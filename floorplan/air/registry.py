"""Where each number of the air physics comes from, and within which range it holds.

A formula used outside its range is never clamped: a soft limit is reported with the answer
(`Entry.outside`), a hard one refused (`Entry.require`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

Mark = Literal["published", "reproduction", "computed", "from memory", "common practice"]
"""How far a number can be trusted; `reproduction`: read in a public copy of the source."""


class OutsideRangeError(ValueError):
    """A value for which the source gives no answer; the message names value, range and source."""


@dataclass(frozen=True, slots=True)
class Range:
    """The closed interval of one quantity in which an entry holds; `unit` is `1` if it has none."""

    quantity: str
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class OutOfRange:
    """One use of an entry outside its range, with the value that is furthest out."""

    entry: str
    quantity: str
    value: float
    low: float
    high: float
    unit: str

    def __str__(self) -> str:
        unit = "" if self.unit == "1" else f" {self.unit}"
        return (
            f"{self.entry}: {self.quantity} {self.value:.4g}{unit} is outside the source's range "
            f"{self.low:.4g} to {self.high:.4g}{unit}"
        )


@dataclass(frozen=True, slots=True)
class Entry:
    """One formula, table or constant.

    `value` is in the SI unit named by `unit` and is None for a formula or a table; `source` names
    the publication, or says that there is none.
    """

    id: str
    about: str
    unit: str
    source: str
    mark: Mark
    value: float | None = None
    ranges: tuple[Range, ...] = ()

    @property
    def constant(self) -> float:
        """The value [unit]. Raises TypeError for a formula or a table."""
        if self.value is None:
            raise TypeError(f"{self.id} is a formula or a table, not a constant")
        return self.value

    def outside(self, **values: ArrayLike) -> tuple[OutOfRange, ...]:
        """Report each named quantity that leaves its range, NaN included; empty if all hold."""
        reports = []
        for limits in self.ranges:
            if limits.quantity not in values:
                continue
            given = np.atleast_1d(np.asarray(values[limits.quantity], dtype=float))
            excess = np.maximum(limits.low - given, given - limits.high)
            excess = np.where(np.isnan(excess), np.inf, excess)
            if given.size and excess.max() > 0:
                worst = float(given.flat[int(excess.argmax())])
                reports.append(
                    OutOfRange(
                        self.id, limits.quantity, worst, limits.low, limits.high, limits.unit
                    )
                )
        return tuple(reports)

    def require(self, **values: ArrayLike) -> None:
        """Raise OutsideRangeError if one of the named quantities leaves its range."""
        reports = self.outside(**values)
        if reports:
            raise OutsideRangeError(f"{'; '.join(map(str, reports))} ({self.source})")
