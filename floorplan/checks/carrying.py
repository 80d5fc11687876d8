"""Can what a job carries be brought from pose to pose, and with how much to spare?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite, radians

import numpy as np
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from floorplan.checks.contacts import contacts, sensitivity
from floorplan.checks.finding import Answer, Finding, Measure, Verdict, amount, finding, verdict_of
from floorplan.checks.obstruction import boundary_distance
from floorplan.checks.surroundings import Surroundings, open_at_once, surroundings
from floorplan.geometry.affine import Affine
from floorplan.motion.carry import Body, Carried, Pose, carry, may_pass
from floorplan.shop.carrying import Load, Stand, beside_carrier, load_of, stands
from floorplan.shop.model import Carry
from floorplan.shop.scene import Scene

CHECK = "carrying"
RULE = "carry-way"
HEAD = "carry-head"


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
    def body(self) -> Body:
        """The plan of the piece with whoever carries it."""
        return body_of(self.load)


def body_of(load: Load) -> Body:
    """The rectangle that a load takes in plan."""
    return Body.rectangle(load.length.value, load.width.value)


def pose_of(stand: Stand) -> Pose:
    """A stand as a pose of the rectangle."""
    return Pose(stand.x, stand.y, radians(stand.turn))


def outline_at(body: Body, pose: Pose) -> Polygon:
    """The rectangle at a pose [m]."""
    return Polygon(body.at(pose.angle) + np.array([pose.x, pose.y]))


def check(scene: Scene) -> Answer:
    """Every carry of every job whose ends exist in this layout."""
    findings: list[Finding] = []
    length, least = 0.0, float("inf")
    for job, wanted in scene.shop.carries():
        found = tuple(judged(scene, job, wanted))
        findings.extend(found)
        way = None if wanted.how == "tilted up" else way_of(scene, job, wanted)
        if way is None:
            continue
        passed = way.answer.verdict == "passes"
        length += way.answer.length if passed else float("inf")
        spare = -way.load.width.value if way.margin is None else way.margin.value
        least = min(least, spare)
    measures = {}
    if isfinite(least):
        measures = {"sheet way": Measure(length, "m"), "sheet way margin": Measure(least, "m")}
    return Answer(tuple(findings), measures)


def screen(scene: Scene) -> Answer:
    """Cheap form of `check`: only carries that surely fail are found, and nothing is measured."""
    findings: list[Finding] = []
    for job, wanted in scene.shop.carries():
        if wanted.how == "tilted up":
            continue
        load = load_of(scene, wanted)
        for ends in _pairs(scene, wanted, load):
            start, goal = (pose_of(end) for end in ends)
            doors = open_at_once(scene, wanted, ends)
            spaces = (surroundings(scene, wanted, load, ends, names).space for names in doors)
            if any(may_pass(space, body_of(load), start=start, goal=goal) for space in spaces):
                break
        else:
            findings.extend(judged(scene, job, wanted))
    return Answer(tuple(findings))


@lru_cache(maxsize=32)
def way_of(scene: Scene, job: str, wanted: Carry) -> Way | None:
    """The certified answer for one carry, None when an end of it has no place in this layout.

    The first pair of poses and set of open doors that passes counts, else the one that comes
    nearest to passing.
    """
    if wanted.how == "tilted up":
        return None
    load = load_of(scene, wanted)
    body = body_of(load)
    tried: list[tuple[tuple[Stand, Stand], Surroundings, Carried]] = []
    for ends in _pairs(scene, wanted, load):
        start, goal = pose_of(ends[0]), pose_of(ends[1])
        for doors in open_at_once(scene, wanted, ends):
            around = surroundings(scene, wanted, load, ends, doors)
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


def _nearness(answer: Carried) -> int:
    """Undecided before a way that is blocked, before an end that is."""
    if answer.verdict == "unsure":
        return 2
    return int(answer.blocked_at is not None and answer.blocked_at.reason == "way")


def _pairs(scene: Scene, wanted: Carry, load: Load) -> Iterator[tuple[Stand, Stand]]:
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
                        yield beside_carrier(start, load, here), beside_carrier(goal, load, there)


def _way(
    scene: Scene,
    job: str,
    wanted: Carry,
    load: Load,
    ends: tuple[Stand, Stand],
    around: Surroundings,
) -> Way:
    start, goal = ends
    body = body_of(load)
    answer = carry(around.space, body, start=pose_of(start), goal=pose_of(goal))
    margin = _margin(load, around, answer)
    verdict = _verdict(scene, load, ends, around, answer, margin)
    return Way(
        job, wanted, load, start, goal, around, answer, margin, verdict,
        _limits(around, answer),
    )  # fmt: skip


def _margin(load: Load, around: Surroundings, answer: Carried) -> Affine | None:
    """The width left over, as sensitive as the edges that touch at the tightest place."""
    if answer.margin is None or not isfinite(answer.margin) or answer.pinch is None:
        return None
    body = body_of(load).widened(answer.margin)
    elements = (*around.obstacles, *around.edges)
    touching = contacts(body, answer.pinch.pose, elements)
    rate = sensitivity(body, answer.pinch.pose, touching, length=load.length, width=load.width)
    if rate is None:
        across, _ = boundary_distance(elements, (answer.pinch.left, answer.pinch.right))
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
    slim = body_of(load).inset(least)
    start, goal = (pose_of(end) for end in ends)
    easier = carry(around.space, slim, start=start, goal=goal, margin=False)
    return "fails" if easier.verdict == "fails" else "unsure"


def _largest_shift(scene: Scene, load: Load, around: Surroundings) -> float:
    """Farthest that any boundary, or a side of the piece, may be from where it is drawn [m]."""
    known = scene.shop.measurements
    worst = max(load.length.error(known), load.width.error(known)) / 2
    for element in (*around.obstacles, *around.edges):
        outline = element.volume.outline
        errors = np.zeros_like(outline.points)
        for name, weights in outline.terms.items():
            if name in known:
                errors += np.abs(weights) * known[name].error
        worst = max(worst, float(np.hypot(*errors.T).max(initial=0.0)))
    return worst


def _limits(around: Surroundings, answer: Carried) -> tuple[str, ...]:
    if answer.blocked_at is not None:
        return around.names(answer.blocked_at.obstacles)
    if answer.pinch is None:
        return ()
    ends = (answer.pinch.left, answer.pinch.right)
    _, names = boundary_distance((*around.obstacles, *around.edges), ends)
    return tuple(dict.fromkeys(names))


# --- findings ------------------------------------------------------------------------------


def judged(scene: Scene, job: str, wanted: Carry) -> Iterator[Finding]:
    """Findings of one carry: head room where the piece is tall, and its way."""
    load = load_of(scene, wanted)
    shop = scene.shop
    head = shop.room.height - load.piece.top
    if head.value < 0.3:
        yield finding(
            shop, check=CHECK, rule=HEAD, about=(wanted.piece, "ceiling"), margin=head,
            needed=load.piece.top.value, by_height=True, where=None, task=wanted.task,
            line=wanted.line,
            message=f"{label(wanted)} reaches {{need}}, the ceiling is {{have}} high",
        )  # fmt: skip
    if head.value < 0.0:
        return
    way = way_of(scene, job, wanted)
    if way is not None:
        yield _finding(scene, way)


def label(wanted: Carry) -> str:
    """The piece and how it is carried."""
    return f"{wanted.piece} {wanted.how} from {wanted.start} to {wanted.goal}"


def _finding(scene: Scene, way: Way) -> Finding:
    shop, answer = scene.shop, way.answer
    width = way.load.width.value
    margin = way.margin if way.margin is not None else Affine(-width)
    made = finding(
        shop, check=CHECK, rule=RULE, about=(way.carry.piece, *way.limits), margin=margin,
        needed=width, where=_where(way), task=way.carry.task, line=way.carry.line,
        message=_message(scene, way),
    )  # fmt: skip
    if made.verdict == way.verdict:
        return made
    words = made.message.partition("; too close to call")[0]
    if way.verdict == "unsure":
        words += "; not certified either way within what the tape may be off"
    return replace(made, verdict=way.verdict, message=words, certified=answer.verdict != "unsure")


def _message(scene: Scene, way: Way) -> str:
    shop, answer = scene.shop, way.answer
    what = label(way.carry)
    if answer.verdict == "passes":
        turns = f"{answer.turns} turn{'' if answer.turns == 1 else 's'}"
        far = amount(shop, answer.length, "up")
        return f"{what} passes: {far} with {turns}, tightest{beside(way)} with {{spare}} to spare"
    if answer.verdict == "unsure":
        return f"{what} is not certified either way; about {{spare}} decides"
    return f"{what} does not pass: {blocked_words(scene, way)}"


def beside(way: Way) -> str:
    """Between what, or beside what alone, it is tightest."""
    if not way.limits:
        return ""
    return f" {'beside' if len(way.limits) == 1 else 'between'} {' and '.join(way.limits)}"


def blocked_words(scene: Scene, way: Way) -> str:
    """Where it stops, what stands there, and how large an opening it would need."""
    blocked = way.answer.blocked_at
    assert blocked is not None
    names = " and ".join(way.limits) or "the walls"
    need = least_opening(scene, way)
    closed = "".join(f"; {words}" for words in way.around.closed)
    if blocked.reason != "way":
        stand = way.start if blocked.reason == "start" else way.goal
        return f"it has no room {stand.words}, {names} in the way; it needs {need}{closed}"
    if way.margin is None:
        return f"stopped by {names}, however narrow; it needs an opening of {need}{closed}"
    fits = amount(scene.shop, way.load.width.value + way.margin.value, "down")
    return f"stopped by {names}; {fits} wide would pass; it needs an opening of {need}{closed}"


def least_opening(scene: Scene, way: Way) -> str:
    """The smallest straight opening for a piece as it is carried: clear width and height."""
    width = amount(scene.shop, way.load.width.value, "up")
    low = amount(scene.shop, way.load.bottom.value, "down")
    high = amount(scene.shop, way.load.piece.top.value, "up")
    return f"{width} clear width from {low} to {high} above the floor"


def _where(way: Way) -> BaseGeometry | None:
    answer = way.answer
    if answer.verdict == "passes" and answer.pinch is not None:
        return LineString([answer.pinch.left, answer.pinch.right])
    if answer.blocked_at is not None:
        near, far = answer.blocked_at.near, answer.blocked_at.far
        if answer.blocked_at.reason != "way":
            return outline_at(way.body, near)
        return MultiLineString([outline_at(way.body, pose).exterior.coords for pose in (near, far)])
    return None
