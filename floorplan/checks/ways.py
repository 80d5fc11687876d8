"""The certified way of one carry: where it begins and ends, how it goes, what is left over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import cos, isfinite, radians, sin

from floorplan.checks.carried_body import stretched_by
from floorplan.checks.contacts import contacts, sensitivity
from floorplan.checks.finding import Verdict, verdict_of
from floorplan.checks.obstruction import boundary_distance, look
from floorplan.checks.surroundings import Surroundings, open_at_once, surroundings
from floorplan.geometry.affine import Affine
from floorplan.motion.carry import MOST_HALVED, Body, Carried, CarrySpace, Pose, carry, may_pass
from floorplan.shop.carrying import Load, Stand, load_of, stands, with_carrier
from floorplan.shop.model import Carry
from floorplan.shop.scene import Scene


@dataclass(frozen=True, eq=False)
class Way:
    """What was found about one carry."""

    job: str
    carry: Carry
    load: Load
    start: Stand
    goal: Stand
    around: Surroundings
    answer: Carried
    margin: Affine | None
    """Width left over with its sensitivities [m], None where no width passes."""
    verdict: Verdict
    limits: tuple[str, ...]
    """What is nearest at the tightest place, or stands between."""

    @property
    def needed(self) -> float:
        """Width that has to be there at the tightest place [m]."""
        pinch = self.answer.pinch
        if pinch is None:
            return self.load.width.value
        left, right = (self.body.parts[k].across for k in pinch.parts)
        return left[1] - right[0]

    @property
    def body(self) -> Body:
        """The plan of the piece with whoever carries it."""
        return self.around.body


def pose_of(stand: Stand) -> Pose:
    """A stand as a pose of the piece."""
    return Pose(stand.x, stand.y, radians(stand.turn))


@lru_cache(maxsize=32)
def way_of(scene: Scene, job: str, wanted: Carry) -> Way | None:
    """The certified answer for one carry, None when an end of it has no place in this layout.

    The first pair of poses and set of open doors that passes counts, else the one that comes
    nearest to passing.
    """
    if wanted.how == "tilted up":
        return None
    load = load_of(scene, wanted)
    tried: list[tuple[tuple[Stand, Stand], Surroundings, Carried]] = []
    for ends in pairs_of_ends(scene, wanted, load):
        start, goal = pose_of(ends[0]), pose_of(ends[1])
        for doors in open_at_once(scene, wanted, ends):
            around = surroundings(scene, wanted, load, ends, doors)
            body = around.body
            if tried and not may_pass(around.space, body, start=start, goal=goal):
                continue
            answer = carry(around.space, body, start=start, goal=goal, margin=False)
            tried.append((ends, around, answer))
            if answer.verdict == "passes":
                return _way(scene, job, wanted, load, ends, around)
    if not tried:
        return None
    ends, around, _ = max(tried, key=lambda row: _nearness(row[2]))
    return _way(scene, job, wanted, load, ends, around)


def surely_blocked(scene: Scene, wanted: Carry) -> bool:
    """Cheap screen: True is certain, False only says that nothing is proved yet."""
    load = load_of(scene, wanted)
    asked = False
    for ends in pairs_of_ends(scene, wanted, load):
        start, goal = (pose_of(end) for end in ends)
        for doors in open_at_once(scene, wanted, ends):
            around = surroundings(scene, wanted, load, ends, doors)
            if may_pass(around.space, around.body, start=start, goal=goal):
                return False
            asked = True
    return asked


def surely_passes(scene: Scene, wanted: Carry) -> bool:
    """Cheap screen: True is what `way_of` would find, False says that nothing is proved yet.

    The piece goes through with so much more width than any tape is off, among all that may reach
    its heights; how much there is to spare is not asked.
    """
    load = load_of(scene, wanted)
    return sure_way(scene, wanted, load, strip=load.carrier > 0.0) is not None


def sure_way(
    scene: Scene, wanted: Carry, load: Load, *, strip: bool = False
) -> tuple[Carried, Surroundings] | None:
    """A way with so much more width than any tape is off, among all that may reach its heights.

    It is looked for between the first poses between which the load may pass as drawn.  With
    `strip` one for a strip that has room for the carrier all along will do: quicker to see.  What
    it goes among comes with it.
    """
    reserve = look(scene.shop, 0.0)
    for ends in pairs_of_ends(scene, wanted, load):
        start, goal = (pose_of(end) for end in ends)
        for doors in open_at_once(scene, wanted, ends):
            around = surroundings(scene, wanted, load, ends, doors, lean=1.0)
            bodies = [(around.space, around.body.widened(reserve), start, goal)]
            if strip:  # what stops any part of the body stops the strip
                bodies.insert(0, (around.space.met_by_all(), *_strip(load, (start, goal), reserve)))
            # most pass at the first turns tried: then nothing else has to be asked
            at_once = _first_carried(bodies[:1], most=0)
            if at_once is not None:
                return at_once, around
            drawn = surroundings(scene, wanted, load, ends, doors)
            if may_pass(drawn.space, drawn.body, start=start, goal=goal):
                found = _first_carried(bodies)
                return None if found is None else (found, around)
    return None


def _first_carried(
    bodies: Iterable[tuple[CarrySpace, Body, Pose, Pose]], most: int = MOST_HALVED
) -> Carried | None:
    for space, body, start, goal in bodies:
        found = carry(space, body, start=start, goal=goal, margin=False, most=most)
        if found.verdict == "passes":
            return found
    return None


def _strip(load: Load, ends: tuple[Pose, Pose], reserve: float) -> tuple[Body, Pose, Pose]:
    """A strip that has room for the carrier all along, with its poses at both ends."""
    half = load.beside.value / 2
    strip = Body.rectangle(load.length.value, load.width.value, half_turn=False).widened(reserve)
    start, goal = (
        Pose(p.x - half * sin(p.angle), p.y + half * cos(p.angle), p.angle) for p in ends
    )
    return strip, start, goal


def _nearness(answer: Carried) -> int:
    """Undecided before a way that is blocked, before an end that is."""
    if answer.verdict == "unsure":
        return 2
    return int(answer.blocked_at is not None and answer.blocked_at.reason == "way")


def pairs_of_ends(scene: Scene, wanted: Carry, load: Load) -> Iterator[tuple[Stand, Stand]]:
    """Poses at both ends, the carrier on either side of the piece."""
    starts = stands(scene, wanted, load, goal=False)
    goals = stands(scene, wanted, load, goal=True)
    sides = (1.0, -1.0) if load.beside.value > 0 else (0.0,)
    for start in starts:
        for goal in goals:
            for here in sides:
                for there in sides:
                    if here == 0.0:
                        yield start, goal
                    else:
                        yield with_carrier(start, here), with_carrier(goal, there)


def _way(
    scene: Scene,
    job: str,
    wanted: Carry,
    load: Load,
    ends: tuple[Stand, Stand],
    around: Surroundings,
) -> Way:
    start, goal = ends
    answer = carry(around.space, around.body, start=pose_of(start), goal=pose_of(goal))
    margin = _margin(load, around, answer)
    verdict = _verdict(scene, load, ends, around, answer, margin)
    if verdict != "unsure" and not _whatever_the_heights(
        scene, wanted, load, ends, around, verdict
    ):
        verdict = "unsure"
    return Way(
        job, wanted, load, start, goal, around, answer, margin, verdict,
        _limits(around, answer),
    )  # fmt: skip


def _margin(load: Load, around: Surroundings, answer: Carried) -> Affine | None:
    """The width left over, as sensitive as the edges that touch at the tightest place."""
    if answer.margin is None or not isfinite(answer.margin) or answer.pinch is None:
        return None
    body = around.body.widened(answer.margin)
    elements = [around.facing((k,)) for k in range(len(body.parts))]
    grown = stretched_by(apart=around.apart)
    touching = contacts(body, answer.pinch.pose, elements, grown)
    rate = sensitivity(body, answer.pinch.pose, touching, length=load.length, width=load.width)
    if rate is None:
        ends = (answer.pinch.left, answer.pinch.right)
        across, _ = boundary_distance(around.facing(answer.pinch.parts), ends)
        rate = Affine(0.0, across.terms) - load.width - Affine(0.0, load.length.terms)
    return Affine(answer.margin, rate.terms)


def _verdict(
    scene: Scene,
    load: Load,
    ends: tuple[Stand, Stand],
    around: Surroundings,
    answer: Carried,
    margin: Affine | None,
) -> Verdict:
    """What stands even if every measured number is off by as much as it may be."""
    if margin is not None:
        found = verdict_of(margin.value, margin.error(scene.shop.measurements))
        return found if found == answer.verdict or found == "unsure" else "unsure"
    if answer.verdict != "fails":
        return answer.verdict
    least = _largest_shift(scene, load, around)
    if least == 0.0:
        return "fails"
    slim = around.body.inset(least)
    start, goal = (pose_of(end) for end in ends)
    easier = carry(around.space, slim, start=start, goal=goal, margin=False)
    return "fails" if easier.verdict == "fails" else "unsure"


def _whatever_the_heights(
    scene: Scene,
    wanted: Carry,
    load: Load,
    ends: tuple[Stand, Stand],
    around: Surroundings,
    verdict: Verdict,
) -> bool:
    """Whether the verdict stands where heights are off by as much as the tape allows."""
    lean = 1.0 if verdict == "passes" else -1.0
    other = surroundings(scene, wanted, load, ends, around.doors, lean=lean)
    if len(other.obstacles) == len(around.obstacles) and other.stops == around.stops:
        return True
    start, goal = (pose_of(end) for end in ends)
    again = carry(other.space, other.body, start=start, goal=goal, margin=False)
    return again.verdict == verdict


def _largest_shift(scene: Scene, load: Load, around: Surroundings) -> float:
    """Farthest that a side of the piece and a boundary together may be off [m]."""
    known = scene.shop.measurements
    own = max(load.length.error(known), load.width.error(known)) / 2
    worst = max(
        (e.volume.outline.error(known) for e in (*around.obstacles, *around.edges)), default=0.0
    )
    return own + worst


def _limits(around: Surroundings, answer: Carried) -> tuple[str, ...]:
    """What the piece would hit at the tightest place, and what faces it there on both sides."""
    hit = () if answer.blocked_at is None else around.names(answer.blocked_at.obstacles)
    if answer.pinch is None:
        return hit
    ends = (answer.pinch.left, answer.pinch.right)
    _, facing = boundary_distance(around.facing(answer.pinch.parts), ends)
    if answer.blocked_at is None:
        return tuple(dict.fromkeys(facing))
    walls = {edge.owner for edge in around.edges}
    return tuple(dict.fromkeys([*hit, *(name for name in facing if name not in walls)]))
