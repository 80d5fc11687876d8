"""Where the centre of a walker may be while a thing stands anywhere in a cell of places.

The centre moves on the ground less everything grown by half a width.  The thing's body swept over
a cell leaves less ground than any single place of the cell does, so what still hangs together
passes for the whole cell; the core that the body covers throughout leaves more, so what falls
apart even then fails for the whole cell.  Circles are polygons, circumscribed to prove a way and
inscribed to refute one, with flats along x and y: gaps between upright faces are exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, pi

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.ground import door_edges, goal, open_ground, ways_out
from floorplan.geometry.affine import Array
from floorplan.geometry.convex import convex_pieces, tidy
from floorplan.geometry.pieces import Piece
from floorplan.search.subject import Subject
from floorplan.shop import building
from floorplan.shop.model import Shop
from floorplan.shop.scene import Element
from floorplan.units import TOLERANCE

CHORDS = 24
"""Sides of the polygon that stands for a circle."""
HAIR = 0.4 * TOLERANCE
"""What is kept off each side of the needed width, since exactly that width passes [m]."""
RIM = 2 * TOLERANCE
"""A refuted cell is refuted up to this from its edges [m]."""
Geometries = NDArray[np.object_]
Flags = NDArray[np.bool_]
Moment = tuple[str, ...]
"""Tasks that go on at one time, the one that is looked at first."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where somebody stands, as convex outlines."""

    owner: str
    outlines: tuple[Array, ...]
    """In the room, or from the reference point of the thing [m]."""
    area: BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """Moments that leave the same solids standing: what there is without the thing."""

    moments: tuple[Moment, ...]
    sure: BaseGeometry
    """From here one surely gets out."""
    hoped: BaseGeometry
    """From nowhere else one gets out."""
    places: tuple[Place, ...]
    """Subject places of the others that have a way out while the thing is gone."""
    lost: tuple[Place, ...]
    """Those of which that is not sure."""
    edges: Array
    """(k, 4) bounds of what the walker's centre keeps out of [m]."""


