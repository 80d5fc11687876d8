"""What would let a piece through that does not pass: another size, or one thing out of the way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from floorplan.checks.carried_body import body_of
from floorplan.checks.surroundings import Surroundings, surroundings
from floorplan.checks.ways import Way, pose_of
from floorplan.geometry.affine import affine
from floorplan.motion.carry import carry
from floorplan.motion.turning import outline_at
from floorplan.shop.scene import Element, Scene

LENGTH_STEP = 0.0254 / 4
"""The longest piece that passes is found to this [m]."""
MOST_ASKED = 6
"""Things in the way that are taken out one by one, the nearest to the tightest place first."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """What was found to let a piece through, each by itself."""

    width: float | None
    """Widest plan of the same length that passes [m], None where no width does."""
    length: float | None
    """Longest plan of the same width that passes [m], None where none does."""
    without: tuple[str, ...]
    """Things each of which is enough to take away."""


def remedy(scene: Scene, way: Way) -> Remedy | None:
    """What would help, None where the piece passes as drawn."""
    if way.answer.verdict == "passes":
        return None
    width = None if way.margin is None else way.load.width.value + way.margin.value
    return Remedy(width, longest(way), tuple(_movable_blockers(scene, way)))


def longest(way: Way) -> float | None:
    """The longest piece of the same width for which a way is certified [m]."""

    def passes(length: float) -> bool:
        around = way.around
        body = body_of(replace(way.load, length=affine(length)), apart=around.apart)
        found = carry(around.space, body, start=start, goal=goal, margin=False)
        return found.verdict == "passes"

    start, goal = pose_of(way.start), pose_of(way.goal)
    low, high = LENGTH_STEP, way.load.length.value
    if not passes(low):
        return None
    while high - low > LENGTH_STEP:
        middle = (low + high) / 2
        if passes(middle):
            low = middle
        else:
            high = middle
    return low


def _movable_blockers(scene: Scene, way: Way) -> Iterator[str]:
    """Things that stand in the way and without which, one at a time, it passes."""
    movable = {t.name for t in scene.shop.things if not t.fixed}
    asked = [name for name in way.limits if name in movable]
    asked += [e.owner for e in _nearest_first(way) if e.owner in movable]
    ends = (way.start, way.goal)
    for name in list(dict.fromkeys(asked))[:MOST_ASKED]:
        freed = surroundings(
            scene, way.carry, way.load, ends, way.around.doors, without=frozenset({name})
        )
        if _passes(freed, way):
            yield name


def _nearest_first(way: Way) -> list[Element]:
    blocked, pinch = way.answer.blocked_at, way.answer.pinch
    pose = pinch.pose if pinch is not None else blocked.near if blocked is not None else None
    if pose is None:
        return []
    here = outline_at(way.body, pose)
    return sorted(way.around.obstacles, key=lambda e: here.distance(e.volume.polygon))


def _passes(around: Surroundings, way: Way) -> bool:
    start, goal = pose_of(way.start), pose_of(way.goal)
    found = carry(around.space, around.body, start=start, goal=goal, margin=False)
    return found.verdict == "passes"
