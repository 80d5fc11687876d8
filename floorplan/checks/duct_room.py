"""The room as duct sees it: what it keeps out of, where drops may come down, how it may leave.

Everything that stands, opens, is worked in or kept clear is an obstacle within its heights, larger
by what the tape leaves open, and so are windows. Level duct hangs above a person's head.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from floorplan.air.ducttree import Start
from floorplan.air.lattice import Obstacle, Spot, depth_inside, grown_outline
from floorplan.air.routing import Inlet, Space
from floorplan.air.topology import Worth
from floorplan.checks.surroundings import over_panel
from floorplan.geometry import convex
from floorplan.geometry.affine import Affine, Array, Measurement, Outline
from floorplan.geometry.volume import Volume
from floorplan.shop import building
from floorplan.shop.air import Crossing, Find
from floorplan.shop.air import Inlet as CollectorInlet
from floorplan.shop.model import Door, Wall, Window
from floorplan.shop.scene import Scene
from floorplan.shop.shed_inlet import UNDER_ROOF, shed_round
from floorplan.shop.yard import is_of_yard, trunk_outline
from floorplan.units import TOLERANCE

BEND = 1.5
"""Centreline radius over diameter of elbows and of hose in its bend [1]."""
BEFORE_WINDOW = 0.3
"""How far into the room the space before a window is kept free of duct [m]."""
STEP = 0.025
"""Steps in which places for a drop are looked for beside a port [m]."""
FACES = {"up": (0, 0, 1), "north": (0, 1, 0), "south": (0, -1, 0), "east": (1, 0, 0),
         "west": (-1, 0, 0)}  # fmt: skip
SIDES = ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))
CROSSINGS = 16
"""So many places on each wall are tried for a hole."""


@dataclass(frozen=True)
class DuctRoom:
    """A layout as obstacles, for duct up to a diameter `size` [m]."""

    scene: Scene
    find: Find
    size: float

    @property
    def radius(self) -> float:
        """Half the largest diameter with what is kept clear round it [m]."""
        return self.size / 2 + self.find.clear

    @property
    def height(self) -> float:
        """Least height of the ceiling [m]."""
        height = self.scene.shop.room.height
        return height.value - height.error(self.scene.shop.measurements)

    @cached_property
    def head(self) -> float:
        """Level duct keeps above this where the room is high enough [m]."""
        head = self.scene.shop.rules.value("way-out-height")
        return head if self.height - 2 * self.radius >= head else 0.0

    # --- obstacles ---------------------------------------------------------------------------

    @cached_property
    def obstacles(self) -> tuple[Obstacle, ...]:
        """All of them."""
        return (*self.walls, *self.standing, *self._head_room())

    @cached_property
    def walls(self) -> tuple[Obstacle, ...]:
        """Walls without openings, and the windows in them."""
        room = self.scene.shop.room
        out = [
            obstacle
            for piece in building.solid_walls(room)
            for obstacle in self._obstacles(piece.wall, piece.volume)
        ]
        for window in self.scene.shop.windows:
            line = building.frame(room.wall(window.wall))
            box = line.box(window.start, window.start + window.width, 0.0, BEFORE_WINDOW)
            out += self._obstacles(window.name, Volume(box, window.sill, window.head))
        return tuple(out)

    @cached_property
    def standing(self) -> tuple[Obstacle, ...]:
        """Everything in the room, and the space over panels."""
        out: list[Obstacle] = []
        air = self.scene.shop.air
        for name, volume in () if air is None else air.earlier:
            out += self._obstacles(name, volume)
        for element in self.scene.elements:
            if element.rule == "duct-strip" or is_of_yard(element):
                continue  # room kept for duct is for duct; outside a run keeps to the wall
            out += self._obstacles(element.label, element.volume)
        for elements in self.scene.things.values():
            if any(e.rule.startswith("panel") for e in elements):
                over = over_panel(self.scene, next(e for e in elements if e.name == "body"))
                out += self._obstacles(over.label, over.volume)
        return tuple(out)

    def _head_room(self) -> Iterator[Obstacle]:
        if self.head:
            for piece in convex.convex_pieces(self.scene.floor):
                yield Obstacle("room to walk under", piece, 0.0, self.head, level_only=True)

    def _obstacles(self, name: str, volume: Volume) -> Iterator[Obstacle]:
        measured = self.scene.shop.measurements
        off = _outline_error(volume.outline, measured)
        bottom = volume.bottom.value - volume.bottom.error(measured)
        top = volume.top.value + volume.top.error(measured)
        points = volume.outline.points
        pieces = (
            [points]
            if convex.signed_area(points) > 0 and convex.is_convex(points)
            else convex.convex_pieces(Polygon(points))
        )
        for piece in pieces:
            yield Obstacle(name, grown_outline(piece, off), bottom, top)

    # --- candidate lines ---------------------------------------------------------------------

    def space(self) -> Space:
        """Obstacles, and lines along walls, the ceiling and whatever reaches up to the duct."""
        xs, ys = self._wall_lines()
        zs = {self.height - self.radius}
        level = self.head + self.radius
        for obstacle in (*self.walls, *self.standing):
            if obstacle.top <= max(self.head, 0.5 * self.height) or obstacle.level_only:
                continue
            grown = grown_outline(obstacle.outline, self.radius)
            if obstacle in self.standing:
                xs.update((float(grown[:, 0].min()), float(grown[:, 0].max())))
                ys.update((float(grown[:, 1].min()), float(grown[:, 1].max())))
            for z in (obstacle.bottom - self.radius, obstacle.top + self.radius):
                if max(level, self.radius) <= z <= self.height - self.radius:
                    zs.add(z)
        low, high = (
            self.scene.shop.room.floor.points.min(0),
            self.scene.shop.room.floor.points.max(0),
        )
        lines = (
            _spread((x for x in xs if low[0] < x < high[0]), self.size),
            _spread((y for y in ys if low[1] < y < high[1]), self.size),
            _spread(zs, self.size / 2),
        )
        hose = self.find.hose_factor
        return Space(
            self.obstacles, lines, self.radius, Worth(hose=hose), least_leg=2 * BEND * min(
                self.find.sizes)
        )  # fmt: skip

    def _wall_lines(self) -> tuple[set[float], set[float]]:
        xs: set[float] = set()
        ys: set[float] = set()
        measured = self.scene.shop.measurements
        for wall in self.scene.shop.room.walls:
            line = building.frame(wall)
            away = self.radius + max(n.error(measured) for p in (wall.start, wall.end) for n in p)
            for axis, found in ((0, xs), (1, ys)):
                if abs(line.inward[axis]) > 1.0 - 1e-9:
                    found.add(line.origin[axis].value + away * float(line.inward[axis]))
        return xs, ys

    # --- drops -------------------------------------------------------------------------------

    def starts(self, port: Spot) -> tuple[Start, ...]:
        """Where a run may begin that a hose from the port reaches, in its bend and by hand.

        The drop comes down beside the port, a hose's bend above it, or straight over it.
        """
        bend = BEND * self.size
        height = min(max(port[2], self.radius) + bend, self.height - self.radius)
        if height > self.scene.shop.rules.value("gate-height"):
            return ()
        out = []
        for dx, dy in SIDES:
            found = 0
            for away in np.arange(bend, self.find.hose, STEP):
                spot = (port[0] + dx * float(away), port[1] + dy * float(away), height)
                start = self._start(port, spot)
                if start is not None:
                    out.append(start)
                    found += 1
                    if found == 2:
                        break
        over = self._start(port, (port[0], port[1], port[2] + 2**0.5 * bend))
        return (*out, *([] if over is None else [over]))

    def _start(self, port: Spot, spot: Spot) -> Start | None:
        slack = 1.0 + self.scene.shop.rules.value("hose-slack")
        straight = float(np.linalg.norm(np.subtract(spot, port)))
        hose = max(straight * slack, np.pi / 2 * BEND * self.size)
        if hose > self.find.hose + TOLERANCE or not self._drop_is_free(spot):
            return None
        return Start(spot, hose) if self._in_reach(spot) else None

    def _drop_is_free(self, spot: Spot) -> bool:
        """Whether an upright duct can go up from a point to above a person's head."""
        return self.closed_over(spot) is None

    def closed_over(self, spot: Spot) -> str | None:
        """What stands where a drop would come down to a point."""
        top = max(self.head + self.radius, spot[2])
        xs, ys = np.array([spot[0]]), np.array([spot[1]])
        for obstacle, grown in self._grown:
            if obstacle.bottom - self.radius < top and obstacle.top > spot[2] + TOLERANCE:
                low, high = grown.min(axis=0), grown.max(axis=0)
                if (low < spot[:2]).all() and (high > spot[:2]).all():  # noqa: SIM102
                    if float(depth_inside(grown, xs, ys)[0, 0]) > TOLERANCE:
                        return obstacle.name
        return None

    @cached_property
    def _grown(self) -> list[tuple[Obstacle, Array]]:
        return [(o, grown_outline(o.outline, self.radius)) for o in (*self.walls, *self.standing)]

    @cached_property
    def _hand_ground(self) -> shapely.Geometry:
        """Where somebody can stand to work a gate: floor half a metre wide."""
        solids = [
            e.volume.polygon for e in self.scene.of("solid")
            if e.presence.only is None and e.volume.in_band(0.0, 1.0)
        ]  # fmt: skip
        free = self.scene.floor.difference(shapely.union_all(solids))
        return free.buffer(-0.25).buffer(0.25)

    def _in_reach(self, spot: Spot) -> bool:
        reach = self.scene.shop.rules.value("gate-reach")
        return bool(shapely.distance(self._hand_ground, shapely.Point(spot[:2])) <= reach)

    # --- to the collector --------------------------------------------------------------------

    def inlets(self, inlet: CollectorInlet) -> tuple[Inlet, ...]:
        """The collector's inlet with the duct before it, or the ways through a wall to it."""
        end: Spot = tuple(number.value for number in inlet.spot)  # type: ignore[assignment]
        crossing = self.find.crossing
        if crossing is None and not inlet.in_shed:
            return (Inlet(self._before(end, FACES[inlet.faces]), (end,), "collector"),)
        chosen = [crossing] if isinstance(crossing, Crossing) else list(self._crossings(end))
        ways = [self._through(one, inlet, end) for one in chosen]
        return tuple(way for way in ways if way is not None and self._free_outdoors(way))

    def _before(self, end: Spot, faces: tuple[float, ...]) -> Spot:
        """Where the last straight duct before an inlet begins."""
        x, y, z = (p + BEND * self.size * f for p, f in zip(end, faces, strict=True))
        return x, y, z

    def _through(self, crossing: Crossing, inlet: CollectorInlet, end: Spot) -> Inlet | None:
        """From a stub inside through the hole, along the wall's outside, then to the inlet.

        None where the inlet is not behind that wall.
        """
        room = self.scene.shop.room
        line = building.frame(room.wall(crossing.wall))
        along, inward = line.along, line.inward
        face = line.at(crossing.along)
        faces = FACES[inlet.faces]
        if inlet.in_shed and not faces[2]:
            faces = (round(float(inward[0])), round(float(inward[1])), 0)
        before = self._before(end, faces)
        if faces[2] and end[2] < crossing.height.value < before[2]:
            before = (end[0], end[1], crossing.height.value)
        foot = np.array([face[0].value, face[1].value])
        z = crossing.height.value
        stub = BEND * self.size
        goal = np.array(before[:2])
        behind = float((foot - goal) @ inward)
        if behind < room.wall_thickness.value + TOLERANCE:
            return None
        out = max(behind, room.wall_thickness.value + stub)
        corner = foot - out * inward
        side = corner + along * float((goal - corner) @ along)
        inside = foot + stub * inward
        points = [corner, side, goal]
        beyond: list[Spot] = [(float(p[0]), float(p[1]), z) for p in points]
        name = f"{crossing.wall} wall"
        start = (float(inside[0]), float(inside[1]), z)
        return Inlet(start, (*beyond, before, end), name)

    def _free_outdoors(self, way: Inlet) -> bool:
        """Whether duct outdoors meets neither another building nor the room again."""
        shop = self.scene.shop
        path = LineString([spot[:2] for spot in (way.spot, *way.beyond)])
        inside = path.intersection(building.floor_polygon(shop.room))
        if len(getattr(inside, "geoms", [inside])) > 1:
            return False
        site = shop.site
        if site is None:
            return True
        low = min(spot[2] for spot in (way.spot, *way.beyond[:-2])) - self.radius
        met = [b.outline for b in site.buildings if b.height is None or b.height.value > low] + [
            trunk_outline(tree) for tree in site.trees if tree.trunk.value > 0.0
        ]
        return not any(path.distance(Polygon(one.points)) < self.radius for one in met)

    def _crossings(self, before: Spot) -> Iterator[Crossing]:
        """Places for a hole in walls behind which the collector stands, clear of openings.

        To a shed the hole is in one of the walls that the shed's duct may go through, and so low
        that the duct comes in below its roof.
        """
        shop = self.scene.shop
        high = self.height - self.radius
        shed = shed_round(shop, before)
        if shed is not None:
            roof = shed.height.value - shed.height.error(shop.measurements)
            high = min(high, roof - UNDER_ROOF - self.radius)
            level = self.head + self.radius
            if high < level:
                # duct comes down before the wall, by as much as two elbows take
                high = min(high, level - 2 * BEND * self.size)
        for wall in shop.room.walls:
            line = building.frame(wall)
            if abs(line.inward).max() < 1.0 - 1e-9:
                continue
            if shed is not None and shed.walls and wall.name not in shed.walls:
                continue
            foot = np.array([line.origin[0].value, line.origin[1].value])
            if float((np.array(before[:2]) - foot) @ line.inward) >= 0.0:
                continue
            goal = float((np.array(before[:2]) - foot) @ line.along)
            length = line.length.value
            places = {*np.linspace(self.size, length - self.size, CROSSINGS), goal}
            for along in sorted(places):
                if self.radius < along < length - self.radius and self._wall_free(
                    wall, along, high
                ):
                    yield Crossing(wall.name, Affine(float(along)), Affine(high))

    def _wall_free(self, wall: Wall, along: float, height: float) -> bool:
        shop = self.scene.shop
        openings: tuple[Door | Window, ...] = (*shop.doors, *shop.windows)
        for opening in openings:
            start, end = opening.start.value, opening.start.value + opening.width.value
            beside = along + self.radius <= start or along - self.radius >= end
            above = height - self.radius >= opening.head.value
            if opening.wall == wall.name and not beside and not above:
                return False
        return True


def _outline_error(outline: Outline, measured: Mapping[str, Measurement]) -> float:
    """By how much a corner may be off in x or y at most [m]."""
    total = np.zeros(outline.points.shape)
    for name, weights in outline.terms.items():
        if name in measured:
            total += np.abs(weights) * measured[name].error
    return float(total.max()) if total.size else 0.0


def _spread(values: Iterable[float], apart: float) -> tuple[float, ...]:
    """Values in order, those left out that lie nearer than `apart` to one kept [m]."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] >= apart - TOLERANCE:
            kept.append(value)
    return tuple(kept)
