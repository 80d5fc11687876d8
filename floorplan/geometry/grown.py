"""Convex outlines grown by a distance: what comes nearer to them than that.

Straight sides are exact; round corners are drawn outside the true ones, by less than one part in
twenty thousand of the distance.
"""

from __future__ import annotations

from math import ceil, cos, pi

import numpy as np

from floorplan.geometry.affine import Array

_STEP = pi / 128
"""Largest turn between two sides of a round corner [rad]."""


def grown(points: Array, distance: float) -> Array:
    """A convex outline (n, 2), a line (2, 2) or a point (1, 2) grown all round by `distance` [m].

    `points` run counter-clockwise; the answer does, too.
    """
    points = np.asarray(points, dtype=float).reshape(-1, 2)
    if distance <= 0.0:
        return points
    if len(points) == 1:
        return _round(points[0], 0.0, 2 * pi, distance)
    steps = np.roll(points, -1, axis=0) - points
    headings = np.arctan2(steps[:, 1], steps[:, 0]) - pi / 2  # of the outward normals
    corners = []
    for i, corner in enumerate(points):
        turn = (headings[i] - headings[i - 1]) % (2 * pi)
        corners.append(_round(corner, float(headings[i - 1]), float(turn), distance))
    return np.vstack(corners)


def _round(centre: Array, start: float, turn: float, distance: float) -> Array:
    """Corners of the polygon round an arc that touches it at both ends."""
    count = max(1, ceil(turn / _STEP - 1e-9))
    half = turn / count / 2
    angles = start + half * (2 * np.arange(count) + 1)
    reach = distance / cos(half)
    return np.asarray(centre + reach * np.column_stack([np.cos(angles), np.sin(angles)]))
