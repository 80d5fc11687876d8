"""How far a leaf turns about its hinge before it meets something."""

from __future__ import annotations

from math import atan2, degrees, hypot, pi

import numpy as np

from floorplan.geometry.affine import Affine, Array, Outline
from floorplan.shop.model import Opening
from floorplan.units import TOLERANCE

_SAME = 1e-6
"""Points nearer than this are one [m]."""


def leaf_turn(_opening: Opening, sector: Outline, rival: Outline, common: Array) -> Affine:
    """Angle from shut until a leaf meets a rival that reaches into its sector [deg].

    `common` (n, 2) are the corners of what they share.  Seen from the hinge, a straight edge is
    nearest to the shut leaf at one of its ends, so one of these corners is met first.
    """
    hinge, shut, sense = _hinge_and_shut(sector)
    px, py = hinge[0].value, hinge[1].value
    start = atan2(shut[1].value - py, shut[0].value - px)
    best: tuple[float, Array] | None = None
    for corner in common:
        if hypot(corner[0] - px, corner[1] - py) < 10 * TOLERANCE:
            return Affine(0.0)
        turned = _between(start, atan2(corner[1] - py, corner[0] - px))
        if best is None or turned < best[0]:
            best = (turned, corner)
    assert best is not None
    corner = _on_arc(hinge, shut, rival, best[1])
    turned = _between(start, atan2(corner[1] - py, corner[0] - px))
    terms = _sensitivity(hinge, shut, sense, rival, corner).terms
    return Affine(degrees(turned), {name: degrees(weight) for name, weight in terms.items()})


def _between(start: float, heading: float) -> float:
    """Angle between two headings, at most a half turn [rad]."""
    return abs((heading - start + pi) % (2 * pi) - pi)


_Spot = tuple[Affine, Affine]


def _hinge_and_shut(sector: Outline) -> tuple[_Spot, _Spot, float]:
    """Hinge, tip of the shut leaf, and the sense in which it opens: +1 counter-clockwise.

    A sector begins with its hinge and the shut leaf, and is reversed where it opens clockwise, so
    that the hinge comes last.
    """
    points = sector.points
    after, before = np.hypot(*(points[1] - points[0])), np.hypot(*(points[-1] - points[0]))
    last = len(points) - 1
    if abs(after - before) < _SAME:
        return sector.vertex(0), sector.vertex(1), 1.0
    return sector.vertex(last), sector.vertex(last - 1), -1.0


def _on_arc(hinge: _Spot, shut: _Spot, rival: Outline, corner: Array) -> Array:
    """The corner itself, or where its edge crosses the true arc, of which the sector has chords."""
    centre = np.array([hinge[0].value, hinge[1].value])
    length = hypot(shut[0].value - centre[0], shut[1].value - centre[1])
    off = corner - centre
    if _is_corner(rival, corner) or float(np.hypot(*off)) < length - _SAME:
        return corner
    normal = _normal_at(rival, corner)
    height = float(normal @ off)
    along = off - height * normal
    reach = float(np.hypot(*along))
    if abs(height) >= length or reach < _SAME:
        return corner
    onto = along * ((length**2 - height**2) ** 0.5 / reach)
    return np.asarray(centre + height * normal + onto)


def _is_corner(outline: Outline, point: Array) -> bool:
    return float(np.hypot(*(outline.points - point).T).min()) < _SAME


def _sensitivity(hinge: _Spot, shut: _Spot, sense: float, rival: Outline, corner: Array) -> Affine:
    """How the angle [rad] follows what was measured, as the terms of a number.

    Where a corner of the rival is met it is the move of that corner across the leaf; where the
    tip of the leaf meets an edge, the tip stays on the edge.
    """
    centre = np.array([hinge[0].value, hinge[1].value])
    radius = float(np.hypot(*(corner - centre)))
    along = (corner - centre) / radius
    across = sense * np.array([-along[1], along[0]])
    tip = np.array([shut[0].value, shut[1].value]) - centre
    length = float(np.hypot(*tip))
    met = rival.nearest(corner)
    off = (met[0] - hinge[0], met[1] - hinge[1])
    # the angle counts from the shut leaf, which turns too when its two ends were measured apart
    level = tip / length
    turn = ((shut[0] - hinge[0]) * float(-level[1]) + (shut[1] - hinge[1]) * float(level[0])) * (
        sense / length
    )
    if _is_corner(rival, corner) or radius < length - _SAME:
        return (off[0] * float(across[0]) + off[1] * float(across[1])) / radius - turn
    normal = _normal_at(rival, corner)
    slope = float(normal @ across) * radius
    if abs(slope) < 1e-9:
        return Affine(0.0)
    grown = (shut[0] - hinge[0]) * float(level[0]) + (shut[1] - hinge[1]) * float(level[1])
    move = off[0] * float(normal[0]) + off[1] * float(normal[1]) - grown * float(normal @ along)
    return move / slope - turn


def _normal_at(outline: Outline, point: Array) -> Array:
    """A unit normal of the edge nearest to a point."""
    start = outline.points
    edge = np.roll(start, -1, axis=0) - start
    share = np.clip(((point - start) * edge).sum(axis=1) / (edge * edge).sum(axis=1), 0.0, 1.0)
    off = start + share[:, None] * edge - point
    step = edge[int(np.argmin(np.hypot(off[:, 0], off[:, 1])))]
    return np.array([step[1], -step[0]]) / float(np.hypot(*step))