class WaysOut:
    """The ways out of everybody while one thing is to be placed, at one accuracy."""

    def __init__(self, subject: Subject) -> None:
        shop = subject.shop
        rule = shop.rules["way-out-width"]
        self.subject = subject
        self.goal = goal(shop)
        self.tall = shop.rules.value("way-out-height")
        self.floor = building.floor_polygon(shop.room)
        # exactly the needed width passes, so each side of the limit keeps off it by a hair
        self.wide = rule.value / 2 - HAIR
        self.narrow = rule.value / 2 - 1.5 * HAIR
        self.circle = circumscribed(self.wide)
        is_checked = bool(ways_out(shop)) and not rule.off and rule.kind == "required"
        self.walks = tuple(self._walk(moments) for moments in self._moments()) if is_checked else ()

    def _moments(self) -> list[tuple[Moment, ...]]:
        """Each task, and each with one that goes on together with it; alike ones in one group."""
        tasks = self.subject.shop.tasks
        every: list[Moment] = [(task.name,) for task in tasks]
        for task in tasks:
            others = {*task.together_with, *(t.name for t in tasks if task.name in t.together_with)}
            every += [(task.name, other) for other in sorted(others)]
        solids = [
            label.element.presence
            for label in self.subject.labels
            if label.element.nature == "solid" and label.element.owner not in self.subject.walls
        ]
        groups: dict[tuple[bool, ...], list[Moment]] = {}
        for moment in every:
            groups.setdefault(tuple(p.during(*moment) for p in solids), []).append(moment)
        return [tuple(moments) for moments in groups.values()]

    def _in_way(self, piece: Piece, moment: Moment) -> bool:
        label = self.subject.labels[piece.label]
        element = label.element
        return (
            element.nature == "solid"
            and not label.limit_of
            and not label.gap_of
            and element.owner not in self.subject.walls
            and element.presence.during(*moment)
            and min(piece.top, self.tall) - max(piece.bottom, 0.0) > TOLERANCE
        )

    def solids(self, pieces: Sequence[Piece], moments: Sequence[Moment]) -> list[Array]:
        """Outlines of solids in a walker's way in some moments that all leave the same ones."""
        return [p.outline for p in pieces if self._in_way(p, moments[0])]

    def places(self, pieces: Sequence[Piece], moments: Sequence[Moment]) -> list[Place]:
        """Subject places of some tasks."""
        found: dict[int, Place] = {}
        for piece in pieces:
            element = self.subject.labels[piece.label].element
            only = element.presence.only
            if (
                element.nature == "zone"
                and element.purpose in ("stand", "push")
                and only is not None
                and any(m[0] in only and element.presence.during(m[0]) for m in moments)
            ):
                found[piece.label] = self._place(element)
        return list(found.values())

    def _place(self, element: Element) -> Place:
        """Where somebody stands; with a reserve what of it is there whatever the tape is off."""
        volume = element.volume
        off = volume.outline.error(self.subject.shop.measurements)
        if not self.subject.demands.reserve or off == 0.0:
            return Place(element.owner, volume.pieces, volume.polygon)
        area = volume.polygon.buffer(-off, join_style="mitre")
        outlines = tuple(o for part in shapely.get_parts(area) for o in convex_pieces(part))
        return Place(element.owner, outlines if area.area > 0.0 else (), area)

    def _walk(self, moments: tuple[Moment, ...]) -> Walk:
        shop, rest = self.subject.shop, self.subject.rest
        ground = open_ground(shop)
        outer, inner = complement(ground), self.solids(rest, moments)
        off = wall_error(shop) if self.subject.demands.reserve else 0.0
        walls = circumscribed(self.wide + off)
        whole = shapely.box(*ground.bounds)
        grown = [*(hull_sum(o, walls) for o in outer), *(hull_sum(o, self.circle) for o in inner)]
        least = shapely.buffer(
            np.array([Polygon(o) for o in (*outer, *inner)], dtype=object),
            self.narrow,
            quad_segs=CHORDS // 4,
        )
        sure = self._leading_out(whole.difference(shapely.union_all(grown)))
        hoped = self._leading_out(whole.difference(shapely.union_all(least)))
        shapely.prepare(sure)
        every = [self._on_floor(place) for place in self.places(rest, moments)]
        safe = [bool(shapely.intersects(sure, place.area)) for place in every]
        return Walk(
            moments,
            sure,
            hoped,
            tuple(p for p, is_safe in zip(every, safe, strict=True) if is_safe),
            tuple(p for p, is_safe in zip(every, safe, strict=True) if not is_safe),
            shapely.bounds(np.array(grown, dtype=object)).reshape(-1, 4),
        )

    def _on_floor(self, place: Place) -> Place:
        """As much of a place as lies in the room: nobody stands in a wall or in a doorway."""
        return Place(place.owner, place.outlines, place.area.intersection(self.floor))

    def _leading_out(self, space: BaseGeometry) -> BaseGeometry:
        parts = shapely.get_parts(space)
        return shapely.union_all(parts[shapely.intersects(parts, self.goal)])


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """One walk with the thing at one turn: asks whole cells of places."""

    ways: WaysOut
    walk: Walk
    solids: tuple[Array, ...]
    """Outlines of the thing in a walker's way, from its reference point."""
    own: tuple[Place, ...]
    """Its standing places, likewise."""
    others: tuple[Place, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Whose way out is looked at."""
        return tuple(p.owner for p in (*self.others, *self.own))

    def passes(self, cells: Array) -> Flags:
        """(k,) whether everybody surely has a way out, wherever in each cell (k, 4) it stands."""
        circle = self.ways.circle
        grown = [swept(hull_sum_points(o, circle), cells) for o in self.solids]
        parts, at = self._left(self.walk.sure, grown, len(cells))
        good = np.ones(len(cells), dtype=np.bool_)
        for place in self.others:
            good &= _any(shapely.intersects(parts, place.area), at, len(cells))
        for place in self.own:
            met = np.zeros(len(cells), dtype=np.bool_)
            for outline in place.outlines:
                inside = shapely.intersection(core(outline, cells), self.ways.floor)
                met |= _any(shapely.intersects(parts, inside[at]), at, len(cells))
            good &= met
        return good

    def doubted(self, cell: Array) -> tuple[str, ...]:
        """Whose way out is not sure wherever in one cell (1, 4) the thing stands."""
        singly = [replace(self, others=(place,), own=()) for place in self.others]
        singly += [replace(self, others=(), own=(place,)) for place in self.own]
        return tuple(
            place.owner
            for trial, place in zip(singly, (*self.others, *self.own), strict=True)
            if not trial.passes(cell)[0]
        )

    def fails(self, cells: Array) -> NDArray[np.intp]:
        """(k,) which of `names` surely has no way out wherever in each cell it stands, or -1."""
        inset = np.concatenate(
            [
                np.minimum(cells[:, :2] + RIM, cells[:, :2] / 2 + cells[:, 2:] / 2),
                np.maximum(cells[:, 2:] - RIM, cells[:, :2] / 2 + cells[:, 2:] / 2),
            ],
            axis=1,
        )
        least = [
            shapely.buffer(core(o, inset), self.ways.narrow, quad_segs=CHORDS // 4)
            for o in self.solids
        ]
        parts, at = self._left(self.walk.hoped, least, len(cells))
        blocked = np.full(len(cells), -1, dtype=np.intp)
        for number, place in enumerate((*self.others, *self.own)):
            met = np.zeros(len(cells), dtype=np.bool_)
            if number < len(self.others):
                met |= _any(shapely.intersects(parts, place.area), at, len(cells))
            else:
                for outline in place.outlines:
                    # nobody stands in a wall or beyond a door
                    reach = shapely.intersection(swept(outline, cells), self.ways.floor)
                    met |= _any(shapely.intersects(parts, reach[at]), at, len(cells))
            blocked[~met & (blocked < 0)] = number
        return blocked

    def _left(
        self, space: BaseGeometry, bodies: list[Geometries], count: int
    ) -> tuple[Geometries, NDArray[np.intp]]:
        """Parts of a space that still lead out around each of `count` bodies, and which body's."""
        left = np.full(count, space, dtype=object)
        for body in bodies:
            left = shapely.difference(left, body)
        parts, at = shapely.get_parts(left, return_index=True)
        out = shapely.intersects(parts, self.ways.goal)
        return parts[out], at[out]

    def critical(self) -> tuple[Array, Array]:
        """Coordinates of the reference point at which something upright begins to block."""
        # where exactly the needed width is left, a hair inside what is proved to pass
        wide, hair = self.ways.wide + HAIR, np.array([-HAIR, -HAIR, HAIR, HAIR])
        theirs = self.walk.edges + hair
        bounds = [np.concatenate([o.min(axis=0) - wide, o.max(axis=0) + wide]) for o in self.solids]
        stands = [np.array(p.area.bounds) for p in self.others]
        reach = [
            np.concatenate([o.min(axis=0), o.max(axis=0)]) for p in self.own for o in p.outlines
        ]
        pairs = [(theirs, b) for b in (*bounds, *reach)]
        pairs += [(np.array(stands), b) for b in bounds if stands]
        found: list[Array] = []
        for axis in (0, 1):
            at = [np.empty(0)]
            for there, mine in pairs:
                at += [there[:, axis] - mine[axis + 2], there[:, axis + 2] - mine[axis]]
            found.append(np.unique(np.round(np.concatenate(at), 7)))
        return found[0], found[1]


# --- shapes --------------------------------------------------------------------------------


def circumscribed(radius: float) -> Array:
    """(CHORDS, 2) a polygon round a circle that touches it on its axes."""
    angle = (np.arange(CHORDS) + 0.5) * 2 * pi / CHORDS
    reach = radius / cos(pi / CHORDS)
    return np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])


