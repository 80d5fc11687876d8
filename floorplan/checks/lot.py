"""How far a shed stands from each line of the lot, with what the distance depends on.

The distance to a line is the shortest one. Where the lot has a corner that points outwards, the
line is taken to go on beyond it by as much as its setback reaches there, at most by the setback
itself, as a surveyor draws the setback parallel to the line until it meets the next one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, tan

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from floorplan.geometry.affine import Affine, Array, Outline
from floorplan.geometry.affine import Point as AffinePoint
from floorplan.shop.site import LotLine, Site
from floorplan.units import TOLERANCE

_NEAR = 1e-6
"""Points nearer than this to a line's nearest one are as near [m]."""
_FAR = 1000.0
"""Beyond every lot [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """A lot line with as much as it goes on beyond its corners."""

    line: LotLine
    before: float
    """Beyond its start [m]."""
    after: float
    """Beyond its end [m]."""
    land: Polygon
    """The lot."""

    @property
    def ends(self) -> Array:
        """Both ends (2, 2) [m]."""
        a, b, unit = self._corners()
        return np.array([a - unit * self.before, b + unit * self.after])

    def _corners(self) -> tuple[Array, Array, Array]:
        a, b = (np.array([p[0].value, p[1].value]) for p in (self.line.start, self.line.end))
        step = b - a
        return a, b, step / float(np.hypot(*step))

    @property
    def inward(self) -> Array:
        """Unit vector into the lot."""
        unit = self._corners()[2]
        return np.array([-unit[1], unit[0]])

    def at(self, point: Array) -> AffinePoint:
        """The foot of a point on the line, with the sensitivities of the line's corners [m]."""
        a, b, unit = self._corners()
        length = float(np.hypot(*(b - a)))
        along = float((point - a) @ unit)
        share = min(max(along, -self.before), length + self.after) / length
        start, end = self.line.start, self.line.end
        return (
            start[0] * (1.0 - share) + end[0] * share,
            start[1] * (1.0 - share) + end[1] * share,
        )


def reaches(site: Site) -> tuple[Reach, ...]:
    """Every lot line with its reach, in order."""
    lines, land, out = site.lines, Polygon(site.lot.points), []
    for i, line in enumerate(lines):
        before = _beyond(lines[i - 1], line, line.setback or 0.0)
        after = _beyond(line, lines[(i + 1) % len(lines)], line.setback or 0.0)
        out.append(Reach(line, before, after, land))
    return tuple(out)


def _beyond(first: LotLine, second: LotLine, setback: float) -> float:
    """How far a setback reaches beyond the corner between two lines [m]."""
    one, two = (
        np.array([e[0].value - s[0].value, e[1].value - s[1].value])
        for s, e in ((first.start, first.end), (second.start, second.end))
    )
    turn = float(np.arctan2(one[0] * two[1] - one[1] * two[0], one @ two))
    if not 0.0 < turn < pi / 2:
        # an inward corner, or one so sharp that nothing of the lot lies beyond it
        return 0.0
    return min(setback / tan(turn), setback)


@dataclass(frozen=True, slots=True, eq=False)
class LineDistance:
    """How far an outline stands from a lot line."""

    reach: Reach
    distance: Affine
    """[m], negative where it reaches over the line."""
    place: LineString
    """From the outline to the line."""


def distance_to(outline: Outline, reach: Reach) -> LineDistance:
    """Distance of a convex outline from a lot line."""
    polygon, segment = Polygon(outline.points), LineString(reach.ends)
    apart = polygon.distance(segment)
    if apart > _NEAR:
        joint = np.asarray(shapely.shortest_line(polygon, segment).coords)
        inside = float((joint[0] - joint[1]) @ reach.inward) > 0.0
        if inside or not _is_within(reach, joint[1]) or _covers(reach.land, polygon):
            return _parted(outline, reach, joint, apart)
    return _over(outline, reach)


