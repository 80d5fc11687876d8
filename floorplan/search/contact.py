"""Places at which a thing is pushed against a wall: contact is declared and carries no error.

Between the thing and that wall all is judged as drawn; from everything else it is as far as the
wall and its own size say, whatever the tape may be off.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from floorplan.geometry.affine import ZERO, Affine
from floorplan.search.pairwise import pairwise_spots
from floorplan.search.subject import Subject
from floorplan.shop import building
from floorplan.shop.model import Layout, Pose
from floorplan.units import TOLERANCE


@dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """Places against one wall, or in the corner of two."""

    walls: tuple[str, ...]
    places: BaseGeometry
    """Lines or points of the reference point [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """The line on which the reference point lies while the thing touches a wall along x or y."""

    wall: str
    axis: int
    """0 where the wall fixes x, 1 where it fixes y."""
    at: Affine
    """[m]"""


def faces(subject: Subject, turn: float) -> Iterator[Face]:
    """Every upright or level wall that the thing can be pushed against at a turn."""
    thing = subject.lead
    body = thing.body.turned(turn)
    low = subject.shop.room.floor.points.min(axis=0)
    high = subject.shop.room.floor.points.max(axis=0)
    for wall in subject.shop.room.walls:
        line = building.frame(wall)
        for axis in (0, 1):
            inward = float(line.inward[axis])
            if abs(abs(inward) - 1.0) > 1e-9:
                continue
            extent = body.highest(axis) - body.lowest(axis)
            face = line.origin[axis]
            at = face + thing.overhang if inward > 0 else face - thing.overhang - extent
            # the same number to the last digit as where the room ends
            for end in (float(low[axis]), float(high[axis] - np.ptp(body.points[:, axis]))):
                at = Affine(end, at.terms) if abs(at.value - end) < 1e-9 else at
            if low[axis] - TOLERANCE <= at.value <= high[axis] + TOLERANCE:
                yield Face(wall.name, axis, at)


def touching(
    sure: Subject, drawn: Subject, turn: float, known: BaseGeometry
) -> Iterator[tuple[Subject, Contact]]:
    """Places against walls as far as rules between pairs go, `known` ones left out.

    With each comes the thing as it stands there, to ask for ways out with.
    """
    if len(sure.names) > 1:
        return
    every = list(faces(sure, turn))
    near = known.buffer(3 * TOLERANCE)
    groups: list[tuple[Face, ...]] = [(face,) for face in every]
    groups += [pair for pair in combinations(every, 2) if pair[0].axis != pair[1].axis]
    for group in groups:
        leaning = _leaning(sure, group)
        places = _pushed(leaning, drawn, group, turn, _line(sure, group))
        left = places.difference(near)
        if not left.is_empty:
            near = shapely.union_all([near, places.buffer(3 * TOLERANCE)])
            yield leaning, Contact(tuple(face.wall for face in group), left)


def _leaning(sure: Subject, group: Sequence[Face]) -> Subject:
    """The thing with the errors of the walls that it touches, which are left to be judged apart."""
    made = copy.copy(sure)
    lean = [ZERO, ZERO]
    for face in group:
        lean[face.axis] = Affine(0.0, face.at.terms)
    made.lean = (lean[0], lean[1])
    made.labels = list(made.labels)
    made.passed_over = frozenset(face.wall for face in group)
    made.forget()
    return made


def _line(subject: Subject, group: Sequence[Face]) -> BaseGeometry:
    """Where the reference point is while the thing touches one wall or two."""
    low = subject.shop.room.floor.points.min(axis=0)
    high = subject.shop.room.floor.points.max(axis=0)
    for face in group:
        low[face.axis] = high[face.axis] = face.at.value
    return Point(low) if len(group) > 1 else LineString([low, high])


def _pushed(
    leaning: Subject, drawn: Subject, group: Sequence[Face], turn: float, line: BaseGeometry
) -> BaseGeometry:
    places = _flat(pairwise_spots(leaning, turn, within=line).places)
    if places.is_empty:
        return places
    alone = copy.copy(drawn)
    alone.labels = list(drawn.labels)
    every = {label.element.owner for label in drawn.labels}
    alone.passed_over = frozenset(every - {face.wall for face in group})
    alone.forget()
    return _flat(pairwise_spots(alone, turn, within=places).places)


def _flat(shape: BaseGeometry) -> BaseGeometry:
    return shapely.union_all(shapely.get_parts(shapely.get_parts(shape)))


def leaning_layout(
    subject: Subject, walls: Sequence[str], x: float, y: float, turn: float
) -> Layout:
    """The layout with the thing at a place, pushed against walls [m, m, deg]."""
    terms = [ZERO.terms, ZERO.terms]
    for face in faces(subject, turn):
        if face.wall in walls:
            terms[face.axis] = face.at.terms
    pose = Pose(Affine(x, terms[0]), Affine(y, terms[1]), turn % 360.0)
    return subject.layout.with_pose(subject.lead.name, pose)
