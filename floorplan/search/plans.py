"""A judged plan that can be ranked like a layout: all its stages taken together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from floorplan.checks.finding import worst_first
from floorplan.checks.judge import Judgement
from floorplan.checks.judge_stages import StagedJudgement
from floorplan.shop.model import Layout, Pose, Shop


@dataclass(frozen=True, eq=False)
class PlanJudgement(Judgement):
    """All stages of a plan as one judgement: first poses, all findings, joint measures."""

    staged: StagedJudgement


def as_plan(shop: Shop, stages: Sequence[Judgement]) -> PlanJudgement:
    """Judgements of all stages as one; its layout has each thing where it first stands."""
    staged = StagedJudgement(shop, tuple(stages))
    poses: dict[tuple[str, str], Pose] = {}
    for made in stages:
        for key, pose in made.layout.poses.items():
            poses.setdefault(key, pose)
    order = {thing.name: i for i, thing in enumerate(shop.things)}
    ordered = dict(sorted(poses.items(), key=lambda row: order[row[0][0]]))
    return PlanJudgement(
        shop,
        Layout(ordered),
        stages[0].scene,
        worst_first(f for made in stages for f in made.findings),
        staged.measures,
        staged.verdict,
        staged,
    )


def staged(judgement: Judgement) -> StagedJudgement:
    """The stages of a judged plan."""
    assert isinstance(judgement, PlanJudgement)
    return judgement.staged


def plan_priorities(priorities: Sequence[str]) -> tuple[str, ...]:
    """What counts first; without a word of the file a change between stages counts before walking.

    Nobody moves a saw in three years to save a few steps.
    """
    if "stage changes" in priorities:
        return tuple(priorities)
    at = next((i for i, name in enumerate(priorities) if name in _LATER), len(priorities))
    return (*priorities[:at], "stage changes", *priorities[at:])


_LATER = ("walking", "moves", "open floor", "margin")
