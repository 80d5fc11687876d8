"""Carrying a rigid body, such as a sheet of plywood, through obstacles in the plane.

Both answers are certified: "passes" by a path that has been replayed, "fails" by a graph that
holds every possible motion and does not lead from start to goal.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from floorplan.motion.blocked import Blocked, what_blocks
from floorplan.motion.connections import MOST_HALVED, Verdict
from floorplan.motion.margin import Task, largest_extra
from floorplan.motion.pinch import Pinch, tightest
from floorplan.motion.positions import CarrySpace
from floorplan.motion.replay import is_clear
from floorplan.motion.turning import Body, Pose
from floorplan.motion.way import length_and_turning, poses_of

__all__ = [
    "FINEST",
    "MOST_HALVED",
    "Blocked",
    "Body",
    "Carried",
    "CarrySpace",
    "Pinch",
    "Pose",
    "carry",
    "may_pass",
]

FINEST = 0.0254 / 32
"""Refining ends where corners move less than this within one turn [m]."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Answer to whether a body can be carried from one pose to another.

    Attributes
    ----------
    verdict
        `unsure` means not certified at the finest turns tried.
    path
        Poses between which straight steps (position and angle in proportion) hit nothing; empty
        unless it passes. A body with half-turn symmetry may arrive half a turn round.
    length
        Way of the reference point [m].
    turns, turned
        Stretches of turning, and the total angle [rad].
    pinch
        Where the widest body that passes is tightest if the margin was asked for, else where the
        path is; None if nothing passes.
    margin
        Largest total extra width [m], length unchanged, for which a way is certified; negative
        if the body has to be narrower, -inf if no width passes, None if not asked for or left open.
    blocked_at
        For `fails`, what stands between.
    widest
        Path of the body widened by the margin; empty if nothing passes.
    """

    verdict: Verdict
    path: tuple[Pose, ...] = ()
    length: float = 0.0
    turns: int = 0
    turned: float = 0.0
    pinch: Pinch | None = None
    margin: float | None = None
    blocked_at: Blocked | None = None
    widest: tuple[Pose, ...] = ()


def carry(
    space: CarrySpace | BaseGeometry,
    body: Body,
    *,
    start: Pose,
    goal: Pose,
    finest: float = FINEST,
    margin: bool = True,
    most: int = MOST_HALVED,
) -> Carried:
    """Decide whether `body` can be carried from `start` to `goal`.

    A plain polygon as `space` is the free workspace. Overlaps up to the tolerance of the program
    are allowed. Refining ends where corners move less than `finest` [m] within one turn, or after
    `most` turns have been halved.

    Raises
    ------
    ValueError
        If the space tells parts of bodies apart that are not those of this body.
    """
    if not isinstance(space, CarrySpace):
        space = CarrySpace(space)
    _same_parts(space, body)
    task = Task(space, start, goal, finest, most)
    graph, verdict = task.connect(body)
    extra, best = None, graph if verdict == "passes" else None
    if margin:
        extra, best = largest_extra(task, body, best)
    pinch: Pinch | None = None
    widest: tuple[Pose, ...] = ()
    if best is not None:
        widest = poses_of(best, start, goal)[0]
        pinch = tightest(space, best.body, widest)
    if verdict == "passes":
        path, turns = poses_of(graph, start, goal)
        if is_clear(space, body, path):
            length, turned = length_and_turning(path)
            return Carried("passes", path, length, turns, turned, pinch, extra, widest=widest)
        verdict = "unsure"  # not proved after all
    blocked = None
    if verdict == "fails":
        blocked = what_blocks(graph, start, goal, pinch.pose if pinch else None)
    return Carried(verdict, pinch=pinch, margin=extra, blocked_at=blocked, widest=widest)


def may_pass(space: CarrySpace, body: Body, *, start: Pose, goal: Pose) -> bool:
    """Cheap screen at wide turns: False is certain, True only says that nothing is proved yet."""
    _same_parts(space, body)
    return Task(space, start, goal, FINEST).graph(body).may_link()


def _same_parts(space: CarrySpace, body: Body) -> None:
    if not space.knows(body):
        had = len(body.parts)
        raise ValueError(f"the space is for bodies of {space.parts} parts, this one has {had}")
