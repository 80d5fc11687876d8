"""The collector's inlet in its shed: where it is, and how high duct may come in below the roof."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import Point, Polygon

from floorplan.shop.air import AirPlan, Spot
from floorplan.shop.model import Shop
from floorplan.shop.shed_body import placed
from floorplan.shop.site import Shed, ShedPlace, Site
from floorplan.units import TOLERANCE

UNDER_ROOF = 0.15
"""Kept between the duct and the ceiling or the shed's roof [m]; common practice, no source."""
NO_PLACE = "the collector's shed has no place yet: `floorplan shed` ranks places and writes one"


def with_shed_inlet(air: AirPlan, site: Site | None) -> AirPlan:
    """The air with its inlet in the middle of the shed, where the file has it stand there."""
    given = air.collector
    if given is None or given.inlet is None or not given.inlet.in_shed:
        return air
    shed = None if site is None else site.shed
    if shed is None or shed.place is None:
        return replace(air, no_way=(NO_PLACE,)) if air.find is not None else air
    inlet = replace(given.inlet, spot=middle_of(shed, shed.place, given.inlet.spot))
    return replace(air, collector=replace(given, inlet=inlet))


def middle_of(shed: Shed, place: ShedPlace, spot: Spot) -> Spot:
    """The middle of a shed at a place, at the height of another point [m]."""
    walls = placed(shed, place).walls
    x, y = ((walls.lowest(axis) + walls.highest(axis)) / 2 for axis in (0, 1))
    return x, y, spot[2]


def shed_round(shop: Shop, spot: tuple[float, ...]) -> Shed | None:
    """The shed if the point lies between its walls [m]; None else."""
    shed = None if shop.site is None else shop.site.shed
    if shed is None or shed.place is None:
        return None
    walls = Polygon(placed(shed, shed.place).walls.points).buffer(TOLERANCE)
    return shed if walls.contains(Point(spot[:2])) else None
