"""A rigid body of convex parts, and what it sweeps and keeps covered while it turns.

Turning by at most `half` either way from `middle`, the body may drift along a line: its reference
point moves by `drift * sin(t)` while the angle moves by t. Each corner then runs on an arc of an
ellipse, which lies in the triangle of its two ends and the meeting point of the end tangents;
those points carry the hull without losing the bulge between the end poses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.ops import unary_union

Outline = NDArray[np.float64]
"""(n, 2) corners in counter-clockwise order, the first one not repeated [m]."""

LEAST_SIZE = 1e-7
"""A body is never thinner than this, so that a sheet of no thickness still has an inside [m]."""


@dataclass(frozen=True, slots=True)
class Pose:
    """Where the reference point of a body is [m] and how far the body is turned [rad]."""

    x: float
    y: float
    angle: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.x + self.y + self.angle):
            raise ValueError(f"a pose needs finite numbers, not {self.x}, {self.y}, {self.angle}")


Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Body:
    """A convex plan outline round its reference point, which is the origin and lies inside.

    `half_turn` says that after half a turn it is the same again, as a sheet is; a machine on a
    rectangular base is not, if its front matters.  Further convex outlines may move with it.
    """

    corners: Corners
    half_turn: bool
    beside: tuple[Corners, ...] = ()
    """Outlines that move rigidly with the first one, such as whoever carries a sheet [m]."""

    @classmethod
    def rectangle(cls, length: float, width: float, *, half_turn: bool = True) -> Body:
        """Return a rectangle [m] about its centre, its length along x at angle 0."""
        if not (math.isfinite(length) and math.isfinite(width) and min(length, width) >= 0):
            raise ValueError(f"a body needs sizes of 0 or more, not {length} by {width}")
        x, y = max(length, LEAST_SIZE) / 2, max(width, LEAST_SIZE) / 2
        return cls(((-x, -y), (x, -y), (x, y), (-x, y)), half_turn)

    @classmethod
    def convex(cls, outline: Sequence[tuple[float, float]]) -> Body:
        """Return a convex outline [m] whose reference point is the origin.

        Raises
        ------
        ValueError
            If the outline is not convex or does not hold the origin inside.
        """
        points = np.asarray(outline, dtype=np.float64)
        hull = convex_hull(points)
        _, offsets = _sides(hull)
        if abs(abs(_area(points)) - _area(hull)) > 1e-9:
            raise ValueError("the outline of a body must be convex")
        if offsets.min() <= 0:
            raise ValueError("the reference point of a body must lie inside it")
        turned = convex_hull(-hull)
        same = turned.shape == hull.shape and bool(np.allclose(turned, hull, atol=1e-9))
        return cls(tuple((float(x), float(y)) for x, y in hull), half_turn=same)

    def accompanied(self, *outlines: Corners) -> Body:
        """Return the body with convex outlines [m] that move with it; a half-turn is none then."""
        return Body(self.corners, False, (*self.beside, *outlines))

    @property
    def parts(self) -> tuple[Body, ...]:
        """Each convex outline by itself, about the same reference point."""
        if not self.beside:
            return (self,)
        return tuple(Body(corners, half_turn=False) for corners in (self.corners, *self.beside))

    @property
    def outline(self) -> Outline:
        """(n, 2) corners of the first outline at angle 0 [m]."""
        return np.array(self.corners)

    @property
    def outlines(self) -> list[Outline]:
        """Corners of each outline at angle 0 [m]."""
        return [np.array(corners) for corners in (self.corners, *self.beside)]

    @property
    def _points(self) -> Outline:
        return np.vstack(self.outlines)

    @property
    def period(self) -> float:
        """Turn after which the outline repeats [rad]."""
        return math.pi if self.half_turn else 2 * math.pi

    @property
    def radius(self) -> float:
        """Distance of the farthest corner from the reference point [m]."""
        return float(np.hypot(*self._points.T).max())

    @property
    def width(self) -> float:
        """Extent across, along y at angle 0 [m]."""
        return float(np.ptp(self._points[:, 1]))

    @property
    def across(self) -> tuple[float, float]:
        """Limits of the first outline along y at angle 0 [m]."""
        y = [v for _, v in self.corners]
        return min(y), max(y)

    @property
    def length(self) -> float:
        """Extent along x at angle 0 [m]."""
        return float(np.ptp(self._points[:, 0]))

    @property
    def is_rectangle(self) -> bool:
        """Whether this is a rectangle along its axes about its centre."""
        if self.beside:
            return False
        x, y = self.length / 2, self.width / 2
        return set(self.corners) == {(-x, -y), (x, -y), (x, y), (-x, y)}

    def widened(self, extra: float) -> Body:
        """Return the body stretched across by `extra` [m] in all, its length unchanged.

        Every outline is stretched by as much about its own middle, if it has one of its own.
        """
        if self.beside:
            first, *others = (
                _stretched(corners, extra) for corners in (self.corners, *self.beside)
            )
            return Body(first, self.half_turn, tuple(others))
        factor = max(self.width + extra, LEAST_SIZE) / self.width
        return Body(tuple((x, y * factor) for x, y in self.corners), self.half_turn)

    def inset(self, by: float) -> Body:
        """Return the body with every side moved inwards by `by` [m], as far as it is thick."""
        if self.beside:
            first, *others = (part._inset_about_middle(by) for part in self.parts)
            return Body(first, self.half_turn, tuple(others))
        if self.is_rectangle:
            length, width = max(self.length - 2 * by, 0.0), max(self.width - 2 * by, 0.0)
            return Body.rectangle(length, width, half_turn=self.half_turn)
        normals, offsets = _sides(self.outline)
        inner = _within(normals, np.maximum(offsets - by, np.minimum(offsets, LEAST_SIZE / 2)))
        return Body(tuple((float(x), float(y)) for x, y in inner), self.half_turn)

    def _inset_about_middle(self, by: float) -> Corners:
        """Outline of a part moved inwards, wherever its reference point is."""
        middle = self.outline.mean(axis=0)
        alone = Body(tuple((float(x), float(y)) for x, y in self.outline - middle), False)
        return tuple((float(x), float(y)) for x, y in alone.inset(by).outline + middle)

    def at(self, angle: float) -> Outline:
        """(n, 2) corners of the first outline at an angle [rad]."""
        return self.outline @ rotation(angle).T

    def all_at(self, angle: float) -> list[Outline]:
        """Corners of each outline at an angle [rad]."""
        turn = rotation(angle).T
        return [outline @ turn for outline in self.outlines]


def outline_at(body: Body, pose: Pose) -> Polygon:
    """The plan of a body at a pose [m]."""
    at = np.array([pose.x, pose.y])
    plans = [Polygon(outline + at) for outline in body.all_at(pose.angle)]
    return plans[0] if len(plans) == 1 else unary_union(plans)


def _stretched(corners: Corners, extra: float) -> Corners:
    """Outline stretched across by `extra` [m] about the middle between its sides."""
    y = [v for _, v in corners]
    middle, width = (min(y) + max(y)) / 2, max(y) - min(y)
    factor = max(width + extra, LEAST_SIZE) / width
    return tuple((x, middle + (v - middle) * factor) for x, v in corners)


def rotation(angle: float) -> NDArray[np.float64]:
    """(2, 2) matrix that turns columns by `angle` [rad]."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s], [s, c]])


