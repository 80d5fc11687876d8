"""Where the parts lie that a task lays out to dry: as data and in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import fill

from floorplan.checks.finding import amount
from floorplan.checks.lay_out import Laid
from floorplan.checks.lying import Area
from floorplan.report.data import Data, number
from floorplan.report.lasting import how_long
from floorplan.report.markup import bullets, tag
from floorplan.report.words import WIDTH
from floorplan.shop.lay_out import FLOOR
from floorplan.shop.model import Shop


def laid_data(laid: Sequence[Laid]) -> list[Data]:
    """One entry for each task: its areas, how many lie on each, and every place [m, deg]."""
    return [
        {
            "task": one.task.name,
            "needed": one.spec.count,
            "found": one.found,
            "most": one.most,
            "areas": [
                {
                    "on": area.on,
                    "shelf": area.shelf,
                    "height": number(area.height.value),
                    "room_for": len(area.places),
                    "used": used,
                }
                for area, used in _used(one)
            ],
            "left_out": [{"on": out.on, "why": out.why} for out in one.left_out],
            "places": [
                {
                    "on": place.area.on,
                    "shelf": place.area.shelf,
                    "height": number(place.area.height.value),
                    "x": number(place.plan.bounds[0]),
                    "y": number(place.plan.bounds[1]),
                    "long_side": number(place.long_side),
                }
                for place in one.places
            ],
        }
        for one in laid
    ]


def laid_lines(shop: Shop, laid: Sequence[Laid]) -> Iterator[str]:
    """A line for each area that is used, or would hold some."""
    for one in laid:
        yield laid_title(shop, one)
        for sentence in laid_sentences(shop, one):
            yield fill(f"  {sentence}", WIDTH, subsequent_indent="      ")


def laid_section(shop: Shop, laid: Sequence[Laid]) -> Iterator[str]:
    """The page's list of where parts lie."""
    if laid:
        yield tag("h2", "Where parts lie to dry")
    for one in laid:
        yield tag("p", laid_title(shop, one))
        yield bullets(laid_sentences(shop, one))


def laid_title(shop: Shop, one: Laid) -> str:
    """`Laid out while finish lasts (12 h): 8 of 8 parts`."""
    count = f"{one.found} of {one.spec.count} parts"
    return f"Laid out while {one.task.name} lasts ({how_long(shop, one.task.name)}): {count}"


def laid_sentences(shop: Shop, one: Laid) -> list[str]:
    """How many lie on what, at which height; what is left out, and why."""
    out = []
    for area, used in _used(one):
        fits = len(area.places)
        if area.on == FLOOR:
            if used:
                out.append(f"{used} on the floor, as drawn")
        elif used or area.shelf is None:
            room = f"room for {fits}" if fits == area.most else f"room for {fits} or more"
            out.append(f"{used} on {area.label}, {_height(shop, area)}, {room}")
    return out + [f"none on {left.on}: {left.why}" for left in one.left_out]


def _height(shop: Shop, area: Area) -> str:
    return f"{amount(shop, area.height.value)} above the floor"


def _used(one: Laid) -> list[tuple[Area, int]]:
    return [(area, sum(place.area is area for place in one.places)) for area in one.areas]
