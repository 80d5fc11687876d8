"""Outlets on a plan: a diamond where the cord is plugged in, with the circuit that feeds it."""

from __future__ import annotations

from shapely import Polygon

from floorplan.drawing.canvas import Label, Plan
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box, beside
from floorplan.drawing.style import BLACK, LIGHT, SMALL_SIZE, WHITE

SIZE = 2.4
"""From corner to corner of the diamond [mm]."""


def draw_outlets(plan: Plan) -> None:
    """Every outlet of the file within the view, lettered where there is room."""
    power = plan.scene.shop.power
    for outlet in () if power is None else power.outlets:
        x, y = plan.to_paper(outlet.x.value, outlet.y.value)
        here = Box.about(x, y, SIZE, SIZE)
        if not plan.view.contains(here):
            continue
        outlet_sign(plan.page, x, y, gid=f"outlet: {outlet.name}")
        for text in (f"{outlet.name}, {outlet.circuit.name}", outlet.circuit.name):
            label = Label((text,), SMALL_SIZE)
            found = plan.placer.find(beside(here, *label.extent, reach=12.0), busy=[here])
            if found is not None:
                plan.write(label, found)
                break


def outlet_sign(page: Page, x: float, y: float, gid: str | None = None) -> None:
    """The diamond, its upper half full, about a point [mm]."""
    r = SIZE / 2
    whole = Polygon([(x - r, y), (x, y - r), (x + r, y), (x, y + r)])
    page.area(whole, face=WHITE, width=LIGHT, z=9.0, gid=gid)
    page.area(Polygon([(x - r, y), (x + r, y), (x, y + r)]), face=BLACK, width=0.0, z=9.1)
