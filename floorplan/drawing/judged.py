"""What drawings need to know of a judged layout, so that they do not depend on how it was found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from floorplan.checks.finding import Finding, Measure
from floorplan.shop.model import Layout, Shop
from floorplan.shop.scene import Scene


class Judged(Protocol):
    """What is known about one layout."""

    @property
    def shop(self) -> Shop:
        """The shop."""
        ...

    @property
    def layout(self) -> Layout:
        """Where things stand."""
        ...

    @property
    def scene(self) -> Scene:
        """The layout as volumes."""
        ...

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything checked."""
        ...

    @property
    def measures(self) -> Mapping[str, Measure]:
        """Numbers by which layouts are compared."""
        ...

    @property
    def verdict(self) -> str:
        """`passes`, `fails` or `unsure`."""
        ...


class Ranked(Protocol):
    """One layout that a search offers."""

    @property
    def rank(self) -> int:
        """1 is the best."""
        ...

    @property
    def judgement(self) -> Judged:
        """What was found about it."""
        ...

    @property
    def best_for(self) -> tuple[str, ...]:
        """What it does best of all."""
        ...

    @property
    def reason(self) -> str:
        """Why it stands where it stands."""
        ...

    @property
    def dominated(self) -> bool:
        """Whether another is at least as good in everything."""
        ...


def why(ranked: Ranked) -> str:
    """What a layout is best for and why it stands where it stands, as sentences."""
    best = f"Best for {', '.join(ranked.best_for)}. " if ranked.best_for else ""
    return f"{best}{ranked.reason[:1].upper()}{ranked.reason[1:]}"
