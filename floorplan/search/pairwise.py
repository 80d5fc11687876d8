"""Where a thing can stand at one turn as far as rules between pairs and links go: exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.motion.free import FreeRegion, free_region
from floorplan.search.free_line import free_on_line
from floorplan.search.limits import areas
from floorplan.search.link_limits import LinkLimit, link_limits
from floorplan.search.subject import Combination, Subject
from floorplan.shop.building import floor_polygon
from floorplan.shop.model import Pose
from floorplan.shop.scene import frame_of
from floorplan.units import TOLERANCE

_Kind = TypeVar("_Kind", bound=BaseGeometry)


@dataclass(frozen=True, slots=True, eq=False)
class Pairwise:
    """What the rules between pairs leave at one turn."""

    area: MultiPolygon
    segments: tuple[LineString, ...]
    points: tuple[Point, ...]
    free: tuple[tuple[Combination, FreeRegion], ...]
    links: tuple[LinkLimit, ...]
    room: BaseGeometry

    @property
    def places(self) -> BaseGeometry:
        """Areas, lines and points in one."""
        return GeometryCollection([*self.area.geoms, *self.segments, *self.points])


def pairwise_spots(
    subject: Subject, turn: float, *, within: BaseGeometry | None = None, slots: bool = True
) -> Pairwise:
    """Places, all or those `within` a shape, where nothing overlaps and all links hold.

    Without `slots` places that have no play are looked for only where none have any.
    """
    room = _inner_fit(subject, turn)
    links = link_limits(subject, turn, room)
    left: BaseGeometry = room if within is None else room.intersection(within)
    for link in links:
        left = left.intersection(link.region)
    track = _track(subject, turn)
    if track is not None:
        left = left.intersection(track)
    found: list[BaseGeometry] = []
    lines: list[LineString] = []
    points: list[Point] = []
    free = []
    for made in subject.combinations(turn):
        conflict = subject.conflicts(made.own)
        for part in shapely.get_parts(left):
            if isinstance(part, Polygon):
                region = free_region(made.own, made.rest, conflict, limits=part, slots=slots)
                free.append((made, region))
                found.append(region.area)
                lines += region.segments
                points += region.points
            else:
                on_line = free_on_line(made.own, made.rest, conflict, part)
                lines += on_line[0]
                points += on_line[1]
    area = areas(shapely.union_all(found))
    area = MultiPolygon([p for p in area.geoms if _is_inside(subject, turn, p)])
    near = area.buffer(3 * TOLERANCE)
    return Pairwise(
        area,
        tuple(s for s in _unlike(lines) if not near.covers(s) and _is_inside(subject, turn, s)),
        tuple(p for p in _unlike(points) if not near.covers(p) and _is_inside(subject, turn, p)),
        tuple(free),
        links,
        room,
    )


def _inner_fit(subject: Subject, turn: float) -> BaseGeometry:
    """Where the reference point may be with the body inside the box round the room."""
    floor = subject.shop.room.floor.points
    low = floor.min(axis=0)
    high = floor.max(axis=0) - np.ptp(subject.lead.body.turned(turn).points, axis=0)
    if np.any(high < low - TOLERANCE):
        return Polygon()
    high = np.where(high < low + TOLERANCE, low, high)
    flat = high <= low
    if flat.all():
        return Point(low)
    return LineString([low, high]) if flat.any() else shapely.box(*low, *high)


def _is_inside(subject: Subject, turn: float, places: BaseGeometry) -> bool:
    """Whether the body lies in the room and not beyond a corner, where no wall would stop it."""
    at = places.representative_point()
    body = frame_of(subject.lead, Pose.at(at.x, at.y, turn)).place(subject.lead.body)
    middle = Polygon(body.points).representative_point()
    return bool(floor_polygon(subject.shop.room).intersects(middle))


def _track(subject: Subject, turn: float) -> BaseGeometry | None:
    """The line or area that a thing's freedom keeps its reference point to."""
    freedom = subject.lead.freedom
    if freedom.along in subject.passed_over:
        return None  # it is pushed against that wall already
    if freedom.along is None or turn not in subject.turns(subject.lead):
        return None
    within = subject._within(subject.lead, turn)
    if within is None:
        return None
    ends = np.asarray(within).reshape(2, 2)
    return LineString(ends) if np.ptp(ends, axis=0).max() > TOLERANCE else Point(ends[0])


def _unlike(shapes: Sequence[_Kind]) -> list[_Kind]:
    """Each line or point once."""
    kept: list[_Kind] = []
    for shape in sorted(shapes, key=lambda s: -s.length):
        if not any(other.buffer(3 * TOLERANCE).covers(shape) for other in kept):
            kept.append(shape)
    return kept
