"""What stands between two poses that no way connects."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.motion.connections import Connections
from floorplan.motion.positions import WALL, CarrySpace
from floorplan.motion.slices import Part
from floorplan.motion.turning import Body, Pose
from floorplan.units import TOLERANCE


@dataclass(frozen=True, slots=True)
class Blocked:
    """What stands between start and goal.

    Attributes
    ----------
    reason
        `start` or `goal` if the body cannot be there at all, else `way`.
    reached, goal_side
        Positions [m] of the reference point, over all angles tried, that no proof separates from
        the start and from the goal.
    near, far
        A pose on the side of the start and one on the side of the goal, nearest to each other.
    obstacles
        Indices of the obstacles that the body would hit, -1 for the outside of the workspace: at
        the pinch of the widest body that passes if that is known, else between the two poses.
    """

    reason: Literal["start", "goal", "way"]
    reached: BaseGeometry
    goal_side: BaseGeometry
    near: Pose
    far: Pose
    obstacles: tuple[int, ...]


def what_blocks(graph: Connections, start: Pose, goal: Pose, pinch: Pose | None) -> Blocked:
    """Describe the cut found by a graph that does not lead from start to goal.

    `pinch` is the tightest pose on the way of the widest body that passes, if that is known.
    """
    space, body = graph.space, graph.body
    if graph.start is None:
        hit = _hit_between(space, body, start, start)
        return Blocked("start", Polygon(), Polygon(), start, start, hit)
    if graph.goal is None:
        hit = _hit_between(space, body, goal, goal)
        return Blocked("goal", Polygon(), Polygon(), goal, goal, hit)
    reached = _in_order(graph.possibly_linked(graph.start))
    goal_side = _in_order(graph.possibly_linked(graph.goal))
    near, far = _nearest_poses(reached, goal_side, body)
    hit = _hit_between(space, body, pinch or near, pinch or far)
    return Blocked("way", _union(reached), _union(goal_side), near, far, hit)


def _in_order(parts: set[Part]) -> list[Part]:
    return sorted(parts, key=lambda part: (part[0].angle, part[1]))


def _union(parts: list[Part]) -> BaseGeometry:
    return shapely.union_all([s.parts[k] for s, k in parts])


def _nearest_poses(reached: list[Part], goal_side: list[Part], body: Body) -> tuple[Pose, Pose]:
    """Poses, one of each side, with the shortest move between them.

    Turning counts by the way of the farthest corner.
    """
    pairs = list(product(reached, goal_side))
    turn = np.array([abs(a.angle - b.angle) for (a, _), (b, _) in pairs])
    turn = np.minimum(turn, body.period - turn)
    ones = np.array([a.parts[i] for (a, i), _ in pairs], dtype=object)
    others = np.array([b.parts[j] for _, (b, j) in pairs], dtype=object)
    best = int(np.argmin(shapely.distance(ones, others) + body.radius * turn))
    line = shapely.shortest_line(ones[best], others[best])
    (x0, y0), (x1, y1) = shapely.get_coordinates(line).tolist()
    (a, _), (b, _) = pairs[best]
    return Pose(x0, y0, a.angle), Pose(x1, y1, b.angle)


def _hit_between(space: CarrySpace, body: Body, near: Pose, far: Pose) -> tuple[int, ...]:
    """Owners of the pieces that the hull of the body at both poses overlaps, a hair grown."""
    owners: set[int] = set()
    for number, part in enumerate(body.parts):
        met = space.met_by(number)
        ends = np.vstack([part.at(p.angle) + np.array([p.x, p.y]) for p in (near, far)])
        hull = shapely.MultiPoint(ends).convex_hull.buffer(2 * TOLERANCE)
        owners |= {int(owner) for owner in met.owners[shapely.intersects(met.pieces, hull)]}
        if not shapely.box(*space.bounds).covers(hull):
            owners.add(WALL)
    return tuple(sorted(owners))
