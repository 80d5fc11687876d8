"""What the worst machine will get, told in microseconds from where its port is.

A port's way is taken as the shortest along the walls and the ceiling to the collector, with the
elbows that such ways have and one branch entry, in the one size that serves it best. Runs that
are laid out and worked out exactly differ: by obstacles, by sizes shared, by other turns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from floorplan.air.ducttree import DuctTree, Stretch, leg_length
from floorplan.air.lattice import Spot
from floorplan.air.properties import FloatArray
from floorplan.air.routing import Inlet
from floorplan.air.sizing import Demand, Sizer

LONGEST, STEPS = 40.0, 33
"""Ways are tabulated up to this long [m], at so many lengths."""
TURNS = 4
"""Elbows of a usual way: up and along, a corner, along and down."""


@dataclass(frozen=True, eq=False)
class FlowEstimate:
    """Tables of what each port of a demand gets alone by the length of its way.

    `level` is the height at which duct runs level [m].
    """

    demand: Demand
    inlets: tuple[Inlet, ...]
    level: float
    tables: tuple[FloatArray, ...]

    @classmethod
    def of(cls, demand: Demand, inlets: Sequence[Inlet], level: float) -> FlowEstimate:
        """Work the tables out once; places of ports do not matter to them."""
        sizer = Sizer(demand)
        lengths = np.linspace(0.0, LONGEST, STEPS)
        tables = []
        for terminal in range(len(demand.terminals)):
            values = [_alone(sizer, terminal, float(length)) for length in lengths]
            tables.append(np.array(values))
        return cls(demand, tuple(inlets), level, tuple(tables))

    def ways(self, spots: FloatArray) -> FloatArray:
        """Least length of way [m] from each of (k, 3) points to the collector."""
        return np.asarray(np.min([self._to(inlet, spots) for inlet in self.inlets], axis=0))

    def _to(self, inlet: Inlet, spots: FloatArray) -> FloatArray:
        x, y, z = inlet.spot
        points: tuple[Spot, ...] = (inlet.spot, *inlet.beyond)
        behind = sum(leg_length(a, b) for a, b in pairwise(points))
        level = np.abs(spots[:, 0] - x) + np.abs(spots[:, 1] - y)
        upright = np.abs(self.level - spots[:, 2]) + abs(self.level - z)
        return np.asarray(level + upright + behind)

    def shares(self, terminal: int, spots: FloatArray) -> FloatArray:
        """Flow got over flow needed [1] with the port's run beginning at (k, 3) points."""
        lengths = np.linspace(0.0, LONGEST, STEPS)
        return np.interp(self.ways(spots), lengths, self.tables[terminal])

    def worst(self, spots: Sequence[FloatArray]) -> float:
        """The least share [1] over all ports, each with (k, 3) points where its run may begin."""
        return float(min(self.shares(i, at).max() for i, at in enumerate(spots)))


def _alone(sizer: Sizer, terminal: int, length: float) -> float:
    """Best value of a port alone at the end of a branch and a main of one size."""
    hose = min(start.hose for start in sizer.demand.terminals[terminal].starts)
    # corners on a line, so that the length is kept and the elbows are counted
    corners = [(length / 2 * i / TURNS, 0.0, 0.0) for i in range(TURNS)]
    branch = (*corners, (length / 2, 0.0, 0.0))
    tree = DuctTree(
        (
            Stretch(branch, 1, terminal, enters=True, hose=hose),
            Stretch(((length / 2, 0.0, 0.0), (length, 0.0, 0.0))),
        )
    )
    return max(sizer.table(tree, terminal).values())