def _covers(land: Polygon, polygon: Polygon) -> bool:
    """Whether a shed lies on the lot, touching its lines at most."""
    return bool(polygon.difference(land).area <= TOLERANCE**2)


def _is_within(reach: Reach, point: Array) -> bool:
    """Whether a point lies on the line and not at one of its ends."""
    return bool(min(float(np.hypot(*(point - end))) for end in reach.ends) > _NEAR)


def _parted(outline: Outline, reach: Reach, joint: Array, apart: float) -> LineDistance:
    """The distance of an outline on the inner side, or beside an end, where it is least sure."""
    ways = [joint]
    for vertex in outline.points:
        foot = np.array([number.value for number in reach.at(vertex)])
        if float(np.hypot(*(vertex - foot))) < apart + _NEAR:
            ways.append(np.array([vertex, foot]))
    for end in reach.ends:
        near = np.array([number.value for number in outline.nearest(end)])
        if float(np.hypot(*(near - end))) < apart + _NEAR:
            ways.append(np.array([near, end]))
    found = [_along(outline, reach, way) for way in ways]
    distance = max(found, key=lambda number: sum(abs(w) for w in number.terms.values()))
    return LineDistance(reach, Affine(apart, distance.terms), LineString(joint))


def _along(outline: Outline, reach: Reach, way: Array) -> Affine:
    step = way[0] - way[1]
    x, y = step / float(hypot(*step))
    p, q = outline.nearest(way[0]), reach.at(way[1])
    return (p[0] - q[0]) * float(x) + (p[1] - q[1]) * float(y)


def _over(outline: Outline, reach: Reach) -> LineDistance:
    """How far an outline reaches over a line: told where it is out farthest beside the line."""
    start, end = reach.ends
    normal = reach.inward
    beside = Polygon([start, end, end - normal * _FAR, start - normal * _FAR])
    part = Polygon(outline.points).intersection(beside)
    out = shapely.get_coordinates(part) if not part.is_empty else outline.points
    vertex = out[int(np.argmin((out - start) @ normal))]
    x, y = outline.nearest(vertex)
    foot = reach.at(vertex)
    signed = (x - foot[0]) * float(normal[0]) + (y - foot[1]) * float(normal[1])
    height = float((vertex - start) @ normal)
    place = LineString([vertex, vertex - normal * height])
    return LineDistance(reach, Affine(height, signed.terms), place)


def line_distances(site: Site, outline: Outline) -> tuple[LineDistance, ...]:
    """Distances of a convex outline from every lot line, in order.

    What lies off the lot altogether, beyond a corner, is on the inner side of no line's own
    stretch; then the nearest line tells how far off it is.
    """
    found = [distance_to(outline, reach) for reach in reaches(site)]
    nearest = min(range(len(found)), key=lambda i: found[i].distance.value)
    if found[nearest].distance.value > 0.0 and not _covers(
        found[nearest].reach.land, Polygon(outline.points)
    ):
        row = found[nearest]
        found[nearest] = LineDistance(row.reach, -row.distance, row.place)
    return tuple(found)


def nearest_line(site: Site, outline: Outline) -> LineDistance:
    """The line that is nearest, or reached over farthest."""
    return min(line_distances(site, outline), key=lambda row: row.distance.value)


def keeps_off(outline: Outline, x: Affine, y: Affine) -> tuple[Affine, LineString]:
    """Distance of an outline from a point, and the line between them; negative within [m]."""
    point = np.array([x.value, y.value])
    p = outline.nearest(point)
    near = np.array([p[0].value, p[1].value])
    step = near - point
    length = float(hypot(*step))
    joint = LineString([near, point])
    if length < _NEAR:
        return Affine(0.0, (p[0] - x + (p[1] - y)).terms), joint
    inside = Polygon(outline.points).contains(Point(point))
    unit = step / length
    signed = (p[0] - x) * float(unit[0]) + (p[1] - y) * float(unit[1])
    return (-signed if inside else signed), joint
