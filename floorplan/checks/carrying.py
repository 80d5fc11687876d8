"""Can what a job carries be brought from pose to pose, and with how much to spare?"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from math import isfinite

from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from floorplan.checks.finding import Answer, Finding, Measure, amount, finding
from floorplan.checks.way_words import beside, blocked_words, label
from floorplan.checks.ways import Way, surely_blocked, surely_passes, way_of
from floorplan.geometry.affine import Affine
from floorplan.motion.turning import outline_at
from floorplan.shop.carrying import load_of
from floorplan.shop.model import Carry
from floorplan.shop.scene import Scene

CHECK = "carrying"
RULE = "carry-way"
HEAD = "carry-head"
LOW = 0.3
"""Head room is told where there is less [m]."""


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


def blocked(scene: Scene) -> bool:
    """Cheap form of `check`: whether something surely cannot be carried; nothing is measured."""
    return any(
        wanted.how != "tilted up" and surely_blocked(scene, wanted)
        for _, wanted in scene.shop.carries()
    )


def doubtful(scene: Scene, spared: Collection[Carry] = ()) -> Answer:
    """Cheap form of `check`: findings of all but what surely passes; nothing else is measured.

    What is carried in `spared` is not asked about.
    """
    return Answer(
        tuple(
            found
            for job, wanted in scene.shop.carries()
            if wanted not in spared
            and not (is_plain(scene, wanted) and surely_passes(scene, wanted))
            for found in judged(scene, job, wanted)
        )
    )


def is_plain(scene: Scene, wanted: Carry) -> bool:
    """Whether only the plan of a way is in question: neither tilted up nor near the ceiling."""
    low = scene.shop.room.height.value - LOW
    return wanted.how != "tilted up" and load_of(scene, wanted).piece.top.value <= low


# --- findings ------------------------------------------------------------------------------


def judged(scene: Scene, job: str, wanted: Carry) -> Iterator[Finding]:
    """Findings of one carry: head room where the piece is tall, and its way."""
    load = load_of(scene, wanted)
    shop = scene.shop
    head = shop.room.height - load.piece.top
    if head.value < LOW:
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