def swept(
    body: Body,
    middle: float,
    half: float,
    drift: tuple[float, float] = (0.0, 0.0),
    *,
    cut: bool = True,
) -> list[Outline]:
    """Convex outlines that together hold all the body sweeps; never smaller than the sweep.

    The long sides sweep a notch where they turn about a point of their own; with `cut` the body
    is cut across there and each part has its hull, without it one hull fills the notch. `middle`
    and `half` are in radians, `half` below a quarter turn; `drift` is in metres a radian at the
    middle; the outlines are about the reference point at the middle angle.
    """
    return [outline for _, outline in swept_by_part(body, middle, half, drift, cut=cut)]


def swept_by_part(
    body: Body, middle: float, half: float, drift: tuple[float, float], *, cut: bool = True
) -> list[tuple[int, Outline]]:
    """What `swept` returns, each outline with the number of the body's part that sweeps it."""
    along, across = rotation(middle).T
    at = -float(across @ drift)  # here the drift and the turn leave only motion along the body
    parts = [
        (number, piece)
        for number, outline in enumerate(body.outlines)
        for piece in (_cut_across(outline, at) if cut else [outline])
    ]
    axes = np.array([along, across])
    return [(number, _swept_hull(piece @ axes, half, drift)) for number, piece in parts]


def _swept_hull(arm: Outline, half: float, drift: tuple[float, float]) -> Outline:
    across = np.column_stack([-arm[:, 1], arm[:, 0]]) + np.asarray(drift)
    c, s = math.cos(half), math.sin(half)
    return convex_hull(np.vstack([arm * c - across * s, arm / c, arm * c + across * s]))


