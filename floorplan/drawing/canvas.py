"""The plan as a surface to draw on: metres of the room become millimetres of the sheet."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import affinity, box
from shapely.geometry.base import BaseGeometry

from floorplan.drawing.lettering import line_height, text_width
from floorplan.drawing.page import Page
from floorplan.drawing.placing import Box, Placer
from floorplan.drawing.style import BLACK, NAME_SIZE
from floorplan.geometry.volume import Volume
from floorplan.shop.building import door_hinge, sector
from floorplan.shop.model import Door, Shop
from floorplan.shop.scene import Scene
from floorplan.units import System, format_length


@dataclass(frozen=True, slots=True)
class Label:
    """A block of lettering."""

    lines: tuple[str, ...]
    size: float = NAME_SIZE
    bold: int = 0
    """How many lines from the top are bold."""
    upright: bool = False
    """Read from the right, turned by a quarter."""

    @property
    def extent(self) -> tuple[float, float]:
        """Width and height on the sheet [mm]."""
        width = max(text_width(line, self.size, i < self.bold) for i, line in enumerate(self.lines))
        height = len(self.lines) * line_height(self.size)
        return (height, width) if self.upright else (width, height)


@dataclass(slots=True)
class Plan:
    """A room on a sheet; whatever is drawn over it uses the same measure."""

    page: Page
    scene: Scene
    ratio: float
    """Scale 1:ratio."""
    origin: tuple[float, float]
    """Where the origin of the room lies on the sheet [mm]."""
    view: Box
    """What lies outside is cut off [mm]."""
    placer: Placer = field(init=False)

    def __post_init__(self) -> None:
        self.placer = Placer(self.view)

    @property
    def system(self) -> System:
        """Units of the shop."""
        return self.scene.shop.system

    def to_paper(self, x: float, y: float) -> tuple[float, float]:
        """A point of the room [m] on the sheet [mm]."""
        unit = 1000.0 / self.ratio
        return self.origin[0] + x * unit, self.origin[1] + y * unit

    def shape(self, geometry: BaseGeometry, *, cut: bool = True) -> BaseGeometry:
        """A geometry of the room [m] on the sheet [mm], cut off at the edge of the view."""
        unit = 1000.0 / self.ratio
        on_paper = affinity.affine_transform(geometry, [unit, 0.0, 0.0, unit, *self.origin])
        if not cut:
            return on_paper
        view = self.view
        return on_paper.intersection(box(view.left, view.bottom, view.right, view.top))

    def box(self, geometry: BaseGeometry) -> Box:
        """Upright box of a geometry of the room, on the sheet [mm]."""
        west, south, east, north = geometry.bounds
        return Box(*self.to_paper(west, south), *self.to_paper(east, north))

    def seen(self, geometry: BaseGeometry) -> Box | None:
        """Upright box of what the view shows of a geometry of the room [mm]; None: nothing."""
        shown = self.shape(geometry)
        return None if shown.is_empty else Box(*shown.bounds)

    def write(self, label: Label, at: Box, *, colour: str = BLACK, gid: str = "") -> None:
        """Set a label into the box that was found for it."""
        self.page.clear(at)
        x, y = at.centre
        step = line_height(label.size)
        for i, line in enumerate(label.lines):
            shift = ((len(label.lines) - 1) / 2 - i) * step
            self.page.text(
                x - shift if label.upright else x,
                y if label.upright else y + shift,
                line,
                size=label.size,
                bold=i < label.bold,
                colour=colour,
                ha="center",
                middle=True,
                turn=90.0 if label.upright else 0.0,
                gid=gid or None,
            )

    def length(self, metres: float) -> str:
        """A length as it is written on the plan; metric ones in bare millimetres [m]."""
        return short_length(metres, self.system)


def short_length(metres: float, system: System) -> str:
    """A length for the plan, without `mm` since the sheet says so [m]."""
    return format_length(metres, system).removesuffix(" mm")


def building_bounds(shop: Shop) -> tuple[float, float, float, float]:
    """West, south, east, north of the walls' outer faces [m]."""
    low, high = shop.room.floor.points.min(axis=0), shop.room.floor.points.max(axis=0)
    thick = shop.room.wall_thickness.value
    return (
        float(low[0]) - thick, float(low[1]) - thick,
        float(high[0]) + thick, float(high[1]) + thick,
    )  # fmt: skip


def drawn_bounds(scene: Scene) -> tuple[float, float, float, float]:
    """The building and whatever stands outside it [m]."""
    bounds = [building_bounds(scene.shop)]
    bounds += [e.volume.bounds for e in scene.of("solid") if e.name == "body" and not e.building]
    bounds += [_outward_swing(scene.shop, d) for d in scene.shop.doors if d.kind == "hinged"]
    table = np.array(bounds)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _outward_swing(shop: Shop, door: Door) -> tuple[float, float, float, float]:
    """Bounds of what a hinged leaf passes over, on whichever side [m]."""
    pivot, heading, turn = door_hinge(shop, door)
    return Volume(sector(pivot, door.width, heading, turn), door.sill, door.head).bounds


def heights(volume: Volume, system: System) -> str:
    """`h 34"` for what stands on the floor, `h 30" to 5' 10"` for what hangs."""
    top = short_length(volume.top.value, system)
    if abs(volume.bottom.value) < 5e-4:
        return f"h {top}"
    return f"h {short_length(volume.bottom.value, system)} to {top}"
