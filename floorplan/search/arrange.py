"""The main job: searches placements, judges what it found exactly, and ranks it.

First everything is asked for at once: need plus error, and the advised rules too.  Only where
that leads nowhere are the advised rules given up, then the reserve for the tape, and the answer
says so.  If nothing at all is feasible the least bad layout comes back with the smallest set of
rules found that clash.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from floorplan.checks import way_out
from floorplan.checks.finding import verdict_of
from floorplan.checks.judge import Judgement, judge
from floorplan.search.fewest import FewestMoves
from floorplan.search.placing import Outcome, Progress, first_feasible
from floorplan.search.problem import Objective, Problem, State
from floorplan.search.rank import Ranked, clearly_different, in_order, rank, values_of
from floorplan.search.runs import Terms, searched
from floorplan.search.screening import certified, in_full, screened
from floorplan.search.setting import Demands, Setting, Spot, movable_names, movable_spots
from floorplan.search.wishes import Wishes
from floorplan.shop.model import Layout, Shop

EFFORT = 4000
"""Items put back in a search at default effort."""
PROBE = 0.15
"""Share of the effort spent on finding out whether a set of demands can be met at all."""
POOL = 16
"""Layouts judged exactly."""
RESERVES = 48
"""Layouts kept, so that others can be judged where many of the best turn out not to pass."""
CLASH_PROBE = 120
"""Items put back when asking whether a smaller set of rules can be met."""

CLOSE = 0.002
"""A required margin short by less than this may be the rounding's fault [m]."""

LEVELS: tuple[tuple[Demands, str], ...] = (
    (Demands(reserve=True, advised=True), ""),
    (
        Demands(reserve=True, advised=False),
        "no layout was found that follows every advised rule as well",
    ),
    (
        Demands(reserve=False, advised=False, arcs=True),
        "no layout was found that keeps a reserve for the measuring errors: "
        "what is offered fits as drawn, with less to spare than the tape may be off",
    ),
)

TOO_NARROW = (
    "every door that leads outside is narrower than the way out has to be, so no layout can pass; "
    "these are the best but for that"
)
NOTHING_MOVES = "nothing in this shop may be moved; this is the layout as it stands"


@dataclass(frozen=True, eq=False)
class Arrangement:
    """Ranked layouts with today's beside them."""

    layouts: tuple[Ranked, ...]
    today: Judgement
    seed: int
    tried: int
    interrupted: bool
    note: str
    """What had to be given up, in words; empty when nothing."""
    clash: tuple[str, ...]
    """When nothing is feasible: the smallest set found of what cannot all be."""


def arrange(
    shop: Shop,
    today: Layout,
    *,
    seed: int = 1,
    effort: int = EFFORT,
    seconds: float | None = None,
    show: int = 3,
    executor: Executor | None = None,
    on_progress: Callable[[str, Progress], None] | None = None,
) -> Arrangement:
    """Search layouts and rank them by the shop's priorities.

    With an executor of processes, or of other machines, the runs of the search go on at the same
    time; what is found is the same.
    """
    run = Run(shop, today, seed, effort, seconds, show, executor, on_progress)
    pool, note, clash = run.best_level()
    judgements = run.certified(pool)
    now = judge(shop, today)
    few = run.fewest_moves(now)
    if few is not None:
        if any(judgement.verdict == "passes" for judgement in judgements):
            judgements.append(few)
        else:
            judgements, note, clash = [few], "", ()
    ranked = rank(judgements, today, show=show, priorities=shop.priorities)
    return Arrangement(ranked, now, seed, run.tried, run.interrupted, note, clash)


@dataclass(frozen=True, eq=False)
class Placement:
    """The question put to the search."""

    shop: Shop
    today: Layout
    movable: tuple[str, ...]
    demands: Demands
    spots: tuple[Spot, ...] = ()
    """Parked and working places that are sought as well."""

    @cached_property
    def setting(self) -> Setting:
        """The shop as a placement problem."""
        return Setting(self.shop, self.today, self.movable, self.demands, self.spots)

    @property
    def start(self) -> State:
        """Where things stand today."""
        return self.setting.state(self.today)

    def wishes(self) -> Objective:
        """What makes one layout better than another."""
        return Wishes(self.setting)

    def posed(self) -> tuple[Problem, Objective]:
        """The problem, and wishes that know nothing of earlier runs."""
        return self.setting.problem, self.wishes()

    def __getstate__(self) -> dict[str, object]:
        """What another process needs; it makes its own setting."""
        return {key: value for key, value in self.__dict__.items() if key != "setting"}


