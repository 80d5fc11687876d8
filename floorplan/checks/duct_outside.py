"""Where runs go out through walls, and the air that leaves the shop with them."""

from __future__ import annotations

from dataclasses import dataclass

from floorplan.air.make_up import opening_area
from floorplan.checks.duct_finding import holes_of
from floorplan.checks.duct_system import Ducts, air_of
from floorplan.shop import building
from floorplan.shop.model import Shop


@dataclass(frozen=True, slots=True)
class Hole:
    """The middle of a hole in a wall, measured along the inside from both its ends [m]."""

    wall: str
    along: float
    """From the wall's west or south end."""
    back: float
    """From its other end."""
    height: float
    """Above the floor."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """Air that a collector outside takes out of the shop, and what lets as much in again."""

    flow: float
    """The most, of all gate states with the clean filter [m3/s]."""
    opening: float
    """Free area [m2]."""
    pressure: float
    """Of the shop below outdoors with that opening [Pa]."""


def holes(shop: Shop, ducts: Ducts) -> tuple[Hole, ...]:
    """Every hole that the runs need."""
    return tuple(
        Hole(
            wall,
            along,
            building.frame(shop.room.wall(wall)).length.value - along,
            height,
        )
        for wall, along, height in holes_of(shop, ducts.plan.runs)
    )


def leaving(shop: Shop, ducts: Ducts) -> Leaving | None:
    """The air that leaves through a hole; None where no run goes out or no flow is known."""
    flows = [point.flow for s in ducts.states for point in (s.clean, s.dirty)
             if point is not None and point.meets and point.flow]  # fmt: skip
    if not flows or not holes(shop, ducts):
        return None
    pressure = shop.rules.value("make-up-pressure")
    air = air_of(ducts.plan)
    return Leaving(max(flows), opening_area(max(flows), pressure, air=air), pressure)
