"""The airflow that runs of duct would give a machine where it stands, as a cost while searching."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from floorplan.air.estimate import FlowEstimate
from floorplan.checks.duct_finding import estimate_of
from floorplan.geometry.affine import Array, rotation
from floorplan.shop.model import Port, Shop, Thing

WAY_WEIGHT = 1.0
"""Cost of one metre of duct from a machine to the collector [m of walking / m]."""
SHORT_WEIGHT = 100.0
"""Cost of a machine that gets nothing of what it needs; less in proportion [m of walking]."""
WANTED = 1.05
"""Share of its need that a machine should get by the estimate, which is some percent off [1]."""


@dataclass(frozen=True, eq=False)
class DuctWish:
    """Tables of airflow, and the ports of each thing."""

    estimate: FlowEstimate
    ports: Mapping[str, tuple[tuple[int, Port], ...]]

    @classmethod
    def of(cls, shop: Shop) -> DuctWish | None:
        """None where no runs are to be found."""
        found = estimate_of(shop)
        if found is None:
            return None
        ports: dict[str, tuple[tuple[int, Port], ...]] = {}
        for i, (thing, port) in enumerate(found[1]):
            ports[thing] = (*ports.get(thing, ()), (i, port))
        return cls(found[0], ports)

    def cost(self, thing: Thing, turn: float, xy: Array) -> Array:
        """(k,) cost of a thing with its westernmost and southernmost points at (k, 2) [m]."""
        total = np.zeros(len(xy))
        if thing.name not in self.ports:
            return total
        matrix = rotation(turn)
        shift = -(thing.body.points @ matrix.T).min(axis=0)
        for index, port in self.ports[thing.name]:
            own = matrix @ np.array([port.x.value, port.y.value]) + shift
            height = np.full((len(xy), 1), port.height.value)
            spots = np.concatenate([xy + own, height], axis=1)
            short = np.maximum(WANTED - self.estimate.shares(index, spots), 0.0)
            total += WAY_WEIGHT * self.estimate.ways(spots) + SHORT_WEIGHT * short
        return total
