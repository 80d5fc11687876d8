"""The main job over years: one layout a stage, searched together and ranked by all of them.

First one place for each thing is searched that it keeps through all its stages.  Then the present
as it would stand without its future is tried as the beginning of the plan, and single things are
moved between two stages where the shop's priorities gain by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from floorplan.checks.duct_later import with_later_strips
from floorplan.checks.judge import Judgement, judge
from floorplan.checks.judge_stages import StagedJudgement, layouts_of, shops_of
from floorplan.search.arrange import (
    CLASH_PROBE,
    EFFORT,
    LEVELS,
    POOL,
    Arrangement,
    Run,
    arrange,
    clashing,
)
from floorplan.search.future import Future, Held, alone, future_of, hold, spots_of
from floorplan.search.placing import Progress, first_feasible
from floorplan.search.plans import as_plan, plan_priorities, staged
from floorplan.search.problem import State
from floorplan.search.rank import Ranked, in_order, rank, values_of
from floorplan.search.screening import certified, in_full, screened
from floorplan.search.setting import Demands, movable_names, movable_spots
from floorplan.search.stage_moves import StageMover
from floorplan.search.staged_placement import StagedPlacement, StagedWishes
from floorplan.search.staged_setting import Split, StagedSetting
from floorplan.shop.model import Layout, Shop

IMPROVED = 1
"""Plans, the best first, in which things are tried elsewhere between stages."""


@dataclass(frozen=True, slots=True, eq=False)
class StagedRanked:
    """One ranked plan."""

    ranked: Ranked
    judged: StagedJudgement

    @property
    def rank(self) -> int:
        """1 is the best."""
        return self.ranked.rank


@dataclass(frozen=True, eq=False)
class StagedArrangement:
    """Ranked plans with the file's own beside them."""

    layouts: tuple[StagedRanked, ...]
    today: StagedJudgement
    seed: int
    tried: int
    interrupted: bool
    note: str
    clash: tuple[str, ...]
    future: Future | None
    """Why the present stands as it does; None where no plan or no present was found."""


def arrange_stages(
    shop: Shop,
    today: Layout,
    *,
    seed: int = 1,
    effort: int = EFFORT,
    seconds: float | None = None,
    show: int = 3,
    executor: Executor | None = None,
    on_progress: Callable[[str, Progress], None] | None = None,
) -> StagedArrangement:
    """Search plans and rank them by the shop's priorities over all stages.

    `today` has each thing where it first stands.  The effort is that of the search over all
    stages; the first stage alone is searched with as much again.
    """
    lone = arrange(
        alone(shop), layouts_of(shop, today)[0], seed=seed, effort=effort,
        seconds=None if seconds is None else seconds / 3, show=1, executor=executor,
        on_progress=on_progress,
    )  # fmt: skip
    left = None if seconds is None else 2 * seconds / 3
    run = StagedRun(shop, today, seed, effort, left, show, executor, on_progress)
    run.interrupted = lone.interrupted
    pool, note, clash = run.plans(lone)
    ranked = rank(run.certified(pool), today, show=show, priorities=run.priorities)
    layouts = tuple(StagedRanked(r, staged(r.judgement)) for r in ranked)
    future = None
    if layouts and layouts[0].judged.verdict == "passes" and run.held is not None:
        future = future_of(shop, lone.layouts[0].judgement, layouts[0].judged, run.held)
    states = zip(with_later_strips(run.shops, run.layouts), run.layouts, strict=True)
    now = StagedJudgement(shop, tuple(judge(s, where) for s, where in states))
    return StagedArrangement(
        layouts, now, seed, run.tried + lone.tried, run.interrupted, note, clash, future
    )


