"""What may be done while a task goes on by itself: glue that cures, a finish that dries.

A task that `lasts` holds what it uses, what is there for it only and what it has set up, but
nobody stands at it.  Another task may go on beside it unless the two want one thing, want a thing
in two places, or something is in the way that is not in the way without the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from floorplan.checks.finding import Finding
from floorplan.checks.judge import CHECKS, Judgement, judge_scene
from floorplan.shop.model import Layout, Shop, Task
from floorplan.shop.scene import scene

ABOUT = ("solids", "keep-clears", "zones", "openings", "feeding", "way-out")
ASKED = tuple(row for row in CHECKS if row[0] in ABOUT)
"""Checks whose answer depends on what goes on at the same time."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Whether another task may be done while one lasts."""

    lasting: str
    other: str
    verdict: Literal["yes", "no", "unsure"]
    because: tuple[str, ...] = ()
    """What is against it, in words."""


def beside_lasting(shop: Shop, layout: Layout) -> tuple[Beside, ...]:
    """Every lasting task with every other task, in the order of the file."""
    lasting = [task for task in shop.tasks if task.lasts > 0.0]
    if not lasting:
        return ()
    alone = _judged(shop, layout, None)
    known = {_key(f) for f in alone.failing}
    out: list[Beside] = []
    for task in lasting:
        for other in shop.tasks:
            if other.name == task.name or (other in lasting and _comes_first(shop, other, task)):
                continue
            against = tuple(dict.fromkeys(_at_odds(task, other)))
            if against:
                out.append(Beside(task.name, other.name, "no", against))
                continue
            made = _judged(shop, layout, (task, other))
            new = [f for f in made.failing if _key(f) not in known]
            surely = any(f.verdict == "fails" for f in new)
            words = tuple(dict.fromkeys(f.message for f in new))
            verdict: Literal["yes", "no", "unsure"] = "yes"
            if new:
                verdict = "no" if surely else "unsure"
            out.append(Beside(task.name, other.name, verdict, words))
    return tuple(out)


def _comes_first(shop: Shop, one: Task, other: Task) -> bool:
    """Of two that last each pair is told once."""
    return shop.tasks.index(one) < shop.tasks.index(other)


def _at_odds(one: Task, other: Task) -> Iterator[str]:
    """Things that the two tasks want at once, or in different places."""
    for name in one.uses:
        if name in other.uses:
            yield f"both use {name}"
    for a, b in ((one, other), (other, one)):
        held = {*b.uses, *b.parked, *b.working, *b.away}
        for what, moved, same in (
            ("parked", a.parked, b.parked),
            ("away", a.away, b.away),
            ("brought out", a.working, b.working),
        ):
            for name in moved:
                if name in held and name not in same:
                    yield f"{name} is {what} in {a.name} and wanted elsewhere in {b.name}"


def _judged(shop: Shop, layout: Layout, pair: tuple[Task, Task] | None) -> Judgement:
    """The layout with no tasks at one time but for a pair."""
    tasks = []
    for task in shop.tasks:
        partners = (pair[1].name,) if pair is not None and task.name == pair[0].name else ()
        tasks.append(replace(task, together_with=partners))
    return judge_scene(scene(replace(shop, tasks=tuple(tasks)), layout), ASKED)


def _key(found: Finding) -> tuple[object, ...]:
    """The same trouble by as much is no news, deeper trouble is."""
    return found.check, found.rule, found.about, found.line, found.message