def _cut_across(outline: Outline, at: float) -> list[Outline]:
    """Cut a convex outline along the line x = `at`; whole if the line misses it."""
    x = outline[:, 0]
    if not x.min() + LEAST_SIZE < at < x.max() - LEAST_SIZE:
        return [outline]
    after = np.roll(outline, -1, axis=0)
    crossing = (x - at) * (after[:, 0] - at) < 0
    share = ((at - x) / np.where(crossing, after[:, 0] - x, 1.0))[crossing, None]
    cuts = outline[crossing] * (1 - share) + after[crossing] * share
    return [np.vstack([outline[x <= at], cuts]), np.vstack([outline[x >= at], cuts])]


def covered(body: Body, middle: float, half: float) -> Outline:
    """Convex outline that a convex body covers at every angle; never larger than the true core.

    A side at distance d from the reference point is tangent to the circle of radius d all the
    while, so the core ends at its two end positions and at the chord between the two touches; a
    side that the reference point is outside of recedes most at the two ends.  Empty where nothing
    is found that is covered throughout.
    """
    normals, offsets = _sides(body.at(middle))
    ahead, back = normals @ rotation(half).T, normals @ rotation(-half).T
    inside = offsets > 0
    limits = np.vstack([ahead, back, normals[inside]])
    reach = np.concatenate([offsets, offsets, offsets[inside] * math.cos(half)])
    if inside.all():
        return _within(limits, reach)
    within = body.at(middle).mean(axis=0)
    room = reach - limits @ within
    return _within(limits, room) + within if room.min() > LEAST_SIZE else np.empty((0, 2))


def end_of(body: Body, half: float) -> Body | None:
    """Return the end part of a rectangle whose hits at both ends of a turn mean a hit throughout.

    Let a convex obstacle touch this part (x >= 0 only) at `-half` and at `+half`. The straight
    line between the two touched points lies in the obstacle and crosses from one side of the
    turning rectangle to the other, so the rectangle meets it at every angle between; its reach
    along x grows by at most half the width times sin(2 half), which is cut off beforehand. None
    if nothing is left.
    """
    reach = body.length / 2 - body.width / 2 * math.sin(2 * half)
    y = body.width / 2
    if reach <= LEAST_SIZE:
        return None
    return Body(((0.0, -y), (reach, -y), (reach, y), (0.0, y)), half_turn=False)


def convex_hull(points: Outline) -> Outline:
    """(n, 2) convex hull, counter-clockwise from the lowest left corner (Andrew 1979)."""
    ordered = sorted(set(map(tuple, points.tolist())))
    if len(ordered) < 3:
        return np.array(ordered)
    lower, upper = _chain(ordered), _chain(ordered[::-1])
    return np.array(lower[:-1] + upper[:-1])


def _chain(points: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
    chain: list[tuple[float, ...]] = []
    for x, y in points:
        while len(chain) > 1:
            (ax, ay), (bx, by) = chain[-2], chain[-1]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                break
            chain.pop()
        chain.append((x, y))
    return chain


def _area(outline: Outline) -> float:
    x, y = outline.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2


def _sides(outline: Outline) -> tuple[Outline, NDArray[np.float64]]:
    """(n, 2) outward unit normals and (n,) distances from the origin [m] of the sides."""
    ahead = np.roll(outline, -1, axis=0) - outline
    normals = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    normals /= np.hypot(normals[:, 0], normals[:, 1])[:, None]
    return normals, np.einsum("ij,ij->i", normals, outline)


def _within(normals: Outline, offsets: NDArray[np.float64]) -> Outline:
    """Outline of {x: normals @ x <= offsets}, offsets > 0: the polar of the hull of n / d."""
    polar = convex_hull(normals / offsets[:, None])
    after = np.roll(polar, -1, axis=0)
    cross = polar[:, 0] * after[:, 1] - polar[:, 1] * after[:, 0]
    return np.column_stack([after[:, 1] - polar[:, 1], polar[:, 0] - after[:, 0]]) / cross[:, None]