class StagedRun(Run):
    """One run of the main job over the stages of a plan."""

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
        super().__init__(shop, today, seed, effort, seconds, show, executor, on_progress)
        assert shop.plan is not None
        self.plan = shop.plan
        self.shops = shops_of(shop)
        self.layouts = layouts_of(shop, today)
        self.spots = spots_of(self.shops, self.layouts)
        self.splits: frozenset[Split] = frozenset()
        self.priorities = plan_priorities(shop.priorities)
        self.held: Held | None = None

    def plans(self, lone: Arrangement) -> tuple[list[Judgement], str, tuple[str, ...]]:
        """Judged plans to be ranked, what had to be given up, and what clashes."""
        pool, note, clash = self.best_level()
        if not any(j.verdict == "passes" for j in pool):
            split = self._split_plans()
            if split is not None:
                pool, note, clash = split
        if self.interrupted or self._late():
            return pool, note, clash
        demands = next(d for d, given_up in LEVELS if given_up == note or given_up == LEVELS[-1][1])
        if lone.layouts and lone.layouts[0].judgement.verdict == "passes":
            self.held = hold(
                self.shop, self.layouts, lone.layouts[0].layout, demands, seed=self.seed,
                effort=max(self.effort // 4, 60),
            )  # fmt: skip
            if self.held.plan is not None:
                pool = [*pool, self.held.plan]
        if any(j.verdict == "passes" for j in pool):
            pool = [j for j in pool if j.verdict == "passes"]
            pool = [*pool, *self._improved(pool, demands)]
        return pool, note, clash

    def _improved(self, pool: Sequence[Judgement], demands: Demands) -> Iterator[Judgement]:
        """The best plans with things moved between stages where that makes them better."""
        mover = StageMover(
            self.shop, self.shops, self.movable, demands, self.today, self.priorities,
            lambda: self.interrupted or self._late(), self.seed,
        )  # fmt: skip
        rows = [values_of(j, self.today, self.priorities) for j in pool]
        for i in in_order(self.shop, rows, self.priorities)[:IMPROVED]:
            plan = as_plan(self.shop, staged(pool[i]).stages)
            better = mover.improved(plan)
            if better is not plan:
                yield better
        self.tried += mover.tried

    # --- where one place for each thing does not do ------------------------------------------

    def _split_plans(self) -> tuple[list[Judgement], str, tuple[str, ...]] | None:
        """Plans in which one thing is moved between two stages, else any that must be."""
        every = tuple(self._boundaries())
        for splits in (*(frozenset((split,)) for split in every), frozenset(every)):
            if self.interrupted or self._late() or not splits:
                return None
            self.splits = splits
            question = self._question(LEVELS[1][0])
            found = first_feasible(
                question.setting.problem, question.wishes(), seed=self.seed, effort=CLASH_PROBE,
                seconds=self._left(), start=question.start,
            )  # fmt: skip
            if found is None:
                continue
            pool, note, clash = self.best_level()
            if any(j.verdict == "passes" for j in pool):
                return pool, note, clash
        self.splits = frozenset()
        return None

    def _boundaries(self) -> Iterator[Split]:
        for stage in range(1, len(self.shops)):
            for name in self.movable:
                if self.shops[stage - 1].has(name) and self.shops[stage].has(name):
                    yield name, stage

    # --- hooks -------------------------------------------------------------------------------

    def _question(self, demands: Demands) -> StagedPlacement:
        return StagedPlacement(
            self.shops, self.layouts, self.movable, demands, self.splits,
            tuple(self.plan.replaces.items()), self.spots,
        )  # fmt: skip

    def _judged(self, setting: StagedSetting, states: Sequence[State]) -> list[Judgement]:
        """Exact judgements of plans, those in which somebody is surely shut in left aside."""
        wishes = StagedWishes(setting)
        free = [state for state in states if not wishes.blocked(state)]
        return super()._judged(setting, free or states[:POOL])

    def _screened(self, setting: StagedSetting, state: State, *, rounded: bool) -> Judgement:
        layouts = setting.layouts_of(state, rounded=rounded)
        pairs = zip(self.shops, layouts, strict=True)
        return as_plan(self.shop, [screened(shop, layout) for shop, layout in pairs])

    def _certified(self, judgement: Judgement) -> Judgement:
        return as_plan(self.shop, [certified(made) for made in self._kept_clear(judgement)])

    def _kept_clear(self, judgement: Judgement) -> Iterator[Judgement]:
        """The stages of a plan, each with the strips of the runs that its later ones are given."""
        stages = staged(judgement).stages
        shops = with_later_strips(self.shops, [made.layout for made in stages])
        for made, before, shop in zip(stages, self.shops, shops, strict=True):
            yield made if shop is before else screened(shop, made.layout)

    def _in_full(self, judgement: Judgement) -> Judgement:
        stages = staged(judgement).stages
        return as_plan(self.shop, [in_full(made) for made in stages])

    def _clash(self) -> tuple[str, ...]:
        for shop, layout in zip(self.shops, self.layouts, strict=True):
            names, spots = movable_names(shop, layout), movable_spots(shop, layout)
            question = StagedPlacement((shop,), (layout,), names, LEVELS[-1][0], spots=spots)
            problem = question.setting.problem
            if first_feasible(problem, seed=self.seed, effort=CLASH_PROBE) is None:
                found = clashing(shop, layout, names, self.seed, spots)
                assert shop.stage is not None
                return tuple(f"{text} (stage {shop.stage.name})" for text in found)
        return ("each stage by itself can be met, but not all with one place for each thing",)
