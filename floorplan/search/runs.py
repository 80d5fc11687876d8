"""Several short searches instead of a long one, here or on other cores: the answer is the same.

The effort is cut into runs of one length, each with dice of its own, so what is found depends on
seed and effort alone and not on who works at it.  Runs gain as much as one search of their joint
effort, since that would begin afresh now and then as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass, replace
from typing import Protocol

from floorplan.search.archive import Archive, ClearlyDifferent
from floorplan.search.placing import Outcome, Progress, search
from floorplan.search.problem import Objective, Problem, State

RUN = 2000
"""Items put back in one run, about."""
STRIDE = 7919
"""Between the seeds of runs that follow each other, so that neighbouring seeds share none."""


class Question(Protocol):
    """What is searched for.  It can be sent to another process."""

    def posed(self) -> tuple[Problem, Objective]:
        """The problem, and an objective that knows nothing of earlier runs."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What all runs have in common."""

    keep: int
    """how many clearly different states to return"""
    start: State | None = None
    seconds: float | None = None
    """may cut each run short [s]"""


def searched(
    question: Question,
    terms: Terms,
    *,
    seed: int,
    effort: int,
    executor: Executor | None = None,
    on_progress: Callable[[Progress], None] | None = None,
) -> Outcome:
    """The joint answer of as many runs as the effort is worth.

    Parameters
    ----------
    question, terms
        what is searched for, and what all runs have in common
    seed, effort
        the same two give the same answer, whoever works at it
    on_progress
        called now and then, with the progress of all runs together
    executor
        any executor of processes or of other machines; without one the runs follow each other.
        What `halt()` it may have is called on a keyboard interrupt, and runs should end soon then.

    A keyboard interrupt ends the search and returns the best so far.
    """
    told = _Told(effort, on_progress)
    if executor is None:
        found = list(_here(question, terms, told, seed, effort))
    else:
        found = _elsewhere(question, terms, told, executor, seed, effort)
    return _joined(question.posed()[0], found, terms.keep)


def shares(effort: int) -> list[int]:
    """The effort of each run."""
    count = max(1, round(effort / RUN))
    return [effort // count + (number < effort % count) for number in range(count)]


def one_run(question: Question, terms: Terms, seed: int, effort: int) -> Outcome:
    """One run by itself; what other processes are asked to do."""
    return _run(question, terms, seed, effort, None)


def _run(
    question: Question,
    terms: Terms,
    seed: int,
    effort: int,
    on_progress: Callable[[Progress], None] | None,
) -> Outcome:
    problem, objective = question.posed()
    return search(
        problem,
        objective,
        seed=seed,
        effort=effort,
        seconds=terms.seconds,
        start=terms.start,
        keep=terms.keep,
        on_progress=on_progress,
    )


def _here(
    question: Question, terms: Terms, told: _Told, seed: int, effort: int
) -> Iterator[Outcome]:
    left = terms.seconds
    for number, share in enumerate(shares(effort)):
        mine = replace(terms, seconds=left)
        found = _run(question, mine, seed + STRIDE * number, share, told.run)
        told.add(found)
        yield found
        if left is not None:
            left -= found.seconds
        if found.interrupted or (left is not None and left <= 0.0):
            return


def _elsewhere(
    question: Question, terms: Terms, told: _Told, executor: Executor, seed: int, effort: int
) -> list[Outcome]:
    asked: list[Future[Outcome]] = [
        executor.submit(one_run, question, terms, seed + STRIDE * number, share)
        for number, share in enumerate(shares(effort))
    ]
    interrupted = False
    try:
        for future in as_completed(asked):
            told.add(future.result())
    except KeyboardInterrupt:
        interrupted = True
        for future in asked:
            future.cancel()
        getattr(executor, "halt", lambda: None)()
    # in the order in which they were asked, whoever was ready first
    done = [future.result() for future in asked if not future.cancelled()]
    return [replace(found, interrupted=True) for found in done] if interrupted else done


def _joined(problem: Problem, found: Sequence[Outcome], keep: int) -> Outcome:
    """The best of all runs, and the best clearly different states of any."""
    if not found:
        raise KeyboardInterrupt
    best = min(found, key=lambda outcome: (not outcome.feasible, outcome.cost))
    archive = Archive(keep, ClearlyDifferent(problem))
    for outcome in found:
        for cost, state in outcome.archive:
            archive.offer(cost, state)
    return replace(
        best,
        archive=tuple((kept.cost, kept.state) for kept in archive.kept),
        tried=sum(outcome.tried for outcome in found),
        interrupted=any(outcome.interrupted for outcome in found),
        cut_short=any(outcome.cut_short for outcome in found),
    )


class _Told:
    """Tells the progress of all runs together."""

    def __init__(self, effort: int, on_progress: Callable[[Progress], None] | None) -> None:
        self.effort = effort
        self.on_progress = on_progress
        self.before = Progress(0, effort, float("inf"), 0.0)

    def add(self, found: Outcome) -> None:
        """A run has ended."""
        done = self.before
        self.before = Progress(
            done.tried + found.tried,
            self.effort,
            min(done.best, found.cost),
            max(done.seconds, found.seconds),
        )
        if self.on_progress is not None:
            self.on_progress(self.before)

    def run(self, now: Progress) -> None:
        """A run goes on."""
        if self.on_progress is not None:
            done = self.before
            self.on_progress(
                Progress(done.tried + now.tried, self.effort, min(done.best, now.best), now.seconds)
            )
