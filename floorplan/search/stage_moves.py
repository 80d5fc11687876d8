"""Moves of single things between two stages, tried one by one where a plan may gain by them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from floorplan.checks.judge import Judgement
from floorplan.search.placing import search
from floorplan.search.plans import PlanJudgement, as_plan
from floorplan.search.rank import in_order, values_of
from floorplan.search.screening import screened
from floorplan.search.setting import Demands
from floorplan.search.staged_placement import StagedPlacement
from floorplan.shop.model import Layout, Shop

MOST = 2
"""Things moved between stages in one plan, beyond what cannot be helped."""
LIKELY = 4
"""Moves that are judged each time, the most promising first."""
LEAST = 0.5
"""Smaller gains are not worth judging [m of walking]."""
GAINED = ("walking", "open floor", "sheet room", "margin")
"""What a plan may gain in even where every rule is kept."""
PUT_BACK = 24
"""Items put back to find the best other place of one thing."""


@dataclass(frozen=True, slots=True, eq=False)
class Move:
    """One thing that stands elsewhere in some stages, and what the wishes gain by it."""

    thing: str
    gain: float
    """[m of walking]"""
    stages: tuple[int, ...]
    layouts: tuple[Layout, ...]
    """Of these stages."""


class StageMover:
    """Improves plans by moving things between stages."""

    def __init__(
        self,
        shop: Shop,
        shops: Sequence[Shop],
        movable: Sequence[str],
        demands: Demands,
        today: Layout,
        priorities: Sequence[str],
        late: Callable[[], bool],
        seed: int,
    ) -> None:
        self.shop = shop
        self.shops = tuple(shops)
        self.movable = tuple(movable)
        self.demands = demands
        self.today = today
        self.priorities = tuple(priorities)
        self.late = late
        self.seed = seed
        self.tried = 0

    def improved(self, plan: PlanJudgement) -> PlanJudgement:
        """The plan, or a better one with a few things moved between stages."""
        for _ in range(MOST):
            better = self._better(plan)
            if better is None:
                return plan
            plan = better
        return plan

    def _better(self, plan: PlanJudgement) -> PlanJudgement | None:
        moves = sorted(self._moves(plan), key=lambda move: -move.gain)
        for move in moves[:LIKELY]:
            made = self._judged(plan, move)
            rows = [values_of(j, self.today, self.priorities) for j in (plan, made)]
            if in_order(self.shop, rows, self.priorities)[0] == 1:
                return made
        return None

    def _judged(self, plan: PlanJudgement, move: Move) -> PlanJudgement:
        stages: list[Judgement] = list(plan.staged.stages)
        for number, layout in zip(move.stages, move.layouts, strict=True):
            stages[number] = screened(self.shops[number], layout)
        return as_plan(self.shop, stages)

    def _moves(self, plan: PlanJudgement) -> Iterator[Move]:
        """The best other place of each thing before and after each change of stage."""
        count = len(self.shops)
        for name in self.movable:
            for boundary in range(1, count):
                if not (self.shops[boundary - 1].has(name) and self.shops[boundary].has(name)):
                    continue
                for stages in (range(boundary), range(boundary, count)):
                    wanting = self._wanting(plan, name, stages)
                    if self.late() or not (wanting or self._pays):
                        continue
                    move = self._elsewhere(plan, name, tuple(stages))
                    if move is not None and (wanting or move.gain > LEAST):
                        yield move

    def _wanting(self, plan: PlanJudgement, name: str, stages: Sequence[int]) -> bool:
        """Whether the thing has a share in what does not pass in these stages."""
        judged = (plan.staged.stages[s] for s in stages)
        return any(name in f.about for made in judged for f in (*made.failing, *made.wishes))

    @property
    def _pays(self) -> bool:
        """Whether anything that a move may gain counts before the move itself."""
        at = self.priorities.index("stage changes")
        return any(name in self.priorities[:at] for name in GAINED)

    def _elsewhere(self, plan: PlanJudgement, name: str, stages: tuple[int, ...]) -> Move | None:
        stages = tuple(s for s in stages if self.shops[s].has(name))
        shops = tuple(self.shops[s] for s in stages)
        layouts = tuple(plan.staged.stages[s].layout for s in stages)
        question = StagedPlacement(shops, layouts, (name,), self.demands)
        wishes = question.wishes()
        held = wishes.total(question.start)
        found = search(
            question.setting.problem, wishes, seed=self.seed, effort=PUT_BACK,
            start=question.start,
        )  # fmt: skip
        self.tried += found.tried
        if not found.feasible:
            return None
        gain = held - found.cost
        return Move(name, gain, stages, question.setting.layouts_of(found.best, rounded=True))
