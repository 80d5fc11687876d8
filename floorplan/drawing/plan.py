"""A plan to scale: building, things, zones and findings in one drawing language."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorplan.checks.finding import Finding
from floorplan.drawing.canvas import Plan, drawn_bounds
from floorplan.drawing.equipment import draw_equipment, letter_equipment
from floorplan.drawing.marks import draw_notes, draw_pinches
from floorplan.drawing.notes import Note
from floorplan.drawing.outlets import draw_outlets
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box
from floorplan.drawing.room import draw_room, draw_ruler, letter_room
from floorplan.drawing.style import HEAVY, ZoneStyle
from floorplan.drawing.tape import TapeRow, tape_table
from floorplan.drawing.zones import draw_zones, letter_zones
from floorplan.shop.scene import Scene


@dataclass(frozen=True, slots=True)
class Detail:
    """How much a plan tells."""

    zones: bool = True
    """Use zones, feeds and keep-clears."""
    parts: bool = True
    """Fences, blades, feed arrows."""
    sizes: bool = True
    """Sizes and heights beside the names."""
    building: bool = True
    """Names and sizes of walls and openings."""
    ruler: bool = True
    corners: bool = True
    """Where the tape's two lines meet."""


FULL = Detail()
SMALL = Detail(zones=False, parts=False, sizes=False, building=False, ruler=False, corners=False)
"""For plans side by side."""

EDGE = 4.0
"""Kept visible beyond the walls [mm]."""


def place_plan(page: Page, scene: Scene, middle: tuple[float, float], ratio: float) -> Plan:
    """An empty plan whose drawn area is centred at a point of the sheet [mm]."""
    west, south, east, north = drawn_bounds(scene)
    unit = 1000.0 / ratio
    origin = (
        middle[0] - (west + east) / 2 * unit,
        middle[1] - (south + north) / 2 * unit,
    )
    view = Box(
        origin[0] + west * unit, origin[1] + south * unit,
        origin[0] + east * unit, origin[1] + north * unit,
    )  # fmt: skip
    return Plan(page, scene, ratio, origin, view.grown(EDGE))


def draw_plan(
    plan: Plan,
    *,
    notes: Sequence[Note] = (),
    findings: Sequence[Finding] = (),
    detail: Detail = FULL,
) -> tuple[ZoneStyle, ...]:
    """Draw everything; `findings` adds the ways out that pass. Gives the zone styles used.

    What must not be covered is lettered first: numbers of findings, then things, then the rest.
    """
    draw_room(plan)
    used = draw_zones(plan) if detail.zones else ()
    draw_equipment(plan, details=detail.parts)
    if detail.corners:
        _draw_corners(plan, tape_table(plan.scene))
    busy = draw_notes(plan, notes)
    if detail.building:
        draw_outlets(plan)
    letter_equipment(plan, busy, sizes=detail.sizes)
    busy += draw_pinches(plan, findings)
    if detail.building:
        letter_room(plan)
    if detail.zones:
        letter_zones(plan, busy)
    if detail.ruler:
        draw_ruler(plan)
    return used


def _draw_corners(plan: Plan, rows: Sequence[TapeRow]) -> None:
    """A heavy angle at the corner to which both distances of the tape table lead."""
    for row in rows:
        x, y = plan.to_paper(*row.corner)
        arm_x, arm_y = 2.2 * row.across.sense, 2.2 * row.up.sense
        plan.page.line(
            [(x + arm_x, y), (x, y), (x, y + arm_y)], width=HEAVY * 1.4, z=5.9,
            gid=f"corner: {row.thing}" + ("" if row.place == "standing" else f" {row.place}"),
        )  # fmt: skip
