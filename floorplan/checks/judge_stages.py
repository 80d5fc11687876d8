"""Judges every stage of a plan, and what it costs to get from each to the next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from floorplan.checks.duct_later import with_later_strips
from floorplan.checks.finding import Measure, Verdict
from floorplan.checks.judge import Judgement, judge
from floorplan.checks.stage_changes import Changes, changes
from floorplan.shop.model import Layout, Plan, Shop, Stage
from floorplan.shop.stages import layout_at, shop_at

WORST: tuple[Verdict, ...] = ("fails", "unsure", "passes")
SUMMED = ("walking",)
"""Measures that are added up over the stages; of any other the least of all stages counts."""


@dataclass(frozen=True, eq=False)
class StagedJudgement:
    """A layout for each stage, each judged as the shop of that stage."""

    shop: Shop
    """With its plan."""
    stages: tuple[Judgement, ...]

    @property
    def plan(self) -> Plan:
        """The plan of the shop."""
        assert self.shop.plan is not None
        return self.shop.plan

    @property
    def verdict(self) -> Verdict:
        """The worst of all stages."""
        return next(v for v in WORST if any(j.verdict == v for j in self.stages))

    @cached_property
    def changes(self) -> tuple[Changes, ...]:
        """What is done before each stage; nothing before the first."""
        states = [(j.shop, j.layout) for j in self.stages]
        return (Changes(), *(changes(a, b, self.plan) for a, b in pairwise(states)))

    @cached_property
    def measures(self) -> Mapping[str, Measure]:
        """Walking added up over the stages, of all else the least, and the changes counted."""
        out: dict[str, Measure] = {}
        for name in dict.fromkeys(name for j in self.stages for name in j.measures):
            found = [j.measures[name] for j in self.stages if name in j.measures]
            is_sum = name in SUMMED or name.startswith("walking: ")
            values = [m.value for m in found]
            out[name] = Measure(sum(values) if is_sum else min(values), found[0].unit)
        out["stage changes"] = Measure(float(sum(c.count for c in self.changes)), "")
        return out

    @property
    def worst(self) -> Judgement:
        """The first stage of the worst verdict."""
        return next(j for j in self.stages if j.verdict == self.verdict)


def stage_name(judgement: Judgement) -> str:
    """The name of the stage whose shop was judged."""
    stage = judgement.shop.stage
    assert stage is not None
    return stage.name


def shops_of(shop: Shop) -> tuple[Shop, ...]:
    """The shop of each stage."""
    assert shop.plan is not None
    return tuple(shop_at(shop, i) for i in range(len(shop.plan.stages)))


def layouts_of(shop: Shop, layout: Layout) -> tuple[Layout, ...]:
    """The layout of each stage as the file has it."""
    stages: Sequence[Stage] = () if shop.plan is None else shop.plan.stages
    return tuple(layout_at(shop, layout, i) for i in range(len(stages)))


def judge_stages(shop: Shop, layout: Layout) -> StagedJudgement:
    """Every stage as the file has it, each with every check."""
    layouts = layouts_of(shop, layout)
    pairs = zip(with_later_strips(shops_of(shop), layouts), layouts, strict=True)
    return StagedJudgement(shop, tuple(judge(s, where) for s, where in pairs))
