"""Where the links of a thing hold, as the region of its reference point.

At one turn the gap to a machine's table and the cover of its outfeed change evenly with the
place, and the margin beside the blade is the lesser of two that do.  So each link is a few
half-planes; their slopes are taken from the check itself, asked far away on every side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, pi

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks import links
from floorplan.checks.finding import Finding
from floorplan.geometry.affine import Affine, Array
from floorplan.geometry.minkowski import no_fit
from floorplan.geometry.volume import Volume
from floorplan.search.subject import Subject
from floorplan.shop.model import Layout, Pose
from floorplan.shop.scene import bodies_of, frame_of

FAR = 100.0
"""How far away a check is asked for its slopes [m]; no shop is as large."""
SIDES = tuple((cos(a), cos(a - pi / 2)) for a in (0.4, 0.4 + pi / 2, 0.4 + pi, 0.4 - pi / 2))
ARC = 64
"""Chords to a quarter circle in a reach; they cost less than 0.1 mm."""


@dataclass(frozen=True, slots=True, eq=False)
class LinkLimit:
    """Places of the reference point at which one link holds."""

    name: str
    """What a person calls it."""
    region: BaseGeometry
    """[m]"""


def link_limits(subject: Subject, turn: float, room: BaseGeometry) -> tuple[LinkLimit, ...]:
    """Every required link between what moves at a turn and what stays, within `room` [m]."""
    return (*_outfeeds(subject, turn, room), *_reaches(subject, turn, room))


def _required(subject: Subject, found: Finding) -> bool:
    rule = subject.shop.rules[found.rule]
    softened = rule.overridden and rule.kind == "advised"
    return found.kind == "required" and not rule.off and not softened


# --- outfeed -------------------------------------------------------------------------------


def _outfeeds(subject: Subject, turn: float, room: BaseGeometry) -> Iterator[LinkLimit]:
    members = {thing.name: pose for thing, pose in subject.members(turn)}
    for thing in subject.shop.things:
        for link in thing.outfeed_of:
            pair = {thing.name, link.machine}
            moving, staying = pair & set(members), pair - set(members)
            if len(moving) != 1 or len(staying) != 1:
                continue
            (mover,), (stayer,) = moving, staying
            pose = subject.layout.pose(stayer)
            if pose is not None:
                region = _half_planes(subject, mover, members[mover], stayer, pose, room)
                yield LinkLimit(f"{thing.name} takes the outfeed of {link.machine}", region)


def _half_planes(
    subject: Subject, mover: str, about: Pose, stayer: str, pose: Pose, room: BaseGeometry
) -> BaseGeometry:
    left: BaseGeometry = room
    kind = (mover, stayer, about.turn)
    for number, side in enumerate(SIDES):
        far = FAR * np.array(side)
        here = _margins(subject, mover, about, stayer, pose, far)
        for (m, error), slope in zip(
            here, _slopes(subject, kind, number, about, pose, here), strict=True
        ):
            need = error if subject.demands.reserve else 0.0
            left = _cut(left, slope, m - float(slope @ far) - need)
    return left


def _slopes(
    subject: Subject,
    kind: tuple[str, str, float],
    number: int,
    about: Pose,
    pose: Pose,
    here: Sequence[tuple[float, float]],
) -> Array:
    """(k, 2) how each margin changes with the place, far away on one side; the same at any size."""
    known = subject.slopes.get((*kind, number))
    if known is None or len(known) != len(here):
        mover, stayer, _ = kind
        far = FAR * np.array(SIDES[number])
        steps = [
            [m for m, _ in _margins(subject, mover, about, stayer, pose, far + step)]
            for step in ((1.0, 0.0), (0.0, 1.0))
        ]
        known = (np.array(steps) - np.array([m for m, _ in here])).T
        subject.slopes[(*kind, number)] = known
    return known


def _margins(
    subject: Subject, mover: str, about: Pose, stayer: str, pose: Pose, at: Array
) -> list[tuple[float, float]]:
    """Margin and error of every required finding between two, the one moved by `at` (2,) [m]."""
    moved = Pose(about.x + float(at[0]), about.y + float(at[1]), about.turn)
    layout = Layout({(mover, "standing"): moved, (stayer, "standing"): pose})
    made = bodies_of(subject.shop, layout, (mover, stayer))
    return [
        (f.margin or 0.0, f.error)
        for f in links.check(made).findings
        if set(f.about) == {mover, stayer}
        and f.rule != "within-reach"
        and not f.by_height
        and _required(subject, f)
    ]


def _cut(region: BaseGeometry, slope: Array, offset: float) -> BaseGeometry:
    """What of a region has slope . p + offset >= 0."""
    length = float(np.hypot(*slope))
    if region.is_empty or length < 1e-9:
        return region if offset >= -1e-9 else Polygon()
    normal = slope / length
    foot = -normal * offset / length
    side = np.array([-normal[1], normal[0]])
    reach = 20.0 * FAR
    corners = [
        foot - side * reach, foot + side * reach,
        foot + side * reach + normal * reach, foot - side * reach + normal * reach,
    ]  # fmt: skip
    return region.intersection(Polygon(corners))


# --- within a distance -----------------------------------------------------------------------


def _reaches(subject: Subject, turn: float, room: BaseGeometry) -> Iterator[LinkLimit]:
    members = {thing.name: pose for thing, pose in subject.members(turn)}
    if subject.shop.rules["within-reach"].off:
        return
    if subject.shop.rules["within-reach"].kind == "advised":
        return
    for thing in subject.shop.things:
        for reach in thing.within_of:
            pair = {thing.name, reach.target}
            moving, staying = pair & set(members), pair - set(members)
            if len(moving) != 1 or len(staying) != 1:
                continue
            (mover,), (stayer,) = moving, staying
            target = _target(subject, stayer)
            if target is None:
                continue
            body = _body(subject, mover, members[mover])
            region = _near(subject, body, target, reach.distance)
            name = f"{thing.name} within reach of {reach.target}"
            yield LinkLimit(name, region.intersection(room))


def _body(subject: Subject, name: str, pose: Pose) -> Volume:
    thing = subject.shop.thing(name)
    return Volume(frame_of(thing, pose).place(thing.body), thing.bottom, thing.height)


def _target(subject: Subject, name: str) -> Volume | tuple[Affine, Affine] | None:
    place = subject.shop.spot(name)
    if place is not None:
        return place
    pose = subject.layout.pose(name)
    return None if pose is None else _body(subject, name, pose)


def _near(
    subject: Subject, body: Volume, target: Volume | tuple[Affine, Affine], most: Affine
) -> BaseGeometry:
    """Where the plans are at most so far apart: their no-fit region, grown by the distance."""
    errors = subject.shop.measurements
    reach = most.value
    sides = [body.outline.vertex(i) for i in range(len(body.outline.points))]
    worst = max(x.error(errors) + y.error(errors) for x, y in sides) + most.error(errors)
    if isinstance(target, Volume):
        spots = [target.outline.vertex(i) for i in range(len(target.outline.points))]
        worst += max(x.error(errors) + y.error(errors) for x, y in spots)
        touching = shapely.union_all(
            [Polygon(no_fit(there, own)) for there in target.pieces for own in body.pieces]
        )
    else:
        worst += target[0].error(errors) + target[1].error(errors)
        spot = np.array([target[0].value, target[1].value])
        touching = shapely.union_all([Polygon(spot - own) for own in body.pieces])
    if subject.demands.reserve:
        reach -= worst
    else:
        reach /= cos(pi / (4 * ARC))
    if reach < 0:
        return Point() if reach < -1e-9 else touching
    grown: BaseGeometry = touching.buffer(reach, quad_segs=ARC)
    return grown