class Run:
    """One run of the main job; the hooks at its end are all that knows of settings and layouts."""

    def __init__(
        self,
        shop: Shop,
        today: Layout,
        seed: int,
        effort: int,
        seconds: float | None,
        show: int,
        executor: Executor | None,
        on_progress: Callable[[str, Progress], None] | None,
    ) -> None:
        self.shop = shop
        self.today = today
        self.seed = seed
        self.effort = effort
        self.began = time.perf_counter()
        self.deadline = None if seconds is None else time.perf_counter() + seconds
        self.show = show
        self.executor = executor
        self.on_progress = on_progress
        self.tried = 0
        self.interrupted = False
        self.movable = movable_names(shop, today)
        self.spots = movable_spots(shop, today)
        self.priorities = shop.priorities

    def best_level(self) -> tuple[list[Judgement], str, tuple[str, ...]]:
        """Judged layouts of the strictest demands that lead to enough that pass.

        Where following every advised rule leaves fewer clearly different layouts than are to be
        shown, the pool is filled up without them; the reserve is only given up for the first one.
        """
        if not self.movable:
            return [judge(self.shop, self.today)], NOTHING_MOVES, ()
        passing: list[Judgement] = []
        rest: list[Judgement] = []
        note = rest_note = ""
        last: tuple[Any, Outcome] | None = None
        for demands, given_up in LEVELS:
            if passing and not demands.reserve:
                break
            question = self._question(demands)
            setting = question.setting
            outcome = self._search(question)
            last = (setting, outcome)
            if outcome.feasible:
                found = self._judged(setting, [state for _, state in outcome.archive])
                good = [j for j in found if j.verdict == "passes"]
                if good and not passing:
                    note = given_up
                passing += good
                if _fewest_failing(found) < _fewest_failing(rest):
                    rest, rest_note = found, given_up
            if self.interrupted or self._late() or self._enough(passing):
                break
            if rest and not passing and all(self._never_out(j) for j in rest):
                rest_note = TOO_NARROW
                break
        if passing:
            return passing, note, ()
        if rest:
            return rest, rest_note, ()
        assert last is not None
        setting, outcome = last
        least_bad = self._judged(setting, [outcome.best])
        clash = () if self.interrupted else self._clash()
        return least_bad, "no layout meets every required rule; this is the least bad one", clash

    def certified(self, pool: Sequence[Judgement]) -> list[Judgement]:
        """Every check of the best clearly different layouts, as many as are to be shown.

        One that a certified way of carrying or rolling turns out to fail makes room for the next;
        of those that fail already no more are looked at than are shown.
        """
        carried = any(job.carries for job in self.shop.jobs)
        rolled = any(task.parked or task.working for task in self.shop.tasks)
        finds = self.shop.air is not None and self.shop.air.find is not None
        if not (carried or rolled or finds) or not pool:
            return list(pool)
        priorities = self.priorities
        rows = [values_of(j, self.today, priorities) for j in pool]
        kept: list[Judgement] = []
        spare: list[Judgement] = []
        try:
            for i in in_order(self.shop, rows, priorities):
                layout, fails = pool[i].layout, pool[i].verdict != "passes"
                if len(kept) == self.show or (fails and len(kept) + len(spare) >= self.show):
                    break
                if all(clearly_different(self.shop, layout, k.layout) for k in kept):
                    made = self._certified(pool[i])
                    if made.verdict == "passes":
                        made = self._in_full(made)
                    (kept if made.verdict == "passes" else spare).append(made)
            if not kept:
                spare = [self._in_full(made) for made in spare[: self.show]]
        except KeyboardInterrupt:
            self.interrupted = True
        return kept or spare

    def fewest_moves(self, now: Judgement) -> Judgement | None:
        """Where today's layout fails: one that passes with as few things moved as was found."""
        if not now.failing or not self.movable or self.interrupted or self._never_out(now):
            return None
        few = FewestMoves(self.shop, self.today, self.movable, self.spots, self.seed)
        try:
            found = few.found(now, lambda at: certified(screened(self.shop, at)), self._late)
            made = None if found is None else in_full(found)
        except KeyboardInterrupt:
            self.interrupted, made = True, None
        self.tried += few.tried
        return made if made is not None and made.verdict == "passes" else None

    def _never_out(self, judgement: Judgement) -> bool:
        """Whether a way out is wanted that no layout can give, the doors being what they are."""
        wanted = any(f.check == way_out.CHECK for f in judgement.failing)
        return wanted and doors_too_narrow(self.shop)

    def _enough(self, judgements: Sequence[Judgement]) -> bool:
        """Whether there are as many clearly different ones as are to be shown."""
        kept: list[Layout] = []
        for judgement in judgements:
            if all(clearly_different(self.shop, judgement.layout, other) for other in kept):
                kept.append(judgement.layout)
        return len(kept) >= self.show

    def _left(self) -> float | None:
        """Seconds that are left, None for no limit [s]."""
        return None if self.deadline is None else max(self.deadline - time.perf_counter(), 0.05)

    def _late(self) -> bool:
        return self.deadline is not None and time.perf_counter() >= self.deadline

    def _search(self, question: Any) -> Outcome:
        setting, start = question.setting, question.start
        few = max(60, int(self.effort * PROBE))
        probe = first_feasible(
            setting.problem, question.wishes(), seed=self.seed, effort=few,
            seconds=self._left(), start=start,
        )  # fmt: skip
        if probe is not None:
            first = question.wishes().total(probe)
            self._report(Progress(0, self.effort, first, time.perf_counter() - self.began))
        outcome = searched(
            question,
            Terms(RESERVES, probe if probe is not None else start, self._left()),
            seed=self.seed,
            effort=self.effort if probe is not None else few,
            executor=self.executor,
            on_progress=self._report,
        )
        if probe is not None and not outcome.feasible:
            # stopped before any run got as far as its own beginning
            outcome = replace(
                outcome, best=probe, cost=first, feasible=True, clashes=(),
                archive=((first, probe),),
            )  # fmt: skip
        self.tried += outcome.tried
        self.interrupted |= outcome.interrupted
        return outcome

    def _report(self, progress: Progress) -> None:
        if self.on_progress is not None:
            self.on_progress("searching", progress)

    def _judged(self, setting: Any, states: Sequence[State]) -> list[Judgement]:
        """Exact judgements of the best states, and of more while only what is carried is at fault.

        Coordinates are rounded to the tape's step, or as found where that spoils it.
        """
        out: list[Judgement] = []
        # who interrupts wants an answer soon: the best few are judged then
        wanted = states[: 2 * self.show] if self.interrupted else states
        try:
            for number, state in enumerate(wanted):
                if number >= POOL and not self._worth_more(out):
                    break
                made = self._screened(setting, state, rounded=True)
                if made.verdict != "passes" and _is_close(made):
                    exact = self._screened(setting, state, rounded=False)
                    made = exact if len(exact.failing) < len(made.failing) else made
                out.append(made)
        except KeyboardInterrupt:
            self.interrupted = True
        return out

    def _worth_more(self, judged: Sequence[Judgement]) -> bool:
        """Whether others may pass where these do not: their things stand well enough."""
        standing = any(not j.failing for j in judged)
        return standing and not self._enough([j for j in judged if j.verdict == "passes"])

    # --- hooks: what a search over the stages of a plan does otherwise ----------------------

    def _question(self, demands: Demands) -> Any:
        return Placement(self.shop, self.today, self.movable, demands, self.spots)

    def _screened(self, setting: Any, state: State, *, rounded: bool) -> Judgement:
        return screened(self.shop, setting.layout_of(state, rounded=rounded))

    def _certified(self, judgement: Judgement) -> Judgement:
        return certified(judgement)

    def _in_full(self, judgement: Judgement) -> Judgement:
        return in_full(judgement)

    def _clash(self) -> tuple[str, ...]:
        return clashing(self.shop, self.today, self.movable, self.seed, self.spots)