def hull_sum_points(a: Array, b: Array) -> Array:
    """Corners of the sum of two convex outlines."""
    hull = hull_sum(a, b)
    return tidy(shapely.get_coordinates(hull)[:-1])


def hull_sum(a: Array, b: Array) -> BaseGeometry:
    """Sum of two convex outlines."""
    return shapely.convex_hull(shapely.multipoints((a[:, None] + b[None]).reshape(-1, 2)))


def corners_of(cells: Array) -> Array:
    """(k, 4, 2) corners of cells (k, 4)."""
    return np.asarray(cells[:, [[0, 1], [2, 1], [2, 3], [0, 3]]])


def swept(outline: Array, cells: Array) -> Geometries:
    """(k,) what a convex outline covers somewhere in each cell of places."""
    if not _is_flat_sided(outline):
        points = (corners_of(cells)[:, :, None, :] + outline[None, None]).reshape(len(cells), -1, 2)
        index = np.repeat(np.arange(len(cells)), points.shape[1])
        clouds = shapely.multipoints(points.reshape(-1, 2), indices=index)
        return np.asarray(shapely.convex_hull(clouds), dtype=object)
    # with a side towards each of x and y every corner is carried by one corner of the cell
    ahead = np.roll(outline, -1, axis=0) - np.roll(outline, 1, axis=0)
    east, north = ahead[:, 1] > 0, ahead[:, 0] < 0
    x = np.where(east, cells[:, 2:3], cells[:, 0:1])
    y = np.where(north, cells[:, 3:4], cells[:, 1:2])
    return np.asarray(shapely.polygons(outline + np.stack([x, y], axis=2)), dtype=object)


