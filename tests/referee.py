"""A second judge with its own arithmetic: polygons straight from the file, walking on a raster.

It shares no code with the program: numbers are read with a plain YAML reader, turns and zones are
worked out anew, and the way out is searched on a raster of square cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import yaml
from scipy import ndimage
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

PERSON = 80 * 0.0254
APRON = 1.5
"""Ground before the door that is looked at, on each side and outwards [m]."""
OUT = 0.75
"""How far before the wall's outer face one is out [m]."""


def metres(text: str) -> float:
    number, unit = text.split()
    return float(number) * {"mm": 1e-3, "in": 0.0254}[unit]


@dataclass(frozen=True)
class Body:
    plan: Polygon
    bottom: float
    top: float


class Referee:
    """What a random shop file holds, and what is right and wrong with it."""

    def __init__(self, text: str, raster: float = 0.02) -> None:
        file = yaml.safe_load(text)
        corners = [tuple(metres(c) for c in corner) for corner in file["room"]["corners"]]
        self.floor = Polygon(corners)
        self.height = metres(file["room"]["height"])
        self.thick = metres(file["room"]["wall thickness"])
        self.door = file["doors"]["way"]
        self.raster = raster
        self.bodies: dict[str, Body] = {}
        self.places: dict[str, Polygon] = {}
        for name, spec in file["equipment"].items():
            self._thing(name, spec)

    def _thing(self, name: str, spec: dict[str, Any]) -> None:
        w, d = metres(spec["width"]), metres(spec["depth"])
        turn = float(spec["at"]["turn"])
        body = affinity.rotate(box(0, -d, w, 0), turn, origin=(0, 0))
        low = body.bounds
        step = metres(spec["at"]["x"]) - low[0], metres(spec["at"]["y"]) - low[1]
        plan = affinity.translate(body, *step)
        self.bodies[name] = Body(plan, metres(spec["bottom"]), metres(spec["height"]))
        if "zones" in spec:
            deep = metres(spec["zones"]["front"]["depth"])
            zone = affinity.rotate(box(0, -d - deep, w, -d), turn, origin=(0, 0))
            self.places[name] = affinity.translate(zone, *step)

    # --- solids and standing places

    def overlap(self, a: str, b: str) -> float:
        """Area that two bodies share where their heights do, 0 when they stand apart [m2]."""
        one, two = self.bodies[a], self.bodies[b]
        if min(one.top, two.top) - max(one.bottom, two.bottom) < 2e-5:
            return 0.0
        return one.plan.intersection(two.plan).area

    def outside(self, name: str) -> float:
        """Area of a body beyond the walls [m2]."""
        return self.bodies[name].plan.difference(self.floor).area

    def in_place(self, place: str, other: str) -> float:
        """Area of a standing place that another body takes at a person's height [m2]."""
        body = self.bodies[other]
        if body.bottom > PERSON - 2e-5:
            return 0.0
        return self.places[place].intersection(body.plan).area

    def place_outside(self, place: str) -> float:
        """Area of a standing place beyond the walls [m2]."""
        return self.places[place].difference(self.floor).area

    # --- the way out

    def _ground(self) -> tuple[Polygon, Polygon]:
        """Room, doorway and the land before it; and the strip where one is out."""
        west, south, east, north = self.floor.bounds
        at, wide = metres(self.door["at"]), metres(self.door["width"])
        t, far = self.thick, self.thick + APRON
        strip = (t + OUT, t + OUT + 0.05)
        parts = {
            "south": lambda a, b, p, q: box(west + a, south - q, west + b, south - p),
            "north": lambda a, b, p, q: box(west + a, north + p, west + b, north + q),
            "west": lambda a, b, p, q: box(west - q, south + a, west - p, south + b),
            "east": lambda a, b, p, q: box(east + p, south + a, east + q, south + b),
        }[self.door["wall"]]
        doorway = parts(at, at + wide, 0.0, t)
        apron = parts(at - APRON, at + wide + APRON, t, far)
        return unary_union([self.floor, doorway, apron]), parts(at, at + wide, *strip)

    def gets_out(self, place: str, width: float) -> bool:
        """Whether a disc of this width gets from a standing place to the outside, on the raster.

        Cells count as free whose centre is far enough from what stands and from the walls.
        """
        ground, goal = self._ground()
        standing = [b.plan for b in self.bodies.values() if b.bottom < PERSON - 2e-5]
        west, south, east, north = ground.bounds
        h = self.raster
        xs = np.arange(west - 2 * h, east + 2 * h, h)
        ys = np.arange(south - 2 * h, north + 2 * h, h)
        free = _inside(ground, xs, ys)
        for body in standing:
            free &= ~_inside(body, xs, ys)
        clear = ndimage.distance_transform_edt(free, sampling=h) >= width / 2
        zones, _ = ndimage.label(clear, structure=np.ones((3, 3)))
        start = set(zones[_inside(self.places[place].intersection(self.floor), xs, ys)]) - {0}
        return bool(start & set(zones[_inside(goal, xs, ys)]))


def _inside(shape: Any, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    """Cells whose centre lies in a union of boxes: every shape here is one, turned by quarters."""
    import shapely

    if shape.is_empty:
        return np.zeros((len(ys), len(xs)), dtype=bool)
    grid_x, grid_y = np.meshgrid(xs, ys)
    return shapely.intersects_xy(shape, grid_x.ravel(), grid_y.ravel()).reshape(grid_x.shape)
