"""A stiff plate that is pushed over what carries it: where it rests, and what force keeps it level.

The plate is a rectangle that moves along x.  What carries it can only push up, so the sum of those
forces acts somewhere in the convex hull of where they touch.  The plate rests by itself while its
centre of gravity lies over that hull; else it turns about an edge of it, unless a hand at one of
its ends takes up the moment.  (Equilibrium of parallel forces: any textbook of statics.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Shapes = NDArray[np.object_]

_ON_EDGE = 1e-9  # a centre of gravity this near to the hull rests on it [m]
_FAR = 50.0  # a cone is looked at so many lengths of the plate far


@dataclass(frozen=True, slots=True)
class Plate:
    """A rectangle with its sides along x and y, of even weight."""

    length: float
    """Along x [m]."""
    low: float
    high: float
    """Limits along y [m]."""

    @property
    def middle(self) -> float:
        """Of the centre of gravity along y [m]."""
        return (self.low + self.high) / 2

    def centres(self, heads: Array) -> Array:
        """(n, 2) centres of gravity, the leading ends being at `heads` [m]."""
        return np.column_stack([heads - self.length / 2, np.full(len(heads), self.middle)])

    def ends(self, heads: Array, *, leading: bool) -> Array:
        """(n, 2, 2) corners of the trailing or the leading end [m]."""
        x = heads if leading else heads - self.length
        sides = (np.full(len(heads), y) for y in (self.low, self.high))
        return np.stack([np.column_stack([x, y]) for y in sides], axis=1)


def bearing(carrying: BaseGeometry, plate: Plate, heads: Array) -> Shapes:
    """(n,) convex hulls of where the plate lies on what carries it, for each leading end [m]."""
    plates = shapely.box(heads - plate.length, plate.low, heads, plate.high)
    hulls: Shapes = shapely.convex_hull(shapely.intersection(carrying, plates))
    return hulls


def rests(plate: Plate, heads: Array, hulls: Shapes) -> NDArray[np.bool_]:
    """Whether the plate lies by itself."""
    centres = shapely.points(plate.centres(heads))
    resting: NDArray[np.bool_] = shapely.dwithin(hulls, centres, _ON_EDGE)
    return resting


def hand_force(
    weight: float, plate: Plate, heads: Array, hulls: Shapes, *, leading: bool = False
) -> Array:
    """(n,) least force of a hand anywhere along one end that keeps the plate level [N].

    `heads` are the places of the leading end [m], `hulls` what `bearing` found for them.
    Positive presses down, negative lifts; 0 where the plate rests by itself, infinite where no
    force at that end will do.  A hand that presses with F moves the centre of all weight towards
    itself by F / (weight + F) of the way, one that lifts moves it away.
    """
    centres, ends = plate.centres(heads), plate.ends(heads, leading=leading)
    arms = centres[:, None, :] - ends
    behind = shapely.polygons(np.concatenate([centres[:, None], ends], axis=1))
    ahead = shapely.polygons(
        np.concatenate([centres[:, None], centres[:, None] + _FAR * arms], axis=1)
    )
    # the places nearest to the centre of gravity along x, from where the hand is
    near, far = (0, 2) if leading else (2, 0)
    pressed = shapely.bounds(shapely.intersection(hulls, behind))[:, near]
    lifted = shapely.bounds(shapely.intersection(hulls, ahead))[:, far]
    hand = ends[:, 0, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        press = weight * (centres[:, 0] - pressed) / (pressed - hand)
        lift = weight * (lifted - centres[:, 0]) / (lifted - hand)
    press = np.where(np.isfinite(press), press, np.inf)
    lift = np.where(np.isfinite(lift), lift, np.inf)
    forces = np.where(press <= lift, press, -lift)
    forces = np.where(np.isfinite(forces), forces, np.inf)
    forces[rests(plate, heads, hulls)] = 0.0
    return forces


def shifts(plate: Plate, head: float, share: float) -> Array:
    """(3, 2) triangle of where the centre of all weight can be brought by one hand at the tail.

    `share` is how far of the way from the centre of gravity to the tail: F / (weight + F) for a
    hand that presses, -F / (weight - F) for one that lifts.
    """
    heads = np.array([head])
    centre, ends = plate.centres(heads)[0], plate.ends(heads, leading=False)[0]
    return np.vstack([centre, centre + share * (ends - centre)])


def heads_of_change(carrying: BaseGeometry, plate: Plate) -> Array:
    """Rising places of the leading end at which either end of the plate passes a corner [m]."""
    lane = shapely.box(*(carrying.bounds[0] - 1.0, plate.low, carrying.bounds[2] + 1.0, plate.high))
    x = shapely.get_coordinates(shapely.intersection(carrying, lane))[:, 0]
    changes: Array = np.unique(np.concatenate([x, x + plate.length]))
    return changes
