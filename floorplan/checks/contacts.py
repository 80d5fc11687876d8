"""How much the tightest place of a way depends on each measured number.

At the tightest place the widest body touches solids on several sides.  Forces from these contacts
that hold each other in balance are, by duality, the rates at which moving each contact changes
the width that passes; so the error of the width is the worst case over the touching edges alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls
from shapely.geometry import Polygon

from floorplan.geometry.affine import Affine, Array
from floorplan.geometry.convex import signed_area
from floorplan.motion.carry import Body, Pose
from floorplan.motion.turning import rotation
from floorplan.shop.scene import Element

NEAR = 0.004
"""Gaps up to this count as touching: the widest body is known to a sixteenth of an inch [m]."""
BALANCED = 0.15
"""Largest part of the forces that may be left over [-]."""

LEVER = 50.0
"""Forces that add up to more mean that the contacts do not hold the width [-]."""


@dataclass(frozen=True, slots=True)
class Contact:
    """A place where a body touches a solid."""

    owner: str
    point: tuple[Affine, Affine]
    """Of the solid, with its sensitivities [m]."""
    normal: Array
    """From the solid to the body, of unit length."""
    at: Array
    """The place in the body's own frame [m]."""
    widens: float
    """How far across the place moves for each metre by which the body is widened [-]."""
    lengthens: float
    """How far along it moves for each metre by which the piece is longer [-]."""


def contacts(
    body: Body,
    pose: Pose,
    elements: Sequence[Iterable[Element]],
    stretched: Sequence[bool],
) -> tuple[Contact, ...]:
    """Corners of the body on edges of solids, and corners of solids on edges of the body.

    `elements` are for each part of the body those that it meets; `stretched` says whether it is
    longer when the piece is.  Other parts are moved along, if they are not at its middle.
    """
    found: list[Contact] = []
    for part, met, longer in zip(body.parts, elements, stretched, strict=False):
        found += _contacts_of(part, pose, met, longer=longer)
    return tuple(found)


def _contacts_of(
    part: Body, pose: Pose, elements: Iterable[Element], *, longer: bool
) -> Iterator[Contact]:
    turn, place = rotation(pose.angle), np.array([pose.x, pose.y])
    corners = part.outline @ turn.T + place
    shape = Polygon(corners)
    across = part.outline[:, 1]
    middle = float(across.min() + across.max()) / 2
    beyond = float(np.sign(np.round(part.outline[:, 0].sum(), 9))) / 2

    def contact(element: Element, at: Array, normal: Array) -> Contact:
        local = (at - place) @ turn
        return Contact(
            element.owner, element.volume.outline.nearest(at), normal, local,
            float(local[1] - middle) / part.width,
            float(local[0]) / part.length if longer else beyond,
        )  # fmt: skip

    for element in elements:
        outline = element.volume.outline
        if shape.distance(element.volume.polygon) > NEAR:
            continue
        for corner, normal in _on_edges(corners, outline.points, 1.0):
            yield contact(element, corner, normal)
        for point, normal in _on_edges(outline.points, corners, -1.0):
            yield contact(element, point, normal)


def _on_edges(points: Array, ring: Array, sign: float) -> Iterator[tuple[Array, Array]]:
    """Points that lie on an edge of a ring, with the outward normal of the ring times `sign`."""
    sign *= 1.0 if signed_area(ring) > 0 else -1.0
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        edge = end - start
        length = float(np.hypot(*edge))
        if length < 1e-9:
            continue
        way = edge / length
        normal = np.array([way[1], -way[0]])
        for point in points:
            along = float((point - start) @ way)
            off = float((point - start) @ normal)
            if -NEAR <= along <= length + NEAR and abs(off) <= NEAR:
                yield point, normal * sign


def sensitivity(
    body: Body, pose: Pose, touching: tuple[Contact, ...], *, length: Affine, width: Affine
) -> Affine | None:
    """Change of the width left over with each measured number, None where nothing balances.

    Forces f >= 0 along the contacts' normals, in balance, doing unit work when the body widens.
    """
    if len(touching) < 2:
        return None
    turn = rotation(pose.angle)
    radius = body.radius
    widens = np.array([-float(c.normal @ (turn @ (0.0, c.widens))) for c in touching])
    lengthens = np.array([-float(c.normal @ (turn @ (c.lengthens, 0.0))) for c in touching])
    forces = _balanced(touching, turn, radius, widens)
    if forces is None:
        return None
    total = Affine(0.0) - width
    for force, contact, stretch in zip(forces, touching, lengthens, strict=True):
        if force <= 1e-9:
            continue
        for axis in (0, 1):
            moved = Affine(0.0, contact.point[axis].terms)
            total = total - moved * float(force * contact.normal[axis])
        total = total - Affine(0.0, length.terms) * float(force * stretch)
    return Affine(0.0, total.terms)


def _balanced(
    touching: tuple[Contact, ...], turn: Array, radius: float, widens: Array
) -> NDArray[np.float64] | None:
    rows = np.zeros((4, len(touching)))
    for i, contact in enumerate(touching):
        arm = turn @ contact.at
        rows[0:2, i] = contact.normal
        rows[2, i] = (arm[0] * contact.normal[1] - arm[1] * contact.normal[0]) / radius
        rows[3, i] = widens[i]
    forces, left = nnls(rows, np.array([0.0, 0.0, 0.0, 1.0]))
    effort = float(forces.sum())
    # contacts that hardly press on the width would need endless force: they do not limit it
    return forces if left <= BALANCED * hypot(1.0, effort) and effort < LEVER else None
