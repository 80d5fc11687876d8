"""The building with what stays where it is, for things that are moved one after the other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shapely.geometry.base import BaseGeometry

from floorplan.checks.mobile import Band, Mobile
from floorplan.checks.surroundings import APRON, ground_for
from floorplan.geometry.affine import greater, smaller
from floorplan.geometry.volume import Volume
from floorplan.shop.model import AT_REST, Door, Shop
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE


class RollingFloor:
    """The building with what stays where it is, for things that are moved one after the other."""

    def __init__(self, shop: Shop, staying: Iterable[Element]) -> None:
        self.shop = shop
        every = tuple(staying)
        self.staying = tuple(e for e in every if self.stands(e))
        self.keep_clears = tuple(e for e in every if e.nature == "keep-clear")
        self.carried = 0
        """How many ways were worked out on it, as a measure of the work done."""
        self.outside = tuple(d for d in shop.doors if d.leads_to == "outside")

    @staticmethod
    def stands(element: Element) -> bool:
        """Whether something is in the way of what is moved, all doors and drawers being shut."""
        if element.nature == "keep-clear":
            return element.even_while_working
        return element.nature == "solid" and element.presence.during(AT_REST)

    def may_block(self, element: Element, bands: Iterable[Band]) -> bool:
        """Whether a solid may reach into heights, give or take what the tape allows."""
        return self.reaches(element.volume, bands, 1.0)

    def reaches(self, volume: Volume, bands: Iterable[Band], lean: float) -> bool:
        """As `may_block` with lean 1; with -1 whether it surely does."""
        for low, high in bands:
            common = smaller(volume.top, high) - greater(volume.bottom, low)
            if common.value + lean * common.error(self.shop.measurements) > TOLERANCE:
                return True
        return False

    def reserve(self, mobile: Mobile, others: Iterable[Element]) -> float:
        """What a side of the thing and the edge of something else together may be off [m]."""
        known = self.shop.measurements
        edges = (e.volume.outline.error(known) for e in (*self.staying, *others))
        return mobile.error + max(max(edges, default=0.0), self.shop.room.floor.error(known))

    def ground(self, opened: Sequence[Door], mobile: Mobile) -> BaseGeometry:
        """The room, and the ground before open doors [m]."""
        reach = 2 * mobile.body(None).radius + mobile.mover[1] + APRON
        return ground_for(self.shop, list(opened), set(), reach)
