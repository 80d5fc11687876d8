"""A job, task, run or link is there only while all it needs is: faults where it is not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from floorplan.shop.model import BreakDown, Carry, Feed, Job, Shop
from floorplan.shop.nodes import Mapping as MappingNode
from floorplan.shop.plan import Key, Plan, Sort, Span

NEVER = Span(0, -1)


@dataclass(frozen=True, slots=True)
class _Need:
    """That one thing of the file cannot be without another."""

    sort: Sort
    name: str
    line: int
    what: str
    """The name that is needed."""
    span: Span = NEVER
    """When that is there."""


def check_needs(top: MappingNode, shop: Shop, plan: Plan) -> None:
    """A job, task, run or link is there only while all it needs is."""
    short: dict[Key, list[_Need]] = {}
    everything: dict[Key, Span] = {}
    for need in (*_of_work(shop, plan), *_of_air(shop, plan)):
        key = (need.sort, need.name)
        everything[key] = everything.get(key, plan.throughout).common(need.span)
        own = plan.span(*key)
        if own.first < need.span.first or own.last > need.span.last:
            short.setdefault(key, []).append(need)
    for key, needs in short.items():
        span = plan.span(*key).common(everything[key])
        for need in needs:
            top.faults.add_at(
                need.line, 1,
                f"{_called(need)} needs `{need.what}`, which is there only in "
                f"{plan.names(need.span)}",
                fix=_limits(plan, key, span),
            )  # fmt: skip
    _check_links(top, shop, plan)
    _check_heirs(top, shop, plan)


def _called(need: _Need) -> str:
    return f"{need.sort} `{need.name}`" if need.sort != need.name else f"the {need.sort}"


def _limits(plan: Plan, key: Key, span: Span) -> str:
    if span.first > span.last:
        return "no stage has all it needs; write one entry for each stage"
    words = []
    if span.first > 0:
        word = "from stage" if key[0] == "run" else "from"
        words.append(f"`{word}: {plan.stages[span.first].name}`")
    if span.last < plan.throughout.last:
        words.append(f"`until: {plan.stages[span.last].name}`")
    return f"add {' and '.join(words)} to it, and another entry for the other stages if need be"


def _of_work(shop: Shop, plan: Plan) -> Iterator[_Need]:
    for task in shop.tasks:
        for name in (*task.uses, *task.open_doors) if task.line else ():
            yield from _thing_or_door(shop, plan, _Need("task", task.name, task.line, name))
    for job in shop.jobs:
        for need in (*_of_stops(job), *_of_pieces(job)):
            yield from _thing_or_door(shop, plan, need)
        for need in _of_job_tasks(job):
            if any(task.line and task.name == need.what for task in shop.tasks):
                yield replace(need, span=plan.span("task", need.what))
        for carry in job.carries:
            if carry.thing is not None:
                span = plan.span("thing", carry.thing)
                yield _Need("job", job.name, carry.line or job.line, carry.thing, span)


def _thing_or_door(shop: Shop, plan: Plan, need: _Need) -> Iterator[_Need]:
    """A need with its span; places and the floor are always there."""
    if shop.has(need.what):
        yield replace(need, span=plan.served(need.what))
    elif any(door.name == need.what for door in shop.doors):
        yield replace(need, span=plan.span("door", need.what))


def _of_stops(job: Job) -> Iterator[_Need]:
    for leg in job.legs:
        for stop in (leg.start, leg.end):
            yield _Need("job", job.name, job.line, stop)


def _of_pieces(job: Job) -> Iterator[_Need]:
    for feed in job.feeds:
        yield _Need("job", job.name, feed.line or job.line, feed.machine)
    for work in job.break_downs:
        yield _Need("job", job.name, work.line or job.line, work.over)
    for carry in job.carries:
        for end in (carry.start, carry.goal):
            yield _Need("job", job.name, carry.line or job.line, end)


def _of_job_tasks(job: Job) -> Iterator[_Need]:
    pieces: tuple[Feed | BreakDown | Carry, ...] = (*job.feeds, *job.break_downs, *job.carries)
    for piece in pieces:
        if piece.task is not None:
            yield _Need("job", job.name, piece.line or job.line, piece.task)


def _of_air(shop: Shop, plan: Plan) -> Iterator[_Need]:
    air = shop.air
    if air is None:
        return
    for run in air.runs:
        if run.drop is not None:
            machine = run.drop.machine
            yield _Need("run", run.name, run.line, machine, plan.span("thing", machine))
        if run.junction is not None:
            into = run.junction.into
            yield _Need("run", run.name, run.line, into, plan.span("run", into))
        if air.collector is not None:
            span = plan.span("collector", "collector")
            yield _Need("run", run.name, run.line, "the collector", span)
    if air.vacuum is not None:
        thing = air.vacuum.thing
        span = plan.span("thing", thing)
        yield _Need("vacuum", "vacuum", air.vacuum.line, thing, span)


def _check_links(top: MappingNode, shop: Shop, plan: Plan) -> None:
    """A link holds while both are there; two that never meet cannot be linked."""
    for thing in shop.things:
        own = plan.span("thing", thing.name)
        links = [(link.machine, link.line) for link in thing.outfeed_of]
        links += [(link.target, link.line) for link in thing.within_of]
        for name, line in links:
            if shop.has(name) and not own.meets(plan.served(name)):
                top.faults.add_at(
                    line, 1, f"`{thing.name}` and `{name}` are never there in one stage",
                    fix="take the link out, or name what is there with it",
                )  # fmt: skip


def _check_heirs(top: MappingNode, shop: Shop, plan: Plan) -> None:
    """What is fed through a machine goes through what replaces it, which must be able to."""
    for job in shop.jobs:
        for feed in job.feeds:
            for stage in range(len(plan.stages)):
                heir = plan.heir(feed.machine, stage)
                if heir is None or not plan.there("job", job.name, stage):
                    continue
                if shop.has(heir) and shop.thing(heir).cutter is None:
                    top.faults.add_at(
                        feed.line or job.line, 1,
                        f"`{heir}` comes in the place of `{feed.machine}`, but nothing can be fed "
                        "through it",
                        fix=f"add `until: {plan.stages[stage - 1].name}` to job `{job.name}`",
                    )  # fmt: skip
                    break