def core(outline: Array, cells: Array) -> Geometries:
    """(k,) what a convex outline covers everywhere in each cell of places."""
    if len(outline) == 4 and _is_flat_sided(outline):
        low, high = outline.min(axis=0) + cells[:, 2:], outline.max(axis=0) + cells[:, :2]
        boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        boxes[np.any(low >= high, axis=1)] = Polygon()
        return np.asarray(boxes, dtype=object)
    at = corners_of(cells)
    kept = shapely.polygons(at[:, 0, None, :] + outline[None])
    for corner in (1, 2, 3):
        kept = shapely.intersection(kept, shapely.polygons(at[:, corner, None, :] + outline[None]))
    return np.asarray(kept, dtype=object)


def _is_flat_sided(outline: Array) -> bool:
    """Whether a convex counter-clockwise outline has a side towards each of x and y, both ways."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    touching = [np.abs(outline - side) < 1e-9 for side in (low, high)]
    return bool(all((on.sum(axis=0) == 2).all() for on in touching))


def complement(ground: BaseGeometry) -> list[Array]:
    """Convex outlines of what surrounds the ground."""
    frame = shapely.box(*ground.bounds).buffer(1.0, join_style="mitre")
    outside = frame.difference(ground)
    return [o for part in shapely.get_parts(outside) for o in convex_pieces(part)]


def wall_error(shop: Shop) -> float:
    """How far walls and jambs may be off [m]."""
    errors = shop.measurements
    worst = 0.0
    for element in door_edges(shop):
        outline = element.volume.outline
        for i in range(len(outline.points)):
            x, y = outline.vertex(i)
            ends = (x.error(errors), y.error(errors))
            steps = np.abs(outline.points[i] - outline.points[i - 1])
            upright = float(steps.min()) < 1e-9
            worst = max(worst, max(ends) if upright else sum(ends))
    return worst


def _any(flags: Flags, at: NDArray[np.intp], count: int) -> Flags:
    found = np.zeros(count, dtype=np.bool_)
    found[at[flags]] = True
    return found
