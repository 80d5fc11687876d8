"""A thing as it is moved across the floor: its outline with whoever moves it, and its heights."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import radians

import numpy as np
from shapely.geometry import MultiPoint, Polygon

from floorplan.geometry.affine import ZERO, Affine, Array, Outline, affine, greater, smaller
from floorplan.geometry.convex import convex_pieces
from floorplan.motion.carry import Body
from floorplan.motion.carry import Pose as MotionPose
from floorplan.motion.turning import Corners, convex_hull
from floorplan.shop.model import SIDES, Pose, Shop, Side, Thing
from floorplan.shop.scene import frame_of

Band = tuple[Affine, Affine]
"""Lowest and highest point [m]."""


_LAP = 0.001  # so that the mover's room and the thing are one plan [m]


@dataclass(frozen=True, slots=True)
class Mover:
    """Where whoever moves a thing is beside it: at a side, in its middle or flush with an end."""

    side: Side
    along: int = 0
    """0 in the middle; at turn 0 -1 flush with the west or south end, 1 with the other one."""


@dataclass(frozen=True, slots=True, eq=False)
class Mobile:
    """The plan of a thing about its middle, at turn 0.

    `hull` holds all its solids, so where that passes the thing does; `core` lies within its main
    body, so where that does not pass the thing does not either.
    """

    thing: Thing
    middle: tuple[float, float]
    """Of the core, local to the thing [m]."""
    hull: Array
    """(n, 2) convex, about the middle [m]."""
    core: Array
    """(n, 2) convex, about the middle [m]."""
    mover: tuple[float, float]
    """Width and depth of the room of whoever moves it; depth 0: nobody's is asked for [m]."""
    band: Band
    core_band: Band
    person: Band
    error: float
    """Farthest that a side may be from where it is drawn [m]."""

    @property
    def movers(self) -> tuple[Mover | None, ...]:
        """Where whoever moves it may be; None alone where nobody's room is asked for."""
        return tuple(Mover(side) for side in SIDES) if self.mover[1] > 0.0 else (None,)

    @property
    def half_width(self) -> float:
        """Half of the least width of the core [m]."""
        xs = np.vstack([self.core, self.core[:1]])
        edges = np.diff(xs, axis=0)
        normals = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(*edges.T)[:, None]
        reach = self.core @ normals.T
        return float((reach.max(axis=0) - reach.min(axis=0)).min()) / 2

    def bands(self, mover: Mover | None) -> tuple[Band, ...]:
        """Heights that are taken when somebody is at a side, or nobody."""
        return (self.band,) if mover is None else (self.band, self.person)

    def body(self, mover: Mover | None, grown: float = 0.0) -> Body:
        """Everything that moves, with somebody at a side, every edge `grown` outwards [m]."""
        outlines = [self.hull, *([] if mover is None else [self._room(mover)])]
        first, *beside = (_corners(_grown(outline, grown)) for outline in outlines)
        return Body(first, half_turn=False, beside=tuple(beside))

    def least(self, shrunk: float = 0.0) -> Body:
        """What surely moves, every edge `shrunk` inwards [m]."""
        body = _body(self.core)
        return body.inset(shrunk) if shrunk > 0.0 else body

    def pose(self, pose: Pose) -> MotionPose:
        """Where its middle is when it stands at a pose."""
        x, y = frame_of(self.thing, pose).point(*self.middle)
        return MotionPose(x.value, y.value, radians(pose.turn))

    def standing(self, at: MotionPose, turn: float) -> Pose:
        """The pose at which its middle is at a place; `turn` is that place's angle [deg]."""
        frame = frame_of(self.thing, Pose.at(0.0, 0.0, turn))
        x, y = frame.point(*self.middle)
        return Pose.at(at.x - x.value, at.y - y.value, turn)

    def _room(self, mover: Mover) -> Array:
        """Corners of the mover's room at a side of the main body [m]."""
        body = self.thing.body.points - np.array(self.middle)
        (west, south), (east, north) = body.min(axis=0), body.max(axis=0)
        half, deep = self.mover[0] / 2, self.mover[1]
        x = (west + east) / 2 + mover.along * ((east - west) / 2 - half)
        y = (south + north) / 2 + mover.along * ((north - south) / 2 - half)
        low, high = {
            "front": ((x - half, south - deep), (x + half, south + _LAP)),
            "back": ((x - half, north - _LAP), (x + half, north + deep)),
            "left": ((west - deep, y - half), (west + _LAP, y + half)),
            "right": ((east - _LAP, y - half), (east + deep, y + half)),
        }[mover.side]
        return np.array([low, (high[0], low[1]), high, (low[0], high[1])])


def mobile_of(shop: Shop, thing: Thing) -> Mobile:
    """How a thing is moved; what is there in some tasks only is taken off or shut meanwhile."""
    solids = list(_solids(thing))
    core = max(convex_pieces(Polygon(thing.body.points)), key=lambda piece: Polygon(piece).area)
    middle = np.asarray(Polygon(core).centroid.coords[0])
    low, high = solids[0][1], solids[0][2]
    for _, bottom, top in solids[1:]:
        low, high = smaller(low, bottom), greater(high, top)
    rules = shop.rules
    return Mobile(
        thing=thing,
        middle=(float(middle[0]), float(middle[1])),
        hull=np.asarray(
            MultiPoint(np.vstack([o.points for o, _, _ in solids])).convex_hull.exterior.coords
        )[:-1]
        - middle,
        core=np.asarray(core) - middle,
        mover=(rules.value("body-width"), rules.value("mover-room")),
        band=(low, high),
        core_band=(thing.bottom, thing.height),
        person=(ZERO, affine(rules.value("person-height"))),
        error=max(outline.error(shop.measurements) for outline, _, _ in solids),
    )


def _solids(thing: Thing) -> Iterator[tuple[Outline, Affine, Affine]]:
    yield thing.body, thing.bottom, thing.height
    for part in thing.parts:
        if part.only_in is None:
            yield part.outline, part.bottom, part.top


def _grown(outline: Array, by: float) -> Array:
    """A convex outline (n, 2) with every edge moved outwards [m]."""
    if by <= 0.0:
        return outline
    return np.asarray(Polygon(outline).buffer(by, join_style="mitre").exterior.coords)[:-1]


def _corners(outline: Array) -> Corners:
    return tuple((float(x), float(y)) for x, y in convex_hull(outline))


def _body(outline: Array) -> Body:
    """An outline whose front matters: half a turn round it is another pose."""
    return Body(_corners(outline), half_turn=False)
