"""Numbers and outlines that remember which measured numbers they depend on.

Every coordinate of a shop is an affine combination of what somebody measured.  Carrying the
sensitivities along makes the worst-case error of any margin a plain sum, sum |s_i| e_i, and a
possible true shop (each measured number off by something within its error) a plain substitution.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# nobody writes to it; a plain one, since other processes can be sent plain ones only
_NONE: Mapping[str, float] = {}


@dataclass(frozen=True, slots=True)
class Measurement:
    """One number that somebody read off a tape, or that was assumed for want of one."""

    name: str
    """What was measured, in words: `saw: width`."""
    value: float
    """As read [m]."""
    error: float
    """Largest amount by which it may be off [m]; 0 for contact and for assumed sizes."""
    assumed: bool = False
    """True when it stands in a catalogue or a rule and nobody measured it."""
    line: int = 0
    """Line of the shop file, 0 when it has none."""


@dataclass(frozen=True, slots=True)
class Affine:
    """A value with its sensitivity to each measured number."""

    value: float
    """[m]"""
    terms: Mapping[str, float] = field(default_factory=lambda: _NONE)
    """Measurement name -> d value / d measurement [-]."""

    @classmethod
    def of(cls, measurement: Measurement) -> Affine:
        """The measured number itself."""
        return cls(measurement.value, {measurement.name: 1.0})

    def _with(self, other: Affine | float, sign: float) -> Affine:
        if not isinstance(other, Affine):
            return Affine(self.value + sign * other, self.terms)
        if not other.terms:
            return Affine(self.value + sign * other.value, self.terms)
        terms = dict(self.terms)
        for name, weight in other.terms.items():
            terms[name] = terms.get(name, 0.0) + sign * weight
        return Affine(self.value + sign * other.value, terms)

    def __add__(self, other: Affine | float) -> Affine:
        return self._with(other, 1.0)

    __radd__ = __add__

    def __sub__(self, other: Affine | float) -> Affine:
        return self._with(other, -1.0)

    def __rsub__(self, other: float) -> Affine:
        return (-self)._with(other, 1.0)

    def __mul__(self, factor: float) -> Affine:
        return Affine(self.value * factor, {n: w * factor for n, w in self.terms.items()})

    __rmul__ = __mul__

    def __truediv__(self, divisor: float) -> Affine:
        return self * (1.0 / divisor)

    def __neg__(self) -> Affine:
        return self * -1.0

    def error(self, measurements: Mapping[str, Measurement]) -> float:
        """Worst-case error: the sum of |sensitivity| x error [m]."""
        return sum(
            abs(weight) * measurements[name].error
            for name, weight in self.terms.items()
            if name in measurements
        )

    def assumed(self, measurements: Mapping[str, Measurement]) -> tuple[str, ...]:
        """Names of the assumed numbers that move this value."""
        return tuple(
            sorted(
                name
                for name, weight in self.terms.items()
                if abs(weight) > 1e-9 and name in measurements and measurements[name].assumed
            )
        )

    def shifted(self, offsets: Mapping[str, float]) -> float:
        """The value if each measured number were off by `offsets` [m]."""
        return self.value + sum(w * offsets.get(n, 0.0) for n, w in self.terms.items())


ZERO = Affine(0.0)


def affine(number: Affine | float) -> Affine:
    """`number` as an affine one."""
    return number if isinstance(number, Affine) else Affine(float(number))


def greater(a: Affine, b: Affine) -> Affine:
    """The larger of two, with its own sensitivities."""
    return a if a.value >= b.value else b


def smaller(a: Affine, b: Affine) -> Affine:
    """The smaller of two, with its own sensitivities."""
    return a if a.value <= b.value else b


Point = tuple[Affine, Affine]


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A closed polygon without holes whose vertices know their sensitivities."""

    points: Array
    """(n, 2) vertices [m]."""
    terms: Mapping[str, Array]
    """Measurement name -> (n, 2) sensitivities of the vertices [-]."""

    @classmethod
    def of(cls, points: Sequence[tuple[Affine | float, Affine | float]]) -> Outline:
        """From affine vertices, in order."""
        pairs = [(affine(x), affine(y)) for x, y in points]
        values = np.array([[x.value, y.value] for x, y in pairs], dtype=float)
        terms: dict[str, Array] = {}
        for i, pair in enumerate(pairs):
            for axis, number in enumerate(pair):
                for name, weight in number.terms.items():
                    terms.setdefault(name, np.zeros_like(values))[i, axis] = weight
        return cls(values, terms)

    @classmethod
    def box(
        cls,
        *,
        left: Affine | float,
        right: Affine | float,
        south: Affine | float,
        north: Affine | float,
    ) -> Outline:
        """An axis-parallel box, counter-clockwise from its south-west corner [m]."""
        return cls.of([(left, south), (right, south), (right, north), (left, north)])

    def _map(self, matrix: Array) -> Outline:
        return Outline(
            self.points @ matrix.T, {n: weights @ matrix.T for n, weights in self.terms.items()}
        )

    def turned(self, degrees: float) -> Outline:
        """Turned counter-clockwise about the origin; quarter turns are exact [deg]."""
        return self._map(rotation(degrees))

    def moved(self, dx: Affine | float, dy: Affine | float) -> Outline:
        """Moved by an affine step [m]."""
        shift = (affine(dx), affine(dy))
        points = self.points + np.array([shift[0].value, shift[1].value])
        terms = dict(self.terms)
        for axis, number in enumerate(shift):
            for name, weight in number.terms.items():
                grown = terms[name].copy() if name in terms else np.zeros_like(points)
                grown[:, axis] += weight
                terms[name] = grown
        return Outline(points, terms)

    def lowest(self, axis: int) -> Affine:
        """The least coordinate along `axis` (0 x, 1 y) [m]."""
        return self.vertex(int(np.argmin(self.points[:, axis])))[axis]

    def highest(self, axis: int) -> Affine:
        """The greatest coordinate along `axis` (0 x, 1 y) [m]."""
        return self.vertex(int(np.argmax(self.points[:, axis])))[axis]

    def sides(self) -> tuple[Affine, Affine, Affine, Affine] | None:
        """West, south, east and north side of an axis-parallel box [m]; None for other outlines.

        None also where the two ends of one side were measured apart.
        """
        if len(self.points) != 4:
            return None
        found = []
        for axis, edge in ((0, min), (1, min), (0, max), (1, max)):
            along = self.points[:, axis].tolist()
            limit = edge(along)
            i, *rest = (k for k in range(4) if along[k] == limit)
            if len(rest) != 1 or ((i + 1) % 4 != rest[0] and (rest[0] + 1) % 4 != i):
                return None
            terms = {}
            for name, weights in self.terms.items():
                weight = float(weights[i, axis])
                if weight != weights[rest[0], axis]:
                    return None
                if weight:
                    terms[name] = weight
            found.append(Affine(float(limit), terms))
        return found[0], found[1], found[2], found[3]

    def vertex(self, index: int) -> Point:
        """One vertex with its sensitivities."""
        return self.between(index, index, 0.0)

    def between(self, i: int, j: int, t: float) -> Point:
        """The point at share `t` of the way from vertex `i` to vertex `j`."""
        at = (1.0 - t) * self.points[i] + t * self.points[j]
        both = [
            {
                name: float((1.0 - t) * weights[i, axis] + t * weights[j, axis])
                for name, weights in self.terms.items()
                if weights[i, axis] or weights[j, axis]
            }
            for axis in (0, 1)
        ]
        return Affine(float(at[0]), both[0]), Affine(float(at[1]), both[1])

    def nearest(self, point: Iterable[float]) -> Point:
        """The boundary point nearest to `point`, with its sensitivities."""
        p = np.asarray(tuple(point), dtype=float)
        start = self.points
        edge = np.concatenate([start[1:], start[:1]]) - start
        away = p - start
        span = np.maximum((edge * edge).sum(axis=1), 1e-30)
        share = np.minimum(np.maximum((away * edge).sum(axis=1) / span, 0.0), 1.0)
        off = share[:, None] * edge - away
        gap = np.hypot(off[:, 0], off[:, 1])
        i = int(np.argmin(gap))
        return self.between(i, (i + 1) % len(self.points), float(share[i]))

    def error(self, measurements: Mapping[str, Measurement]) -> float:
        """Farthest that a vertex may be from where it is drawn [m]."""
        off = np.zeros_like(self.points)
        for name, weights in self.terms.items():
            if name in measurements:
                off += np.abs(weights) * measurements[name].error
        return float(np.hypot(*off.T).max(initial=0.0))

    def shifted(self, offsets: Mapping[str, float]) -> Array:
        """Vertices (n, 2) if each measured number were off by `offsets` [m]."""
        points = self.points.copy()
        for name, weights in self.terms.items():
            if name in offsets:
                points += offsets[name] * weights
        return points


def rotation(degrees: float) -> Array:
    """The (2, 2) matrix of a counter-clockwise turn, exact at quarter turns [deg]."""
    quarter, rest = divmod(degrees, 90.0)
    if rest == 0.0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        angle = np.radians(degrees)
        c, s = float(np.cos(angle)), float(np.sin(angle))
    return np.array([[c, -s], [s, c]])