def doors_too_narrow(shop: Shop) -> bool:
    """Whether no door that leads outside is surely as wide as the rules want the way out."""
    rule = shop.rules["way-out-width"]
    ways = [door.clear for door in shop.doors if door.leads_to == "outside"]
    if rule.off or rule.kind != "required" or not ways:
        return False
    needed = shop.rules.value("way-out-width")
    return all(
        verdict_of(clear.value - needed, clear.error(shop.measurements)) != "passes"
        for clear in ways
    )


def _fewest_failing(judged: Sequence[Judgement]) -> float:
    """How many required findings fail in the best of some layouts; infinite for none."""
    return min((len(j.failing) for j in judged), default=float("inf"))


def _is_close(judgement: Judgement) -> bool:
    """Whether all that fails fails by so little that rounding may have done it."""
    short = [f.margin for f in judgement.failing]
    return bool(short) and all(m is not None and m > -CLOSE for m in short)


def clashing(
    shop: Shop, today: Layout, movable: Sequence[str], seed: int, spots: Sequence[Spot] = ()
) -> tuple[str, ...]:
    """A small set of zones and keep-clears that cannot all be met, dropping any of which frees it.

    Found by leaving them out in halves and then one by one, and asking the search each time; it
    does not prove that there is no layout, and the answer says "found".
    """
    base = Demands(reserve=False, advised=False)

    def feasible(dropped: frozenset[str]) -> bool:
        asked = Demands(reserve=False, advised=False, without=dropped)
        setting = Setting(shop, today, movable, asked, spots)
        return (
            first_feasible(
                setting.problem, seed=seed, effort=CLASH_PROBE, start=setting.state(today)
            )
            is not None
        )

    setting = Setting(shop, today, movable, base, spots)
    _ = setting.problem
    every = [
        label.text
        for label in setting.labels
        if label.element.nature != "solid" and not label.limit_of and not label.gap_of
    ]
    names = list(dict.fromkeys(every))
    if not feasible(frozenset(names)):
        return ("the things themselves do not fit",)
    needed: list[str] = []
    rest = names
    chunk = max(len(rest) // 2, 1)
    while rest:
        part, rest_after = rest[:chunk], rest[chunk:]
        # with this part left out as well: still impossible means that it has no share in it
        kept = frozenset(needed) | frozenset(rest_after)
        if not feasible(frozenset(n for n in names if n not in kept)):
            rest = rest_after
        elif len(part) == 1:
            needed.append(part[0])
            rest = rest_after
        else:
            chunk = max(len(part) // 2, 1)
            continue
        chunk = max(min(chunk, len(rest)), 1)
    return tuple(needed)
