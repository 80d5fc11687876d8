"""What a task lays out to dry or cure: so many flat parts, each with room round and over it."""

from __future__ import annotations

from dataclasses import dataclass

from floorplan.geometry.affine import Affine

FLOOR = "floor"
"""What the floor is called among the things that parts may lie on."""


@dataclass(frozen=True, slots=True, eq=False)
class LayOut:
    """Parts that lie flat while their task lasts."""

    count: int
    length: Affine
    width: Affine
    thickness: Affine
    between: Affine
    """Least gap between two of them [m]."""
    above: Affine
    """Free height over each of them [m]."""
    on: tuple[str, ...] = ()
    """Things that they may lie on, `floor` among them; empty: every bench and table, and the
    floor."""
    shelves: tuple[tuple[str, int], ...] = ()
    """Racks, and how many shelves each has, evenly over its height."""
    line: int = 0
