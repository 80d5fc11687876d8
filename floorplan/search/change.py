"""Changes an owner can make to a shop that fails, in the order in which one would try them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Literal

from floorplan.checks.judge import Judgement
from floorplan.shop.model import Layout, Shop
from floorplan.units import TOLERANCE, System, format_length

Kind = Literal["feet", "sheet", "drawer", "door", "cut flat", "shift", "turn", "size"]

SHORT_SHIFT = 6 * 0.0254
"""Up to here a shift is tried before a turn [m]: common practice, no source."""
FEET = 2 * 0.0254
"""Levelling feet give so much up or down [m]: common practice, no source."""
STEP = {System.IMPERIAL: 0.0254 / 16, System.METRIC: 0.001}
"""Changes come in these steps [m]: what a tape shows."""
_EFFORT: dict[Kind, int] = {
    "feet": 0, "sheet": 1, "drawer": 2, "door": 2, "cut flat": 3, "shift": 4, "turn": 5, "size": 7,
}  # fmt: skip
_FAR_SHIFT = 6
"""A turn whose middle goes as far as that is no less trouble than the shift."""
_MACHINE = 8
"""Touching a machine with a blade comes last."""


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """A shop and layout on the way to another."""

    shop: Shop
    layout: Layout


@dataclass(frozen=True, slots=True)
class Cut:
    """What a failing check asks of a place: slope . (place - at) >= short."""

    at: tuple[float, float]
    """[m]"""
    slope: tuple[float, float]
    short: float
    """[m]"""


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One change of one thing, not yet judged."""

    kind: Kind
    thing: str
    by: float | None
    """How much, in `unit`; None where it is a matter of kind, not of size."""
    unit: str
    text: str
    draft: Draft
    """As it is afterwards."""
    trouble: float
    """How far or how much [m], to compare changes of one kind."""
    probe: Draft | None = None
    """The same with a place whose margins say how they change with it."""
    again: Callable[[Sequence[Cut]], Step | None] | None = None
    """The next best, given what a check asks besides."""

    @property
    def effort(self) -> int:
        """Its place in the order in which an owner would try things."""
        if self.kind in ("feet", "shift", "turn") and self._is_machine:
            return _MACHINE
        if self.kind in ("shift", "turn") and self.trouble > SHORT_SHIFT + TOLERANCE:
            return _FAR_SHIFT
        return _EFFORT[self.kind]

    @property
    def _is_machine(self) -> bool:
        shop = self.draft.shop
        return shop.has(self.thing) and shop.thing(self.thing).cutter is not None

    @property
    def is_still(self) -> bool:
        """Whether nothing is changed yet: a place from which the judge is asked where to go."""
        return self.kind == "shift" and self.trouble < TOLERANCE

    @property
    def order(self) -> tuple[int, float]:
        """Steps are tried in this order."""
        return self.effort, self.trouble


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """Steps after which every check passes."""

    steps: tuple[Step, ...]
    verified: Judgement
    """Every check, exactly, of the changed shop and layout."""

    @property
    def text(self) -> str:
        """All steps in one sentence."""
        return "; ".join(step.text for step in self.steps)

    @property
    def order(self) -> tuple[int, int, float]:
        """Fewer things first, then what an owner would rather do, then by how much."""
        return (
            len(self.steps),
            max(step.effort for step in self.steps),
            sum(step.trouble for step in self.steps),
        )


def outward(amount: float, system: System) -> float:
    """An amount rounded away from zero to what a tape shows [m]."""
    step = STEP[system]
    sign = 1.0 if amount >= 0 else -1.0
    return sign * ceil(abs(amount) / step - 1e-6) * step


def length_text(shop: Shop, metres: float) -> str:
    """A length of a change, rounded up so that the change suffices."""
    return format_length(abs(metres), shop.system, rounding="up")


def with_pose(draft: Draft, name: str, pose: object) -> Draft:
    """A draft in which a thing stands elsewhere."""
    return replace(draft, layout=draft.layout.with_pose(name, pose))  # type: ignore[arg-type]
