"""The last inches before a place: slid straight in, as drawn, where the reserve leaves no way.

In a corner that is nearer on two sides than the tape's reserve nothing gets in with it, and what
stands in something else as drawn has to come out of there first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import cos, pi, sin

from floorplan.motion.carry import Body, CarrySpace, Pose
from floorplan.motion.replay import is_clear

_SLIDES = (0.015, 0.03, 0.05)
"""How far before its place a thing may be when it is slid straight in, as drawn [m]."""
_OUT = (0.1, 0.2, 0.4)
"""How far it may come straight out of what it stands in as drawn [m]."""

Slide = tuple[Pose, ...]
"""From where it stands at ease straight to an end; the end alone where it stands at ease there."""


def slides(
    space: CarrySpace, drawn: Body, ease: Body, ends: tuple[Pose, Pose]
) -> Iterator[tuple[Slide, Slide]]:
    """The two ends by themselves; then with places a little before them, entered as drawn.

    At `ease` it has the play that a way needs.
    """
    start, goal = ends
    yield (start,), (goal,)
    out, into = (_before(space, drawn, ease, end) for end in ends)
    if len(out) == 1:
        out = _before(space, drawn, ease, start, _OUT)
    if len(out) + len(into) > 2:
        yield out, into


def _before(
    space: CarrySpace, drawn: Body, ease: Body, end: Pose, first: Sequence[float] = ()
) -> Slide:
    """The shortest slide before an end; `first` are steps as drawn before the last one [m]."""
    if is_clear(space, ease, (end, end)):
        return (end,)
    for near in (pose for far in first for pose in _round(end, far)) if first else (end,):
        if near is not end and not is_clear(space, drawn, (near, end)):
            continue
        for far in _SLIDES:
            for off in _round(near, far):
                if is_clear(space, ease, (off, off)) and is_clear(space, drawn, (off, near)):
                    return (off, end) if near is end else (off, near, end)
    return (end,)


def _round(pose: Pose, far: float) -> Iterator[Pose]:
    """Places at a distance [m], along its sides and between them."""
    for turn in range(8):
        way = pose.angle + turn * pi / 4
        yield Pose(pose.x + far * cos(way), pose.y + far * sin(way), pose.angle)


def joined(path: Sequence[Pose], out: Slide, into: Slide) -> tuple[Pose, ...]:
    """A path with the slides before and after it."""
    before = [replace(pose, angle=path[0].angle) for pose in reversed(out[1:])]
    after = [replace(pose, angle=path[-1].angle) for pose in into[1:]]
    return (*before, *path, *after)
