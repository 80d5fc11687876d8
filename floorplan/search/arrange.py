"""The main job: searches placements, judges what it found exactly, and ranks it.

First everything is asked for at once: need plus error, and the advised rules too.  Only where
that leads nowhere are the advised rules given up, then the reserve for the tape, and the answer
says so.  If nothing at all is feasible the least bad layout comes back with the smallest set of
rules found that clash.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorplan.checks.judge import Judgement, judge
from floorplan.search.placing import Outcome, Progress, first_feasible, search
from floorplan.search.rank import Ranked, rank
from floorplan.search.setting import Demands, Setting, movable_names
from floorplan.search.wishes import Wishes
from floorplan.shop.model import Layout, Shop

EFFORT = 3000
"""Items put back in a search at default effort."""
PROBE = 0.15
"""Share of the effort spent on finding out whether a set of demands can be met at all."""
POOL = 24
"""Layouts kept for exact judging."""
CLASH_PROBE = 120
"""Items put back when asking whether a smaller set of rules can be met."""

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
    on_progress: Callable[[str, Progress], None] | None = None,
) -> Arrangement:
    """Search layouts and rank them by the shop's priorities."""
    run = _Run(shop, today, seed, effort, seconds, on_progress)
    judgements, note, clash = run.best_level()
    ranked = rank(judgements, today, show=show, priorities=shop.priorities)
    return Arrangement(ranked, judge(shop, today), seed, run.tried, run.interrupted, note, clash)


class _Run:
    """One run of the main job."""

    def __init__(
        self,
        shop: Shop,
        today: Layout,
        seed: int,
        effort: int,
        seconds: float | None,
        on_progress: Callable[[str, Progress], None] | None,
    ) -> None:
        self.shop = shop
        self.today = today
        self.seed = seed
        self.effort = effort
        self.seconds = seconds
        self.on_progress = on_progress
        self.tried = 0
        self.interrupted = False
        self.movable = movable_names(shop, today)

    def best_level(self) -> tuple[list[Judgement], str, tuple[str, ...]]:
        """Judged layouts of the strictest demands that lead to one that passes."""
        kept: list[Judgement] = []
        last: tuple[Setting, Outcome] | None = None
        kept_note = ""
        for demands, note in LEVELS:
            setting = Setting(self.shop, self.today, self.movable, demands)
            outcome = self._search(setting)
            last = (setting, outcome)
            if outcome.feasible:
                found = self._judged(setting, [state for _, state in outcome.archive])
                if any(j.verdict == "passes" for j in found):
                    return [j for j in found if j.verdict == "passes"], note, ()
                if not kept:
                    kept, kept_note = found, note
            if self.interrupted:
                break
        if kept:
            return kept, kept_note, ()
        assert last is not None
        setting, outcome = last
        least_bad = self._judged(setting, [outcome.best])
        clash = () if self.interrupted else clashing(self.shop, self.today, self.movable, self.seed)
        return least_bad, "no layout meets every required rule; this is the least bad one", clash

    def _search(self, setting: Setting) -> Outcome:
        wishes = Wishes(setting)
        start = setting.state(self.today)
        probe = first_feasible(
            setting.problem, wishes, seed=self.seed, effort=max(60, int(self.effort * PROBE)),
            seconds=self.seconds, start=start,
        )  # fmt: skip
        effort = self.effort if probe is not None else max(60, int(self.effort * PROBE))
        outcome = search(
            setting.problem,
            wishes,
            seed=self.seed,
            effort=effort,
            seconds=self.seconds,
            start=probe if probe is not None else start,
            keep=POOL,
            on_progress=self._report,
        )
        self.tried += outcome.tried
        self.interrupted |= outcome.interrupted
        return outcome

    def _report(self, progress: Progress) -> None:
        if self.on_progress is not None:
            self.on_progress("searching", progress)

    def _judged(self, setting: Setting, states: Sequence[object]) -> list[Judgement]:
        """Exact judgements of states, rounded to the tape's step, or as found where that spoils."""
        out: list[Judgement] = []
        try:
            for state in states:
                made = judge(self.shop, setting.layout_of(state, rounded=True))  # type: ignore[arg-type]
                if made.verdict != "passes":
                    exact = judge(self.shop, setting.layout_of(state, rounded=False))  # type: ignore[arg-type]
                    made = exact if len(exact.failing) < len(made.failing) else made
                out.append(made)
        except KeyboardInterrupt:
            self.interrupted = True
        return out


def clashing(shop: Shop, today: Layout, movable: Sequence[str], seed: int) -> tuple[str, ...]:
    """A small set of zones and keep-clears that cannot all be met, dropping any of which frees it.

    Found by leaving them out in halves and then one by one, and asking the search each time; it
    does not prove that there is no layout, and the answer says "found".
    """
    base = Demands(reserve=False, advised=False)

    def feasible(dropped: frozenset[str]) -> bool:
        setting = Setting(
            shop, today, movable, Demands(reserve=False, advised=False, without=dropped)
        )
        return (
            first_feasible(
                setting.problem, seed=seed, effort=CLASH_PROBE, start=setting.state(today)
            )
            is not None
        )

    setting = Setting(shop, today, movable, base)
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
