"""What may be done while a task goes on by itself: glue that cures, a finish that dries.

A task that `lasts` holds what it uses, what is there for it only and what it has set up, but
nobody stands at it.  Another task may go on beside it unless the two want one thing, want a thing
in two places, something is in the way that is not in the way without the other, or the other task
cannot be done even by itself.  Drawers and doors are asked the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from floorplan.checks.finding import Finding
from floorplan.checks.judge import AT_ONE_TIME, CHECKS, Check, judge_scene, laid_out
from floorplan.checks.lying import with_parts
from floorplan.shop.model import Layout, Shop, Task
from floorplan.shop.scene import Scene, opening_task, scene

ASKED = tuple(row for row in CHECKS if row[0] in AT_ONE_TIME)
OPENED = tuple(row for row in CHECKS if row[0] == "openings")

Rows = tuple[tuple[str, Check], ...]
Verdict = Literal["yes", "no", "unsure"]
Failing = tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """Whether another task may be done while one lasts, or a drawer opened."""

    lasting: str
    other: str
    """A task, or the moment in which a drawer or door is open."""
    verdict: Verdict
    because: tuple[str, ...] = ()
    """What is against it, in words."""
    opening: bool = False
    """Whether the other is a drawer, door or pull-out."""


def beside_lasting(shop: Shop, layout: Layout, made: Scene | None = None) -> tuple[Beside, ...]:
    """Every lasting task with every other task, drawer and door, in the order of the file.

    What the tasks lay out lies where it was found; `made` is the scene where it is known already.
    """
    lasting = [task for task in shop.tasks if task.lasts > 0.0]
    if not lasting:
        return ()
    if any(task.lay_out is not None for task in lasting):
        made = made or scene(shop, layout)
        for laid in laid_out(made):
            made = with_parts(made, laid.task, laid.places)
        shop, layout = made.shop, made.layout
    alone = {task.name: _failing(shop, layout, _linked(task)) for task in shop.tasks}
    out: list[Beside] = []
    for task in lasting:
        for other in shop.tasks:
            if other.name == task.name or (other in lasting and _comes_first(shop, other, task)):
                continue
            out.append(_pair(shop, layout, (task, other), alone))
        out.extend(_opened(shop, layout, task, alone[task.name]))
    return tuple(out)


def _comes_first(shop: Shop, one: Task, other: Task) -> bool:
    """Of two that last each pair is told once."""
    return shop.tasks.index(one) < shop.tasks.index(other)


# --- a task beside a task ------------------------------------------------------------------


def _pair(shop: Shop, layout: Layout, pair: tuple[Task, Task], alone: dict[str, Failing]) -> Beside:
    task, other = pair
    against = tuple(dict.fromkeys(_at_odds(task, other)))
    if against:
        return Beside(task.name, other.name, "no", against)
    both = _failing(shop, layout, _linked(task, other.name), _linked(other))
    known = {_key(f) for one in pair for f in alone[one.name]}
    new = [f for f in both if _key(f) not in known]
    # trouble that the lasting task has by itself is told once, among the findings
    own = [f for f in alone[other.name] if f.task == other.name]
    words = [f.message for f in new] + [f"by itself: {f.message}" for f in own]
    verdict = _verdict((*new, *own))
    return Beside(task.name, other.name, verdict, tuple(dict.fromkeys(words)))


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


# --- a drawer or door beside a task --------------------------------------------------------


def _opened(shop: Shop, layout: Layout, task: Task, alone: Failing) -> Iterator[Beside]:
    """Every drawer, door and pull-out of what is there at any time and stays meanwhile."""
    moments = [
        opening_task(thing, opening)
        for thing in shop.things
        if thing.only_in is None and thing.name not in (*task.away, *task.parked, *task.working)
        for opening in thing.openings
    ]
    if not moments:
        return
    both = _failing(shop, layout, _linked(task, *moments), checks=OPENED)
    known = {_key(f) for f in alone}
    for moment in moments:
        mine = [f for f in both if f.task == moment]
        words = [f"at any time: {f.message}" if _key(f) in known else f.message for f in mine]
        yield Beside(task.name, moment, _verdict(mine), tuple(dict.fromkeys(words)), opening=True)


# --- judging some tasks --------------------------------------------------------------------


def _linked(task: Task, *others: str) -> Task:
    """The task, going on together with these and with no others."""
    return replace(task, together_with=others)


def _failing(shop: Shop, layout: Layout, *tasks: Task, checks: Rows = ASKED) -> Failing:
    """Required findings that do not pass where there are only these tasks, the worst first."""
    made = scene(replace(shop, tasks=tasks), layout)
    return judge_scene(made, checks).failing


def _verdict(against: Iterable[Finding]) -> Verdict:
    """No where one thing surely is against it, unsure where one may be."""
    found = {f.verdict for f in against}
    return "no" if "fails" in found else "unsure" if found else "yes"


def _key(found: Finding) -> tuple[object, ...]:
    """The same trouble by as much is no news, deeper trouble is."""
    return found.check, found.rule, found.about, found.task, found.line, found.message
